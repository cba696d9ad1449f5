from __future__ import annotations

import pytest

from trials.errors import RecordsRefused
from trials.records.faults import Faults, Wrong, hint, nearest, shown


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


def test_more_faults_than_are_listed_are_counted() -> None:
    faults = Faults()
    faults.order(["b.csv", "a.csv"])
    faults.add("a.csv", 2, "stems", Wrong("Odd.", "Mend it."))
    faults.add_rows([("b.csv", row) for row in range(2, 1002)], None, lambda i: Wrong("x.", "y."))
    assert len(faults) == 1001
    with pytest.raises(RecordsRefused) as refused:
        faults.refuse_if_any()
    listed = refused.value.faults
    assert [fault.row for fault in listed[:200]] == list(range(2, 202))
    assert listed[200].problem == "801 more faults found after these."
