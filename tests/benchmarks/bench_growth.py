"""How the time of a comparison grows with its entries and plots, beside the general library's fit.

    python tests/benchmarks/bench_growth.py

The library only fits: least squares for complete blocks, its mixed model for incomplete ones; it
gives no family and no letters. Neither side repeats a case that takes over 5 seconds.
"""

from __future__ import annotations

import os
import time
import warnings
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf

from trials.stats import Labels, PlotTable, Question, Treatment, compare


def complete(entries: int, replicates: int) -> PlotTable:
    """Complete blocks with luck of the bed."""
    lot = np.random.default_rng(1)
    variety = np.tile(np.arange(entries), replicates)
    block = np.repeat(np.arange(replicates), entries)
    return PlotTable(
        measure="stems",
        unit="",
        y=10 + 0.02 * variety + lot.normal(0, 1, replicates)[block] + lot.normal(0, 1, len(block)),
        treatments=(Treatment(Labels.of("variety", variety.tolist())),),
        plot_names=tuple(map(str, range(len(block)))),
        plot=Labels.of("plot", list(range(len(block)))),
        block=Labels.of("block", block.tolist()),
    )


def incomplete(entries: int, replicates: int, size: int) -> PlotTable:
    """Replicates dealt into blocks of ``size`` by lot."""
    lot = np.random.default_rng(2)
    order = np.concatenate([lot.permutation(entries) for _ in range(replicates)])
    block = np.repeat(np.arange(replicates), entries)
    small = np.arange(len(order)) // size
    luck = lot.normal(0, 0.7, small.max() + 1)[small] + lot.normal(0, 1, len(order))
    return PlotTable(
        measure="stems",
        unit="",
        y=10 + 0.02 * order + luck,
        treatments=(Treatment(Labels.of("variety", order.tolist())),),
        plot_names=tuple(map(str, range(len(order)))),
        plot=Labels.of("plot", list(range(len(order)))),
        block=Labels.of("block", block.tolist()),
        incomplete_block=Labels.of("small", small.tolist()),
    )


def library(table: PlotTable) -> Callable[[], object]:
    """The library's own fit of the same table: least squares, or its mixed model."""
    assert table.block is not None
    frame = pd.DataFrame(
        {
            "y": table.y,
            "v": table.treatments[0].labels.codes.astype(str),
            "b": table.block.codes.astype(str),
        }
    )
    if table.incomplete_block is None:
        return lambda: smf.ols("y ~ C(v) + C(b)", frame).fit()
    small = table.incomplete_block.codes
    return lambda: smf.mixedlm("y ~ C(v) + C(b)", frame, groups=small).fit()


def milliseconds(task: Callable[[], object]) -> float:
    """The best of two runs, or of one where that takes long."""
    spent = []
    for _ in range(2):
        start = time.process_time()
        task()
        spent.append(1e3 * (time.process_time() - start))
        if spent[0] > 5_000:
            break
    return min(spent)


def main() -> None:
    """Print a line a size."""
    warnings.simplefilter("ignore")
    cases = [
        ("complete blocks", complete(n, r)) for n, r in ((12, 4), (30, 4), (60, 5), (200, 10))
    ] + [
        ("incomplete blocks", incomplete(n, r, k))
        for n, r, k in ((24, 3, 4), (30, 4, 5), (60, 4, 6), (200, 10, 10))
    ]
    print(f"{'layout':<20}{'entries':>8}{'plots':>7}{'ours, ms':>11}{'library, ms':>13}")
    for name, table in cases:
        ours = milliseconds(lambda table=table: compare(table, Question()))  # type: ignore[misc]
        theirs = milliseconds(library(table))
        entries = len(table.treatments[0].labels.levels)
        print(f"{name:<20}{entries:>8}{len(table.y):>7}{ours:>11,.1f}{theirs:>13,.1f}")


if __name__ == "__main__":
    main()
