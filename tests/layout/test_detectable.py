"""What a plan can tell, against published figures, brute force, simulation and the comparison."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from trials.errors import UnknownName
from trials.layout.plan import Planting, TrialPlan
from trials.layout.power.detectable import Detectable, Wanted, detectable, replicates_needed
from trials.layout.power.differences import Between, most_efficiency
from trials.layout.power.power import Family
from trials.layout.power.variation import Spread, SpreadSource, assumed_spread, pooled_spread
from trials.model.trial import AppliedTo, Factor
from trials.stats.comparison import compare
from trials.stats.design.table import Labels, PlotTable, Question, Treatment
from trials.stats.results import Comparison, Component, Layout, LayoutKind, Method
from trials.stats.what_was_tested import Solid

WHOLE, SPLIT, PLOT, STRIP = (
    AppliedTo.WHOLE_PLOT,
    AppliedTo.SPLIT_PLOT,
    AppliedTo.PLOT,
    AppliedTo.STRIP,
)
CV_15 = Spread(15.0, SpreadSource.STATED)


def factor(name: str, levels: int, on: AppliedTo = PLOT) -> Factor:
    return Factor(name, tuple(f"{name} {i}" for i in range(levels)), on)


def plan_of(
    kind: LayoutKind,
    factors: Sequence[Factor],
    replicates: int,
    checks: tuple[str, ...] = (),
    block_size: int | None = None,
) -> TrialPlan:
    return TrialPlan(
        code="T1",
        season=2031,
        site="Home",
        crop="zinnia",
        question="Which?",
        kind=kind,
        factors=tuple(factors),
        checks=checks,
        replicates=replicates,
        beds=(),
        planting=Planting(4, 23.0),
        plants_per_plot=16,
        guard_plants=1,
        primary_measure="stems_per_plant",
        alpha=0.05,
        margin=None,
        minimum_length_cm=40.0,
        grades_cm=(40, 50),
        seed=1,
        block_size=block_size,
    )


def row_of(
    rows: tuple[Detectable, ...], comparing: str, *within: str, between: Between = Between.ANY
) -> Detectable:
    return next(
        row
        for row in rows
        if row.difference.comparing == comparing
        and set(row.difference.within) == set(within)
        and row.difference.between is between
    )


def percent_found(row: Detectable, family: Family = Family.ONE_PAIR) -> float:
    figures = row.of(family)
    assert figures is not None
    return figures.found_percent


# --- figures known from elsewhere -------------------------------------------------------------


def test_six_varieties_in_four_blocks_find_what_the_tables_of_t_say() -> None:
    # CV 15%, 6 varieties, 4 blocks, 15 df: t 2.1314 x 15 sqrt(2/4) = 22.6% of the mean counts as
    # different; (2.1314 + 0.8662) x 15 sqrt(2/4) = 31.8% is found 80 times in 100 (Cochran & Cox
    # 1957, chapter 2, as an approximation).
    plan = plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 4, ("variety 0",))
    (row,) = detectable(plan, CV_15)
    assert row.difference.df == 15
    figures = row.of(Family.ONE_PAIR)
    assert figures is not None
    assert figures.least_percent == pytest.approx(22.6, abs=0.05)
    assert figures.found_percent == pytest.approx(31.8, abs=0.05)
    tukey, dunnett = row.of(Family.ALL_PAIRS), row.of(Family.WITH_CHECK)
    assert tukey is not None
    assert dunnett is not None
    sed = 15 * np.sqrt(2 / 4)
    expected = stats.studentized_range.ppf(0.95, 6, 15) / np.sqrt(2)
    assert tukey.least_percent == pytest.approx(expected * sed, abs=1e-5)
    # Dunnett 1964, Biometrics 20:482, table II, from memory: 2.82 for 5 entries and 15 df.
    assert dunnett.least_percent == pytest.approx(2.82 * sed, abs=0.06)
    for found in (tukey, dunnett):
        chance = stats.nct.sf(found.critical, 15, found.found_percent / sed)
        assert chance == pytest.approx(0.80, abs=1e-5)


def test_any_other_chance_can_be_asked_for() -> None:
    plan = plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 4)
    (row,) = detectable(plan, CV_15, chance=0.5)
    t, shift = stats.t.ppf(0.975, 15), percent_found(row) / (15 * np.sqrt(2 / 4))
    either = stats.nct.sf(t, 15, shift) + stats.nct.cdf(-t, 15, shift)
    assert either == pytest.approx(0.5, abs=1e-7)
    assert row.of(Family.WITH_CHECK) is None


@pytest.mark.parametrize(
    ("kind", "replicates", "block_size", "df", "variance"),
    [
        (LayoutKind.COMPLETELY_RANDOMISED, 4, None, 27, 2 / 4),
        (LayoutKind.COMPLETE_BLOCKS, 4, None, 24, 2 / 4),
        (LayoutKind.LATIN_SQUARE, 9, None, 56, 2 / 9),
        (LayoutKind.LATIN_SQUARE, 18, None, 120, 2 / 18),
        # Yates' balanced lattice of 9 in 12 blocks of 3 (Cochran & Cox 1957, plan 10.1).
        (LayoutKind.INCOMPLETE_BLOCKS, 4, 3, 16, 2 / (4 * 0.75)),
    ],
)
def test_simple_layouts_have_their_textbook_error(
    kind: LayoutKind, replicates: int, block_size: int | None, df: int, variance: float
) -> None:
    plan = plan_of(kind, [factor("variety", 9)], replicates, block_size=block_size)
    (row,) = detectable(plan, CV_15)
    assert row.difference.df == df
    assert row.difference.sed_percent == pytest.approx(15 * np.sqrt(variance))


def test_the_efficiency_of_the_blocks_that_were_laid_out_counts() -> None:
    plan = plan_of(LayoutKind.INCOMPLETE_BLOCKS, [factor("variety", 24)], 3, block_size=4)
    (bound,), (laid,) = detectable(plan, CV_15), detectable(plan, CV_15, efficiency=0.70)
    assert bound.difference.df == laid.difference.df == 31  # John & Williams 1995, oats trial
    assert laid.difference.sed_percent == pytest.approx(15 * np.sqrt(2 / (3 * 0.70)))
    assert bound.difference.sed_percent < laid.difference.sed_percent
    assert most_efficiency(7, 3) == pytest.approx(7 / 9)  # seven blocks of three, balanced


def test_rows_and_columns_are_a_latin_square_where_they_are_full() -> None:
    square = plan_of(LayoutKind.LATIN_SQUARE, [factor("variety", 5)], 5)
    rows = plan_of(LayoutKind.ROW_COLUMN, [factor("variety", 5)], 5)
    assert detectable(rows, CV_15) == detectable(square, CV_15)
    # Youden's square of 7 in 3 rows (Cochran & Cox 1957, chapter 13): 6 error df, factor 7/9.
    (youden,) = detectable(plan_of(LayoutKind.ROW_COLUMN, [factor("variety", 7)], 3), CV_15)
    assert youden.difference.df == 6
    assert youden.difference.sed_percent == pytest.approx(15 * np.sqrt(2 / (3 * 7 / 9)))


# --- against brute force ----------------------------------------------------------------------


def test_augmented_blocks_have_the_least_squares_errors() -> None:
    blocks, checks, new = 4, 3, 8
    names = [f"check {i}" for i in range(checks)] + [f"new {i}" for i in range(new)]
    entry = [i for _ in range(blocks) for i in range(checks)] + list(range(checks, checks + new))
    block = [b for b in range(blocks) for _ in range(checks)] + [i // 2 for i in range(new)]
    design = np.hstack([np.eye(checks + new)[entry], np.eye(blocks)[block]])
    inverse = np.linalg.pinv(design.T @ design)

    def sed(a: int, b: int) -> float:
        contrast = np.eye(design.shape[1])[a] - np.eye(design.shape[1])[b]
        return float(15 * np.sqrt(contrast @ inverse @ contrast))

    plan = plan_of(
        LayoutKind.AUGMENTED_BLOCKS,
        [Factor("variety", tuple(names))],
        blocks,
        tuple(names[:checks]),
    )
    rows = detectable(plan, CV_15)
    expected = {
        Between.CHECKS: sed(0, 1),
        Between.ENTRY_AND_CHECK: sed(0, 5),
        Between.SAME_BLOCK: sed(3, 4),
        Between.DIFFERENT_BLOCKS: sed(3, 10),
    }
    assert {row.difference.between: row.difference.sed_percent for row in rows} == pytest.approx(
        expected
    )
    df = len(entry) - np.linalg.matrix_rank(design)
    assert {row.difference.df for row in rows} == {df}
    against = row_of(rows, "variety", between=Between.ENTRY_AND_CHECK)
    assert against.of(Family.WITH_CHECK) is not None
    assert against.of(Family.ALL_PAIRS) is None
    assert against.joint_percent is None


IN_UNITS = [
    (LayoutKind.SPLIT_PLOT, [factor("pinch", 2, WHOLE), factor("variety", 5)]),
    (
        LayoutKind.SPLIT_SPLIT_PLOT,
        [factor("net", 2, WHOLE), factor("pinch", 3, SPLIT), factor("variety", 4)],
    ),
    (LayoutKind.STRIPS, [factor("net", 3, STRIP), factor("pinch", 4, STRIP)]),
    (
        LayoutKind.STRIPS,
        [factor("net", 2, STRIP), factor("pinch", 3, STRIP), factor("variety", 3)],
    ),
]


def ground_of(
    factors: Sequence[Factor], blocks: int
) -> tuple[NDArray[np.intp], list[tuple[int, ...]]]:
    """Every plot's block and levels, and the factors that tell each larger unit apart."""
    plots = np.array(list(product(range(blocks), *(range(len(f.levels)) for f in factors))))
    on = [f.applied_to for f in factors]
    strips = [i for i, unit in enumerate(on) if unit is STRIP]
    units: list[tuple[int, ...]] = [(i,) for i in strips]
    if strips and len(strips) < len(factors):
        units.append(tuple(strips))
    if WHOLE in on:
        units.append((on.index(WHOLE),))
    if SPLIT in on:
        units.append((on.index(WHOLE), on.index(SPLIT)))
    return plots, units


@pytest.mark.parametrize(("kind", "factors"), IN_UNITS)
def test_larger_units_enter_each_error_as_they_do_plot_by_plot(
    kind: LayoutKind, factors: list[Factor]
) -> None:
    spread = Spread(15.0, SpreadSource.STATED, 9.0, SpreadSource.STATED)
    plots, units = ground_of(factors, 3)
    cov = 15.0**2 * np.eye(len(plots))
    for unit in units:
        pieces = np.unique(plots[:, [0, *(1 + i for i in unit)]], axis=0, return_inverse=True)[1]
        cov += 9.0**2 * (pieces[:, None] == pieces[None, :])
    names = [each.name for each in factors]
    rows = detectable(plan_of(kind, factors, 3), spread)
    assert len(rows) == len(factors) * 2 ** (len(factors) - 1)
    for row in rows:
        at = 1 + names.index(row.difference.comparing)
        held = [1 + names.index(name) for name in row.difference.within]
        one = (plots[:, held] == 0).all(axis=1) & (plots[:, at] == 0)
        other = (plots[:, held] == 0).all(axis=1) & (plots[:, at] == 1)
        contrast = one / one.sum() - other / other.sum()
        assert row.difference.sed_percent == pytest.approx(np.sqrt(contrast @ cov @ contrast))


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "factors"), IN_UNITS)
def test_degrees_of_freedom_are_those_the_comparison_will_have(
    kind: LayoutKind, factors: list[Factor]
) -> None:
    blocks = 4
    plots, units = ground_of(factors, blocks)
    rng = np.random.default_rng(8)
    y = 40 + rng.normal(0, 4, len(plots))
    for unit in units:
        pieces = np.unique(plots[:, [0, *(1 + i for i in unit)]], axis=0, return_inverse=True)[1]
        y += rng.normal(0, 6, pieces.max() + 1)[pieces]
    table = PlotTable(
        measure="stems",
        unit="stems",
        y=y,
        treatments=tuple(
            Treatment(Labels.of(f.name, [f.levels[i] for i in plots[:, 1 + k]]), f.applied_to)
            for k, f in enumerate(factors)
        ),
        plot_names=tuple(f"P{i}" for i in range(len(plots))),
        block=Labels.of("block", list(plots[:, 0])),
    )
    found = {pair.term: pair.df for pair in compare(table, Question()).all_pairs if not pair.within}
    rows = detectable(plan_of(kind, factors, blocks), CV_15)
    for each in factors:
        assert row_of(rows, each.name).difference.df == pytest.approx(found[each.name])


def test_a_split_plot_has_the_four_errors_of_the_texts() -> None:
    # Cochran & Cox 1957, chapter 7, with a = 2 whole-plot and b = 5 plot levels, r = 3 blocks.
    a, b, r = 2, 5, 3
    plots_square = 15.0**2
    whole_square = 15.0**2 + b * 9.0**2
    spread = Spread(15.0, SpreadSource.STATED, 9.0, SpreadSource.STATED)
    rows = detectable(plan_of(*_split_plot(a, b), r), spread)
    across = ((b - 1) * plots_square + whole_square) / b
    df_across = (b * across) ** 2 / (
        ((b - 1) * plots_square) ** 2 / (a * (r - 1) * (b - 1))
        + whole_square**2 / ((r - 1) * (a - 1))
    )
    expected = [
        (row_of(rows, "pinch"), 2 * whole_square / (r * b), (r - 1) * (a - 1), (WHOLE,)),
        (row_of(rows, "variety"), 2 * plots_square / (r * a), a * (r - 1) * (b - 1), (PLOT,)),
        (row_of(rows, "variety", "pinch"), 2 * plots_square / r, a * (r - 1) * (b - 1), (PLOT,)),
        (row_of(rows, "pinch", "variety"), 2 * across / r, df_across, (WHOLE, PLOT)),
    ]
    for row, variance, df, errors in expected:
        assert row.difference.sed_percent == pytest.approx(np.sqrt(variance))
        assert row.difference.df == pytest.approx(df)
        assert row.difference.errors == errors


def _split_plot(a: int, b: int) -> tuple[LayoutKind, list[Factor]]:
    return LayoutKind.SPLIT_PLOT, [factor("pinch", a, WHOLE), factor("variety", b)]


# --- against simulated trials -----------------------------------------------------------------


def within(observed: float, expected: float, draws: int) -> bool:
    """Whether a share of draws is within three standard errors of what was expected."""
    return bool(abs(observed - expected) < 3 * np.sqrt(expected * (1 - expected) / draws))


def test_simulated_complete_blocks_find_the_difference_as_often_as_said() -> None:
    draws, entries, blocks = 4000, 6, 4
    (row,) = detectable(plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 4), CV_15)
    for family in (Family.ONE_PAIR, Family.ALL_PAIRS):
        figures = row.of(family)
        assert figures is not None
        rng = np.random.default_rng(31)
        y = 100 + rng.normal(0, 15, (draws, blocks, entries))
        y += rng.normal(0, 10, (draws, blocks, 1))
        y[:, :, 0] += figures.found_percent
        means = y.mean(axis=1)
        left = y - y.mean(axis=2, keepdims=True) - means[:, None, :]
        left += y.mean(axis=(1, 2), keepdims=True)
        square = (left**2).sum(axis=(1, 2)) / 15
        half = figures.critical * np.sqrt(2 * square / blocks)
        found = np.abs(means[:, 0] - means[:, 1]) > half
        assert within(found.mean(), 0.80, draws)


def test_simulated_split_plots_find_each_difference_as_often_as_said() -> None:
    draws, a, b, r = 4000, 3, 4, 5
    spread = Spread(15.0, SpreadSource.STATED, 8.0, SpreadSource.STATED)
    rows = detectable(plan_of(*_split_plot(a, b), r), spread)
    rng = np.random.default_rng(5)
    y = 100 + rng.normal(0, 15, (draws, r, a, b)) + rng.normal(0, 8, (draws, r, a, 1))
    whole = y.mean(axis=3)
    whole_left = whole - whole.mean(axis=1, keepdims=True) - whole.mean(axis=2, keepdims=True)
    whole_left += whole.mean(axis=(1, 2), keepdims=True)
    whole_square = b * (whole_left**2).sum(axis=(1, 2)) / ((r - 1) * (a - 1))
    inside = y - whole[:, :, :, None]
    left = inside - inside.mean(axis=1, keepdims=True)
    square = (left**2).sum(axis=(1, 2, 3)) / (a * (r - 1) * (b - 1))
    cells = y.mean(axis=1)
    across = ((b - 1) * square + whole_square) / b
    df = (b * across) ** 2 / (
        ((b - 1) * square) ** 2 / (a * (r - 1) * (b - 1)) + whole_square**2 / ((r - 1) * (a - 1))
    )
    cases = [
        (row_of(rows, "pinch"), cells.mean(axis=2), 2 * whole_square / (r * b), 8.0),
        (row_of(rows, "variety"), cells.mean(axis=1), 2 * square / (r * a), 36.0),
        (row_of(rows, "variety", "pinch"), cells[:, 0, :], 2 * square / r, 36.0),
        (row_of(rows, "pinch", "variety"), cells[:, :, 0], 2 * across / r, df),
    ]
    for row, means, variance, freedom in cases:
        shifted = means[:, 0] + percent_found(row) - means[:, 1]
        found = np.abs(shifted) > stats.t.ppf(0.975, freedom) * np.sqrt(variance)
        assert within(found.mean(), 0.80, draws)


# --- replicates -------------------------------------------------------------------------------


# Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, table 2.4.1, from memory:
# plots of each of two treatments for a difference of 0.8, 1.0 and 1.4 standard deviations.
@pytest.mark.parametrize(("difference", "plots"), [(12.0, 26), (15.0, 17), (21.0, 10)])
def test_replicates_for_two_treatments_are_cohen_s(difference: float, plots: int) -> None:
    plan = plan_of(LayoutKind.COMPLETELY_RANDOMISED, [factor("pinch", 2)], 4)
    assert replicates_needed(plan, CV_15, Wanted(difference)).needed == plots


def test_the_impossible_is_answered_with_what_is_possible() -> None:
    plan = plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 2)
    answer = replicates_needed(plan, CV_15, Wanted(20.0))
    sed = 15.0
    assert answer.chance is not None
    assert answer.found_percent is not None
    t = stats.t.ppf(0.975, 5)
    either = stats.nct.sf(t, 5, 20 / sed) + stats.nct.cdf(-t, 5, 20 / sed)
    assert answer.chance == pytest.approx(either, abs=1e-8)
    assert answer.found_percent > 50
    assert answer.needed is not None
    for replicates, good in [(answer.needed, True), (answer.needed - 1, False)]:
        df = 5 * (replicates - 1)
        shift = 20 / (15 * np.sqrt(2 / replicates))
        assert (stats.nct.sf(stats.t.ppf(0.975, df), df, shift) >= 0.80) is np.bool_(good)
    assert answer.needed_finds_percent is not None
    assert answer.needed_finds_percent <= 20.0


def test_more_than_anyone_would_plant_is_said_to_be_too_many() -> None:
    plan = plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 4)
    answer = replicates_needed(plan, CV_15, Wanted(1.0))
    assert answer.needed is None
    assert answer.needed_finds_percent is None
    assert answer.most == 60


def test_one_plot_each_finds_nothing_and_is_told_what_would() -> None:
    plan = plan_of(LayoutKind.SIDE_BY_SIDE, [factor("variety", 6)], 1)
    (row,) = detectable(plan, CV_15)
    assert row.found == ()
    assert row.joint_percent is None
    answer = replicates_needed(plan, CV_15, Wanted(31.9))
    assert answer.found_percent is None
    assert answer.chance is None
    assert answer.needed == 4


def test_a_latin_square_grows_by_whole_squares() -> None:
    plan = plan_of(LayoutKind.LATIN_SQUARE, [factor("variety", 4)], 4)
    needed = replicates_needed(plan, CV_15, Wanted(20.0)).needed
    assert needed is not None
    assert needed % 4 == 0
    with pytest.raises(ValueError, match="multiple"):
        detectable(plan_of(LayoutKind.LATIN_SQUARE, [factor("variety", 4)], 5), CV_15)


def test_a_difference_the_plan_does_not_have_is_refused() -> None:
    plan = plan_of(LayoutKind.COMPLETE_BLOCKS, [factor("variety", 6)], 4)
    with pytest.raises(UnknownName, match="variety: any two levels"):
        replicates_needed(plan, CV_15, Wanted(20.0, comparing="varietie"))
    with pytest.raises(UnknownName, match="all pairs"):
        replicates_needed(plan, CV_15, Wanted(20.0, family=Family.WITH_CHECK))


def test_every_layout_has_its_errors() -> None:
    for kind in LayoutKind:
        factors = dict(IN_UNITS).get(kind, [factor("variety", 4)])
        plan = plan_of(kind, factors, 4, ("variety 0", "variety 1"), block_size=2)
        assert detectable(plan, CV_15)


# --- spread -----------------------------------------------------------------------------------


def closed(cv: float | None, df: float, *components: Component) -> Comparison:
    return Comparison(
        measure="stems",
        unit="stems",
        plots=24,
        alpha=0.05,
        layout=Layout(LayoutKind.COMPLETE_BLOCKS, ()),
        method=Method.LEAST_SQUARES,
        residual_df=df,
        components=components,
        tests=(),
        means=(),
        all_pairs=(),
        with_check=(),
        with_best=(),
        least_differences=(),
        cv_percent=cv,
        grand_mean=50.0,
        relative_efficiency=None,
        solid=Solid(),
        cautions=(),
    )


def test_the_farm_s_own_spread_is_pooled_by_degrees_of_freedom() -> None:
    spread = pooled_spread([closed(10.0, 10), closed(20.0, 30), closed(None, 5)])
    assert spread.cv_percent == pytest.approx(np.sqrt((100 * 10 + 400 * 30) / 40))
    assert spread.source is SpreadSource.OWN_TRIALS
    assert (spread.df, spread.trials) == (40, 2)
    assert spread.whole_plot_cv_percent is None
    assert spread.larger_units_cv_percent == pytest.approx(spread.cv_percent / 2)


def test_whole_plots_are_pooled_with_their_negative_estimates() -> None:
    trials = [
        closed(10.0, 10, Component("whole plot", 25.0, 4.0)),
        closed(10.0, 10, Component("whole plot", -5.0, 2.0), Component("block", 99.0, 3.0)),
    ]
    spread = pooled_spread(trials)
    # (25 x 4 - 5 x 2) / 6 = 15, in per cent of a mean of 50.
    assert spread.whole_plot_cv_percent == pytest.approx(100 * np.sqrt(15) / 50)
    assert spread.whole_plot_source is SpreadSource.OWN_TRIALS
    below = pooled_spread([closed(10.0, 10, Component("whole plot", -5.0, 2.0))])
    assert below.whole_plot_cv_percent == 0.0


def test_without_closed_trials_a_usual_figure_is_assumed_and_said_to_be() -> None:
    assert pooled_spread([]) == assumed_spread()
    assert assumed_spread().cv_percent == 15.0
    assert assumed_spread().source is SpreadSource.ASSUMED
    with pytest.raises(ValueError, match="positive"):
        Spread(0.0, SpreadSource.STATED)
