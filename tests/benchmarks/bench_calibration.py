"""How often each verdict is wrong, by simulated trials of every layout.

    python tests/benchmarks/bench_calibration.py [--trials 10000] [--jobs 2] [--only TEXT]

For each layout, trials are drawn with realistic variances and no differences, and each family is
asked at 5 %: how often does the joint test, any pair, any comparison with the check raise a false
alarm; how often does a 95 % interval of a single difference of each kind hold the truth. Beside
it stands what happens when the plants inside a plot are taken for replicates. With true differences
(one plot standard deviation spread over the entries), how often is the true best among those that
'could be best'. Families that are exact should show 5.0 and 95.0 within the Monte Carlo error;
those that are conservative by construction may lie on the safe side.

A second table loses plots: 0, 1 or 4 of them at random in each trial, with and without variation
between the larger units, whose variance is then often estimated at or below zero. Each test and
the interval of the first difference of the first factor come from one fit; that factor's pairs and
its check, which cost more, are asked in one trial of five.

The layouts' own fits and families are called; what `compare` adds is words and cautions.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from math import sqrt
from multiprocessing import Pool
from typing import TypeVar

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from trials.model.trial import AppliedTo, Better
from trials.stats import Labels, PlotTable, Treatment, families
from trials.stats.checks import opinions
from trials.stats.design.linear_model import Fit
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats
from trials.stats.design.terms import Term
from trials.stats.distributions.quadrature import t_two_sided
from trials.stats.families.pairings import groups_of
from trials.stats.fit.analysis import analyse, fit_of, joint_test

ALPHA = 0.05
HEADINGS = (
    "layout",
    "joint test",
    "any pair",
    "with the check",
    "best is kept",
    "plants as replicates",
)
LOST_HEADINGS = (
    "layout",
    "variation of larger units",
    "plots lost",
    "below zero",
    "joint tests",
    "interval holds",
    "any pair",
    "with the check",
)
KIND_HEADINGS = ("layout", "difference", "interval holds")
FIRST_TWO = (("the first two", 0, 1),)
FAMILIES_ONCE_IN = 5
PLANTS = 16
PLANT_SD, PLOT_SD, UNIT_SD, BLOCK_SD = 1.5, 1.0, 0.7, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """A layout to simulate: its table, the columns that carry random effects, the term asked.

    Of a term of several factors the levels of ``varied`` are compared within the first levels of
    the others. ``kinds`` names differences by two rows of the term, each a level or combination.
    """

    name: str
    table: PlotTable
    effects: tuple[tuple[Labels, float], ...]
    term: str
    varied: str
    kinds: tuple[tuple[str, int, int], ...] = FIRST_TWO


def _table(
    rows: list[dict[str, object]], treatments: dict[str, AppliedTo], **parts: str
) -> PlotTable:
    def column(name: str) -> Labels:
        return Labels.of(name, [row[name] for row in rows])

    missing = np.array([bool(row.get("missing")) for row in rows])
    return PlotTable(
        measure="stems",
        unit="",
        y=np.where(missing, np.nan, np.arange(len(rows)) % 7 + np.arange(len(rows)) % 5),
        treatments=tuple(Treatment(column(name), unit) for name, unit in treatments.items()),
        plot_names=tuple(str(i) for i in range(len(rows))),
        plot=Labels.of("plot", list(range(len(rows)))),
        **{part: column(name) for part, name in parts.items()},  # type: ignore[arg-type]
    )


PLOT = {"variety": AppliedTo.PLOT}


def _effects(table: PlotTable, **sds: float) -> tuple[tuple[Labels, float], ...]:
    return tuple((getattr(table, part), sd) for part, sd in sds.items())


def completely_randomised() -> Layout:
    table = _table([{"variety": v} for v in range(6) for _ in range(4)], PLOT)
    return Layout("completely randomised, 6 x 4", table, (), "variety", "variety")


def complete_blocks(missing: int = 0) -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": v, "b": b, "missing": 6 * b + v < 7 * missing and v == b and b < missing}
        for b in range(4)
        for v in range(6)
    ]
    table = _table(rows, PLOT, block="b")
    name = "complete blocks, 6 x 4" + (f", {missing} plots lost" if missing else "")
    kinds = (("with a plot lost", 0, 2), ("none lost", 2, 3)) if missing else FIRST_TWO
    return Layout(name, table, _effects(table, block=BLOCK_SD), "variety", "variety", kinds)


def latin_square() -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": (r + c) % 5, "r": r, "c": c} for r in range(5) for c in range(5)
    ]
    table = _table(rows, PLOT, row="r", column="c")
    effects = _effects(table, row=BLOCK_SD, column=BLOCK_SD)
    return Layout("Latin square, 5", table, effects, "variety", "variety")


def split_plot(term: str, varied: str, missing: bool = False) -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": v, "pinch": p, "b": b, "w": f"{b}{p}", "missing": missing and b == p == v == 0}
        for b in range(4)
        for p in range(3)
        for v in range(4)
    ]
    table = _table(
        rows,
        {"pinch": AppliedTo.WHOLE_PLOT, "variety": AppliedTo.PLOT},
        block="b",
        whole_plot_unit="w",
    )
    name = "split-plot, 3 x 4 in 4 blocks" + (", a plot lost" if missing else "")
    effects = _effects(table, block=BLOCK_SD, whole_plot_unit=UNIT_SD)
    if term == varied:
        return Layout(f"{name}: {term}", table, effects, term, varied)
    # Rows of the interaction: pinch 0 with varieties 0 to 3, pinch 1 with varieties 0 to 3, ...
    kinds: tuple[tuple[str, int, int], ...] = (("one variety, two whole plots", 0, 4),)
    if varied == "variety":
        kinds = (("in one whole plot", 0, 1), ("two varieties, two whole plots", 1, 6))
    within = "pinch" if varied == "variety" else "variety"
    return Layout(f"{name}: {varied} within a {within}", table, effects, term, varied, kinds)


def strips(term: str = "pinch") -> Layout:
    rows: list[dict[str, object]] = [
        {"pinch": p, "netting": n, "b": b, "sp": f"{b}{p}", "sn": f"{b}{n}"}
        for b in range(5)
        for p in range(3)
        for n in range(3)
    ]
    table = _table(rows, {"pinch": AppliedTo.STRIP, "netting": AppliedTo.STRIP}, block="b")
    strip = Labels.of("strip", [row["sp"] for row in rows])
    other = Labels.of("strip", [row["sn"] for row in rows])
    effects = (*_effects(table, block=BLOCK_SD), (strip, UNIT_SD), (other, UNIT_SD))
    name = "strips, 3 x 3 in 5 blocks"
    if term == "pinch":
        return Layout(f"{name}: pinch", table, effects, "pinch", "pinch")
    kinds = (("in one strip", 0, 1), ("in crossing strips", 0, 4))
    return Layout(f"{name}: pinch within a netting", table, effects, term, "pinch", kinds)


def incomplete_blocks() -> Layout:
    """A square lattice: 16 entries, 4 replicates of 4 blocks of 4."""
    squares = [[(i * k + j) % 4 for i in range(4) for j in range(4)] for k in (1, 3)]
    groups = [[i // 4 for i in range(16)], [i % 4 for i in range(16)], *squares]
    rows: list[dict[str, object]] = [
        {"variety": v, "b": r, "i": f"{r}.{group[v]}"}
        for r, group in enumerate(groups)
        for v in range(16)
    ]
    table = _table(rows, PLOT, block="b", incomplete_block="i")
    effects = _effects(table, block=BLOCK_SD, incomplete_block=UNIT_SD)
    kinds = (("met in a block", 0, 1), ("never met", 0, _never_met(groups)))
    name = "incomplete blocks, 16 x 4 in blocks of 4"
    return Layout(name, table, effects, "variety", "variety", kinds)


def _never_met(groups: list[list[int]]) -> int:
    """The first entry that never shares a block with entry 0."""
    return next(v for v in range(1, 16) if all(group[v] != group[0] for group in groups))


def augmented_blocks() -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": f"check {c}", "b": b} for b in range(6) for c in range(3)
    ]
    rows += [{"variety": f"new {i:02d}", "b": i % 6} for i in range(12)]
    table = _table(rows, PLOT, block="b")
    kinds = (
        ("two checks", 0, 1),
        ("entry and check", 3, 0),
        ("entries of one block", 3, 9),
        ("entries of two blocks", 3, 4),
    )
    name = "augmented blocks, 12 new + 3 checks x 6"
    return Layout(name, table, _effects(table, block=BLOCK_SD), "variety", "variety", kinds)


BOTH = "pinch:variety"
LAYOUTS: tuple[Callable[[], Layout], ...] = (
    completely_randomised,
    complete_blocks,
    lambda: complete_blocks(missing=2),
    latin_square,
    lambda: split_plot("pinch", "pinch"),
    lambda: split_plot("variety", "variety"),
    lambda: split_plot("pinch", "pinch", missing=True),
    lambda: split_plot("variety", "variety", missing=True),
    strips,
    incomplete_blocks,
    augmented_blocks,
    lambda: split_plot(BOTH, "variety"),
    lambda: split_plot(BOTH, "pinch"),
    lambda: split_plot(BOTH, "variety", missing=True),
    lambda: split_plot(BOTH, "pinch", missing=True),
    lambda: strips("pinch:netting"),
)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of ``trials`` erred, or held what they should."""

    name: str
    trials: int
    joint: int
    pairs: int
    check: int
    kept_best: int
    plants_as_replicates: int
    kinds: tuple[str, ...]
    covered: tuple[int, ...]

    def plus(self, other: Counts) -> Counts:
        """Both together."""
        return Counts(
            self.name,
            self.trials + other.trials,
            self.joint + other.joint,
            self.pairs + other.pairs,
            self.check + other.check,
            self.kept_best + other.kept_best,
            self.plants_as_replicates + other.plants_as_replicates,
            self.kinds,
            tuple(a + b for a, b in zip(self.covered, other.covered, strict=True)),
        )


def simulate(place: int, trials: int, seed: int) -> Counts:
    """Draw ``trials`` trials of a layout and count the errors of each family."""
    layout = LAYOUTS[place]()
    lot = np.random.default_rng([seed, place])
    analysis = analyse(layout.table)
    structure = analysis.structure
    (term,) = [term for term in structure.terms if term.name == layout.term]
    kept = structure.rows
    (column,) = [t.labels for t in layout.table.treatments if t.name == layout.varied]
    steps = PLOT_SD * np.linspace(0.0, 1.0, len(column.levels))
    places = np.array([kind[1:] for kind in layout.kinds])
    contrasts = term.weights[places[:, 0]] - term.weights[places[:, 1]]
    weights: Floats | None = None
    joint = pairs = check = kept_best = naive = 0
    covered = np.zeros(len(layout.kinds), dtype=int)
    for _ in range(trials):
        luck = lot.normal(0.0, sqrt(PLOT_SD**2 + PLANT_SD**2 / PLANTS), len(column.codes))
        for labels, sd in layout.effects:
            luck = luck + lot.normal(0.0, sd, len(labels.levels))[labels.codes]
        fit = fit_of(structure.model(luck[kept]))
        if weights is None:
            weights = _compared(layout, structure, fit, term)
        test = joint_test(structure, fit, term)
        joint += test is not None and test.p < ALPHA
        estimate, se, df = fit.estimates(contrasts)
        covered += t_two_sided(estimate / se, df) >= ALPHA
        means, cov = weights @ fit.means, weights @ fit.cov @ weights.T
        every = families.all_pairs(means, cov, _freedom(fit, weights), ALPHA)
        pairs += bool((every.p_adjusted < ALPHA).any())
        against = families.with_check(means, cov, _freedom(fit, weights), 0, ALPHA)
        check += bool((against.p_adjusted < ALPHA).any())
        fit = fit_of(structure.model((luck + steps[column.codes])[kept]))
        means, cov = weights @ fit.means, weights @ fit.cov @ weights.T
        best = families.with_best(means, cov, _freedom(fit, weights), Better.HIGHER, ALPHA)
        kept_best += bool(best.could_be_best[-1])
        naive += _plants_as_replicates(luck[kept], column.codes[kept], lot)
    return Counts(
        layout.name,
        trials,
        joint,
        pairs,
        check,
        kept_best,
        naive,
        tuple(kind[0] for kind in layout.kinds),
        tuple(covered.tolist()),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Losing:
    """A layout that loses ``lost`` plots, its larger units with a standard deviation of ``sd``."""

    name: str
    table: PlotTable
    units: tuple[Labels, ...]
    sd: float
    lost: int


def losing_split_plot(sd: float, lost: int) -> Losing:
    """36 plots: 3 treatments of whole plots by 3 of plots in 4 blocks."""
    rows: list[dict[str, object]] = [
        {"variety": v, "pinch": p, "b": b, "w": f"{b}{p}"}
        for b in range(4)
        for p in range(3)
        for v in range(3)
    ]
    on = {"pinch": AppliedTo.WHOLE_PLOT, "variety": AppliedTo.PLOT}
    table = _table(rows, on, block="b", whole_plot_unit="w")
    assert table.whole_plot_unit is not None
    return Losing("split-plot, 3 x 3 in 4 blocks", table, (table.whole_plot_unit,), sd, lost)


def losing_split_split_plot(sd: float, lost: int) -> Losing:
    """72 plots: three sizes of unit, 2 x 3 x 3 in 4 blocks."""
    rows: list[dict[str, object]] = [
        {"net": n, "pinch": p, "variety": v, "b": b}
        for b in range(4)
        for n in range(2)
        for p in range(3)
        for v in range(3)
    ]
    on = {
        "net": AppliedTo.WHOLE_PLOT,
        "pinch": AppliedTo.SPLIT_PLOT,
        "variety": AppliedTo.PLOT,
    }
    units = (
        Labels.of("whole plot", [f"{row['b']}{row['net']}" for row in rows]),
        Labels.of("split plot", [f"{row['b']}{row['net']}{row['pinch']}" for row in rows]),
    )
    name = "split-split-plot, 2 x 3 x 3 in 4 blocks"
    return Losing(name, _table(rows, on, block="b"), units, sd, lost)


def losing_strips(sd: float, lost: int) -> Losing:
    layout = strips()
    (_, *crossing) = layout.effects
    return Losing(layout.name.split(":")[0], layout.table, tuple(e[0] for e in crossing), sd, lost)


def losing_seasons(sd: float, lost: int) -> Losing:
    """45 plots: 5 varieties in 3 blocks in each of 3 seasons."""
    rows: list[dict[str, object]] = [
        {"variety": v, "b": b, "season": s} for s in range(3) for b in range(3) for v in range(5)
    ]
    table = _table(rows, PLOT, block="b", season="season")
    swing = Labels.of("swing", [f"{row['variety']}{row['season']}" for row in rows])
    return Losing("3 seasons, 5 x 3 in each", table, (swing,), sd, lost)


def losing_incomplete_blocks(sd: float, lost: int) -> Losing:
    layout = incomplete_blocks()
    assert layout.table.incomplete_block is not None
    return Losing(layout.name, layout.table, (layout.table.incomplete_block,), sd, lost)


LOSING: tuple[Callable[[float, int], Losing], ...] = (
    losing_split_plot,
    losing_split_split_plot,
    losing_strips,
    losing_seasons,
    losing_incomplete_blocks,
)
LOSSES = [
    (place, sd, lost) for place in range(len(LOSING)) for lost in (0, 1, 4) for sd in (0.0, UNIT_SD)
]


@dataclass(frozen=True, slots=True)
class LostCounts:
    """How many of ``trials`` erred, ``joint`` for each of ``terms``; of ``asked`` the families."""

    layout: tuple[str, float, int]
    trials: int
    below_zero: int
    terms: tuple[str, ...]
    joint: tuple[int, ...]
    covered: int
    asked: int
    pairs: int
    check: int

    def plus(self, other: LostCounts) -> LostCounts:
        """Both together."""
        return LostCounts(
            self.layout,
            self.trials + other.trials,
            self.below_zero + other.below_zero,
            self.terms,
            tuple(a + b for a, b in zip(self.joint, other.joint, strict=True)),
            self.covered + other.covered,
            self.asked + other.asked,
            self.pairs + other.pairs,
            self.check + other.check,
        )


def simulate_losses(at: int, trials: int, seed: int) -> LostCounts:
    """Draw ``trials`` trials of a row of ``LOSSES``, each with other plots lost, and count errors.

    Losses that take every plot of a treatment are drawn again.
    """
    place, sd, lost = LOSSES[at]
    layout = LOSING[place](sd, lost)
    lot = np.random.default_rng([seed, at])
    structure = analyse(layout.table).structure
    first = structure.terms[0]
    groups = structure.cells.grouping
    joint = np.zeros(len(structure.terms), dtype=int)
    below = pairs = check = covered = 0
    asked = len(range(0, trials, FAMILIES_ONCE_IN))
    for turn in range(trials):
        y = lot.normal(0.0, PLOT_SD, groups.codes.size)
        for labels in layout.units:
            y = y + lot.normal(0.0, sd, len(labels.levels))[labels.codes]
        model = structure.model(y)
        while lost:
            rows = np.sort(lot.permutation(y.size)[lost:])
            left = opinions.without(model, rows)
            if left is not None:
                model = left
                break
        fit = fit_of(model)
        below += any(part.variance < 0 for part in fit.components)
        for i, term in enumerate(structure.terms):
            test = joint_test(structure, fit, term)
            joint[i] += test is not None and test.p < ALPHA
        estimate, se, df = fit.estimates(first.weights[:1] - first.weights[1:2])
        covered += bool(t_two_sided(estimate / se, df)[0] >= ALPHA)
        if turn % FAMILIES_ONCE_IN:
            continue
        means, cov = first.weights @ fit.means, first.weights @ fit.cov @ first.weights.T
        freedom = _freedom(fit, first.weights)
        pairs += bool((families.all_pairs(means, cov, freedom, ALPHA).p_adjusted < ALPHA).any())
        against = families.with_check(means, cov, freedom, 0, ALPHA)
        check += bool((against.p_adjusted < ALPHA).any())
    names = tuple(term.name for term in structure.terms)
    kind = (layout.name, sd, lost)
    counts = tuple(joint.tolist())
    return LostCounts(kind, trials, below, names, counts, covered, asked, pairs, check)


def losses(counts: LostCounts) -> tuple[str, ...]:
    """A row of the table of lost plots."""
    name, sd, lost = counts.layout
    tests = [
        f"{term} {share(count, counts.trials).strip()}"
        for term, count in zip(counts.terms, counts.joint, strict=True)
    ]
    return (
        name,
        f"{sd:g}",
        str(lost),
        f"{100 * counts.below_zero / counts.trials:.0f}",
        "; ".join(tests),
        share(counts.covered, counts.trials),
        share(counts.pairs, counts.asked),
        share(counts.check, counts.asked),
    )


def _compared(layout: Layout, structure: Structure, fit: Fit, term: Term) -> Floats:
    """The weights of the levels that are compared with one another: one family."""
    groups = groups_of(structure, fit, term)
    at = structure.cells.factors.index(layout.varied)
    return next(group.weights for group in groups if group.factor == at)


def _freedom(fit: Fit, weights: Floats) -> Callable[[Floats], Floats]:
    return lambda contrasts: fit.df.of_contrasts(contrasts @ weights)


def _plants_as_replicates(plots: Floats, codes: Codes, lot: np.random.Generator) -> bool:
    """The test of what not to do: two levels compared by all their plants, blocks ignored.

    A plot's value already holds the luck of its plants, so they are drawn around that value with
    no further luck of their mean.
    """
    wanted = [np.flatnonzero(codes == level) for level in (0, 1)]
    drawn = [lot.normal(0.0, PLANT_SD, (len(rows), PLANTS)) for rows in wanted]
    groups = [
        (plots[rows][:, None] + plants - plants.mean(axis=1, keepdims=True)).ravel()
        for rows, plants in zip(wanted, drawn, strict=True)
    ]
    sizes = [len(group) for group in groups]
    df = sum(sizes) - 2
    pooled = sum(float(group.var()) * len(group) for group in groups) / df
    t = abs(groups[0].mean() - groups[1].mean()) / sqrt(pooled * sum(1 / n for n in sizes))
    return bool(t_two_sided(t, df) < ALPHA)


def share(count: int, trials: int) -> str:
    """A count as per cent with its Monte Carlo standard error."""
    p = count / trials
    return f"{100 * p:5.2f} ± {100 * sqrt(max(p * (1 - p), 1 / trials) / trials):.2f}"


def table_of(headings: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """Rows as a Markdown table."""
    lines = [headings, ("---",) * len(headings), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def errors(counts: Counts) -> tuple[str, ...]:
    """A layout's row of how often each family errs."""
    found = (
        counts.joint,
        counts.pairs,
        counts.check,
        counts.kept_best,
        counts.plants_as_replicates,
    )
    return counts.name, *(share(n, counts.trials) for n in found)


def coverage(counts: Counts) -> list[tuple[str, ...]]:
    """How often the interval of each kind of difference holds, a row a kind."""
    return [
        (counts.name, kind, share(n, counts.trials))
        for kind, n in zip(counts.kinds, counts.covered, strict=True)
    ]


def main() -> None:
    """Run every layout and print the table."""
    asked = argparse.ArgumentParser(description="How often each verdict is wrong.")
    asked.add_argument("--trials", type=int, default=10_000)
    asked.add_argument("--jobs", type=int, default=2)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="", help="layouts whose name holds one of these, by '|'")
    chosen = asked.parse_args()
    found = _shared_out(chosen, simulate, [layout().name for layout in LAYOUTS])
    if found:
        print(table_of(HEADINGS, [errors(counts) for counts in found]))
        print()
        print(table_of(KIND_HEADINGS, [row for counts in found for row in coverage(counts)]))
        print()
    names = [f"lost plots, {LOSING[place](sd, lost).name}" for place, sd, lost in LOSSES]
    lossy = _shared_out(chosen, simulate_losses, names)
    if lossy:
        print(table_of(LOST_HEADINGS, [losses(counts) for counts in lossy]))


Found = TypeVar("Found", Counts, LostCounts)


def _shared_out(
    chosen: argparse.Namespace, simulation: Callable[[int, int, int], Found], names: list[str]
) -> list[Found]:
    """The counts of each wanted row, made in several pieces by several processes."""
    wanted = [
        place
        for place, name in enumerate(names)
        if any(text in name for text in chosen.only.split("|"))
    ]
    pieces = range(4)
    work = [(at, chosen.trials // 4, chosen.seed + piece) for at in wanted for piece in pieces]
    with Pool(chosen.jobs) as pool:
        found = iter(pool.starmap(simulation, work, chunksize=1))
    return [reduce(lambda a, b: a.plus(b), [next(found) for _ in pieces]) for _ in wanted]


if __name__ == "__main__":
    main()
