"""Tallybed's front door: all that the command line, the dashboard and users may import.

Names are fetched from their rooms when first used, so that importing this costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.batch import (
        Added,
    )
    from trials.decide import (
        Choice,
        Ordering,
        Practice,
        Rules,
        SeedOrder,
        Sowing,
        Standing,
    )
    from trials.errors import (
        PortTaken,
        RecordsRefused,
        TallybedError,
        TrialState,
    )
    from trials.model import (
        MEASURES,
        AppliedTo,
        Measure,
        Trial,
        TrialStage,
    )
    from trials.paper.qr import (
        code_svg,
    )
    from trials.people import (
        LONGEST_NAME,
        LONGEST_PASSPHRASE,
        SESSION_LASTS,
        SHORTEST_PASSPHRASE,
        accept_invitation,
        add_person,
        end_person,
        everybody,
        invitation,
        invite,
        is_live,
        join_link,
        note_seen,
        sessions,
        sign_in,
        sign_in_by_email,
        sign_out,
        token_digest,
    )
    from trials.planning import (
        Planned,
    )
    from trials.proposing import (
        Dates,
        Proposed,
    )
    from trials.report.calendar_page import (
        calendar_table,
        calendar_text,
    )
    from trials.report.choice_page import (
        practice_sentence,
        practice_table,
        reason_words,
        rules_lines,
        swing_sentence,
    )
    from trials.report.comparison_page import (
        comparison_page,
    )
    from trials.report.comparison_tables import (
        LETTERS_NOTE,
        PairRow,
        caution_words,
        cells_table,
        crossed,
        how_lines,
        interplay_words,
        means_table,
        pair_rows,
        pairs_table,
        ranked_means,
        solid_line,
        two_factor_terms,
    )
    from trials.report.document import (
        comparison_document,
    )
    from trials.report.figures import (
        Figures,
        UnitSystem,
        chance,
        count,
        figures_of,
        listed,
        measure_figures,
        per_cent,
    )
    from trials.report.grid import (
        Column,
        Table,
    )
    from trials.report.length_grades import (
        grade_words,
        length_words,
    )
    from trials.report.order_csv import (
        order_csv,
    )
    from trials.report.order_page import (
        beds_sentence,
        money,
        needs_table,
        parcel_sentence,
        parcel_table,
        total_sentence,
        unavailable_sentence,
    )
    from trials.report.pages import (
        STAGE_NEEDS,
        added_sentence,
        added_table,
        completeness_lines,
        faults_table,
    )
    from trials.report.people_page import (
        invitation_words,
        people_table,
    )
    from trials.report.plan_page import (
        plan_page,
        proposal_words,
        proposals_table,
        proposed_page,
        table_notes,
    )
    from trials.report.plan_words import (
        neighbours_sentence,
        note_words,
        possible_sentences,
        spread_sentence,
        tells_sentence,
    )
    from trials.report.words import (
        LAYOUT_WORDS,
        PlainWords,
        level_words,
        plain_words,
    )
    from trials.season import (
        Asked,
        calendar,
        choose,
        choose_again,
        close,
        closing,
        compare,
        compare_table,
        completeness,
        culls,
        grades,
        length_grades,
        load,
        order,
        plan_from_text,
        plan_text,
        plan_text_of,
        planned,
        plots,
        propose,
        sheets,
        trials,
        write_order_csv,
        write_order_pdf,
    )
    from trials.stats.length_grades import (
        GradeShare,
    )
    from trials.stats.results import (
        Comparison,
        LayoutKind,
    )
    from trials.units import (
        feet_to_m,
        inches_to_cm,
    )

# The names of each room, with spaces between them.
_ROOMS = {
    "trials.batch": "Added",
    "trials.decide": "Choice Ordering Practice Rules SeedOrder Sowing Standing",
    "trials.errors": "PortTaken RecordsRefused TallybedError TrialState",
    "trials.model": "MEASURES AppliedTo Measure Trial TrialStage",
    "trials.paper.qr": "code_svg",
    "trials.people": (
        "LONGEST_NAME LONGEST_PASSPHRASE SESSION_LASTS SHORTEST_PASSPHRASE accept_invitation "
        "add_person end_person everybody invitation invite is_live join_link note_seen "
        "sessions sign_in sign_in_by_email sign_out token_digest"
    ),
    "trials.planning": "Planned",
    "trials.proposing": "Dates Proposed",
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
    "trials.report.figures": (
        "Figures UnitSystem chance count figures_of listed measure_figures per_cent"
    ),
    "trials.report.grid": "Column Table",
    "trials.report.length_grades": "grade_words length_words",
    "trials.report.order_csv": "order_csv",
    "trials.report.order_page": (
        "beds_sentence money needs_table parcel_sentence parcel_table total_sentence "
        "unavailable_sentence"
    ),
    "trials.report.pages": (
        "STAGE_NEEDS added_sentence added_table completeness_lines faults_table"
    ),
    "trials.report.people_page": "invitation_words people_table",
    "trials.report.plan_page": "plan_page proposal_words proposals_table proposed_page table_notes",
    "trials.report.plan_words": (
        "neighbours_sentence note_words possible_sentences spread_sentence tells_sentence"
    ),
    "trials.report.words": "LAYOUT_WORDS PlainWords level_words plain_words",
    "trials.season": (
        "Asked calendar choose choose_again close closing compare compare_table completeness "
        "culls grades length_grades load order plan_from_text plan_text plan_text_of planned "
        "plots propose sheets trials write_order_csv write_order_pdf"
    ),
    "trials.stats.length_grades": "GradeShare",
    "trials.stats.results": "Comparison LayoutKind",
    "trials.units": "feet_to_m inches_to_cm",
}
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names.split()}

__all__ = [
    "LAYOUT_WORDS",
    "LETTERS_NOTE",
    "LONGEST_NAME",
    "LONGEST_PASSPHRASE",
    "MEASURES",
    "SESSION_LASTS",
    "SHORTEST_PASSPHRASE",
    "STAGE_NEEDS",
    "Added",
    "AppliedTo",
    "Asked",
    "Choice",
    "Column",
    "Comparison",
    "Dates",
    "Figures",
    "GradeShare",
    "LayoutKind",
    "Measure",
    "Ordering",
    "PairRow",
    "PlainWords",
    "Planned",
    "PortTaken",
    "Practice",
    "Proposed",
    "RecordsRefused",
    "Rules",
    "SeedOrder",
    "Sowing",
    "Standing",
    "Table",
    "TallybedError",
    "Trial",
    "TrialStage",
    "TrialState",
    "UnitSystem",
    "accept_invitation",
    "add_person",
    "added_sentence",
    "added_table",
    "beds_sentence",
    "calendar",
    "calendar_table",
    "calendar_text",
    "caution_words",
    "cells_table",
    "chance",
    "choose",
    "choose_again",
    "close",
    "closing",
    "code_svg",
    "compare",
    "compare_table",
    "comparison_document",
    "comparison_page",
    "completeness",
    "completeness_lines",
    "count",
    "crossed",
    "culls",
    "end_person",
    "everybody",
    "faults_table",
    "feet_to_m",
    "figures_of",
    "grade_words",
    "grades",
    "how_lines",
    "inches_to_cm",
    "interplay_words",
    "invitation",
    "invitation_words",
    "invite",
    "is_live",
    "join_link",
    "length_grades",
    "length_words",
    "level_words",
    "listed",
    "load",
    "means_table",
    "measure_figures",
    "money",
    "needs_table",
    "neighbours_sentence",
    "note_seen",
    "note_words",
    "order",
    "order_csv",
    "pair_rows",
    "pairs_table",
    "parcel_sentence",
    "parcel_table",
    "people_table",
    "per_cent",
    "plain_words",
    "plan_from_text",
    "plan_page",
    "plan_text",
    "plan_text_of",
    "planned",
    "plots",
    "possible_sentences",
    "practice_sentence",
    "practice_table",
    "proposal_words",
    "proposals_table",
    "propose",
    "proposed_page",
    "ranked_means",
    "reason_words",
    "rules_lines",
    "sessions",
    "sheets",
    "sign_in",
    "sign_in_by_email",
    "sign_out",
    "solid_line",
    "spread_sentence",
    "swing_sentence",
    "table_notes",
    "tells_sentence",
    "token_digest",
    "total_sentence",
    "trials",
    "two_factor_terms",
    "unavailable_sentence",
    "write_order_csv",
    "write_order_pdf",
]


def __getattr__(name: str) -> object:
    room = _ROOM_OF.get(name)
    if room is None:
        raise AttributeError(f"trials has no {name!r}")
    return getattr(import_module(room), name)
