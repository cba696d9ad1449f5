"""What a stored trial's comparison says of its measured stems, against the files themselves."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from trials import season
from trials.errors import UnknownName
from trials.season.comparing import Asked

FARM = Path(__file__).parent.parent / "data" / "farm"
TRIAL = "cosmos-2025"


def test_measured_stems_that_differ_in_number_are_a_caution_of_stem_length(
    farm_store: Path,
) -> None:
    quick = Asked(second_opinions=False)
    found = season.compare_trial(farm_store, TRIAL, "stem_length_cm", quick)
    (said,) = [each for each in found.cautions if each.code == "unequal-samples"]
    plots = pd.read_csv(FARM / "plots.csv", low_memory=False).query("trial == @TRIAL")
    events = pd.read_csv(FARM / "events.csv").query("kind == 'lost'")
    here = plots[~plots["plot"].isin(events["plot"])]
    stems = pd.read_csv(FARM / "stem_samples.csv")
    counts = stems[stems["plot"].isin(here["plot"])].groupby("plot").size()
    assert f"have {counts.min()} to {counts.max()} samples" in said.text
    assert set(said.plots) == set(counts[counts == counts.min()].index)
    # How much less sure the least sure plot is, from the files: each day's mean counts as often
    # as marketable stems were cut that day.
    cuts = pd.read_csv(FARM / "cuts.csv", low_memory=False).dropna(subset=["grade_cm"])
    marketable = cuts.groupby(["plot", "cut_on"])["stems"].sum()
    days = stems.groupby(["plot", "cut_on"])["length_cm"].agg(["size", "var"])
    days = days.join(marketable.rename("cut")).loc[list(here["plot"])].query("cut > 0")
    within = (days["var"] * (days["size"] - 1)).sum() / (days["size"] - 1).sum()
    shares = (days["cut"] ** 2 / days["size"]).groupby("plot").sum()
    shares /= days["cut"].groupby("plot").sum() ** 2
    (residual,) = [part.variance for part in found.components if part.source == "residual"]
    ground = max(residual - within * shares.mean(), 0.0)
    variances = ground + within * shares
    assert f"{variances.max() / variances.min():.2g} times as much" in said.text


def test_other_measures_say_nothing_of_measured_stems(farm_store: Path) -> None:
    found = season.compare_trial(farm_store, TRIAL, asked=Asked(second_opinions=False))
    assert "unequal-samples" not in {each.code for each in found.cautions}


def test_length_grades_count_plots_with_missed_harvests_unless_they_are_left_out(
    farm_store: Path,
) -> None:
    def stems(**asked: bool) -> float:
        found = season.length_grades(farm_store, TRIAL, "variety", **asked)
        return sum(each.stems_per_plant for each in found)

    cuts = pd.read_csv(FARM / "cuts.csv", low_memory=False)
    plots = pd.read_csv(FARM / "plots.csv", low_memory=False).query("trial == @TRIAL")
    missed = cuts[(cuts["outcome"] == "missed") & cuts["plot"].isin(plots["plot"])]
    assert len(missed)
    assert stems() == stems(leave_out_missed=False) != stems(leave_out_missed=True)


@pytest.mark.parametrize("measure", ["net_per_metre", "gross_per_metre"])
def test_a_measure_in_money_is_in_the_farms_own_currency(farm_store: Path, measure: str) -> None:
    quick = Asked(second_opinions=False)
    (own,) = (row for row in pd.read_csv(FARM / "currencies.csv").itertuples() if row.own == "yes")
    found = season.compare_trial(farm_store, TRIAL, measure, quick)
    assert found.unit == f"{own.currency}/m"
    read = season.plot_records(farm_store, TRIAL)
    assert season.compare_records(read, measure, quick).unit == found.unit


def test_a_measure_that_is_no_money_keeps_its_unit(farm_store: Path) -> None:
    found = season.compare_trial(farm_store, TRIAL, "stems_per_metre", Asked(second_opinions=False))
    assert found.unit == "stems/m"


def test_length_grades_are_of_a_factor_of_the_trial(farm_store: Path) -> None:
    with pytest.raises(UnknownName) as refused:
        season.length_grades(farm_store, TRIAL, "shade")
    assert "shade" in refused.value.text
    assert "variety" in refused.value.text
    plots = pd.read_csv(FARM / "plots.csv", low_memory=False).query("trial == @TRIAL")
    found = season.length_grades(farm_store, TRIAL, "variety")
    assert {each.level for each in found} <= set(plots["variety"])
