from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pandas as pd
import pytest

from trials.errors import UnknownName
from trials.model.rows import Batch, Sheet, Signed
from trials.model.trial import MEASURES
from trials.store import Store

MakeBatch = Callable[..., Batch]
ANN = Signed("Ann", "misread")

JULY_10, JULY_17, JULY_24 = date(2025, 7, 10), date(2025, 7, 17), date(2025, 7, 24)

# Worked by hand from the rows in conftest; None = not recorded. Every plot: 10 plants set on
# 31 May on 2 m of bed. 31 May to 10, 17 and 24 July: 40, 47 and 54 days.
EXPECTED: dict[str, dict[str, Any]] = {
    "Z1": {
        "living": 8,  # counted 20 June (9), 10 July (8), 1 August (7); first cut 10 July
        "marketable_stems": 21,  # 6 and 10 + 5
        "short_stems": 4,  # of 30 cm, where 40 is the shortest sold
        "culled_stems": 3,  # 2 + 1
        "first_cut": JULY_10,
        "last_cut": JULY_17,
        "missed_picks": 1,
        "unrecorded_picks": 0,
        "stems_per_plant": 21 / 8,
        "stems_per_plant_set": 2.1,
        "stems_per_metre": 10.5,
        "stem_length_cm": 54,  # 10 stems (4 short) at (40 + 50)/2 = 45, 15 at (50 + 60 + 70)/3 = 60
        "saleable_length_share": 0.84,  # 21 of 25
        "marketable_share": 21 / 28,  # of 21 + 4 + 3
        "days_to_first_cut": 40,
    },
    "Z2": {
        "living": 9,  # 10 on 20 June, 9 on 20 July; first picked 10 July, first stem 24 July
        "marketable_stems": 6,
        "culled_stems": 3,
        "first_cut": JULY_24,
        "last_cut": JULY_24,
        "missed_picks": 0,
        "unrecorded_picks": 0,
        "stems_per_plant": 6 / 9,
        "stems_per_plant_set": 0.6,
        "stems_per_metre": 3,
        "stem_length_cm": None,  # never sampled
        "saleable_length_share": 1,
        "marketable_share": 6 / 9,
        "days_to_first_cut": 54,
    },
    "Z3": {
        "living": 10,
        "marketable_stems": 0,
        "culled_stems": 0,
        "first_cut": None,
        "last_cut": None,
        "missed_picks": 0,
        "unrecorded_picks": 0,
        "stems_per_plant": 0,
        "stems_per_plant_set": 0,
        "stems_per_metre": 0,
        "stem_length_cm": None,
        "saleable_length_share": None,  # of no stems
        "marketable_share": None,
        "days_to_first_cut": None,
    },
    "Z4": {
        "living": 7,  # never picked, so the earliest count
        "marketable_stems": None,
        "culled_stems": None,
        "first_cut": None,
        "last_cut": None,
        "missed_picks": 3,
        "unrecorded_picks": 0,
        **dict.fromkeys((measure.key for measure in MEASURES), None),
    },
    "Z5": {
        "living": 5,
        "marketable_stems": None,
        "culled_stems": None,
        "first_cut": JULY_10,
        "last_cut": JULY_10,
        "missed_picks": 0,
        "unrecorded_picks": 0,
        **dict.fromkeys((measure.key for measure in MEASURES), None),
    },
    "Z6": {
        "living": None,
        "marketable_stems": 8,
        "short_stems": 4,
        "culled_stems": 0,  # other plots tallied theirs
        "first_cut": JULY_10,
        "last_cut": JULY_10,  # the 4 stems of 24 July were short
        "missed_picks": 0,
        "unrecorded_picks": 1,  # nothing is known of 17 July
        "stems_per_plant": None,
        "stems_per_plant_set": 0.8,
        "stems_per_metre": 4,
        "stem_length_cm": 34,  # of the short stems; the 8 of 10 July were not sampled
        "saleable_length_share": 8 / 12,
        "marketable_share": 8 / 12,
        "days_to_first_cut": 40,
    },
    "Z7": {
        "living": 8,  # no count up to 17 July, so the earliest
        "marketable_stems": 2,
        "culled_stems": 0,
        "first_cut": JULY_17,
        "last_cut": JULY_17,
        "missed_picks": 0,
        "unrecorded_picks": 0,  # it had not started on 10 July
        "stems_per_plant": 0.25,
        "stems_per_plant_set": 0.2,
        "stems_per_metre": 1,
        "stem_length_cm": 42,  # the stem of 24 July stands for no stem that was cut
        "saleable_length_share": 1,
        "marketable_share": 1,
        "days_to_first_cut": 47,
    },
    "Y1": {
        "living": 0,
        "marketable_stems": 3,
        "culled_stems": None,  # the trial tallied no culls
        "first_cut": JULY_10,
        "last_cut": JULY_10,
        "missed_picks": 0,
        "unrecorded_picks": 0,
        "stems_per_plant": None,  # of no plants
        "stems_per_plant_set": 0.3,
        "stems_per_metre": 1.5,
        "stem_length_cm": None,
        "saleable_length_share": 1,
        "marketable_share": None,
        "days_to_first_cut": 40,
    },
    "Y2": {
        "living": None,
        "marketable_stems": 1,
        "short_stems": 3,
        "culled_stems": None,
        "stems_per_plant": None,
        "saleable_length_share": 0.25,
        "marketable_share": None,
    },
}


def row_of(plots: pd.DataFrame, code: str) -> dict[str, Any]:
    (row,) = plots[plots["plot"] == code].to_dict("records")
    return {str(name): value for name, value in row.items()}


@pytest.mark.slow
@pytest.mark.parametrize("code", EXPECTED)
def test_a_plot_has_the_totals_and_measures_worked_by_hand(store: Store, code: str) -> None:
    row = row_of(store.plots(code[0]), code)
    for name, expected in EXPECTED[code].items():
        if expected is None and name not in {"first_cut", "last_cut"}:
            assert math.isnan(row[name]), name
        elif isinstance(expected, float):
            assert row[name] == pytest.approx(expected, rel=1e-14), name
        else:
            assert row[name] == expected, name


def test_days_to_first_cut_is_no_day_where_nothing_was_cut(store: Store) -> None:
    row = row_of(store.plots("Z"), "Z3")
    assert row["first_cut"] is None
    assert math.isnan(row["days_to_first_cut"])


def test_the_columns_are_the_layout_the_factors_the_totals_and_every_measure(store: Store) -> None:
    plots = store.plots("Z")
    assert list(plots.columns) == [
        *("plot", "block", "whole_plot", "bed", "position", "spacing_cm", "variety"),
        *("plants_set", "living", "net_length_m", "net_area_m2", "transplanted_on"),
        *("lost_reason", "missed_picks", "unrecorded_picks"),
        *("marketable_stems", "short_stems", "culled_stems", "first_cut", "last_cut"),
        *(measure.key for measure in MEASURES if measure.unit != "money/m"),
        *("plants_of", "stake_of"),
        *("gross_per_metre", "premium_per_metre", "seed_per_metre", "net_per_metre"),
    ]
    assert list(store.plots("Y").columns[5:7]) == ["variety", "plants_set"]


def test_plots_come_in_walking_order_with_beds_by_number(store: Store) -> None:
    plots = store.plots("Z")
    assert list(plots["plot"]) == ["Z1", "Z2", "Z3", "Z4", "Z5", "Z6", "Z7"]
    assert list(plots["bed"].unique()) == ["Bed 2", "Bed 10"]
    assert isinstance(plots.index, pd.RangeIndex)


def test_levels_are_text_and_labels_are_kept(store: Store) -> None:
    row = row_of(store.plots("Z"), "Z5")
    assert row["spacing_cm"] == "12"
    assert row["variety"] == "Amberwick"
    assert row["block"] == "2"
    assert row["whole_plot"] == "w12"
    assert row["transplanted_on"] == date(2025, 5, 31)


def test_the_same_whole_plot_label_in_two_blocks_is_two_whole_plots(store: Store) -> None:
    plots = store.plots("Z").set_index("plot")
    labels = plots[["block", "whole_plot"]]
    assert tuple(labels.loc["Z1"]) == ("1", "w9")
    assert tuple(labels.loc["Z7"]) == ("2", "w9")


def test_only_the_lost_plot_has_a_reason(store: Store) -> None:
    reasons = dict(zip(*(store.plots("Z")[name] for name in ("plot", "lost_reason")), strict=True))
    assert reasons.pop("Z5") == "voles"
    assert set(reasons.values()) == {None}


def test_where_there_are_no_blocks_there_is_none(store: Store) -> None:
    plots = store.plots("Y")
    assert set(plots["block"]) == {None}
    assert set(plots["whole_plot"]) == {None}


def test_a_trial_without_plots_has_no_rows_but_its_columns(store: Store) -> None:
    plots = store.plots("X")
    assert plots.empty
    assert "stems_per_plant" in plots.columns


def test_grades_are_a_full_grid_of_plots_that_were_picked_and_not_lost(store: Store) -> None:
    grades = store.grades("Z")
    assert list(grades.columns) == ["plot", "spacing_cm", "variety", "grade_cm", "stems"]
    found = {(plot, grade): stems for plot, *_, grade, stems in grades.itertuples(index=False)}
    assert {plot for plot, _ in found} == {"Z1", "Z2", "Z3", "Z6", "Z7"}
    # Z1: 4 of 30 cm; 6 + 10 of 40 cm; 5 of 50 cm. Z3 was picked and had none.
    assert [found["Z1", grade] for grade in (30, 40, 50)] == [4, 16, 5]
    assert [found["Z3", grade] for grade in (30, 40, 50)] == [0, 0, 0]
    assert [found["Z6", grade] for grade in (30, 40, 50)] == [4, 0, 8]


def test_cuts_tell_zero_from_missed(store: Store) -> None:
    cuts = store.cuts("Z")
    assert len(cuts) == 3 * 4 + 1 + 2 + 2
    found = {(row[0], row[1]): row[2:] for row in cuts.itertuples(index=False, name=None)}
    assert found["Z1", JULY_10] == ("picked", 10, 2)
    assert found["Z2", JULY_17] == ("picked", 0, 3)
    assert found["Z3", JULY_17] == ("picked", 0, 0)
    assert found["Z5", JULY_10] == ("picked", 5, 1)  # cut before it was lost
    outcome, stems, culls = found["Z1", JULY_24]
    assert outcome == "missed"
    assert math.isnan(stems)
    assert math.isnan(culls)


def test_stems_by_day_are_those_long_enough_of_plots_that_were_picked(store: Store) -> None:
    rows = store.stems_by_day("Z").itertuples(index=False, name=None)
    found = {(plot, day): stems for plot, day, stems in rows}
    assert {plot for plot, _ in found} == {"Z1", "Z2", "Z3", "Z6", "Z7"}, "Z5 was lost"
    assert found["Z1", JULY_10] == 6, "its 4 of 30 cm are too short"
    assert found["Z1", JULY_17] == 15
    assert ("Z1", JULY_24) not in found, "missed"
    assert found["Z3", JULY_17] == 0
    totals = store.plots("Z").set_index("plot")["marketable_stems"]
    for code in ("Z1", "Z2", "Z3", "Z6", "Z7"):
        assert sum(n for (plot, _), n in found.items() if plot == code) == totals[code]


def test_culls_are_not_recorded_where_a_trial_tallies_none(store: Store) -> None:
    assert store.cuts("Y")["culls"].isna().all()
    assert store.culls("Y").empty


def test_culls_are_summed_by_levels_and_reason_without_lost_plots(store: Store) -> None:
    culls = store.culls("Z")
    assert [tuple(row) for row in culls.itertuples(index=False)] == [
        ("9", "Amberwick", "bent", 2),  # Z1
        ("9", "Amberwick", "thrips", 1),
        ("9", "Brindlecup", "bent", 3),  # Z2; the bent stem of Z5 went with its plot
    ]


def test_events_of_the_whole_trial_have_no_plot(store: Store) -> None:
    events = store.events("Z")[["plot", "other_plot", "happened_on", "kind", "reason"]]
    assert [tuple(row) for row in events.itertuples(index=False)] == [
        ("Z1", None, date(2025, 6, 25), "netted", None),
        (None, None, date(2025, 7, 1), "note", "and wind"),
        (None, None, date(2025, 7, 1), "note", "hail"),
        ("Z5", None, date(2025, 7, 12), "lost", "voles"),
    ]


@pytest.mark.parametrize("ask", [Store.plots, Store.grades, Store.cuts, Store.culls, Store.events])
def test_an_unknown_trial_is_refused_with_the_nearest(store: Store, ask: Any) -> None:
    with pytest.raises(UnknownName, match="trial is called 'ZZ'"):
        ask(store, "ZZ")


def test_what_a_stem_length_rests_on(store: Store) -> None:
    found = store.length_samples("Z").set_index("plot")
    assert "Z2" not in found.index  # never sampled
    # By hand, Z1: 10 stems cut on the day of two measured, 15 on that of three:
    # (10^2 / 2 + 15^2 / 3) / 25^2 = 0.2; 25 + 25 about 45, 100 + 0 + 100 about 60.
    assert list(found.loc["Z1"]) == pytest.approx([5, 0.2, 250, 3])


def test_money_by_hand(store: Store, make_batch: MakeBatch) -> None:
    """Z1, 2 m and 10 plants, netted: 6 stems at 0.50, then 10 at 0.40 and 5 at 0.80; 28 cut.

    Seed: 6.50 for 100 over the germination of 0.85 of the poorest of this year's lots.
    """
    before = store.plots("Z").set_index("plot")
    assert before["net_per_metre"].isna().all()  # nobody wrote down what planting costs
    assert before["gross_per_metre"].to_dict()["Z1"] == pytest.approx(11 / 2)
    costs = [("planting", 0.1), ("netting material", 0.5), ("netting labour", 1.0)]
    rows = [(2025, "zinnia", kind, amount) for kind, amount in costs]
    store.add(make_batch({Sheet.COSTS: rows}))
    after = store.plots("Z").set_index("plot")
    seed = 0.065 / 0.85 * 10 / 2
    assert after["seed_per_metre"]["Z1"] == pytest.approx(seed)
    growing = 8 + 0.1 * 10 / 2 + 1.5 + 0.05 * 28 / 2
    assert after["net_per_metre"]["Z1"] == pytest.approx(5.5 - growing - seed)
    assert after["premium_per_metre"]["Z1"] == pytest.approx(5 * (0.8 - 0.4) / 2)
    assert after["gross_per_metre"]["Z3"] == 0  # picked, and never a stem
    assert after[["gross_per_metre", "net_per_metre"]].loc["Z5"].isna().all()  # lost
    assert after["net_per_metre"].isna()["Z2"]  # no seed of Brindlecup is on offer


def test_a_week_without_a_price_is_not_a_week_for_nothing(
    store: Store, make_batch: MakeBatch
) -> None:
    store.withdraw(
        make_batch({Sheet.PRICES: [(2025, "florists", "zinnia", 40, 29, 40, 0.4)]}), ANN, 1
    )
    gross = store.plots("Z").set_index("plot")["gross_per_metre"]
    assert gross.isna()["Z1"]  # 10 stems of 40 cm were cut in week 29
    assert gross["Z6"] == pytest.approx(8 * 0.8 / 2)  # 50 cm ones have a price in every week
