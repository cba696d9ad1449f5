"""What a comparison is given: one value a plot, the labels of its layout, and the question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from trials.model.trial import AppliedTo, Better, Margin

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """The rows behind each plot's value.

    ``counts`` (plots,) are rows with a figure. ``shares`` (plots,) is the variance of the plot's
    mean as a share of one row's: 1 / n where rows count alike, the sum of squared weights over
    the squared sum otherwise; NaN without a row. ``row_variance`` is that of rows within plots,
    pooled.
    """

    counts: Codes
    shares: Floats
    row_variance: float

    def variances(self, residual_variance: float, used: Codes) -> Floats:
        """The variance of each of the ``used`` plots' values, from what plots differ in all.

        Plots differ by their ground and by the luck of their rows: v_i = ground + rows x share_i.
        The residual variance of the comparison, where every plot counts alike, is the ground's
        part and the mean of the rows', so the ground's is what is left of it, at least 0
        (Snedecor & Cochran 1989, Statistical Methods, chapter 13).
        """
        shares = self.shares[used]
        ground = max(residual_variance - self.row_variance * float(shares.mean()), 0.0)
        return np.asarray(ground + self.row_variance * shares)


@dataclass(frozen=True, slots=True, eq=False)
class Labels:
    """A column of labels: which level each row carries.

    ``levels`` are in display order (numbers by value, keeping their spelling; text by alphabet);
    ``codes`` (n,) index into them.
    """

    name: str
    levels: tuple[str, ...]
    codes: Codes

    @classmethod
    def of(cls, name: str, values: Sequence[object]) -> Labels:
        """Read a column of text or numbers as labels."""
        spelled = [str(value).strip() for value in values]
        levels = tuple(sorted(set(spelled), key=_level_order))
        place = {level: i for i, level in enumerate(levels)}
        return cls(name, levels, np.array([place[s] for s in spelled], dtype=np.intp))

    def take(self, rows: NDArray[np.bool_] | Codes) -> Labels:
        """The same column for some of the rows, with the levels that are left."""
        return Labels.of(self.name, [self.levels[code] for code in self.codes[rows]])


def _level_order(level: str) -> tuple[int, float, str]:
    try:
        return (0, float(level), level)
    except ValueError:
        return (1, 0.0, level)


@dataclass(frozen=True, slots=True, eq=False)
class Treatment:
    """A treatment column and the piece of ground its levels were given to."""

    labels: Labels
    applied_to: AppliedTo = AppliedTo.PLOT

    @property
    def name(self) -> str:
        return self.labels.name


class RowsAre(StrEnum):
    """What one row of a table is: a plot, or one of several plants (stems, visits) of a plot."""

    PLOTS = "plots"
    PLANTS = "plants"


@dataclass(frozen=True, slots=True, eq=False)
class PlotTable:
    """One row per plot (or per sub-sample, where ``plot`` or ``rows_are`` says so).

    ``y`` (n,) holds the measure, NaN where it was not recorded. Every other column has the same
    length. Columns that the layout does not have are None or empty. ``plot_names`` are what
    cautions call the plots. ``plants`` (n,) is what ``y`` was counted on or is a share of (1 for a
    plain count), None where nothing was counted. ``samples`` says what each row rests on where that
    was averaged before. ``rows_are`` says what a row is where the labels leave it open.
    """

    measure: str
    unit: str
    y: Floats
    treatments: tuple[Treatment, ...]
    plot_names: tuple[str, ...]
    block: Labels | None = None
    row: Labels | None = None
    column: Labels | None = None
    incomplete_block: Labels | None = None
    whole_plot_unit: Labels | None = None
    split_plot_unit: Labels | None = None
    plot: Labels | None = None
    season: Labels | None = None
    site: Labels | None = None
    plants: Floats | None = None
    covariates: tuple[tuple[str, Floats], ...] = ()
    samples: Samples | None = None
    rows_are: RowsAre | None = None


class Scale(StrEnum):
    """What the plots' values are turned into before they are compared."""

    IDENTITY = "as measured"
    LOG = "log"
    SQUARE_ROOT = "square root"
    LOGIT = "logit"


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of the table, fixed before the data exist.

    ``not_in_running`` are the levels, as (factor, level), that cannot be the best whatever their
    figures, such as those too short to sell.
    """

    alpha: float = 0.05
    check: str | None = None
    better: Better = Better.HIGHER
    margin: Margin | None = None
    scale: Scale = Scale.IDENTITY
    not_in_running: frozenset[tuple[str, str]] = frozenset()
