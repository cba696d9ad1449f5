from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from trials.model.trial import Cell, Change, Entry, RecordsDigest
from trials.report.history_page import (
    MOST_ROWS_OF_A_TABLE,
    RECORD_WORDS,
    as_known_document,
    as_known_words,
    change_words,
    changed_page,
    changed_sentence,
    changes_left_out,
    changes_table,
    entry_about,
    entry_head,
    history_document,
    history_page,
    local_time,
    rows_words,
    undo_words,
)
from trials.report.rests_on import rests_on_lines
from trials.store.history.tables import TOLD

NOON = datetime(2026, 10, 14, 12, 0)
LINE = (("plot", "Z1"), ("cut_on", "2025-07-10"), ("grade_cm", 40), ("cull_reason", None))
RECOUNT = Entry(
    number=2,
    recorded_at=NOON,
    who="Ann",
    what="correction",
    why="misread",
    undoes=None,
    undone_by=None,
    files=("recounted.csv",),
    rows=(("cut", 1, 1), ("cut_line", 1, 2)),
    changes=(
        Change("cut_line", LINE, (("stems", 6),), (("stems", 9),)),
        Change(
            "cut_line",
            (*LINE[:2], ("grade_cm", None), ("cull_reason", "bent")),
            (("stems", 2),),
            None,
        ),
        Change("event", (("trial", "Z"), ("plot", None), ("kind", "frost")), None, ()),
    ),
)
LOAD = replace(
    RECOUNT,
    number=1,
    what="load",
    why=None,
    changes=(),
    rows=(("cut", 1, 0), ("cut_line", 1000, 0)),
)


def test_an_entry_says_who_when_why_and_what_became_of_each_row() -> None:
    assert history_page([RECOUNT]) == (
        f"2  {local_time(NOON)}  correction, by Ann\n"
        "   Why: misread\n"
        "   From recounted.csv.\n"
        "     stem count, Z1, 2025-07-10, grade 40 cm: stems 6 → 9\n"
        "   − stem count, Z1, 2025-07-10, bent: stems 2\n"
        "   + event, Z, frost\n"
    )


def test_a_load_is_counted() -> None:
    assert "Added 1 picking day and 1,000 stem counts." in history_page([LOAD])


def test_what_was_taken_back_says_by_which_entry() -> None:
    page = history_page([replace(RECOUNT, undone_by=3)])
    assert "(undone by change 3)" in page
    undo = replace(RECOUNT, number=3, what="undo", why=None, undoes=2)
    assert "3  " in history_page([undo])
    assert "undo of change 2, by Ann" in history_page([undo])


def test_a_long_correction_is_cut_and_says_so() -> None:
    many = tuple(replace(RECOUNT.changes[0], place=(("plot", f"Z{n}"),)) for n in range(30))
    assert "… and 18 more." in history_page([replace(RECOUNT, changes=many)])


def test_nothing_is_said_of_nobody() -> None:
    head = history_page([replace(RECOUNT, who=None)]).splitlines()[0]
    assert head.endswith("correction")
    assert "Nothing has been recorded yet." in history_page([])
    assert "for Z1 yet" in history_page([], "Z1")


def test_a_change_says_how_to_take_it_back() -> None:
    assert "tallybed undo 2" in changed_page(RECOUNT)
    assert "Nothing was changed." in changed_page(None)


def test_names_that_would_turn_the_page_about_are_made_printable() -> None:
    assert "\u202e" not in history_page([replace(RECOUNT, who="Ann\u202e", why="\x1b[2J")])


def test_programs_get_cells_by_name_and_times_in_utc() -> None:
    (entry,) = history_document([RECOUNT])
    assert entry["recorded_at"] == "2026-10-14T12:00:00Z"
    assert entry["rows"] == {
        "cut": {"brought": 1, "superseded": 1},
        "cut_line": {"brought": 1, "superseded": 2},
    }
    first, second, _ = entry["changes"]
    assert first == {
        "record": "cut_line",
        "place": dict(LINE),
        "before": {"stems": 6},
        "after": {"stems": 9},
    }
    assert second["after"] is None


def test_every_kind_of_record_has_its_words() -> None:
    assert set(RECORD_WORDS) == {twin.table for twin in TOLD}


@pytest.mark.parametrize(
    ("as_known_at", "words"),
    [
        (None, ""),
        (12, ", records as of change 12"),
        (NOON.replace(tzinfo=UTC), f", records as of {local_time(NOON)}"),
    ],
)
def test_a_title_says_of_which_time_its_records_are(
    as_known_at: datetime | int | None, words: str
) -> None:
    assert as_known_words(as_known_at) == words


def test_a_closed_trial_says_what_it_rests_on_and_whether_that_changed() -> None:
    closed = RecordsDigest("Z", "a" * 64, date(2026, 10, 14), "a" * 64)
    (line,) = rests_on_lines(closed)
    assert "a" * 64 in line
    assert "2026-10-14" in line
    _, changed = rests_on_lines(replace(closed, at_closing="b" * 64))
    assert "changed after closing" in changed
    assert "tallybed history Z" in changed
    _, unknown = rests_on_lines(replace(closed, at_closing=None))
    assert "cannot be seen" in unknown
    assert rests_on_lines(replace(closed, closed_on=None, at_closing=None)) == []
    assert rests_on_lines(None) == []


def test_the_table_of_an_entry_says_what_was_and_what_is_since() -> None:
    table = changes_table(RECOUNT)
    assert [column.heading for column in table.columns] == ["record", "where", "before", "after"]
    assert table.rows == (
        ("stem count", "Z1, 2025-07-10, grade 40 cm", "stems 6", "stems 9"),
        ("stem count", "Z1, 2025-07-10, bent", "stems 2", "removed"),
        ("event", "Z, frost", "not recorded", "recorded"),
    )
    assert changes_left_out(RECOUNT) == ""
    many = replace(RECOUNT, changes=RECOUNT.changes[:1] * (MOST_ROWS_OF_A_TABLE + 2))
    assert len(changes_table(many).rows) == MOST_ROWS_OF_A_TABLE
    assert changes_left_out(many).startswith("… and 2 more")


def test_an_entry_says_of_which_plots_or_trials_it_is() -> None:
    assert entry_about(RECOUNT) == "Z1 and Z"
    assert entry_about(LOAD) == ""
    many = tuple(Change("score", (("plot", f"Z{n}"),), None, ()) for n in range(5))
    assert entry_about(replace(RECOUNT, changes=many)) == "Z0, Z1, Z2 and 2 more"


def test_taking_back_says_what_comes_of_it() -> None:
    assert "counts again" not in undo_words(RECOUNT)
    assert "so change 1 counts again" in undo_words(replace(RECOUNT, undoes=1))
    closing = replace(RECOUNT, rows=(("closing", 1, 0),))
    assert "and the trial is open again" in undo_words(closing)
    assert "and the trial is closed again" in undo_words(replace(closing, undoes=1))
    assert "Done: change 2, correction." in changed_sentence(RECOUNT)
    assert changed_sentence(None).endswith("Nothing was changed.")


def test_programs_are_told_of_which_time_the_records_are() -> None:
    assert as_known_document(None) is None
    assert as_known_document(6) == 6
    east = datetime(2026, 10, 14, 20, 30, tzinfo=timezone(timedelta(hours=2)))
    assert as_known_document(east) == "2026-10-14T18:30:00Z"


def test_a_change_of_a_package_names_its_farm_and_its_number_there() -> None:
    came = replace(RECOUNT, origin="Ash Farm", origin_number=7, undone_by=9)
    assert entry_head(came)[2].endswith(
        ", by Ann, change 7 of the package of Ash Farm (undone by change 9)"
    )


def test_rows_that_only_went_begin_the_sentence() -> None:
    gone = replace(RECOUNT, rows=(("cut", 0, 1),))
    added, removed = rows_words(RECOUNT).split("; ")
    assert added.startswith("Added 1 ")
    assert removed.startswith("removed 1 ")
    assert rows_words(gone).startswith("Removed 1 ")


def test_a_photo_s_change_is_of_what_the_photo_shows() -> None:
    shows = (("variety", "Ember"), ("plot", None))
    came = Change("photo", (("digest", "a1"),), None, shows)
    gone = Change("photo", (("digest", "a1"),), shows, None)
    for change in (came, gone):
        assert entry_about(replace(RECOUNT, changes=(change,))) == "Ember"


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        (None, 5, "stems nothing → 5"),
        (5, None, "stems 5 → nothing"),
        (True, False, "stems yes → no"),
        (0.25, 1 / 3, "stems 0.25 → 0.333333333333"),
    ],
)
def test_what_was_not_recorded_is_nothing(before: Cell, after: Cell, said: str) -> None:
    change = Change("cut_line", LINE, (("stems", before),), (("stems", after),))
    assert change_words(change).endswith(f": {said}")
