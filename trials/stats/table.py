"""What a comparison is given: one value a plot, the labels of its layout, and the question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trials.model import AppliedTo, Better, Margin

if TYPE_CHECKING:
    from trials.stats.sub_samples import Samples

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]


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


@dataclass(frozen=True, slots=True, eq=False)
class PlotTable:
    """One row a plot (or a sub-sample, where ``plot`` says so).

    ``y`` (n,) holds the measure, NaN where it was not recorded. Every other column has the same
    length. Columns that the layout does not have are None or empty. ``plot_names`` are what
    cautions call the plots. ``samples`` says what each row rests on where that was averaged before.
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


class Scale(StrEnum):
    """What the plots' values are turned into before they are compared."""

    IDENTITY = "as measured"
    LOG = "log"
    SQUARE_ROOT = "square root"
    LOGIT = "logit"


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of the table, fixed before the data exist."""

    alpha: float = 0.05
    check: str | None = None
    better: Better = Better.HIGHER
    margin: Margin | None = None
    scale: Scale = Scale.IDENTITY
