"""What the records lack is never passed over in silence."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from trials.model.trial import Completeness
from trials.report.pages import completeness_lines

WHOLE = Completeness(
    trial="Z",
    plots=8,
    lost_plots=(),
    plots_never_picked=(),
    missed_picks=(),
    plots_without_stand=(),
    plots_without_samples=(),
    picking_days=9,
    first_cut=date(2026, 7, 14),
    last_cut=date(2026, 10, 2),
)


def test_a_whole_record_says_so() -> None:
    assert completeness_lines(WHOLE) == [
        "8 plots, 9 picking days, 2026-07-14 to 2026-10-02.",
        "Nothing is missing.",
    ]


def test_a_blank_is_neither_a_zero_nor_a_missed_pick() -> None:
    lines = completeness_lines(replace(WHOLE, unrecorded_picks=(("Z6", 2), ("Z7", 1))))
    assert "3 harvests left blank" in lines[1]
    assert "Z6 (2) and Z7 (1)" in lines[1]
    assert "Nothing is missing." not in lines
