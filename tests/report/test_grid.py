"""Text tables line up and never let a name move the cursor."""

from __future__ import annotations

from trials.report.grid import Column, for_terminal, grid, printable


def test_columns_line_up() -> None:
    text = grid([Column("variety"), Column("mean", right=True)], [["A", "9.0"], ["Bee", "10.0"]])
    lines = text.split("\n")
    assert lines[0] == "  variety  mean"
    assert lines[2] == "  A         9.0"
    assert lines[3] == "  Bee      10.0"


def test_an_empty_table_still_has_its_heading() -> None:
    assert grid([Column("variety")], []).startswith("  variety")


def test_control_characters_do_not_reach_the_terminal() -> None:
    assert printable("a\x1b[31mb\u202ec") == "a�[31mb�c"


def test_lines_stay_lines_and_nothing_in_them_drives_the_terminal() -> None:
    assert for_terminal("a\n b\r\x07\n\x9b2J \udcff\u2066") == "a\n b��\n�2J ��"
