"""Tallybed's front door: all that the command line, the dashboard and users may import.

Names are fetched from their rooms when first used, so that importing this costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.rooms import door, names_at

if TYPE_CHECKING:
    from trials.batch import Added as Added
    from trials.batch import Signed as Signed
    from trials.comparing import Asked as Asked
    from trials.decide import Choice as Choice
    from trials.decide import Ordering as Ordering
    from trials.decide import Practice as Practice
    from trials.decide import Rules as Rules
    from trials.decide import SeedOrder as SeedOrder
    from trials.decide import Sowing as Sowing
    from trials.decide import Standing as Standing
    from trials.errors import PortTaken as PortTaken
    from trials.errors import RecordsRefused as RecordsRefused
    from trials.errors import TallybedError as TallybedError
    from trials.errors import TrialState as TrialState
    from trials.model import MEASURES as MEASURES
    from trials.model import AppliedTo as AppliedTo
    from trials.model import Measure as Measure
    from trials.model import Trial as Trial
    from trials.model import TrialStage as TrialStage
    from trials.paper.qr import code_svg as code_svg
    from trials.people import LONGEST_NAME as LONGEST_NAME
    from trials.people import LONGEST_PASSPHRASE as LONGEST_PASSPHRASE
    from trials.people import SESSION_LASTS as SESSION_LASTS
    from trials.people import SHORTEST_PASSPHRASE as SHORTEST_PASSPHRASE
    from trials.people import accept_invitation as accept_invitation
    from trials.people import add_person as add_person
    from trials.people import end_person as end_person
    from trials.people import everybody as everybody
    from trials.people import invitation as invitation
    from trials.people import invite as invite
    from trials.people import is_live as is_live
    from trials.people import join_link as join_link
    from trials.people import note_seen as note_seen
    from trials.people import sessions as sessions
    from trials.people import sign_in as sign_in
    from trials.people import sign_in_by_email as sign_in_by_email
    from trials.people import sign_out as sign_out
    from trials.people import token_digest as token_digest
    from trials.planning import Planned as Planned
    from trials.printing import Printing as Printing
    from trials.proposing import Dates as Dates
    from trials.proposing import Proposed as Proposed
    from trials.records.agreeing import Agreed as Agreed
    from trials.records.agreeing import agreed_on as agreed_on
    from trials.records.agreeing import as_understood as as_understood
    from trials.records.agreeing import fields_of as fields_of
    from trials.records.agreeing import kinds_of_sheet as kinds_of_sheet
    from trials.records.agreeing import taken_as as taken_as
    from trials.records.agreeing import with_answers as with_answers
    from trials.records.reading_guess import Guess as Guess
    from trials.report.calendar_page import calendar_table as calendar_table
    from trials.report.calendar_page import calendar_text as calendar_text
    from trials.report.choice_page import practice_sentence as practice_sentence
    from trials.report.choice_page import practice_table as practice_table
    from trials.report.choice_page import reason_words as reason_words
    from trials.report.choice_page import rules_lines as rules_lines
    from trials.report.choice_page import swing_sentence as swing_sentence
    from trials.report.comparison_page import comparison_page as comparison_page
    from trials.report.comparison_tables import LETTERS_NOTE as LETTERS_NOTE
    from trials.report.comparison_tables import PairRow as PairRow
    from trials.report.comparison_tables import caution_words as caution_words
    from trials.report.comparison_tables import cells_table as cells_table
    from trials.report.comparison_tables import crossed as crossed
    from trials.report.comparison_tables import how_lines as how_lines
    from trials.report.comparison_tables import interplay_words as interplay_words
    from trials.report.comparison_tables import means_table as means_table
    from trials.report.comparison_tables import pair_rows as pair_rows
    from trials.report.comparison_tables import pairs_table as pairs_table
    from trials.report.comparison_tables import ranked_means as ranked_means
    from trials.report.comparison_tables import solid_line as solid_line
    from trials.report.comparison_tables import two_factor_terms as two_factor_terms
    from trials.report.document import comparison_document as comparison_document
    from trials.report.figures import Figures as Figures
    from trials.report.figures import chance as chance
    from trials.report.figures import count as count
    from trials.report.figures import figures_of as figures_of
    from trials.report.figures import listed as listed
    from trials.report.figures import measure_figures as measure_figures
    from trials.report.figures import per_cent as per_cent
    from trials.report.grid import Column as Column
    from trials.report.grid import Table as Table
    from trials.report.history_page import as_known_words as as_known_words
    from trials.report.history_page import changed_sentence as changed_sentence
    from trials.report.history_page import changes_left_out as changes_left_out
    from trials.report.history_page import changes_table as changes_table
    from trials.report.history_page import entry_about as entry_about
    from trials.report.history_page import entry_head as entry_head
    from trials.report.history_page import entry_lines as entry_lines
    from trials.report.history_page import undo_words as undo_words
    from trials.report.length_grades import grade_words as grade_words
    from trials.report.length_grades import length_words as length_words
    from trials.report.length_grades import measured_words as measured_words
    from trials.report.order_csv import order_csv as order_csv
    from trials.report.order_page import beds_sentence as beds_sentence
    from trials.report.order_page import money as money
    from trials.report.order_page import needs_table as needs_table
    from trials.report.order_page import parcel_sentence as parcel_sentence
    from trials.report.order_page import parcel_table as parcel_table
    from trials.report.order_page import total_sentence as total_sentence
    from trials.report.order_page import unavailable_sentence as unavailable_sentence
    from trials.report.pages import STAGE_NEEDS as STAGE_NEEDS
    from trials.report.pages import added_sentence as added_sentence
    from trials.report.pages import added_table as added_table
    from trials.report.pages import completeness_lines as completeness_lines
    from trials.report.pages import copy_lines as copy_lines
    from trials.report.pages import faults_table as faults_table
    from trials.report.people_page import invitation_words as invitation_words
    from trials.report.people_page import people_table as people_table
    from trials.report.plan_page import plan_page as plan_page
    from trials.report.plan_page import proposal_words as proposal_words
    from trials.report.plan_page import proposals_table as proposals_table
    from trials.report.plan_page import proposed_page as proposed_page
    from trials.report.plan_page import table_notes as table_notes
    from trials.report.plan_words import neighbours_sentence as neighbours_sentence
    from trials.report.plan_words import note_words as note_words
    from trials.report.plan_words import possible_sentences as possible_sentences
    from trials.report.plan_words import spread_sentence as spread_sentence
    from trials.report.plan_words import tells_sentence as tells_sentence
    from trials.report.reading_page import reading_lines as reading_lines
    from trials.report.reading_page import rows_table as rows_table
    from trials.report.remedies import page_words as page_words
    from trials.report.remedies import remedy_words as remedy_words
    from trials.report.rests_on import rests_on_lines as rests_on_lines
    from trials.report.safety_page import check_lines as check_lines
    from trials.report.safety_page import copies_table as copies_table
    from trials.report.safety_page import restore_command as restore_command
    from trials.report.safety_page import what_to_do_lines as what_to_do_lines
    from trials.report.words import LAYOUT_WORDS as LAYOUT_WORDS
    from trials.report.words import PlainWords as PlainWords
    from trials.report.words import level_words as level_words
    from trials.report.words import plain_words as plain_words
    from trials.season import backup as backup
    from trials.season import calendar as calendar
    from trials.season import check as check
    from trials.season import choose as choose
    from trials.season import choose_again as choose_again
    from trials.season import close as close
    from trials.season import closing as closing
    from trials.season import compare as compare
    from trials.season import compare_table as compare_table
    from trials.season import completeness as completeness
    from trials.season import copies as copies
    from trials.season import correct as correct
    from trials.season import culls as culls
    from trials.season import discard_draft as discard_draft
    from trials.season import drafts_of as drafts_of
    from trials.season import grades as grades
    from trials.season import history as history
    from trials.season import keep_drafts as keep_drafts
    from trials.season import length_grades as length_grades
    from trials.season import load as load
    from trials.season import look_through_copy as look_through_copy
    from trials.season import order as order
    from trials.season import plan_from_text as plan_from_text
    from trials.season import plan_text as plan_text
    from trials.season import plan_text_of as plan_text_of
    from trials.season import planned as planned
    from trials.season import planted as planted
    from trials.season import plots as plots
    from trials.season import propose as propose
    from trials.season import records_digest as records_digest
    from trials.season import records_mark as records_mark
    from trials.season import sheets as sheets
    from trials.season import submission as submission
    from trials.season import trials as trials
    from trials.season import undo as undo
    from trials.season import withdraw as withdraw
    from trials.season import write_order_csv as write_order_csv
    from trials.season import write_order_pdf as write_order_pdf
    from trials.stats.length_grades import GradeShare as GradeShare
    from trials.stats.results import Comparison as Comparison
    from trials.stats.results import LayoutKind as LayoutKind
    from trials.store import Backup as Backup
    from trials.store import DraftPlace as DraftPlace
    from trials.store import KeptCopy as KeptCopy
    from trials.store import KeptDraft as KeptDraft
    from trials.store import Purpose as Purpose
    from trials.store import Typed as Typed
    from trials.store import Wholeness as Wholeness
    from trials.tallying import Recorded as Recorded
    from trials.tallying import Tally as Tally
    from trials.tallying import TallyEntry as TallyEntry
    from trials.tallying import correct_tally as correct_tally
    from trials.tallying import on_the_clock as on_the_clock
    from trials.tallying import plot_on_day as plot_on_day
    from trials.tallying import said_of_fields as said_of_fields
    from trials.tallying import tally as tally
    from trials.tallying import walk as walk
    from trials.units import PaperSize as PaperSize
    from trials.units import UnitSystem as UnitSystem
    from trials.units import feet_to_m as feet_to_m
    from trials.units import inches_to_cm as inches_to_cm

# The names of each room, with spaces between them.
_ROOMS = {
    "trials.batch": "Added Signed",
    "trials.comparing": "Asked",
    "trials.decide": "Choice Ordering Practice Rules SeedOrder Sowing Standing",
    "trials.errors": "PortTaken RecordsRefused TallybedError TrialState",
    "trials.model": "MEASURES AppliedTo Measure Trial TrialStage",
    "trials.paper.qr": "code_svg",
    "trials.people": (
        "LONGEST_NAME LONGEST_PASSPHRASE SESSION_LASTS SHORTEST_PASSPHRASE "
        "accept_invitation add_person end_person everybody invitation invite is_live "
        "join_link note_seen sessions sign_in sign_in_by_email sign_out token_digest"
    ),
    "trials.planning": "Planned",
    "trials.printing": "Printing",
    "trials.proposing": "Dates Proposed",
    "trials.records.agreeing": (
        "Agreed agreed_on as_understood fields_of kinds_of_sheet taken_as with_answers"
    ),
    "trials.records.reading_guess": "Guess",
    "trials.report.calendar_page": "calendar_table calendar_text",
    "trials.report.choice_page": (
        "practice_sentence practice_table reason_words rules_lines swing_sentence"
    ),
    "trials.report.comparison_page": "comparison_page",
    "trials.report.comparison_tables": (
        "LETTERS_NOTE PairRow caution_words cells_table crossed how_lines interplay_words "
        "means_table pair_rows pairs_table ranked_means solid_line two_factor_terms"
    ),
    "trials.report.document": "comparison_document",
    "trials.report.figures": ("Figures chance count figures_of listed measure_figures per_cent"),
    "trials.report.grid": "Column Table",
    "trials.report.history_page": (
        "as_known_words changed_sentence changes_left_out changes_table entry_about entry_head "
        "entry_lines undo_words"
    ),
    "trials.report.length_grades": "grade_words length_words measured_words",
    "trials.report.order_csv": "order_csv",
    "trials.report.order_page": (
        "beds_sentence money needs_table parcel_sentence parcel_table total_sentence "
        "unavailable_sentence"
    ),
    "trials.report.pages": (
        "STAGE_NEEDS added_sentence added_table completeness_lines copy_lines faults_table"
    ),
    "trials.report.people_page": "invitation_words people_table",
    "trials.report.plan_page": (
        "plan_page proposal_words proposals_table proposed_page table_notes"
    ),
    "trials.report.plan_words": (
        "neighbours_sentence note_words possible_sentences spread_sentence tells_sentence"
    ),
    "trials.report.reading_page": "reading_lines rows_table",
    "trials.report.remedies": "page_words remedy_words",
    "trials.report.rests_on": "rests_on_lines",
    "trials.report.safety_page": "check_lines copies_table restore_command what_to_do_lines",
    "trials.report.words": "LAYOUT_WORDS PlainWords level_words plain_words",
    "trials.season": (
        "backup calendar check copies choose choose_again close closing compare compare_table "
        "completeness correct culls discard_draft drafts_of grades history keep_drafts "
        "length_grades load look_through_copy order plan_from_text records_mark "
        "plan_text plan_text_of planned planted plots propose records_digest sheets submission "
        "trials undo withdraw write_order_csv write_order_pdf"
    ),
    "trials.stats.length_grades": "GradeShare",
    "trials.stats.results": "Comparison LayoutKind",
    "trials.store": "Backup DraftPlace KeptCopy KeptDraft Purpose Typed Wholeness",
    "trials.tallying": (
        "Recorded Tally TallyEntry correct_tally on_the_clock plot_on_day said_of_fields tally walk"
    ),
    "trials.units": "PaperSize UnitSystem feet_to_m inches_to_cm",
}

# A program that asks for everything gets every name; the types above say the same.
__all__ = list(names_at(_ROOMS))
__getattr__ = door(__name__, _ROOMS)
