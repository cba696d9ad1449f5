"""The records of one trial as frames: plots with their measures, cuts, grades, culls, events."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.store.intake import with_factors
from trials.store.questions import frame

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


def plots(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row a plot: where it lies, what it was given, its totals and every measure.

    See ``queries/plots.sql``; the factors follow ``position`` as text columns. A planned layout
    that has them adds the text columns row, column, incomplete_block and split_plot at the end.
    """
    found = with_factors(
        frame(cursor, "plots", trial=code), frame(cursor, "plot_levels", trial=code)
    )
    places = frame(cursor, "plot_places", trial=code)
    return found.merge(places, on="plot", how="left") if len(places) else found


def cuts(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row a plot and picking day: its marketable and culled stems."""
    return frame(cursor, "cuts", trial=code)


def length_samples(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """See ``Store.length_samples``."""
    return frame(cursor, "length_samples", trial=code)


def events(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row an event, of a plot or of the whole trial."""
    return frame(cursor, "events", trial=code)


def grades(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row a plot (picked, not lost) and grade found in the trial: its stems of the season."""
    return with_factors(
        frame(cursor, "grades", trial=code),
        frame(cursor, "plot_levels", trial=code),
        after="plot",
    )


def culls(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row a combination of levels and reason: stems thrown out of its plots (not lost ones)."""
    levels = frame(cursor, "plot_levels", trial=code)
    factors = list(dict.fromkeys(levels["factor"]))
    by_plot = with_factors(frame(cursor, "culls", trial=code), levels, after="plot")
    return by_plot.groupby([*factors, "cull_reason"], as_index=False, dropna=False)[["stems"]].sum()
