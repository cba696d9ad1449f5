"""Leaving out each plot at once, against fitting again without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Codes, Floats
from trials.stats.fit.analysis import fit_of
from trials.stats.fit.left_out import fitted_without_each
from trials.stats.results import Method

LEVELS, ENTRIES, BLOCKS = 3, 5, 4


def split_plots(seed: int, swing: float, lost: tuple[int, ...]) -> LinearModel:
    """Three levels on whole plots and five entries in them, four blocks, some plots lost."""
    block, level, entry = (x.ravel() for x in np.indices((BLOCKS, LEVELS, ENTRIES)))
    rng = np.random.default_rng(seed)
    whole = block * LEVELS + level
    y = 20.0 + 0.8 * entry + swing * rng.normal(size=12)[whole] + rng.normal(size=whole.size)
    model = LinearModel(
        y,
        Grouping("cells", level * ENTRIES + entry, LEVELS * ENTRIES),
        (Grouping("block", block, BLOCKS),),
        (Grouping("whole plot", whole, LEVELS * BLOCKS),),
    )
    return kept(model, np.delete(np.arange(y.size), list(lost)))


def kept(model: LinearModel, rows: Codes) -> LinearModel:
    def some(grouping: Grouping) -> Grouping:
        return replace(grouping, codes=grouping.codes[rows])

    return LinearModel(
        model.y[rows],
        some(model.cells),
        tuple(map(some, model.fixed)),
        tuple(map(some, model.random)),
        None if model.covariates is None else model.covariates[rows],
    )


def terms() -> list[Floats]:
    """The contrasts of the whole plots' levels, of the entries, and of both together."""

    def steps(count: int) -> Floats:
        return np.eye(count)[1:] - np.eye(count)[:-1]

    def mean(count: int) -> Floats:
        return np.full((1, count), 1 / count)

    return [
        np.asarray(np.kron(levels, entries), dtype=np.float64)
        for levels, entries in (
            (steps(LEVELS), mean(ENTRIES)),
            (mean(LEVELS), steps(ENTRIES)),
            (steps(LEVELS), steps(ENTRIES)),
        )
    ]


def again(model: LinearModel, plots: Codes) -> Floats:
    fits = [fit_of(kept(model, np.delete(np.arange(model.y.size), plot))) for plot in plots]
    return np.array([[fit.df.joint(term).p for term in terms()] for fit in fits])


@pytest.mark.parametrize("lost", [(), (7,), (0, 17, 40)])
@pytest.mark.parametrize("swing", [0.0, 0.3, 3.0])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_plot_is_left_out_as_by_fitting_again(
    seed: int, swing: float, lost: tuple[int, ...]
) -> None:
    model = split_plots(seed, swing, lost)
    found = fitted_without_each(model, terms())
    assert found.plots.tolist() == list(range(model.y.size))
    assert found.p == pytest.approx(again(model, found.plots), rel=1e-6, abs=1e-12)


def test_variances_of_both_kinds_are_among_them() -> None:
    model = split_plots(1, 0.3, (0, 17, 40))
    rows = [np.delete(np.arange(model.y.size), plot) for plot in range(model.y.size)]
    assert {fit_of(kept(model, some)).method for some in rows} == {Method.REML, Method.REML_STRATA}


def test_floored_units_covariates_and_crossed_units() -> None:
    model = split_plots(3, 0.4, (3, 22))
    rng = np.random.default_rng(4)
    strip = Grouping("strip", np.arange(60) % 15 // 3 + 5 * (np.arange(60) // 30), 10)
    strip = replace(strip, codes=np.delete(strip.codes, [3, 22]), floored=True)
    for other in (
        replace(model, covariates=rng.normal(size=(model.y.size, 1))),
        replace(model, random=(replace(model.random[0], floored=True),)),
        replace(model, random=(*model.random, strip)),
    ):
        found = fitted_without_each(other, terms())
        assert found.plots.size > 50
        assert found.p == pytest.approx(again(other, found.plots), rel=1e-6, abs=1e-12)


def test_a_plot_that_alone_has_its_unit_or_level_is_left_to_others() -> None:
    # All plots of one whole plot but the last one are lost.
    alone = split_plots(1, 1.0, (0, 1, 2, 3))
    found = fitted_without_each(alone, terms())
    assert 0 not in found.plots
    assert found.plots.size == alone.y.size - 1
    # The one plot too many of an otherwise orthogonal trial: exact strata are used without it.
    whole = split_plots(1, 1.0, ())
    rows = np.append(np.arange(whole.y.size), 8)
    more = fitted_without_each(kept(whole, rows), terms())
    assert {8, 60}.isdisjoint(more.plots)


def test_figures_without_error_are_left_to_others() -> None:
    model = split_plots(1, 1.0, (7,))
    same = replace(model, y=np.round(model.cells.codes + 10.0))
    assert fitted_without_each(same, terms()).plots.size == 0
