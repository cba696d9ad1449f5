"""Tallybed in Python: any table compared, and a farm's store as one object."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials import season
from trials.model.trial import Better
from trials.records.table.columns import TableColumns
from trials.report.result import Result
from trials.season import choosing, comparing
from trials.season.comparing import Asked

if TYPE_CHECKING:
    import pandas as pd

    from trials.decide import Choice
    from trials.model.rows import Added
    from trials.model.trial import Closing
    from trials.stats.design.table import RowsAre


def compare(
    table: pd.DataFrame | str | Path,
    *,
    measure: str,
    treatments: Sequence[str],
    block: str | None = None,
    check: str | None = None,
    whole_plot: Sequence[str] = (),
    plot: str | None = None,
    plants: str | None = None,
    of: str | None = None,
    season: str | None = None,
    site: str | None = None,
    rows_are: RowsAre | None = None,
    better: str = "higher",
    alpha: float = 0.05,
    second_opinions: bool = True,
) -> Result:
    """Compare the treatments of any table, one row per plot.

    Parameters
    ----------
    table : DataFrame, str or Path
        The plots, as a frame or as a file that ``load`` could read.
    measure : str
        The column to compare, in its own unit.
    treatments : sequence of str
        The treatment columns; those in ``whole_plot`` were given to whole plots.
    block, plot, plants, of, season, site : str, optional
        Columns that play these parts: ``plot`` joins sub-samples, ``plants`` divides the measure,
        ``of`` is what the measure is a share of.
    check : str, optional
        The level that the others are compared with.
    rows_are : {"plots", "plants"}, optional
        What one row is, where the columns leave it open.
    better : {"higher", "lower"}
        Whether more or less of the measure is welcome.
    alpha : float
        Error rate of each family of comparisons.
    second_opinions : bool
        Whether to run the randomisation test, the count model and leave plots out.

    Returns
    -------
    Result
        Data frames, words and the JSON document.

    Raises
    ------
    TallybedError
        The table cannot be compared; the message says what is wrong, where, and what to do.

    Notes
    -----
    The model and its sources: see ``trials.stats``. The experimental unit decides: rows inside
    one plot never count as replicates.

    Examples
    --------
    >>> import pandas as pd
    >>> import trials
    >>> plots = pd.DataFrame(
    ...     {
    ...         "variety": ["Ember", "Frost", "Wren"] * 4,
    ...         "block": [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4],
    ...         "stems": [9.1, 6.2, 7.5, 9.8, 6.0, 7.1, 8.7, 5.1, 6.6, 9.5, 6.4, 7.9],
    ...     }
    ... )
    >>> found = trials.compare(
    ...     plots, measure="stems", treatments=["variety"], block="block", check="Wren"
    ... )
    >>> found.with_best.query("could_be_best")["variety"].tolist()
    ['Ember']
    """
    columns = TableColumns(
        measure=measure,
        treatments=tuple(treatments),
        block=block,
        whole_plot=tuple(whole_plot),
        plot=plot,
        plants=plants,
        of=of,
        season=season,
        site=site,
        rows_are=rows_are,
    )
    asked = Asked(alpha=alpha, check=check, better=Better(better), second_opinions=second_opinions)
    source = Path(table) if isinstance(table, str) else table
    title = source.name if isinstance(source, Path) else "Data frame"
    return Result(comparing.compare_table(source, columns, asked), title)


class Farm:
    """A farm's store: its trials, their records, and what is made of them.

    Parameters
    ----------
    path : str or Path
        The store's file. ``load`` makes it where there is none.

    Examples
    --------
    >>> import trials
    >>> farm = trials.Farm("farm.tallybed")
    >>> farm.path.name
    'farm.tallybed'
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)

    def __repr__(self) -> str:
        return f"Farm({str(self.path)!r})"

    def load(self, *files: str | Path) -> Added:
        """Store the records of files or folders: all rows or none.

        Raises
        ------
        TallybedError
            A row cannot be right, or how a sheet is read is not agreed; nothing was stored.
        """
        return season.load(self.path, [Path(file) for file in files])

    def trials(self) -> pd.DataFrame:
        """One row per trial: code, season, site, crop, stage, plots, closed_on."""
        import pandas as pd

        names = ("code", "season", "site", "crop", "question", "stage", "plots", "closed_on")
        rows = [[getattr(trial, name) for name in names] for trial in season.trials(self.path)]
        return pd.DataFrame(rows, columns=list(names))

    def plots(self, trial: str) -> pd.DataFrame:
        """One row per plot of a trial, a column per measure; units in the column names."""
        return season.plots(self.path, trial)

    def close(self, trial: str, on: date, reason: str) -> Closing:
        """End a trial's season; from then on its records are fixed."""
        return season.close(self.path, trial, on, reason)

    def compare(
        self, trial: str, measure: str | None = None, *, second_opinions: bool = True
    ) -> Result:
        """Compare one measure of a trial, by default its primary one.

        Raises
        ------
        TallybedError
            There is no such trial or measure, or no honest comparison can be made.
        """
        asked = Asked(second_opinions=second_opinions)
        found = comparing.compare_with_digest(self.path, trial, measure, asked)
        return Result(found.comparison, trial, found.digest)

    def choose(self, crop: str, measure: str | None = None) -> Choice:
        """Rank a crop's varieties over all its closed trials, with what to reorder.

        Raises
        ------
        TallybedError
            No trial of the crop's varieties is closed.
        """
        return choosing.choose(self.path, crop, measure)
