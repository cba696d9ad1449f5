"""How often each verdict is wrong, by simulated trials of every layout.

    python tests/benchmarks/bench_calibration.py [--trials 10000] [--jobs 2] [--only TEXT]

For each layout, trials are drawn with realistic variances and no differences, and each family is
asked at 5 %: how often does the joint test, any pair, any comparison with the check raise a false
alarm; how often does a 95 % interval of a single difference hold the truth. Beside it stands what
happens when the plants inside a plot are taken for replicates. With true differences (steps of
one plot standard deviation spread over the entries), how often is the true best among those that
'could be best'. Families that are exact should show 5.0 and 95.0 within the Monte Carlo error;
those that are conservative by construction may lie on the safe side.

The layouts' own fits and families are called; what `compare` adds is words and cautions.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from multiprocessing import Pool

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from trials.model import AppliedTo, Better
from trials.stats import Labels, PlotTable, Treatment, families
from trials.stats.analysis import analyse, fit_of, joint_test
from trials.stats.distributions import t_two_sided
from trials.stats.model import Fit
from trials.stats.table import Codes, Floats

ALPHA = 0.05
HEADINGS = (
    "layout",
    "joint test",
    "any pair",
    "with the check",
    "interval holds",
    "best is kept",
    "plants as replicates",
)
PLANTS = 16
PLANT_SD, PLOT_SD, UNIT_SD, BLOCK_SD = 1.5, 1.0, 0.7, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """A layout to simulate: its table, the columns that carry random effects, the term asked."""

    name: str
    table: PlotTable
    effects: tuple[tuple[Labels, float], ...]
    term: str


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
    return Layout("completely randomised, 6 x 4", table, (), "variety")


def complete_blocks(missing: int = 0) -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": v, "b": b, "missing": 6 * b + v < 7 * missing and v == b and b < missing}
        for b in range(4)
        for v in range(6)
    ]
    table = _table(rows, PLOT, block="b")
    name = "complete blocks, 6 x 4" + (f", {missing} plots lost" if missing else "")
    return Layout(name, table, _effects(table, block=BLOCK_SD), "variety")


def latin_square() -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": (r + c) % 5, "r": r, "c": c} for r in range(5) for c in range(5)
    ]
    table = _table(rows, PLOT, row="r", column="c")
    return Layout(
        "Latin square, 5", table, _effects(table, row=BLOCK_SD, column=BLOCK_SD), "variety"
    )


def split_plot(term: str, missing: bool = False) -> Layout:
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
    return Layout(f"{name}: {term}", table, effects, term)


def strips() -> Layout:
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
    return Layout("strips, 3 x 3 in 5 blocks: pinch", table, effects, "pinch")


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
    return Layout("incomplete blocks, 16 x 4 in blocks of 4", table, effects, "variety")


def augmented_blocks() -> Layout:
    rows: list[dict[str, object]] = [
        {"variety": f"check {c}", "b": b} for b in range(6) for c in range(3)
    ]
    rows += [{"variety": f"new {i:02d}", "b": i % 6} for i in range(12)]
    table = _table(rows, PLOT, block="b")
    return Layout(
        "augmented blocks, 12 new + 3 checks x 6",
        table,
        _effects(table, block=BLOCK_SD),
        "variety",
    )


LAYOUTS: tuple[Callable[[], Layout], ...] = (
    completely_randomised,
    complete_blocks,
    lambda: complete_blocks(missing=2),
    latin_square,
    lambda: split_plot("pinch"),
    lambda: split_plot("variety"),
    lambda: split_plot("pinch", missing=True),
    lambda: split_plot("variety", missing=True),
    strips,
    incomplete_blocks,
    augmented_blocks,
)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of ``trials`` erred, or held what they should."""

    name: str
    trials: int
    joint: int
    pairs: int
    check: int
    covered: int
    kept_best: int
    plants_as_replicates: int

    def plus(self, other: Counts) -> Counts:
        """Both together."""
        return Counts(
            self.name,
            *(
                getattr(self, field) + getattr(other, field)
                for field in self.__slots__
                if field != "name"
            ),
        )


def simulate(place: int, trials: int, seed: int) -> Counts:
    """Draw ``trials`` trials of a layout and count the errors of each family."""
    layout = LAYOUTS[place]()
    lot = np.random.default_rng([seed, place])
    analysis = analyse(layout.table)
    structure = analysis.structure
    (term,) = [term for term in structure.terms if term.name == layout.term]
    weights = term.weights
    kept = structure.rows
    (column,) = [t.labels for t in layout.table.treatments if t.name == layout.term]
    entries = len(column.levels)
    steps = PLOT_SD * np.linspace(0.0, 1.0, entries)
    joint = pairs = check = covered = kept_best = naive = 0
    for _ in range(trials):
        luck = lot.normal(0.0, sqrt(PLOT_SD**2 + PLANT_SD**2 / PLANTS), len(column.codes))
        for labels, sd in layout.effects:
            luck = luck + lot.normal(0.0, sd, len(labels.levels))[labels.codes]
        fit = fit_of(structure.model(luck[kept]))
        test = joint_test(structure, fit, term)
        joint += test is not None and test.p < ALPHA
        means, cov = weights @ fit.means, weights @ fit.cov @ weights.T

        df_of = _freedom(fit, weights)
        every = families.all_pairs(means, cov, df_of, ALPHA)
        pairs += bool((every.p_adjusted < ALPHA).any())
        covered += bool(every.p[0] >= ALPHA)
        against = families.with_check(means, cov, df_of, 0, ALPHA)
        check += bool((against.p_adjusted < ALPHA).any())
        fit = fit_of(structure.model((luck + steps[column.codes])[kept]))
        means, cov = weights @ fit.means, weights @ fit.cov @ weights.T
        best = families.with_best(means, cov, _freedom(fit, weights), Better.HIGHER, ALPHA)
        kept_best += bool(best.could_be_best[-1])
        naive += _plants_as_replicates(luck[kept], column.codes[kept], lot)
    return Counts(layout.name, trials, joint, pairs, check, covered, kept_best, naive)


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


def table_of(counts: list[Counts]) -> str:
    """The result as a Markdown table."""
    lines = [
        f"| {' | '.join(HEADINGS)} |",
        "|---" * len(HEADINGS) + "|",
    ]
    lines += [
        f"| {c.name} | "
        + " | ".join(
            share(n, c.trials)
            for n in (c.joint, c.pairs, c.check, c.covered, c.kept_best, c.plants_as_replicates)
        )
        + " |"
        for c in counts
    ]
    return "\n".join(lines)


def main() -> None:
    """Run every layout and print the table."""
    asked = argparse.ArgumentParser(description="How often each verdict is wrong.")
    asked.add_argument("--trials", type=int, default=10_000)
    asked.add_argument("--jobs", type=int, default=2)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="", help="layouts whose name holds this text")
    asked.add_argument("--but", default="-", help="not those whose name holds this text")
    chosen = asked.parse_args()
    wanted = [
        place
        for place, layout in enumerate(LAYOUTS)
        if chosen.only in layout().name and chosen.but not in layout().name.split()
    ]
    pieces = 4
    work = [
        (place, chosen.trials // pieces, chosen.seed + piece)
        for place in wanted
        for piece in range(pieces)
    ]
    with Pool(chosen.jobs) as pool:
        found = pool.starmap(simulate, work, chunksize=1)
    merged: dict[str, Counts] = {}
    for counts in found:
        merged[counts.name] = merged[counts.name].plus(counts) if counts.name in merged else counts
    print(table_of(list(merged.values())))


if __name__ == "__main__":
    main()
