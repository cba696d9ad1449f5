from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf

from tests.stats.by_hand import crossed, dummies, f_between, squares_left, sums
from trials.errors import ComparisonRefused, UnknownName
from trials.model.trial import AppliedTo, Better, Margin
from trials.stats import Question, adjusted_means, compare
from trials.stats.design.table import PlotTable
from trials.stats.results import (
    Comparison,
    LayoutKind,
    LeastDifference,
    Mean,
    Method,
    Pair,
    Verdict,
)
from trials.stats.what_was_tested import Levels, TermTest

WHOLE, SPLIT, STRIP = AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.STRIP


Published = Callable[[str], Any]
MakeTable = Callable[..., PlotTable]


def joint_test(comparison: Comparison, term: str) -> TermTest:
    (found,) = [test for test in comparison.tests if test.term == term]
    return found


def pair_of(pairs: Sequence[Pair], a: str, b: str, within: Levels = ()) -> Pair:
    """The pair of two levels, turned so that it reads ``a`` less ``b``."""
    for pair in pairs:
        if pair.within != within:
            continue
        if (pair.a[0][1], pair.b[0][1]) == (a, b):
            return pair
        if (pair.a[0][1], pair.b[0][1]) == (b, a):
            return replace(pair, difference=-pair.difference, low=-pair.high, high=-pair.low)
    raise AssertionError(f"no pair {a}, {b}")


def mean_of(comparison: Comparison, term: str, *levels: str) -> Mean:
    (mean,) = [
        mean
        for mean in comparison.means
        if mean.term == term and tuple(level for _, level in mean.levels) == levels
    ]
    return mean


def lsd_of(comparison: Comparison, term: str, comparing: str) -> LeastDifference:
    (lsd,) = [
        lsd
        for lsd in comparison.least_differences
        if (lsd.term, lsd.comparing) == (term, comparing)
    ]
    return lsd


def invented(seed: int, noise: float = 1.0, **factors: Sequence[Any]) -> pd.DataFrame:
    """Every combination of ``factors`` with a measure of pure noise."""
    frame = pd.DataFrame(list(itertools.product(*factors.values())), columns=list(factors))
    frame["yield"] = 20 + np.random.default_rng(seed).normal(0, noise, len(frame))
    return frame


def mean_squares(formula: str, frame: pd.DataFrame) -> pd.DataFrame:
    # "yield" is a word of the formula language's host.
    fitted = smf.ols(formula, frame.rename(columns={"yield": "y"})).fit()
    return pd.DataFrame(sm.stats.anova_lm(fitted))


# --- published trials -------------------------------------------------------------------------


def test_melons_completely_randomised(published: Published, plot_table: MakeTable) -> None:
    trial = published("melon_crd")
    found = compare(plot_table(trial.columns, "variety"), Question())
    expect = trial.expect
    assert found.layout.kind is LayoutKind.COMPLETELY_RANDOMISED
    assert found.method is Method.LEAST_SQUARES
    test = joint_test(found, "variety")
    assert (test.num_df, test.den_df) == tuple(expect["df"])
    assert pytest.approx(expect["F"], abs=5e-4) == test.F
    assert test.p == pytest.approx(expect["p"], rel=1e-4)
    assert found.components[0].variance == pytest.approx(expect["MSE"], abs=1e-6)
    assert found.cv_percent == pytest.approx(expect["CV"], abs=1e-6)
    lsd = lsd_of(found, "variety", "variety")
    assert lsd.value == pytest.approx(expect["LSD05"], abs=1e-7)
    assert lsd.shown
    for name, p in expect["tukey_p"].items():
        pair = pair_of(found.all_pairs, *name.split("-"))
        assert pair.p_adjusted == pytest.approx(p, abs=1e-8, rel=1e-3)
        assert (pair.high - pair.low) / 2 == pytest.approx(expect["HSD05"], abs=1e-6)
    assert [mean.letters for mean in found.means] == ["c", "a", "c", "b"]


def test_cultivars_in_complete_blocks(published: Published, plot_table: MakeTable) -> None:
    trial = published("cultivars_rcbd")
    table = plot_table(trial.columns, "cultivar", block="block")
    found = compare(table, Question(check="C1"))
    expect = trial.expect
    assert found.layout.kind is LayoutKind.COMPLETE_BLOCKS
    test = joint_test(found, "cultivar")
    assert (test.num_df, test.den_df) == (3, 6)
    assert pytest.approx(expect["F"]["cultivar"], abs=5e-4) == test.F
    assert test.p == pytest.approx(expect["p"]["cultivar"], abs=5e-6)
    assert found.grand_mean == pytest.approx(expect["grand"])
    assert found.cv_percent == pytest.approx(expect["CV"], abs=1e-6)
    assert lsd_of(found, "cultivar", "cultivar").value == pytest.approx(expect["LSD05"], abs=1e-6)
    for name, p in expect["tukey_p"].items():
        pair = pair_of(found.all_pairs, *name.split("-"))
        assert pair.p_adjusted == pytest.approx(p, abs=1e-7)
        assert (pair.high - pair.low) / 2 == pytest.approx(expect["HSD05"], abs=1e-5)
    # Left out, the blocks would hide it: 0.345.
    assert pair_of(found.all_pairs, "C4", "C1").p_adjusted == pytest.approx(0.0486, abs=5e-5)
    for name, p in expect["dunnett_vs_C1_p"].items():
        # printed from a randomised integration
        assert pair_of(found.with_check, name, "C1").p_adjusted == pytest.approx(p, abs=5e-4)
    at_ten = compare(table, Question(alpha=0.1))
    assert lsd_of(at_ten, "cultivar", "cultivar").value == pytest.approx(expect["LSD10"], abs=1e-6)


@pytest.mark.parametrize("recorded_as_empty", [True, False])
def test_cultivars_with_a_missing_plot(
    published: Published, plot_table: MakeTable, recorded_as_empty: bool
) -> None:
    trial = published("cultivars_rcbd")
    columns = {name: list(values) for name, values in trial.columns.items()}
    (lost,) = [
        i
        for i, place in enumerate(zip(columns["block"], columns["cultivar"], strict=True))
        if place == ("B2", "C3")
    ]
    if recorded_as_empty:
        columns["yield"][lost] = None
    else:
        for values in columns.values():
            del values[lost]
    found = compare(plot_table(columns, "cultivar", block="block"), Question())
    expect = trial.expect["missing_B2C3"]
    assert found.layout.kind is LayoutKind.COMPLETE_BLOCKS
    assert found.plots == 11
    test = joint_test(found, "cultivar")
    assert test.den_df == found.residual_df == expect["df"]
    assert pytest.approx(expect["F_cultivar_adj"], abs=5e-6) == test.F
    assert test.p == pytest.approx(expect["p"], abs=5e-7)
    for cultivar, mean in expect["emmeans"].items():
        assert mean_of(found, "cultivar", cultivar).mean == pytest.approx(mean, abs=5e-5)
    assert mean_of(found, "cultivar", "C1").se == pytest.approx(0.398, abs=5e-4)
    assert mean_of(found, "cultivar", "C3").se == pytest.approx(0.514, abs=5e-4)
    assert pair_of(found.all_pairs, "C1", "C2").se == pytest.approx(0.563, abs=5e-4)
    assert pair_of(found.all_pairs, "C1", "C3").se == pytest.approx(0.65, abs=5e-3)
    lsd = lsd_of(found, "cultivar", "cultivar")
    t = 2.5706  # Student's t, two-sided 5 %, 5 degrees of freedom: any table
    assert lsd.smallest == pytest.approx(t * 0.563, abs=2e-3)
    assert lsd.largest == pytest.approx(t * 0.65, abs=2e-3)
    assert not lsd.shown


def test_rice_seed_rates_in_complete_blocks(published: Published, plot_table: MakeTable) -> None:
    trial = published("rice_seed_rate_rcbd")
    found = compare(plot_table(trial.columns, "rate", block="block"), Question())
    expect = trial.expect
    test = joint_test(found, "rate")
    assert pytest.approx(expect["F"]["trt"], abs=5e-5) == test.F
    assert test.p == pytest.approx(expect["p"]["trt"], abs=5e-7)
    assert found.components[-1].variance == pytest.approx(expect["MSE"], abs=0.01)
    assert found.cv_percent == pytest.approx(expect["CV"], abs=1e-6)
    lsd = lsd_of(found, "rate", "rate")
    assert lsd.value == pytest.approx(expect["LSD05"], abs=1e-5)
    assert not lsd.shown  # the joint test finds nothing
    pair = pair_of(found.all_pairs, "25", "150")
    assert (pair.high - pair.low) / 2 == pytest.approx(expect["HSD05"], abs=1e-4)
    # Numbers keep their order by value.
    assert found.layout.factors[0].levels == ("25", "50", "75", "100", "125", "150")
    # Gomez & Gomez 1984, section 2.2.3: 1.63 x 0.982 (from memory).
    assert found.relative_efficiency == pytest.approx(1.60, abs=0.01)


def test_cucumbers_in_a_latin_square(published: Published, plot_table: MakeTable) -> None:
    trial = published("cucumber_latin_square")
    found = compare(plot_table(trial.columns, "genotype", row="row", column="column"), Question())
    expect = trial.expect
    assert found.layout.kind is LayoutKind.LATIN_SQUARE
    test = joint_test(found, "genotype")
    assert (test.num_df, test.den_df) == (3, 6)
    assert pytest.approx(expect["F"]["gen"], abs=5e-7) == test.F
    assert test.p == pytest.approx(expect["p"]["gen"], abs=5e-7)
    assert lsd_of(found, "genotype", "genotype").value == pytest.approx(expect["LSD05"], abs=5e-5)
    pair = pair_of(found.all_pairs, "Dasher", "Sprint")
    assert (pair.high - pair.low) / 2 == pytest.approx(expect["HSD05"], abs=5e-5)
    # Cochran & Cox 1957, section 4.37: (rows + columns + (t - 1) error) / ((t + 1) error), with
    # the correction for few degrees of freedom.
    error = expect["SS"]["resid"] / 6
    plain = (expect["SS"]["row"] / 3 + expect["SS"]["col"] / 3 + 3 * error) / (5 * error)
    assert found.relative_efficiency == pytest.approx(plain * (7 * 15) / (9 * 13), rel=1e-6)


def test_nitrogen_and_rice_in_split_plots(published: Published, plot_table: MakeTable) -> None:
    trial = published("rice_nitrogen_split_plot")
    table = plot_table(trial.columns, "nitrogen", "variety", block="block", on={"nitrogen": WHOLE})
    found = compare(table, Question())
    expect = trial.expect
    assert found.layout.kind is LayoutKind.SPLIT_PLOT
    assert found.method is Method.STRATA
    nitrogen, variety = found.layout.factors
    assert nitrogen.unit == "whole plot"
    assert set(nitrogen.units_per_level) == {3}
    assert variety.unit == "plot"
    assert set(variety.units_per_level) == {18}
    for term, name, df in (
        ("nitrogen", "N", (5.0, 10.0)),
        ("variety", "V", (3.0, 36.0)),
        ("nitrogen:variety", "NV", (15.0, 36.0)),
    ):
        test = joint_test(found, term)
        assert (test.num_df, test.den_df) == df
        assert pytest.approx(expect["F"][name], abs=5e-4) == test.F
    # The whole plots' error is the smaller one; the published analysis keeps it.
    for part, square in zip(found.components, expect["MS"].values(), strict=True):
        assert part.mean_square == pytest.approx(square, abs=0.5)
    assert "negative-variance" in {caution.code for caution in found.cautions}
    assert found.cv_percent == pytest.approx(expect["cv_b"], abs=5e-4)
    sed = expect["SED"]
    assert pair_of(found.all_pairs, "0", "60").se == pytest.approx(sed["N"], abs=5e-5)
    assert pair_of(found.all_pairs, "V1", "V2").se == pytest.approx(sed["V"], abs=1e-4)
    same_n = pair_of(found.all_pairs, "V1", "V2", (("nitrogen", "90"),))
    same_v = pair_of(found.all_pairs, "0", "60", (("variety", "V3"),))
    assert same_n.se == pytest.approx(sed["V_same_N"], abs=1e-4)
    assert same_v.se == pytest.approx(sed["N_same_V"], abs=1e-4)
    lsd = expect["LSD05"]
    assert lsd_of(found, "nitrogen", "nitrogen").value == pytest.approx(lsd["N"], abs=1e-3)
    assert lsd_of(found, "variety", "variety").value == pytest.approx(lsd["V"], abs=1e-3)
    both = "nitrogen:variety"
    assert lsd_of(found, both, "variety").value == pytest.approx(lsd["V_same_N"], abs=1e-3)
    # Across strata the book weighs the two t's; the degrees of freedom used here are
    # Satterthwaite's, and the two agree to two parts in a hundred.
    assert lsd_of(found, both, "nitrogen").value == pytest.approx(lsd["N_same_V"], rel=0.02)


def test_wheat_in_augmented_blocks(published: Published, plot_table: MakeTable) -> None:
    trial = published("wheat_augmented")
    found = compare(plot_table(trial.columns, "entry", block="block"), Question())
    expect = trial.expect
    assert found.layout.kind is LayoutKind.AUGMENTED_BLOCKS
    assert found.method is Method.LEAST_SQUARES
    assert found.components[-1].variance == pytest.approx(expect["MSE"], abs=0.05)
    test = joint_test(found, "entry")
    _, df, F, p = expect["type2"]["gen"]
    assert (test.num_df, test.den_df) == (df, 10)
    assert pytest.approx(F, abs=5e-6) == test.F
    assert test.p == pytest.approx(p, abs=5e-7)
    for entry, mean in expect["adj_means"].items():
        assert mean_of(found, "entry", entry).mean == pytest.approx(mean, abs=5e-5)
    assert mean_of(found, "entry", "11").se == pytest.approx(expect["SE"]["entry"], abs=5e-6)
    assert mean_of(found, "entry", "st").se == pytest.approx(expect["SE"]["check"], abs=5e-6)
    block = dict(zip(trial.columns["entry"], trial.columns["block"], strict=True))
    checks = {"st", "ci", "wa"}
    seen = set()
    for pair in found.all_pairs:
        entries = {pair.a[0][1], pair.b[0][1]}
        new = sorted(entries - checks)
        if not new:
            kind = "check_vs_check"
        elif len(new) == 1:
            kind = "entry_vs_check"
        else:
            kind = "entries_same_block" if block[new[0]] == block[new[1]] else "entries_diff_block"
        seen.add(kind)
        assert pair.se == pytest.approx(expect["SED"][kind], abs=5e-3)
    assert len(seen) == 4


def test_oats_in_incomplete_blocks(published: Published, plot_table: MakeTable) -> None:
    trial = published("oats_alpha")
    table = plot_table(trial.columns, "variety", block="replicate", incomplete_block="block")
    found = compare(table, Question())
    expect = trial.expect["REML"]
    assert found.layout.kind is LayoutKind.INCOMPLETE_BLOCKS
    assert found.method is Method.REML
    blocks, residual = found.components
    assert blocks.variance == pytest.approx(expect["var_block"], abs=5e-7)
    assert residual.variance == pytest.approx(expect["var_resid"], abs=5e-7)
    test = joint_test(found, "variety")
    assert pytest.approx(expect["KR_F_gen"], abs=5e-5) == test.F
    assert test.den_df == pytest.approx(expect["KR_ddf"], abs=1e-3)
    # The errors are Kenward and Roger's; the printed mean is without their adjustment.
    assert np.mean([pair.se for pair in found.all_pairs]) == pytest.approx(
        expect["mean_SED"], rel=0.015
    )
    # Against complete blocks: two residual variances over 3 plots, printed for that analysis.
    complete = 2 * trial.expect["rcbd"]["resid"][1] / 46 / 3
    assert found.relative_efficiency == pytest.approx(complete / expect["mean_var_diff"], rel=0.02)


def test_plants_of_a_plot_are_not_replicates(published: Published, plot_table: MakeTable) -> None:
    trial = published("grain_weight_subsamples")
    columns = dict(trial.columns)
    places = zip(columns["block"], columns["treatment"], strict=True)
    columns["plot"] = [f"{block}-{treatment}" for block, treatment in places]
    expect = trial.expect["plot_means_anova"]
    named = compare(plot_table(columns, "treatment", block="block", plot="plot"), Question())
    # Without names the rows of a place cannot be told from plants of one plot.
    unnamed = compare(plot_table(columns, "treatment", block="block"), Question())
    for found in (named, unnamed):
        assert found.plots == 12
        test = joint_test(found, "treatment")
        df, _, F, p = expect["treat"]
        assert (test.num_df, test.den_df) == (df, expect["resid"][0])
        assert pytest.approx(F, abs=5e-6) == test.F
        assert test.p == pytest.approx(p, abs=5e-6)
    assert "averaged" in {caution.code for caution in unnamed.cautions}


def test_blood_counts_against_the_control(published: Published, plot_table: MakeTable) -> None:
    trial = published("blood_counts_crd")
    found = compare(plot_table(trial.columns, "group"), Question(check="control"))
    assert [pair.t for pair in found.with_check] == pytest.approx(trial.expect["t"], abs=5e-6)
    assert [pair.p_adjusted for pair in found.with_check] == pytest.approx(
        trial.expect["p_two"], abs=1e-4
    )


def test_four_groups_of_a_handbook(published: Published, plot_table: MakeTable) -> None:
    trial = published("four_groups_crd")
    found = compare(plot_table(trial.columns, "group"), Question())
    assert pytest.approx(trial.expect["F"], abs=5e-5) == joint_test(found, "group").F
    for name, (low, high) in trial.expect["ci"].items():
        pair = pair_of(found.all_pairs, *name.split("-"))
        assert (pair.low, pair.high) == pytest.approx((low, high), abs=1e-4)


# --- layouts against independent arithmetic ---------------------------------------------------


def test_strips_have_three_errors(plot_table: MakeTable) -> None:
    frame = invented(3, b=[1, 2, 3, 4], netting=["x", "y", "z"], pinch=["no", "yes"])
    table = plot_table(frame, "netting", "pinch", block="b", on={"netting": STRIP, "pinch": STRIP})
    found = compare(table, Question())
    square = mean_squares("y ~ C(b) + netting*pinch + C(b):netting + C(b):pinch", frame).mean_sq
    assert found.layout.kind is LayoutKind.STRIPS
    for term, error, df in (
        ("netting", "C(b):netting", 6),
        ("pinch", "C(b):pinch", 3),
        ("netting:pinch", "Residual", 6),
    ):
        test = joint_test(found, term)
        assert pytest.approx(square[term] / square[error], rel=1e-9) == test.F
        assert test.den_df == df


def test_split_plots_are_split_again(plot_table: MakeTable) -> None:
    frame = invented(4, b=[1, 2, 3], pinch=["no", "yes"], spacing=[15, 23], variety=list("uvw"))
    table = plot_table(
        frame,
        "pinch",
        "spacing",
        "variety",
        block="b",
        on={"pinch": WHOLE, "spacing": SPLIT},
    )
    found = compare(table, Question())
    square = mean_squares(
        "y ~ C(b) + pinch*C(spacing)*variety + C(b):pinch + C(b):pinch:C(spacing)", frame
    ).mean_sq
    assert found.layout.kind is LayoutKind.SPLIT_SPLIT_PLOT
    assert [factor.unit for factor in found.layout.factors] == ["whole plot", "split plot", "plot"]
    for term, source, error, df in (
        ("pinch", "pinch", "C(b):pinch", 2),
        ("spacing", "C(spacing)", "C(b):pinch:C(spacing)", 4),
        ("pinch:spacing", "pinch:C(spacing)", "C(b):pinch:C(spacing)", 4),
        ("variety", "variety", "Residual", 16),
        ("pinch:spacing:variety", "pinch:C(spacing):variety", "Residual", 16),
    ):
        test = joint_test(found, term)
        assert pytest.approx(square[source] / square[error], rel=1e-8) == test.F
        assert test.den_df == df


def test_seasons_are_the_replicates_of_a_variety(plot_table: MakeTable) -> None:
    frame = invented(5, season=[2024, 2025, 2026], b=[1, 2, 3], variety=list("uvwx"))
    found = compare(plot_table(frame, "variety", block="b", season="season"), Question())
    square = mean_squares("y ~ C(season)/C(b) + variety + variety:C(season)", frame).mean_sq
    test = joint_test(found, "variety")
    assert pytest.approx(square["variety"] / square["variety:C(season)"], rel=1e-9) == test.F
    assert test.den_df == 6
    assert "variety × season" in {part.source for part in found.components}


def test_plots_lost_from_split_plots_take_reml(plot_table: MakeTable) -> None:
    frame = invented(6, b=[1, 2, 3, 4], pinch=["no", "yes"], variety=list("uvwx"))
    frame.loc[[3, 13], "yield"] = np.nan
    found = compare(
        plot_table(frame, "pinch", "variety", block="b", on={"pinch": WHOLE}), Question()
    )
    assert found.method is Method.REML
    assert found.plots == 30
    (caution,) = [each for each in found.cautions if each.code == "missing-plots"]
    assert caution.plots == ("P4", "P14")


def test_a_factorial_in_blocks_agrees_with_ordinary_least_squares(plot_table: MakeTable) -> None:
    frame = invented(7, b=[1, 2, 3], pinch=["no", "yes"], variety=list("uvw"))
    frame.loc[4, "yield"] = np.nan
    found = compare(plot_table(frame, "pinch", "variety", block="b"), Question())
    kept = frame.dropna()
    block, pinch, variety = (sums(kept[name]) for name in ("b", "pinch", "variety"))
    both = crossed(pinch, variety)
    for term, effect, rest in (
        ("pinch", pinch, (block, variety, both)),
        ("variety", variety, (block, pinch, both)),
        ("pinch:variety", both, (block, pinch, variety)),
    ):
        F, p = f_between(kept["yield"].to_numpy(), effect, *rest)
        test = joint_test(found, term)
        assert pytest.approx(F, rel=1e-8) == test.F
        assert test.p == pytest.approx(p, rel=1e-7)


def test_a_covariate_is_taken_at_its_mean(plot_table: MakeTable) -> None:
    frame = invented(8, b=[1, 2, 3, 4], variety=list("uvwx"))
    frame["stand"] = np.random.default_rng(9).normal(14, 1, len(frame))
    found = compare(plot_table(frame, "variety", block="b", covariates=["stand"]), Question())
    y, variety, block = frame["yield"].to_numpy(), dummies(frame["variety"]), sums(frame["b"])
    stand = frame[["stand"]].to_numpy()
    test = joint_test(found, "variety")
    assert pytest.approx(f_between(y, variety, block, stand)[0], rel=1e-8) == test.F
    params = np.linalg.lstsq(np.hstack([variety, stand, block]), y, rcond=None)[0]
    at_mean = params[0] + params[4] * stand.mean()
    assert mean_of(found, "variety", "u").mean == pytest.approx(at_mean, rel=1e-9)


def test_the_check_may_have_more_plots_in_a_block(plot_table: MakeTable) -> None:
    frame = invented(10, b=[1, 2, 3], variety=["check", "check", "u", "v"])
    found = compare(plot_table(frame, "variety", block="b"), Question(check="check"))
    F, _ = f_between(frame["yield"].to_numpy(), dummies(frame["variety"]), dummies(frame["b"]))
    assert found.plots == 12
    assert pytest.approx(F, rel=1e-8) == joint_test(found, "variety").F
    assert "rows-as-plots" in {caution.code for caution in found.cautions}


# --- what the layout cannot carry -------------------------------------------------------------


def halves(rows: int = 40) -> dict[str, list[Any]]:
    rng = np.random.default_rng(11)
    return {
        "pinch": ["no"] * rows + ["yes"] * rows,
        "half": ["left"] * rows + ["right"] * rows,
        "bed": ["bed 1"] * (2 * rows),
        "yield": rng.normal(10, 2, 2 * rows).tolist(),
    }


@pytest.mark.parametrize(
    "layout",
    [
        {"plot": "half"},
        {"block": "bed"},
        {"block": "half"},
        {"whole_plot_unit": "half"},
        {"whole_plot_unit": "bed"},
        {"on": {"pinch": WHOLE}},
        {"block": "bed", "on": {"pinch": WHOLE}},
    ],
    ids=str,
)
def test_a_bed_split_in_two_is_only_described(
    plot_table: MakeTable, layout: dict[str, Any]
) -> None:
    columns = halves()
    found = compare(plot_table(columns, "pinch", **layout), Question(check="no"))
    assert found.method is Method.DESCRIPTION
    assert found.layout.kind is LayoutKind.SIDE_BY_SIDE
    assert found.plots == 2
    assert not found.tests
    assert not found.all_pairs
    assert not found.with_check
    assert not found.with_best
    assert found.cv_percent is None
    assert found.residual_df is None
    for mean, rows in zip(found.means, (slice(40), slice(40, 80)), strict=True):
        assert mean.mean == pytest.approx(np.mean(columns["yield"][rows]))
        assert mean.n == 1
        assert (mean.se, mean.df, mean.low, mean.high) == (None,) * 4
        assert mean.letters is None
    (item,) = found.layout.not_replicated
    assert item.factor == "pinch"
    assert "3 blocks" in item.remedy
    assert "not-replicated" in {caution.code for caution in found.cautions}


def test_one_bed_pinched_still_compares_the_varieties_inside(plot_table: MakeTable) -> None:
    frame = invented(12, pinch=["no", "yes"], place=[1, 2, 3, 4], variety=list("uvwx"))
    frame["plot"] = range(len(frame))
    table = plot_table(frame, "pinch", "variety", plot="plot", on={"pinch": WHOLE})
    found = compare(table, Question())
    (item,) = found.layout.not_replicated
    assert item.factor == "pinch"
    assert "pinch" not in {test.term for test in found.tests}
    assert "pinch" not in {pair.term for pair in found.all_pairs}
    for mean in found.means:
        if mean.term != "variety":
            assert (mean.se, mean.low, mean.high) == (None,) * 3
    square = mean_squares("y ~ pinch*variety", frame)
    test = joint_test(found, "variety")
    assert pytest.approx(square.loc["variety", "F"], rel=1e-9) == test.F
    assert test.den_df == 24
    # Varieties are compared inside each bed, never one bed against the other.
    within = [pair for pair in found.all_pairs if pair.term == "pinch:variety"]
    assert {pair.a[0][0] for pair in within} == {"variety"}
    assert len(within) == 12
    with pytest.raises(ComparisonRefused, match="whole plot"):
        adjusted_means(table, Question(), "pinch")


def test_factors_that_always_go_together_are_not_separated(plot_table: MakeTable) -> None:
    frame = invented(13, b=[1, 2, 3, 4], variety=["u", "v"], spacing=[15, 23])
    frame["netting"] = frame["variety"].map({"u": "net", "v": "none"})
    found = compare(plot_table(frame, "variety", "netting", "spacing", block="b"), Question())
    assert found.layout.confounded == (("variety", "netting"),)
    assert {test.term for test in found.tests} == {"spacing"}
    test = joint_test(found, "spacing")
    square = mean_squares("y ~ C(b) + variety*C(spacing)", frame)
    assert pytest.approx(square.loc["C(spacing)", "F"], rel=1e-9) == test.F
    for mean in found.means:
        if mean.term == "variety":
            assert mean.se is None
            assert mean.mean == pytest.approx(
                frame.loc[frame["variety"] == mean.levels[0][1], "yield"].mean()
            )


def test_a_combination_that_was_not_planted(plot_table: MakeTable) -> None:
    frame = invented(14, b=[1, 2, 3, 4], variety=list("uvwx"), pinch=["no", "yes"])
    frame = frame[~((frame["variety"] == "u") & (frame["pinch"] == "yes"))]
    found = compare(plot_table(frame.to_dict("list"), "variety", "pinch", block="b"), Question())
    y, block = frame["yield"].to_numpy(), dummies(frame["b"])
    cell = dummies(frame["variety"] + frame["pinch"])
    F, p = f_between(y, cell, block, dummies(frame["variety"]), dummies(frame["pinch"]))
    left, df = squares_left(y, cell, block)
    (test,) = found.tests
    assert (test.term, test.num_df, test.den_df) == ("variety:pinch", 2, df)
    assert (test.F, test.p) == pytest.approx((F, p), rel=1e-8)
    assert "empty-cells" in {caution.code for caution in found.cautions}
    assert {mean.levels[0][1] for mean in found.means if mean.term == "variety"} == set("vwx")
    planted = pair_of(found.all_pairs, "u", "v", (("pinch", "no"),))
    assert planted.se == pytest.approx(np.sqrt(left / df / 2), rel=1e-9)


def test_entries_that_never_met_are_compared_among_themselves_only(plot_table: MakeTable) -> None:
    frame = invented(15, season=[2025, 2026], b=[1, 2, 3], variety=list("uvwx"))
    early = frame["season"] == 2025
    frame = frame[frame["variety"].isin(["u", "v"]) == early]
    found = compare(
        plot_table(frame.to_dict("list"), "variety", block="b", season="season"), Question()
    )
    assert found.layout.confounded == (("variety", "season"),)
    assert found.tests == ()
    assert {(pair.a[0][1], pair.b[0][1]) for pair in found.all_pairs} == {("u", "v"), ("w", "x")}
    first = frame[early[frame.index]]
    means = first.groupby("variety")["yield"].mean()  # complete blocks
    assert pair_of(found.all_pairs, "u", "v").difference == pytest.approx(means["u"] - means["v"])


# --- the question -----------------------------------------------------------------------------


def test_the_check_must_be_a_level(published: Published, plot_table: MakeTable) -> None:
    table = plot_table(published("cultivars_rcbd").columns, "cultivar", block="block")
    with pytest.raises(UnknownName, match="Did you mean 'C1'"):
        compare(table, Question(check="C11"))


def test_the_check_is_sought_in_one_factor_only(plot_table: MakeTable) -> None:
    frame = invented(16, b=[1, 2, 3], netting=["none", "wide"], spray=["none", "soap"])
    found = compare(plot_table(frame, "netting", "spray", block="b"), Question(check="none"))
    assert {pair.a[0][0] for pair in found.with_check} == {"netting"}


def test_a_margin_turns_cannot_tell_into_the_same(
    published: Published, plot_table: MakeTable
) -> None:
    table = plot_table(published("cultivars_rcbd").columns, "cultivar", block="block")
    plain = compare(table, Question())
    assert {pair.verdict for pair in plain.all_pairs} == {Verdict.LESS, Verdict.UNKNOWN}
    wide = compare(table, Question(margin=Margin(100, percent=True)))
    assert wide.margin == pytest.approx(7.25)
    assert {pair.verdict for pair in wide.all_pairs} == {Verdict.SAME}


def test_small_can_be_good(published: Published, plot_table: MakeTable) -> None:
    table = plot_table(published("melon_crd").columns, "variety")
    found = compare(table, Question(better=Better.LOWER))
    assert mean_of(found, "variety", "v3").letters == "a"
    could = {row.levels[0][1] for row in found.with_best if row.could_be_best}
    assert could == {"v1", "v3"}


def test_with_the_best_has_a_row_for_every_level_and_combination(
    published: Published, plot_table: MakeTable
) -> None:
    trial = published("rice_nitrogen_split_plot")
    table = plot_table(trial.columns, "nitrogen", "variety", block="block", on={"nitrogen": WHOLE})
    found = compare(table, Question())
    rows = [row for row in found.with_best if not row.within]
    assert [(row.term, row.levels) for row in rows] == [
        (mean.term, mean.levels) for mean in found.means
    ]
    # 180 kg of nitrogen bears most with V1: the mean of 8452, 8832 and 8818 is the largest.
    best = mean_of(found, "nitrogen:variety", "180", "V1")
    assert best.mean == pytest.approx(8701, abs=1)
    assert next(row for row in rows if row.levels == best.levels).could_be_best


def test_adjusted_means_carry_their_covariance(published: Published, plot_table: MakeTable) -> None:
    trial = published("cultivars_rcbd")
    table = plot_table(trial.columns, "cultivar", block="block")
    found = adjusted_means(table, Question(), "cultivar")
    assert found.levels == ("C1", "C2", "C3", "C4")
    assert found.means == pytest.approx([6.5, 7.6, 6.6, 8.3])
    assert found.df == 6
    first, second = np.triu_indices(4, 1)
    variance = found.cov[first, first] + found.cov[second, second] - 2 * found.cov[first, second]
    assert variance == pytest.approx(2 * trial.expect["MSE"] / 3)
    with pytest.raises(UnknownName):
        adjusted_means(table, Question(), "cultivars")
