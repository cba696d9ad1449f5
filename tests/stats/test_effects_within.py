"""Effects of one factor within the levels of another, against means and their textbook error."""

from __future__ import annotations

import numpy as np
import pytest

from trials.model.trial import AppliedTo
from trials.stats.design.table import Labels, PlotTable, Question, Treatment
from trials.stats.effects_within import effects_within


def test_in_complete_blocks_they_are_differences_of_means() -> None:
    rng = np.random.default_rng(4)
    cells = [(v, p, b) for b in "1234" for v in "xyz" for p in ("open", "net")]
    y = 10 + rng.normal(size=len(cells))
    names = tuple(f"p{i}" for i in range(len(cells)))
    variety, net, block = (list(part) for part in zip(*cells, strict=True))
    table = PlotTable(
        measure="net",
        unit="EUR/m",
        y=y,
        treatments=(
            Treatment(Labels.of("variety", variety), AppliedTo.PLOT),
            Treatment(Labels.of("netting", net), AppliedTo.PLOT),
        ),
        plot_names=names,
        plot=Labels.of("plot", list(names)),
        block=Labels.of("block", block),
    )
    found = effects_within(table, Question(alpha=0.05), "netting", "variety", ("net", "open"))
    assert found is not None
    assert found.levels == ("x", "y", "z")
    mean = {
        (v, p): np.mean([y[i] for i, cell in enumerate(cells) if cell[:2] == (v, p)])
        for v in "xyz"
        for p in ("open", "net")
    }
    assert found.means == pytest.approx([mean[v, "net"] - mean[v, "open"] for v in "xyz"])
    # Residual of the two-way layout: 24 plots, 6 cells and 4 blocks leave 15 degrees of freedom.
    block_means = {b: np.mean([y[i] for i, c in enumerate(cells) if c[2] == b]) for b in "1234"}
    left = [y[i] - mean[v, p] - block_means[b] + y.mean() for i, (v, p, b) in enumerate(cells)]
    s2 = np.square(left).sum() / 15
    assert found.df == pytest.approx(15)
    assert np.diag(found.cov) == pytest.approx(np.full(3, 2 * s2 / 4))
