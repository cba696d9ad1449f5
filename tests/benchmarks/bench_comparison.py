"""Times a whole comparison beside statsmodels' own fit, tests and pairs of the same numbers.

Run it from the top folder: ``python tests/benchmarks/bench_comparison.py [REPEATS]``. Both sides
run in turn in one process, after one call each to warm up; the medians of the processor's time are
printed, so that other work on the machine counts little.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from trials import season, stats
from trials.layout.designs.incomplete import incomplete_blocks
from trials.model.trial import AppliedTo, Margin
from trials.season.comparing import Asked, compare_plots
from trials.stats.design.table import Labels, PlotTable, Question, Treatment
from trials.stats.design.terms import terms_of
from trials.stats.fit.analysis import analyse, joint_test
from trials.stats.results import Comparison
from trials.store import Store

ROOT = Path(__file__).parent.parent.parent
ENTRIES, BLOCKS = 12, 4


def complete_blocks() -> pd.DataFrame:
    """A made-up trial of 12 entries in 4 complete blocks, one row a plot."""
    rng = np.random.default_rng(7)
    entry = np.tile(np.arange(ENTRIES), BLOCKS)
    block = np.repeat(np.arange(BLOCKS), ENTRIES)
    stems = 9 + rng.normal(0, 1.5, ENTRIES)[entry] + rng.normal(0, 0.6, BLOCKS)[block]
    return pd.DataFrame(
        {
            "entry": [f"E{code + 1}" for code in entry],
            "block": [f"B{code + 1}" for code in block],
            "stems": stems + rng.normal(0, 1.2, entry.size),
        }
    )


def as_plot_table(frame: pd.DataFrame) -> PlotTable:
    return PlotTable(
        measure="stems",
        unit="stems/plant",
        y=frame["stems"].to_numpy(float),
        treatments=(Treatment(Labels.of("entry", frame["entry"].tolist())),),
        plot_names=tuple(str(row + 1) for row in range(len(frame))),
        block=Labels.of("block", frame["block"].tolist()),
    )


def fit_by_statsmodels(frame: pd.DataFrame) -> float:
    """F of the entries by ordinary least squares with blocks."""
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    table = anova_lm(ols("stems ~ C(block) + C(entry)", frame).fit())
    return float(table.loc["C(entry)", "F"])


def pairs_by_statsmodels(frame: pd.DataFrame) -> None:
    """All pairs as the library has them: without the blocks."""
    from statsmodels.stats.multicomp import pairwise_tukeyhsd

    pairwise_tukeyhsd(frame["stems"], frame["entry"])


@dataclass(frozen=True, slots=True, eq=False)
class Invented:
    """A layout to be compared again and again, each time with other luck."""

    name: str
    rows: tuple[dict[str, object], ...]
    treatments: tuple[tuple[str, AppliedTo], ...]
    parts: tuple[tuple[str, str], ...]
    check: str
    lost: int | None = None

    def table(self, luck: np.random.Generator) -> PlotTable:
        def column(name: str) -> Labels:
            return Labels.of(name, [row[name] for row in self.rows])

        y = 9 + luck.normal(0, 1.2, len(self.rows))
        for _, name in self.parts:
            groups = column(name)
            y += luck.normal(0, 0.6, len(groups.levels))[groups.codes]
        if self.lost is not None:
            y[self.lost] = np.nan
        return PlotTable(
            measure="stems",
            unit="stems/plant",
            y=y,
            treatments=tuple(Treatment(column(name), unit) for name, unit in self.treatments),
            plot_names=tuple(str(row + 1) for row in range(len(self.rows))),
            plot=Labels.of("plot", list(range(len(self.rows)))),
            **{part: column(name) for part, name in self.parts},  # type: ignore[arg-type]
        )


def split_plot() -> Invented:
    """Two pinches on whole plots, six varieties on plots, in two blocks; one plot lost."""
    rows: list[dict[str, object]] = [
        {"pinch": f"P{p}", "variety": f"V{v}", "b": f"B{b}", "w": f"B{b}P{p}"}
        for b in range(2)
        for p in range(2)
        for v in range(6)
    ]
    return Invented(
        "2 x 6 split-plot in 2 blocks, a plot lost",
        tuple(rows),
        (("pinch", AppliedTo.WHOLE_PLOT), ("variety", AppliedTo.PLOT)),
        (("block", "b"), ("whole_plot_unit", "w")),
        "V0",
        lost=3,
    )


def resolvable(entries: int, replicates: int, most: int) -> Invented:
    """Incomplete blocks as the program lays them out."""
    rows: list[dict[str, object]] = [
        {"variety": f"E{entry}", "b": f"R{r}", "i": f"R{r}.{k}"}
        for r, replicate in enumerate(incomplete_blocks(entries, replicates, most).replicates)
        for k, block in enumerate(replicate)
        for entry in block
    ]
    return Invented(
        f"{entries} entries x {replicates} in incomplete blocks of {most}",
        tuple(rows),
        (("variety", AppliedTo.PLOT),),
        (("block", "b"), ("incomplete_block", "i")),
        "E0",
    )


def augmented(new: int, checks: int, blocks: int) -> Invented:
    """New entries once, checks in every block."""
    rows: list[dict[str, object]] = [
        {"variety": f"check {c}", "b": f"B{b}"} for b in range(blocks) for c in range(checks)
    ]
    rows += [{"variety": f"new {i:02d}", "b": f"B{i % blocks}"} for i in range(new)]
    return Invented(
        f"{new} new entries and {checks} checks in {blocks} augmented blocks",
        tuple(rows),
        (("variety", AppliedTo.PLOT),),
        (("block", "b"),),
        "check 0",
    )


def other_layouts(repeats: int) -> None:
    """Layouts for which the general library has no comparison: every repeat has other luck."""
    print("\nother layouts: every family, letters and cautions")
    for layout in (split_plot(), resolvable(30, 3, 6), resolvable(30, 4, 5), augmented(30, 3, 6)):
        luck = np.random.default_rng(5)
        line(
            f"{layout.name}: fit and tests alone",
            median_ms(
                lambda layout=layout, luck=luck: fit_alone(layout.table(luck)),  # type: ignore[misc]
                repeats,
            ),
        )
        question = Question(check=layout.check, margin=Margin(1.0))
        line(
            layout.name,
            median_ms(
                lambda layout=layout, luck=luck, question=question: stats.compare(  # type: ignore[misc]
                    layout.table(luck), question
                ),
                repeats,
            ),
        )


def fit_alone(table: PlotTable) -> None:
    """The variances, every term's test, and the error and df of every pair of cells."""
    found = analyse(table)
    if found.fit is None:
        raise SystemExit("nothing was fitted")
    for term in terms_of(found.structure.cells):
        joint_test(found.structure, found.fit, term)
    cells = np.eye(len(found.fit.means))
    first, second = np.triu_indices(len(cells), 1)
    found.fit.estimates(cells[first] - cells[second])


def median_ms(work: Callable[[], object], repeats: int) -> float:
    work()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return statistics.median(times) * 1000


def line(what: str, milliseconds: float) -> None:
    print(f"{what:<68}{milliseconds:9.1f} ms")


def made_up(repeats: int) -> None:
    frame = complete_blocks()
    table, question = as_plot_table(frame), Question(check="E1", margin=Margin(1.0))
    ours: Comparison = stats.compare(table, question)
    theirs = fit_by_statsmodels(frame)
    print(f"\n{ENTRIES} entries in {BLOCKS} complete blocks")
    print(f"F of the entries: ours {ours.tests[0].F:.6f}, statsmodels {theirs:.6f}")
    line(
        "statsmodels: OLS formula, anova_lm", median_ms(lambda: fit_by_statsmodels(frame), repeats)
    )
    line("statsmodels: pairwise_tukeyhsd", median_ms(lambda: pairs_by_statsmodels(frame), repeats))
    line(
        "ours: layout, fit, all pairs, check, best, margin, letters",
        median_ms(lambda: stats.compare(table, question), repeats),
    )
    line(
        "ours: every second opinion on top",
        median_ms(lambda: stats.second_opinions(table, question, ours), max(3, repeats // 5)),
    )


def invented_farm(repeats: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "farm.tallybed"
        season.load(place, [ROOT / "data" / "farm"])
        store = Store.open(place)
        print("\nthe invented farm's trials (arithmetic alone)")
        for trial in store.trials():
            plots = store.plots(trial.code)
            line(
                f"{trial.code}: {len(plots)} plots, {trial.primary_measure}",
                median_ms(
                    partial(
                        compare_plots,
                        trial,
                        plots,
                        None,
                        Asked(second_opinions=False),
                    ),
                    max(3, repeats // 5),
                ),
            )


if __name__ == "__main__":
    asked_repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    made_up(asked_repeats)
    other_layouts(asked_repeats)
    invented_farm(asked_repeats)
