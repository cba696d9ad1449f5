"""Names the part that each column of a table plays in a comparison."""

from __future__ import annotations

from dataclasses import dataclass

from trials.model.trial import AppliedTo
from trials.stats.design.table import RowsAre


@dataclass(frozen=True, slots=True)
class TableColumns:
    """Which column of the table plays which part; a part the layout does not have is None or ().

    Attributes
    ----------
    of
        What the measure is a share of: stems, plants or seeds in all.
    rows_are
        ``"plots"`` or ``"plants"``: what one row is, where the named columns leave it open.
    ignored
        Columns that say nothing of the layout, whatever they look like.
    """

    measure: str
    treatments: tuple[str, ...]
    block: str | None = None
    row: str | None = None
    column: str | None = None
    incomplete_block: str | None = None
    whole_plot: tuple[str, ...] = ()
    whole_plot_unit: str | None = None
    split_plot: tuple[str, ...] = ()
    strips: tuple[str, ...] = ()
    plot: str | None = None
    plants: str | None = None
    of: str | None = None
    covariates: tuple[str, ...] = ()
    season: str | None = None
    site: str | None = None
    rows_are: RowsAre | None = None
    ignored: tuple[str, ...] = ()

    @property
    def every_treatment(self) -> tuple[str, ...]:
        """All treatment columns once, in the order in which they were first named."""
        named = (*self.treatments, *self.whole_plot, *self.split_plot, *self.strips)
        return tuple(dict.fromkeys(named))

    @property
    def labels(self) -> tuple[str, ...]:
        """All columns that hold labels, once."""
        single = (
            *(self.block, self.row, self.column, self.incomplete_block, self.whole_plot_unit),
            *(self.plot, self.season, self.site),
        )
        named = (*self.every_treatment, *(name for name in single if name is not None))
        return tuple(dict.fromkeys(named))

    @property
    def numbers(self) -> tuple[str, ...]:
        """All columns that hold numbers, once."""
        counted = [name for name in (self.plants, self.of) if name is not None]
        return tuple(dict.fromkeys((self.measure, *counted, *self.covariates)))

    def applied_to(self, treatment: str) -> AppliedTo:
        """The experimental unit that a treatment column was given to."""
        for columns, unit in (
            (self.whole_plot, AppliedTo.WHOLE_PLOT),
            (self.split_plot, AppliedTo.SPLIT_PLOT),
            (self.strips, AppliedTo.STRIP),
        ):
            if treatment in columns:
                return unit
        return AppliedTo.PLOT
