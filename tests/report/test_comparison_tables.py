"""What the lines under a comparison say of how it was found."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.report.test_words import cultivars
from trials.report.comparison_tables import how_lines, pair_rows
from trials.report.figures import figures_of
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable
from trials.stats.results import Verdict


def planted(entries: int) -> dict[str, list[object]]:
    """So many entries in three plots each, the first in four."""
    entry: list[object] = [i for i in range(entries) for _ in range(3)]
    entry.append(0)
    luck = np.random.default_rng(3).normal(9.0, 1.0, len(entry))
    return {"entry": entry, "yield": luck.tolist()}


def test_pairs_judged_on_the_safe_side_are_named(plot_table: Callable[..., PlotTable]) -> None:
    found = {n: compare(plot_table(planted(n), "entry"), Question()) for n in (5, 41)}
    said = {n: "\n".join(how_lines(one, figures_of(one))) for n, one in found.items()}
    assert "pairs of entry: too many for each to have its own error" in said[41]
    assert "too many" not in said[5]
    assert found[41].conservative_pairs == ("entry",)


def test_a_pair_is_written_with_its_higher_level_first() -> None:
    """C4 and C1 alone differ, by the published test."""
    found = cultivars()
    assert {pair.verdict for pair in found.all_pairs} == {Verdict.LESS, Verdict.UNKNOWN}
    rows = pair_rows(found, "cultivar", figures_of(found))
    assert (rows[0].higher, rows[0].lower, rows[0].verdict) == ("C4", "C1", Verdict.MORE)
    assert {row.verdict for row in rows[1:]} == {Verdict.UNKNOWN}
    assert all(row.cells[1].startswith("+") for row in rows)
