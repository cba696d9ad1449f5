"""How a trial was kept is said beside its comparison, with the plots named."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from trials.stats.checks.conduct import PlotConduct, conduct_cautions

PLOT = PlotConduct(
    plot="K2",
    transplanted_on=date(2026, 5, 20),
    plants_set=16,
    living=16,
    lost_reason=None,
    missed_picks=0,
    unrecorded_picks=0,
    last_cut=date(2026, 10, 9),
)
OTHERS = tuple(replace(PLOT, plot=f"K{n}") for n in range(3, 8))


def codes(plot: PlotConduct) -> list[tuple[str, tuple[str, ...]]]:
    return [(caution.code, caution.plots) for caution in conduct_cautions((plot, *OTHERS))]


def test_a_well_kept_trial_needs_no_caution() -> None:
    assert codes(PLOT) == []


def test_lost_plot_is_named_with_its_reason() -> None:
    (caution,) = conduct_cautions((replace(PLOT, lost_reason="deer"), *OTHERS))
    assert caution.code == "lost-plots"
    assert "K2: deer" in caution.text


def test_missed_picks_later_planting_thin_stand_and_early_stop() -> None:
    assert codes(replace(PLOT, missed_picks=1)) == [("missed-picks", ("K2",))]
    assert codes(replace(PLOT, unrecorded_picks=2)) == [("unrecorded-picks", ("K2",))]
    assert codes(replace(PLOT, transplanted_on=date(2026, 6, 3))) == [("planting-dates", ("K2",))]
    assert codes(replace(PLOT, living=9)) == [("thin-stands", ("K2",))]
    assert codes(replace(PLOT, last_cut=date(2026, 9, 1))) == [("early-stops", ("K2",))]


def test_uncounted_plants_are_not_a_thin_stand() -> None:
    assert codes(replace(PLOT, living=None)) == []


def test_a_stand_is_thin_below_three_quarters_of_the_usual_one() -> None:
    assert codes(replace(PLOT, living=12)) == []
    assert codes(replace(PLOT, living=11)) == [("thin-stands", ("K2",))]
    assert codes(replace(PLOT, plants_set=20, living=15)) == []
    assert codes(replace(PLOT, plants_set=20, living=14)) == [("thin-stands", ("K2",))]
