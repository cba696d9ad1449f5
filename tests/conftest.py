"""What several rooms are given: tables of plots from columns of labels, and a shorter search."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pytest

from trials.model import AppliedTo
from trials.stats.table import Labels, PlotTable, Treatment


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors, as browsers, locks and pauses are waited for."""
    return (os.cpu_count() or 1) + 1


PARTS = (
    "block",
    "row",
    "column",
    "incomplete_block",
    "whole_plot_unit",
    "split_plot_unit",
    "plot",
    "season",
    "site",
)


def table_of(
    columns: Mapping[str, Sequence[Any]],
    *treatments: str,
    measure: str = "yield",
    unit: str = "kg",
    on: Mapping[str, AppliedTo] | None = None,
    plants: str | None = None,
    covariates: Sequence[str] = (),
    **parts: str,
) -> PlotTable:
    """A table of ``measure`` by ``treatments``; ``parts`` name the columns of the layout."""
    assert set(parts) <= set(PARTS)
    rows = len(columns[measure])

    def numbers(name: str) -> Any:
        return np.array([np.nan if v is None else v for v in columns[name]], dtype=float)

    return PlotTable(
        measure=measure,
        unit=unit,
        y=numbers(measure),
        treatments=tuple(
            Treatment(Labels.of(name, columns[name]), (on or {}).get(name, AppliedTo.PLOT))
            for name in treatments
        ),
        plot_names=tuple(f"P{row + 1}" for row in range(rows)),
        plants=None if plants is None else numbers(plants),
        covariates=tuple((name, numbers(name)) for name in covariates),
        samples=None,
        **{part: Labels.of(column, columns[column]) for part, column in parts.items()},
    )


@pytest.fixture(scope="session")
def plot_table() -> Callable[..., PlotTable]:
    return table_of


@pytest.fixture
def short_search(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A thirtieth of the search for incomplete blocks, where their efficiency is not the point."""
    from trials.layout import incomplete

    incomplete.incomplete_blocks.cache_clear()
    monkeypatch.setattr(incomplete, "WORK", incomplete.WORK // 30)
    yield
    incomplete.incomplete_blocks.cache_clear()
