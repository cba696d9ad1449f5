"""Plots as the values that pictures and comparisons take, worked out by hand."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from trials.season.plot_values import (
    length_grades,
    length_samples,
    picked_throughout,
    saleable_shares,
    stems_by_week,
)

NAN = float("nan")
# Four plots of two varieties; of Z4 nothing lived, and Z5 was lost.
PLOTS = pd.DataFrame(
    {
        "plot": ["Z1", "Z2", "Z3", "Z4", "Z5"],
        "variety": ["Ash", "Ash", "Ember", "Ember", "Ember"],
        "living": [10.0, 5.0, 4.0, 0.0, 8.0],
        "marketable_stems": [21.0, 10.0, 1.0, 0.0, NAN],
        "short_stems": [9.0, 0.0, 3.0, 0.0, NAN],
        "missed_picks": [0, 1, 0, 0, 0],
        "unrecorded_picks": [0, 0, 2, 0, 0],
    }
)


def days(*rows: tuple[str, date, int]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["plot", "cut_on", "stems"])


def test_weeks_begin_on_monday_and_one_without_stems_counts_as_none() -> None:
    sunday, monday, later = date(2026, 7, 5), date(2026, 7, 6), date(2026, 7, 20)
    found = stems_by_week(
        PLOTS,
        days(
            ("Z1", sunday, 1), ("Z1", monday, 10), ("Z1", date(2026, 7, 12), 10),
            ("Z2", monday, 10), ("Z3", later, 1), ("Z3", date(2026, 8, 3), 0),
            ("Z4", monday, 7), ("Z5", monday, 7),
        ),
        "variety",
    )  # fmt: skip
    # Ash, the mean of two plots: 1/10 over 2; (20/10 + 10/5) over 2; none. Ember: 1/4 in the last.
    week = [date(2026, 6, 29), date(2026, 7, 6), date(2026, 7, 13), date(2026, 7, 20)]
    assert [(each.level, each.monday) for each in found] == [
        *(("Ash", day) for day in week),
        *(("Ember", day) for day in week),
    ]
    assert [each.stems_per_plant for each in found] == pytest.approx(
        [0.05, 2.0, 0.0, 0.0, 0, 0, 0, 0.25]
    )
    assert stems_by_week(PLOTS, days(("Z4", monday, 7), ("Z1", monday, 0)), "variety") == ()


def test_shares_are_of_all_graded_stems_of_a_level() -> None:
    # Ash: 31 of 40; Ember: 1 of 4, the lost plot left out.
    assert saleable_shares(PLOTS, "variety") == {"Ash": 0.775, "Ember": 0.25}
    none = PLOTS.assign(marketable_stems=0.0, short_stems=[0.0, 0.0, 1.0, 0.0, NAN])
    assert saleable_shares(none, "variety") == {"Ember": 0.0}


def test_a_plot_is_whole_where_no_harvest_is_missed_or_blank() -> None:
    whole = picked_throughout(PLOTS)
    assert whole["plot"].tolist() == ["Z1", "Z4", "Z5"]
    assert whole.index.tolist() == [0, 1, 2]


def test_grades_are_per_plant_and_as_a_share_of_the_level() -> None:
    grades = pd.DataFrame(
        {
            "plot": ["Z1", "Z1", "Z2", "Z2", "Z3"],
            "grade_cm": [50, 40, 50, 40, 40],
            "stems": [20, 10, 0, 10, 2],
        }
    )
    found = length_grades(PLOTS.iloc[:3], grades, "variety")
    ash = {each.grade_cm: each for each in found if each.level == "Ash"}
    assert list(ash) == [40.0, 50.0]
    assert ash[40.0].stems_per_plant == pytest.approx((10 / 10 + 10 / 5) / 2)
    assert ash[50.0].stems_per_plant == pytest.approx((20 / 10 + 0) / 2)
    assert ash[50.0].share == pytest.approx(1 / (1 + 1.5))


def test_plots_without_a_measured_stem_have_none() -> None:
    measured = pd.DataFrame(
        {"plot": ["Z2", "Z1"], "stems": [3, 4], "share": [0.5, 0.25], "squares": [6.0, 9.0],
         "freedom": [2, 3]}
    )  # fmt: skip
    found = length_samples(PLOTS, measured)
    assert found.counts.tolist() == [4, 3, 0, 0, 0]
    assert found.shares[:2].tolist() == [0.25, 0.5]
    assert np.isnan(found.shares[2:]).all()
    assert found.row_variance == pytest.approx((6 + 9) / (2 + 3))
    lone = measured.assign(squares=0.0, freedom=0)
    assert length_samples(PLOTS, lone).row_variance == 0.0
