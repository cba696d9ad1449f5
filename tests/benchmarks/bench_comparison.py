"""Times a whole comparison beside statsmodels' own fit, tests and pairs of the same numbers.

Run it from the top folder: ``python tests/benchmarks/bench_comparison.py [REPEATS]``. Both sides
run in turn in one process, after one call each to warm up; the medians are printed.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from trials import season, stats
from trials.model import Margin
from trials.stats.results import Comparison
from trials.stats.table import Labels, PlotTable, Question, Treatment
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


def median_ms(work: Callable[[], object], repeats: int) -> float:
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1000


def line(what: str, milliseconds: float) -> None:
    print(f"{what:<58}{milliseconds:9.1f} ms")


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
                        season.compare_plots,
                        trial,
                        plots,
                        None,
                        season.Asked(second_opinions=False),
                    ),
                    max(3, repeats // 5),
                ),
            )


if __name__ == "__main__":
    asked_repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    made_up(asked_repeats)
    invented_farm(asked_repeats)
