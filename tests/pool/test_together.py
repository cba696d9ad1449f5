"""Comparisons made together say what ``compare`` says of each trial by itself."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from trials.model.trial import AppliedTo, Better, Margin
from trials.pool.family_rows import Asked
from trials.pool.layouts import Layouts
from trials.pool.result_rows import Rows, Table
from trials.pool.together import _by_itself, compare_all
from trials.stats.design.table import Labels, PlotTable, Question, Treatment

RELATIVE = 1e-10
VARIETIES = ("Aldwick", "Brinmere", "Corrow", "Dunmoss", "Elverby", "Farrowell")


def blocks(rng: np.random.Generator, lost: int = 0, pinched: bool = False) -> PlotTable:
    """Complete blocks of six varieties, pinched or not where asked; plots in a random order."""
    cells = [(v, p) for v in VARIETIES for p in (("no", "yes") if pinched else ("no",))]
    rows = [(v, p, b) for b in range(4) for v, p in cells]
    rows = [rows[i] for i in rng.permutation(len(rows))]
    block = np.array([b for *_, b in rows])
    y = 12 + rng.normal(size=4)[block] + rng.normal(size=len(rows))
    y += np.array([0.7 * VARIETIES.index(v) for v, *_ in rows])
    y[rng.choice(len(rows), lost, replace=False)] = np.nan
    treatments = [Treatment(Labels.of("variety", [v for v, *_ in rows]))]
    if pinched:
        treatments.append(Treatment(Labels.of("pinch", [p for _, p, _ in rows])))
    names = tuple(f"P{i}" for i in range(len(rows)))
    return PlotTable(
        "stems per plant",
        "stems/plant",
        y,
        tuple(treatments),
        names,
        block=Labels.of("block", block.tolist()),
        plot=Labels.of("plot", names),
    )


def whole_plots(rng: np.random.Generator) -> PlotTable:
    """Whole plots pinched or not, with six varieties inside each."""
    rows = [(v, p, b) for b in range(4) for p in ("no", "yes") for v in VARIETIES]
    y = 9 + rng.normal(size=len(rows)) + np.repeat(rng.normal(size=8), 6)
    names = tuple(f"P{i}" for i in range(len(rows)))
    return PlotTable(
        "stems per plant",
        "stems/plant",
        y,
        (
            Treatment(Labels.of("pinch", [p for _, p, _ in rows]), AppliedTo.WHOLE_PLOT),
            Treatment(Labels.of("variety", [v for v, *_ in rows])),
        ),
        names,
        block=Labels.of("block", [b for *_, b in rows]),
        whole_plot_unit=Labels.of("whole plot", [f"{b}/{p}" for _, p, b in rows]),
        plot=Labels.of("plot", names),
    )


def network() -> list[Asked]:
    rng = np.random.default_rng(20261129)
    question = Question(check="Corrow", margin=Margin(5.0, percent=True))
    short = Question(
        alpha=0.1, better=Better.LOWER, not_in_running=frozenset({("variety", "Brinmere")})
    )
    tables = [blocks(rng) for _ in range(6)]
    tables += [blocks(rng, lost=lost) for lost in (1, 1, 2, 5)]
    tables += [blocks(rng, lost=lost, pinched=True) for lost in (0, 0, 1)]
    tables += [whole_plots(rng), whole_plots(rng)]
    return [
        Asked(f"T{i}-{j}", "stems_per_plant", table, asked)
        for i, table in enumerate(tables)
        for j, asked in enumerate((question, short))
    ]


@pytest.fixture(scope="module")
def both() -> tuple[Rows, Rows]:
    together, single = Rows(), Rows()
    compare_all(network(), together, Layouts())
    for each in network():
        _by_itself(each, single)
    return together, single


def in_order(table: pd.DataFrame) -> pd.DataFrame:
    """The rows by trial and family; within one, the order in which they were found."""
    keys = [
        name for name in ("trial", "measure", "family", "term", "within") if name in table.columns
    ]
    for name in table.columns:
        if isinstance(table[name].dtype, pd.CategoricalDtype):
            table[name] = table[name].astype(object).where(table[name].notna(), "")
    return table.sort_values(keys, kind="stable")


@pytest.mark.parametrize("table", list(Table))
def test_together_says_what_each_comparison_says(both: tuple[Rows, Rows], table: Table) -> None:
    ours, theirs = (in_order(rows.arrow(table).to_pandas()) for rows in both)
    assert len(ours) == len(theirs) > 0
    for name in theirs.columns:
        if theirs[name].dtype.kind == "f":
            size = np.abs(theirs[name]).max()
            np.testing.assert_allclose(
                ours[name], theirs[name], rtol=RELATIVE, atol=1e-12 * size, err_msg=name
            )
        elif name in {"means", "cov"}:
            for a, b in zip(ours[name], theirs[name], strict=True):
                np.testing.assert_allclose(a, b, rtol=RELATIVE, atol=1e-12 * np.abs(b).max())
        elif name == "levels":
            assert [list(each) for each in ours[name]] == [list(each) for each in theirs[name]]
        else:
            assert ours[name].tolist() == theirs[name].tolist(), name


def test_layouts_that_repeat_are_factored_once() -> None:
    layouts = Layouts()
    rng = np.random.default_rng(3)
    asked = [Asked(f"T{i}", "m", blocks(rng), Question()) for i in range(20)]
    compare_all(asked, Rows(), layouts)
    assert len(layouts.known) == 1


def test_a_trial_that_fails_is_reported_and_stops_nothing() -> None:
    rng = np.random.default_rng(4)
    nothing = blocks(rng)
    nothing.y[:] = np.nan
    rows = Rows()
    compare_all(
        [Asked("bad", "m", nothing, Question()), Asked("good", "m", blocks(rng), Question())],
        rows,
        Layouts(),
    )
    found = rows.arrow(Table.COMPARISONS).to_pandas().set_index("trial")["reason"]
    assert "No row has a figure" in found["bad"]
    assert found.isna()["good"]
