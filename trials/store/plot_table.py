"""The records of one trial as frames: plots with their measures, cuts, grades, culls, events."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.store.intake import with_factors
from trials.store.questions import frame

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


def plots(
    cursor: duckdb.DuckDBPyConnection, code: str, shortest_cm: float | None = None
) -> pd.DataFrame:
    """One row a plot: where it lies, what it was given, its totals and every measure.

    See ``queries/plots.sql`` and ``queries/plot_money.sql``; the factors follow ``position`` as
    text columns. A planned layout that has them adds the text columns row, column,
    incomplete_block and split_plot at the end.
    """
    money = frame(cursor, "plot_money", trial=code, shortest_cm=shortest_cm)
    found = _yields(cursor, code, shortest_cm).merge(money, on="plot", how="left")
    return _with_places(cursor, code, found)


def yields(
    cursor: duckdb.DuckDBPyConnection, code: str, shortest_cm: float | None = None
) -> pd.DataFrame:
    """The same without the measures in money, which take as long as all the others."""
    return _with_places(cursor, code, _yields(cursor, code, shortest_cm))


def _yields(
    cursor: duckdb.DuckDBPyConnection, code: str, shortest_cm: float | None
) -> pd.DataFrame:
    return with_factors(
        frame(cursor, "plots", trial=code, shortest_cm=shortest_cm),
        frame(cursor, "plot_levels", trial=code),
    )


def _with_places(cursor: duckdb.DuckDBPyConnection, code: str, found: pd.DataFrame) -> pd.DataFrame:
    places = frame(cursor, "plot_places", trial=code)
    return found.merge(places, on="plot", how="left") if len(places) else found


def cuts(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row per plot and picking day: its graded and culled stems."""
    return frame(cursor, "cuts", trial=code)


def stems_by_week(
    cursor: duckdb.DuckDBPyConnection, code: str, shortest_cm: float | None
) -> pd.DataFrame:
    """See ``Store.stems_by_week``."""
    return frame(cursor, "stems_by_week", trial=code, shortest_cm=shortest_cm)


def stems_by_day(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """One row per plot and day on which it was picked: its stems long enough to sell."""
    return frame(cursor, "stems_by_day", trial=code)


def length_samples(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """What stem lengths rest on: plot, stems (measured), share, squares, freedom.

    ``share`` is the variance of a plot's length as a share of one stem's; ``squares`` on
    ``freedom`` are of stems about the mean of their plot and day.
    """
    return frame(cursor, "length_samples", trial=code)


def vase_life(cursor: duckdb.DuckDBPyConnection, code: str) -> pd.DataFrame:
    """See ``Store.vase_life``."""
    return frame(cursor, "vase_life", trial=code)


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
