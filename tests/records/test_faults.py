from __future__ import annotations

import pytest

from trials.errors import SHOWN_AT_MOST, RecordsHeld, RecordsRefused
from trials.records.faults import Faults, Places, Wrong, hint, nearest, shown


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("C2422", "C4222"),  # changed about, though C6242 shares as many characters
        ("c4222", "C4222"),
        ("C422", "C4222"),
        ("Q", None),
    ],
)
def test_the_nearest_name(name: str, near: str | None) -> None:
    assert nearest(name, ["C6242", "C4222", "C6999"]) == near


def test_a_hint_names_the_few_there_are_where_none_is_near() -> None:
    assert hint("x", ["North", "South"], "Add it.") == "Known here: North, South. Add it."
    assert hint("x", [], "Add it.") == "Add it."
    assert hint("x", [f"name {n}" for n in range(9)], "Add it.") == "Add it."


def test_text_in_a_message_stays_on_one_line_and_short() -> None:
    assert shown("a\nb\0c") == r"'a\nb\x00c'"
    assert shown("é" * 100) == "'" + "é" * 60 + "…'"


def test_without_faults_nothing_is_refused() -> None:
    Faults().refuse_if_any()


def test_every_fault_is_listed_in_the_order_of_the_files_and_the_first_are_shown() -> None:
    faults = Faults()
    faults.order(["b.csv", "a.csv"])
    faults.add("a.csv", 2, "stems", Wrong("Odd.", "Mend it."))
    worded: list[int] = []

    def say(i: int) -> Wrong:
        worded.append(i)
        return Wrong(f"x{i}.", "y.")

    faults.add_rows(Places.of("b.csv", range(2, 1002)), None, say)
    assert len(faults) == 1001
    assert worded == []
    with pytest.raises(RecordsRefused) as refused:
        faults.refuse_if_any()
    assert len(worded) == SHOWN_AT_MOST  # no more than are shown are put into words
    listed = refused.value.faults
    assert [fault.row for fault in listed] == [*range(2, 1002), 2]
    assert (listed[-1].file, listed[-1].problem) == ("a.csv", "Odd.")
    assert listed[999].problem == "x999."
    assert "1,001 faults found" in str(refused.value)
    assert "… and 901 more." in str(refused.value)


def test_what_was_found_in_rows_that_are_replaced_is_forgotten() -> None:
    faults = Faults()
    faults.add("a.csv", 3, None, Wrong("Odd.", "Mend it."))
    faults.add_rows(Places.of("a.csv", [2, 4, 5]), lambda i: f"c{i}", lambda i: Wrong(f"{i}", "y"))
    faults.forget("a.csv", {3, 4})
    faults.forget("b.csv", {2})
    with pytest.raises(RecordsRefused) as refused:
        faults.refuse_if_any()
    assert [(f.row, f.column, f.problem) for f in refused.value.faults] == [
        *((2, "c0", "0"), (5, "c2", "2")),
    ]


def test_what_is_unlikely_comes_after_what_is_wrong_and_alone_is_held() -> None:
    faults = Faults()
    faults.add_rows(Places.of("a.csv", [2]), None, lambda i: Wrong("Long.", "Look."), unlikely=True)
    with pytest.raises(RecordsHeld):
        faults.refuse_if_any()
    assert [fault.problem for fault in faults.refuse_if_any(accept=True)] == ["Long."]
    faults.add("a.csv", 9, None, Wrong("Odd.", "Mend it."))
    with pytest.raises(RecordsRefused) as refused:
        faults.refuse_if_any(accept=True)
    assert [fault.row for fault in refused.value.faults] == [9, 2]
    assert refused.value.faults[1].remedy.startswith("Look. If it is true")
