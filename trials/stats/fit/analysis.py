"""A table taken as far as its fit: its plots, its layout, and the model that the layout carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design.linear_model import Fit, LinearModel
from trials.stats.design.plots import Plots, plots_of
from trials.stats.design.scale import on_scale
from trials.stats.design.structure import Structure, structure_of
from trials.stats.design.table import PlotTable, Scale
from trials.stats.design.terms import Term
from trials.stats.fit.methods import is_orthogonal, least_squares, reml, strata
from trials.stats.what_was_tested import TermTest


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """A table taken as far as its fit: plots, layout, and the model that was fitted.

    ``model`` is of the recorded plots (``structure.rows``). ``fit`` is None where the layout or
    the figures allow a description only.
    """

    plots: Plots
    structure: Structure
    model: LinearModel
    fit: Fit | None

    @property
    def plot_names(self) -> tuple[str, ...]:
        """The names of the recorded plots, in the order of the model's rows."""
        return tuple(self.plots.table.plot_names[row] for row in self.structure.rows)


def analyse(table: PlotTable, scale: Scale = Scale.IDENTITY) -> Analysis:
    """Reduce a table to plots, work out its layout, and fit the model that the layout carries.

    One error stratum: least squares. Several: the exact strata where the layout is orthogonal,
    REML with Kenward-Roger otherwise. The plots' values are put on ``scale`` after sub-samples
    have been averaged; ``plots`` keeps them as measured.
    """
    plots = plots_of(table)
    structure = structure_of(plots)
    names = tuple(plots.table.plot_names[row] for row in structure.rows)
    model = structure.model(on_scale(plots.table.y[structure.rows], scale, names))
    if structure.answers_nothing or np.ptp(model.y) == 0:
        return Analysis(plots, structure, model, None)
    return Analysis(plots, structure, model, fit_of(model))


def fit_of(model: LinearModel) -> Fit:
    """Fit a model by the method that is exact for it."""
    if not model.random:
        return least_squares(model)
    return strata(model) if is_orthogonal(model) else reml(model)


def joint_test(structure: Structure, fit: Fit, term: Term) -> TermTest | None:
    """The joint test of a term's effect, None where the layout does not carry it."""
    effect = term.contrasts
    if not len(effect) or not structure.carries(effect).all() or not fit.estimable(effect).all():
        return None
    joint = fit.df.joint(effect)
    return TermTest(term.name, joint.num_df, joint.den_df, joint.F, joint.p)
