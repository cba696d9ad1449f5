"""Dealing a layout again, against brute force, scipy and the F tests of published trials."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations, product
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy import stats

from trials.model.trial import AppliedTo
from trials.stats.checks import arrangements as ways
from trials.stats.checks.randomisation import not_dealt, redrawn, second_opinion
from trials.stats.design.plots import plots_of
from trials.stats.design.structure import structure_of
from trials.stats.design.table import Codes, Floats, Labels, PlotTable, Treatment
from trials.stats.what_was_tested import TermTest

if TYPE_CHECKING:
    from tests.stats.conftest import Published


def table(y: Floats | list[float], treatments: list[Any], **labels: Any) -> PlotTable:
    """A plot table; each treatment is (name, values, what it was applied to)."""
    columns: dict[str, Any] = {
        name: Labels.of(name, values) for name, values in labels.items() if values is not None
    }
    return PlotTable(
        measure="stems",
        unit="stems/plant",
        y=np.asarray(y, dtype=float),
        treatments=tuple(Treatment(Labels.of(name, v), on) for name, v, on in treatments),
        plot_names=tuple(f"P{i}" for i in range(len(y))),
        **columns,
    )


def dealt(given: PlotTable, *terms: str, draws: int = 10_000) -> tuple[Any, ...]:
    plots = plots_of(given)
    structure = structure_of(plots)
    tests = [TermTest(term, 1, 1, 1.0, 0.5) for term in terms]
    return redrawn(structure, plots.table.y[structure.rows], tests, draws)


def f_statistic(y: Floats, effect: Floats, rest: Floats) -> float:
    """F of the columns ``effect`` after ``rest``, by two least squares fits."""

    def squares(columns: Floats) -> tuple[float, int]:
        beta = np.linalg.lstsq(columns, y, rcond=None)[0]
        return ((y - columns @ beta) ** 2).sum(), np.linalg.matrix_rank(columns)

    (less, rank_less), (more, rank_more) = squares(rest), squares(np.hstack([rest, effect]))
    return (less - more) / (rank_more - rank_less) / (more / (len(y) - rank_more))


def dummies(codes: Codes) -> Floats:
    return np.eye(max(codes) + 1)[np.asarray(codes)]


def test_complete_blocks_are_dealt_in_every_way() -> None:
    rng = np.random.default_rng(0)
    entry, block = np.tile([0, 1, 2], 3), np.repeat([0, 1, 2], 3)
    y = rng.normal(size=9) + 1.2 * entry
    found = dealt(table(y, [("variety", entry, AppliedTo.PLOT)], block=block), "variety")[0]
    seen = f_statistic(y, dummies(entry), dummies(block))
    every = [
        f_statistic(y, dummies(np.concatenate(deal)), dummies(block))
        for deal in product(permutations(range(3)), repeat=3)
    ]
    assert found.exact
    assert found.arrangements == 36  # 6^3, and a new naming of the varieties changes nothing
    assert found.p == pytest.approx(np.mean(np.array(every) >= seen - 1e-9), abs=1e-12)


def test_two_varieties_without_blocks_are_scipy_s_permutation_test() -> None:
    y = np.array([5.1, 6.3, 4.8, 7.7, 6.9, 8.2, 7.1, 9.4, 6.6])
    entry = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1])
    found = dealt(table(y, [("variety", entry, AppliedTo.PLOT)]), "variety")[0]
    expected = stats.permutation_test(
        (y[:4], y[4:]), lambda a, b: abs(a.mean() - b.mean()), alternative="greater"
    )
    assert found.exact
    assert found.arrangements == 126
    assert found.p == pytest.approx(expected.pvalue, abs=1e-12)
    assert found.chances[0, 1] == pytest.approx(found.p, abs=1e-12)


@pytest.mark.parametrize(("each", "at_best"), [(2, 1 / 3), (3, 1 / 10), (4, 1 / 35)])
def test_two_varieties_renamed_are_no_other_arrangement(each: int, at_best: float) -> None:
    """2n plots fall into two named halves in C(2n, n) ways, into unnamed ones in half as many."""
    y = np.arange(2.0 * each) ** 1.3
    entry = np.repeat([0, 1], each)
    found = dealt(table(y, [("variety", entry, AppliedTo.PLOT)]), "variety")[0]
    assert found.smallest_p == pytest.approx(at_best)
    assert found.p == pytest.approx(at_best)  # the halves are as far apart as they can be
    opinion = second_opinion([found], [TermTest("variety", 1, 2, 90.0, 0.01)], 0.05)
    assert opinion is not None
    assert dict(opinion.at_best) == {"variety": found.smallest_p}
    assert opinion.agrees is (at_best > 0.05 or found.p <= 0.05)
    assert bool(opinion.able(0.05)) is (at_best <= 0.05)


def test_two_varieties_in_blocks_are_sign_changes() -> None:
    a = np.array([12.1, 10.4, 14.0, 11.2, 13.3, 9.8])
    b = np.array([11.0, 10.9, 12.1, 10.0, 12.8, 8.1])
    given = table(
        np.concatenate([a, b]),
        [("variety", np.repeat([0, 1], 6), AppliedTo.PLOT)],
        block=np.tile(np.arange(6), 2),
    )
    found = dealt(given, "variety")[0]
    expected = stats.permutation_test(
        (a, b),
        lambda a, b: abs((a - b).mean()),
        permutation_type="samples",
        alternative="greater",
    )
    assert found.arrangements == 32
    assert found.p == pytest.approx(expected.pvalue, abs=1e-12)


def test_a_latin_square_shuffles_its_rows_and_columns(
    published: Callable[[str], Published],
) -> None:
    trial = published("cucumber_latin_square")
    given = table(
        trial.y,
        [("variety", trial.columns["genotype"], AppliedTo.PLOT)],
        row=trial.columns["row"],
        column=trial.columns["column"],
    )
    found = dealt(given, "variety")[0]
    row, column = trial.labels("row").codes, trial.labels("column").codes
    entry = trial.labels("genotype").codes
    grid, planted = np.empty((4, 4)), np.empty((4, 4), dtype=int)
    grid[row, column], planted[row, column] = trial.y, entry
    lines = np.hstack([dummies(np.repeat(range(4), 4)), dummies(np.tile(range(4), 4))])
    every = [
        f_statistic(grid.ravel(), dummies(planted[np.ix_(r, c)].ravel()), lines)
        for r in permutations(range(4))
        for c in permutations(range(4))
    ]
    seen = f_statistic(grid.ravel(), dummies(planted.ravel()), lines)
    assert found.exact
    assert found.arrangements == 576
    assert found.p == pytest.approx(np.mean(np.array(every) >= seen - 1e-9), abs=1e-12)


def split_plot(published: Callable[[str], Published]) -> tuple[Published, PlotTable]:
    trial = published("rice_nitrogen_split_plot")
    return trial, table(
        trial.y,
        [
            ("N", trial.columns["nitrogen"], AppliedTo.WHOLE_PLOT),
            ("V", trial.columns["variety"], AppliedTo.PLOT),
        ],
        block=trial.columns["block"],
    )


def test_whole_plot_treatments_are_dealt_to_whole_plots(
    published: Callable[[str], Published],
) -> None:
    trial, given = split_plot(published)
    whole, sub, both = dealt(given, "N", "V", "N:V", draws=4000)
    # As a trial of whole plots only, their means standing for them.
    n, rep = trial.labels("nitrogen").codes, trial.labels("block").codes
    means = np.bincount(n * 3 + rep, trial.y) / 4
    alone = dealt(
        table(
            means,
            [("N", np.repeat(np.arange(6), 3), AppliedTo.PLOT)],
            block=np.tile(np.arange(3), 6),
        ),
        "N",
        draws=4000,
    )[0]
    # Both samples of 4,000 scatter by 0.0011; F of 43 owes most to one rate that falls short.
    assert whole.p == pytest.approx(alone.p, abs=0.005)
    assert whole.p < 0.02
    # Published F of 86 and 13 are beyond any dealing within whole plots.
    assert sub.p == pytest.approx(1 / 4001)
    assert both.p == pytest.approx(1 / 4001)
    assert both.chances is None


def test_a_whole_plot_treatment_that_does_nothing_is_not_judged_by_its_sub_plots() -> None:
    rng = np.random.default_rng(6)
    pinch, variety, block = (a.ravel() for a in np.meshgrid([0, 1], range(6), range(4)))
    p = []
    for _ in range(60):
        whole_plots = rng.normal(0, 3, size=(2, 4))
        y = rng.normal(size=48) + whole_plots[pinch, block]
        given = table(
            y,
            [("pinch", pinch, AppliedTo.WHOLE_PLOT), ("variety", variety, AppliedTo.PLOT)],
            block=block,
        )
        found = dealt(given, "pinch")[0]
        assert found.arrangements == 8
        p.append(found.p)
    assert np.mean(np.array(p) <= 0.125) == pytest.approx(0.125, abs=0.13)


def test_a_sample_of_dealings_comes_near_all_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(12)
    entry, block = np.tile(np.arange(4), 3), np.repeat(np.arange(3), 4)
    y = rng.normal(size=12) + 0.6 * entry
    given = table(y, [("variety", entry, AppliedTo.PLOT)], block=block)
    every = dealt(given, "variety")[0]
    monkeypatch.setattr(ways, "MOST_EXACT", 1)
    sample = dealt(given, "variety", draws=20_000)[0]
    assert every.exact
    assert not sample.exact
    noise = np.sqrt(every.p * (1 - every.p) / 20_000)
    assert sample.p == pytest.approx(every.p, abs=4 * noise + 1e-4)
    assert sample.chances == pytest.approx(every.chances, abs=0.02)
    assert dealt(given, "variety", draws=20_000)[0].p == sample.p  # the seed is fixed


def test_normal_errors_bring_the_f_test_and_the_range_back() -> None:
    rng = np.random.default_rng(21)
    entry, block = np.tile(np.arange(6), 5), np.repeat(np.arange(5), 6)
    y = np.asarray(rng.normal(size=30) + 0.35 * entry + block, dtype=float)
    found = dealt(table(y, [("variety", entry, AppliedTo.PLOT)], block=block), "variety")[0]
    F = f_statistic(y, dummies(entry), dummies(block))
    assert found.p == pytest.approx(stats.f.sf(F, 5, 20), abs=0.02)
    means = np.array([y[entry == i].mean() for i in range(6)])
    fitted = means[entry] + np.array([y[block == j].mean() for j in range(5)])[block] - y.mean()
    error = ((y - fitted) ** 2).sum() / 20
    q = np.abs(means[0] - means) / np.sqrt(error / 5)
    expected = stats.studentized_range.sf(q, 6, 20)
    assert found.chances[0] == pytest.approx(expected, abs=0.03)


def test_a_lost_plot_is_no_obstacle_within_blocks() -> None:
    rng = np.random.default_rng(2)
    entry, block = np.tile(np.arange(4), 4), np.repeat(np.arange(4), 4)
    y = rng.normal(size=16) + entry
    y[5] = np.nan
    found = dealt(table(y, [("variety", entry, AppliedTo.PLOT)], block=block), "variety")[0]
    kept = np.isfinite(y)
    F = f_statistic(y[kept], dummies(entry[kept]), dummies(block[kept]))
    assert not found.exact
    assert found.p == pytest.approx(stats.f.sf(F, 3, 8), abs=0.03)


def test_a_factorial_takes_the_other_factors_out_first() -> None:
    rng = np.random.default_rng(3)
    a, b, block = (x.ravel() for x in np.meshgrid(range(3), range(2), range(4)))
    y = rng.normal(size=24) + 8.0 * b + 0.5 * a
    given = table(y, [("a", a, AppliedTo.PLOT), ("b", b, AppliedTo.PLOT)], block=block)
    found = {each.term: each.p for each in dealt(given, "a", "b", "a:b")}
    A, B, AB = dummies(a), dummies(b), dummies(a * 2 + b)
    R = dummies(block)
    sub = f_statistic(y, AB, np.hstack([R, A, B]))
    # In a balanced trial A's squares are those of its means; the error is the full model's.
    full = np.hstack([R, AB])
    error = ((y - full @ np.linalg.lstsq(full, y, rcond=None)[0]) ** 2).sum() / 15
    means = np.array([y[a == i].mean() for i in range(3)])
    main = 8 * means.var(ddof=1) / error
    assert found["a"] == pytest.approx(stats.f.sf(main, 2, 15), abs=0.03)
    assert found["a:b"] == pytest.approx(stats.f.sf(sub, 2, 15), abs=0.03)
    assert found["b"] < 0.001


def reasons(given: PlotTable, *terms: str) -> dict[str, str]:
    plots = plots_of(given)
    structure = structure_of(plots)
    y = plots.table.y[structure.rows]
    tests = [TermTest(term, 1, 1, 1.0, 0.5) for term in terms]
    found = redrawn(structure, y, tests, 200)
    return {each.term: each.why for each in not_dealt(structure, y, tests, found)}


def test_what_cannot_be_dealt_again_says_why() -> None:
    rng = np.random.default_rng(4)
    a, b, block = (x.ravel() for x in np.meshgrid(range(3), range(4), range(4)))
    y = rng.normal(size=48)
    on = [("a", a, AppliedTo.STRIP), ("b", b, AppliedTo.STRIP)]
    assert reasons(table(y, on, block=block), "a", "b", "a:b") == {}
    y[7] = np.nan
    assert "a strip lost a plot" in reasons(table(y, on, block=block), "a:b")["a:b"]
    both = [("a", a, AppliedTo.PLOT), ("b", b, AppliedTo.PLOT)]
    y[(a == 1) & (b == 1)] = np.nan
    said = reasons(table(y, both, block=block), "a", "a:b")
    assert "some combinations" in said["a:b"]
    assert said.keys() == {"a", "a:b"}


def test_seasons_are_dealt_each_by_itself_against_their_swings() -> None:
    # All 6^6 ways to deal three varieties in two blocks of three seasons, counted one by one.
    rng = np.random.default_rng(12)
    season, block, entry = (x.ravel() for x in np.indices((3, 2, 3)))
    y = rng.normal(10, 1, 18) + 0.8 * entry + rng.normal(0, 0.5, (3, 3))[season, entry]
    given = table(y, [("variety", entry, AppliedTo.PLOT)], block=block, season=season + 2024)
    (found,) = dealt(given, "variety")
    orders = np.array(list(permutations(range(3))))
    every = np.array(list(product(range(6), repeat=6)))
    grid = y.reshape(6, 3)
    ways = np.stack([grid[k][orders[every[:, k]]] for k in range(6)], axis=1)
    means = ways.reshape(-1, 3, 2, 3).mean(axis=2)
    entries = means.mean(axis=1, keepdims=True)
    swings = (
        means - entries - means.mean(axis=2, keepdims=True) + means.mean(axis=(1, 2), keepdims=True)
    )
    ratio = 3 * entries.var(axis=(1, 2)) / (swings**2).sum(axis=(1, 2))
    seen = ratio[0]  # the first order everywhere is the one that was grown
    assert found.p == pytest.approx(np.mean(ratio >= seen * (1 - 1e-9)))
    assert found.exact
    assert found.arrangements == 6**5


def test_crossing_strips_are_shuffled_within_each_block() -> None:
    rng = np.random.default_rng(6)
    block, a, b = (x.ravel() for x in np.indices((2, 2, 3)))
    y = rng.normal(10, 1, 12) + a * b + 0.5 * a
    given = table(y, [("a", a, AppliedTo.STRIP), ("b", b, AppliedTo.STRIP)], block=block)
    found = {each.term: each for each in dealt(given, "a", "b", "a:b")}["a:b"]
    grid = y.reshape(2, 2, 3)
    ways = [
        np.stack([grid[k][np.ix_(rows, columns)] for k, (rows, columns) in enumerate(chosen)])
        for chosen in product(product(permutations(range(2)), permutations(range(3))), repeat=2)
    ]

    def f(y: Floats) -> float:
        inner = y - y.mean(axis=1, keepdims=True) - y.mean(axis=2, keepdims=True)
        inner = inner + y.mean(axis=(1, 2), keepdims=True)
        mean = inner.mean(axis=0)
        return float(2 * np.sum(mean**2) / np.sum((inner - mean) ** 2))

    assert found.p == pytest.approx(np.mean([f(way) >= f(grid) * (1 - 1e-9) for way in ways]))
    assert found.exact
    assert found.arrangements == 12  # a new naming of the strips changes nothing


def test_many_strips_agree_with_their_f_test() -> None:
    rng = np.random.default_rng(8)
    block, a, b = (x.ravel() for x in np.indices((4, 3, 4)))
    y = rng.normal(10, 1, 48) + rng.normal(0, 1, (4, 3))[block, a] + rng.normal(0, 1, (3, 4))[a, b]
    given = table(y, [("a", a, AppliedTo.STRIP), ("b", b, AppliedTo.STRIP)], block=block)
    (found,) = dealt(given, "a:b")
    rest = np.hstack([dummies(block * 3 + a), dummies(block * 4 + b)])
    F = f_statistic(y, dummies(a * 4 + b), rest)
    assert found.p == pytest.approx(stats.f.sf(F, 6, 18), abs=0.03)
    assert not found.exact


def test_squares_of_two_seasons_are_shuffled_by_row_and_column_in_each() -> None:
    rng = np.random.default_rng(10)
    season, row, column = (x.ravel() for x in np.indices((2, 3, 3)))
    entry = (row + column) % 3
    y = rng.normal(10, 1, 18) + entry
    given = table(
        y, [("variety", entry, AppliedTo.PLOT)], row=row, column=column, season=season + 2024
    )
    (found,) = dealt(given, "variety")
    assert (found.exact, found.arrangements) == (True, 36**2)
    orders = list(product(permutations(range(3)), repeat=2))
    grid, labels = y.reshape(2, 3, 3), entry.reshape(2, 3, 3)[0]
    ratio = []
    for first, second in product(orders, orders):
        pair = np.stack([grid[0][np.ix_(*first)], grid[1][np.ix_(*second)]])
        means = np.array([[one[labels == k].mean() for k in range(3)] for one in pair])
        means = means - means.mean(axis=1, keepdims=True)
        middle = means.mean(axis=0)
        ratio.append(np.sum(middle**2) / np.sum((means - middle) ** 2))
    seen = np.array(ratio) >= ratio[0] * (1 - 1e-9)
    assert found.p == pytest.approx(seen.mean())


def test_whole_plots_are_cleared_of_what_they_lost() -> None:
    rng = np.random.default_rng(14)
    block, a, b = (x.ravel() for x in np.indices((3, 2, 2)))
    y = rng.normal(10, 1, 12) + 3 * b + a
    y[5] = np.nan
    given = table(y, [("a", a, AppliedTo.WHOLE_PLOT), ("b", b, AppliedTo.PLOT)], block=block)
    found = {each.term: each for each in dealt(given, "a", "b", "a:b")}
    assert found["a"].adjusted
    assert not found["b"].adjusted
    kept = np.isfinite(y)
    design = np.hstack([dummies(block * 2 + a), dummies(b)[:, :1] - 0.5])[kept]
    units = np.linalg.lstsq(design, y[kept], rcond=None)[0][:6].reshape(3, 2)
    apart = units[:, 1] - units[:, 0]
    sums = [abs(apart @ np.array(signs)) for signs in product([1, -1], repeat=3)]
    assert found["a"].p == pytest.approx(np.mean(np.array(sums) >= sums[0] - 1e-9))
    opinion = second_opinion([found["a"]], [TermTest("a", 1, 2, 1.0, 0.4)], 0.05)
    assert opinion is not None
    assert "missing plots" in opinion.note


def test_agreement_is_one_word_and_disagreement_is_explained() -> None:
    rng = np.random.default_rng(5)
    entry, block = np.tile(np.arange(4), 4), np.repeat(np.arange(4), 4)
    given = table(
        rng.normal(size=16) + 3 * entry, [("variety", entry, AppliedTo.PLOT)], block=block
    )
    found = dealt(given, "variety")
    agreed = second_opinion(found, [TermTest("variety", 3, 9, 50.0, 1e-5)], 0.05)
    assert agreed is not None
    assert agreed.agrees
    assert agreed.note == ""
    other = second_opinion(found, [TermTest("variety", 3, 9, 1.0, 0.4)], 0.05)
    assert other is not None
    assert not other.agrees
    assert "variety" in other.note
    assert second_opinion((), [], 0.05) is None


def test_too_few_dealings_are_not_held_against_the_main_analysis() -> None:
    given = table(
        [1.0, 2.0, 4.0, 5.0, 1.5, 5.5],
        [("pinch", [0, 0, 1, 1, 0, 1], AppliedTo.PLOT)],
        block=[0, 1, 0, 1, 2, 2],
    )
    found = dealt(given, "pinch")
    assert found[0].smallest_p == 0.25
    opinion = second_opinion(found, [TermTest("pinch", 1, 2, 90.0, 0.01)], 0.05)
    assert opinion is not None
    assert opinion.agrees
    assert "only 4 possible randomisations" in opinion.note
