"""One season at one farm as Parquet files, one a table: written from a store, and asked like one.

A file has the store's columns that figures are made of, and no others: no place, person, note or
reason leaves with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused
from trials.model.former_names import MEASURES, column_then
from trials.model.rows import Sheet
from trials.store import trial_list
from trials.store.file.engine import SETTINGS
from trials.store.questions import frame, question

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from trials.model.trial import Trial

# The columns of each table; a table that is not required may be left out.
TABLES: Mapping[str, Mapping[str, str]] = {
    "trial": {
        "trial": "VARCHAR NOT NULL",
        "season": "INTEGER NOT NULL",
        "crop": "VARCHAR NOT NULL",
        "check_level": "VARCHAR",
        "primary_measure": "VARCHAR NOT NULL",
        "alpha": "DOUBLE NOT NULL CHECK (alpha > 0 AND alpha < 0.5)",
        "equivalence_margin": "VARCHAR",
        "minimum_length_cm": "DOUBLE NOT NULL",
    },
    "factor": {
        "trial": "VARCHAR NOT NULL",
        "factor": "VARCHAR NOT NULL",
        "place": "INTEGER NOT NULL",
        "applied_to": "VARCHAR NOT NULL",
    },
    "plot": {
        "plot": "VARCHAR PRIMARY KEY",
        "trial": "VARCHAR NOT NULL",
        "block": "VARCHAR",
        "whole_plot_number": "INTEGER",
        "position": "INTEGER NOT NULL",
    },
    "plot_level": {
        "plot": "VARCHAR NOT NULL",
        "trial": "VARCHAR NOT NULL",
        "factor": "VARCHAR NOT NULL",
        "level": "VARCHAR NOT NULL",
    },
    "planting": {
        "plot": "VARCHAR NOT NULL",
        "plants_set": "INTEGER CHECK (plants_set > 0)",
        "net_length_m": "DOUBLE CHECK (net_length_m > 0)",
        "net_area_m2": "DOUBLE CHECK (net_area_m2 > 0)",
        "transplanted_on": "DATE",
    },
    "cut": {
        "plot": "VARCHAR NOT NULL",
        "cut_on": "DATE NOT NULL",
        "outcome": "VARCHAR NOT NULL CHECK (outcome IN ('picked', 'missed'))",
        "stems_by_grade": "MAP(INTEGER, INTEGER)",
        "culls_by_reason": "MAP(VARCHAR, INTEGER)",
        "none_marketable": "BOOLEAN",
    },
    "whole_plot": {
        "trial": "VARCHAR NOT NULL",
        "number": "INTEGER NOT NULL",
        "block": "VARCHAR",
        "whole_plot": "VARCHAR NOT NULL",
    },
    "plot_place": {
        "plot": "VARCHAR NOT NULL",
        "row_label": "VARCHAR",
        "column_label": "VARCHAR",
        "incomplete_block": "VARCHAR",
        "split_plot": "VARCHAR",
    },
    "stand_count": {
        "plot": "VARCHAR NOT NULL",
        "counted_on": "DATE NOT NULL",
        "living": "INTEGER NOT NULL CHECK (living >= 0)",
    },
    "stem_sample": {
        "plot": "VARCHAR NOT NULL",
        "cut_on": "DATE NOT NULL",
        "stem": "INTEGER NOT NULL",
        "length_cm": "DOUBLE NOT NULL CHECK (length_cm > 0)",
    },
    "event": {
        "trial": "VARCHAR NOT NULL",
        "plot": "VARCHAR",
        "other_plot": "VARCHAR",
        "happened_on": "DATE NOT NULL",
        "kind": "VARCHAR NOT NULL",
    },
}
REQUIRED = ("trial", "factor", "plot", "plot_level", "planting", "cut")
# Columns that questions name and no file has: what they hold here.
_NOT_TOLD: Mapping[str, Mapping[str, str]] = {
    "trial": {"site": "VARCHAR DEFAULT ''", "question": "VARCHAR DEFAULT ''"},
    "plot": {"bed": "VARCHAR DEFAULT ''"},
    "cut": {"entry": "INTEGER"},
    "event": {"reason": "VARCHAR DEFAULT 'not told'"},
}


_EMPTY: Mapping[str, Mapping[str, str]] = {
    "level": {"trial": "VARCHAR", "factor": "VARCHAR", "level": "VARCHAR"},
    "closing": {"trial": "VARCHAR", "closed_on": "DATE"},
}
_CODES = ("trial", "plot", "other_plot")


@dataclass(frozen=True, slots=True)
class Files:
    """A partition's files by table; ``prefix`` is put before its codes of trials and plots.

    ``filesystem`` is the fsspec file system that the files are on; None for this machine's.
    """

    prefix: str
    tables: Mapping[str, str]
    filesystem: object | None = None


@dataclass(frozen=True, slots=True)
class Grown:
    """The trials of partitions; ``plots`` as ``Store.plots`` gives them, with their ``trial``.

    ``refused`` has the partitions, by their prefix, that could not be read, and why.
    """

    trials: tuple[Trial, ...]
    plots: pd.DataFrame
    levels: pd.DataFrame
    places: pd.DataFrame
    refused: Mapping[str, FileRefused]


def grown(partitions: Sequence[Files]) -> Grown:
    """The trials and plots of several partitions, asked for together.

    To plan the question takes longer than to answer it for one partition. One that lacks a file or
    a column, or has a row that breaks a rule, is left out whole.
    """
    refused: dict[str, FileRefused] = {}
    with _database() as cursor:
        for each in partitions:
            try:
                _read(cursor, each)
            except FileRefused as refusal:
                refused[each.prefix] = refusal
        cursor.execute("INSERT INTO level SELECT DISTINCT trial, factor, level FROM plot_level")
        plots = frame(cursor, "plots", trial=None, shortest_cm=None)
        of_plot = dict(cursor.execute("SELECT plot, trial FROM plot").fetchall())
        plots["trial"] = [of_plot[plot] for plot in plots["plot"]]
        return Grown(
            trial_list.trials(cursor),
            plots,
            frame(cursor, "plot_levels", trial=None),
            frame(cursor, "plot_places", trial=None),
            refused,
        )


@contextmanager
def _database() -> Iterator[duckdb.DuckDBPyConnection]:
    """The tables of a store, empty and in memory, as far as figures are made of them."""
    import duckdb

    with duckdb.connect(config={**SETTINGS, "threads": 1}) as connection:
        for table, columns in {**TABLES, **_EMPTY}.items():
            every = {**columns, **_NOT_TOLD.get(table, {})}
            described = ", ".join(f"{name} {kind}" for name, kind in every.items())
            connection.execute(f"CREATE TABLE {table} ({described})")
        yield connection


def _read(connection: duckdb.DuckDBPyConnection, files: Files) -> None:
    """Add a partition's rows: all, or none."""
    import duckdb

    missing = [table for table in REQUIRED if table not in files.tables]
    if missing:
        raise FileRefused(f"The file {missing[0]}.parquet is missing. Ask the farm for it again.")
    if files.filesystem is not None:
        connection.register_filesystem(files.filesystem)
    connection.execute("BEGIN")
    for table, file in files.tables.items():
        names = ", ".join(TABLES[table])
        try:
            told = ", ".join(_told(connection, table, file))
            connection.execute(  # the names are those above
                f"INSERT INTO {table} ({names}) SELECT {told} FROM read_parquet($file)",  # noqa: S608
                {"file": file, **({"prefix": files.prefix} if "$prefix" in told else {})},
            )
        except duckdb.Error as problem:
            connection.execute("ROLLBACK")
            first = str(problem).splitlines()[0]
            raise FileRefused(
                f"{file} cannot be used: {first}. Ask the farm for it again."
            ) from problem
    connection.execute("COMMIT")


def _told(connection: duckdb.DuckDBPyConnection, table: str, file: str) -> Iterator[str]:
    """What a table's columns are read from: codes with their prefix, and by a file's own names."""
    there: set[str] = set()
    if table == "trial":  # the only one with columns that were renamed
        there = set(connection.sql("FROM read_parquet($file)", params={"file": file}).columns)
    for name in TABLES[table]:
        then = column_then(Sheet.TRIALS, name)
        if name in _CODES:
            yield f"$prefix || {name}"
        elif name == "primary_measure" and MEASURES:
            cases = " ".join(f"WHEN '{then}' THEN '{now}'" for then, now in MEASURES.items())
            yield f"CASE {name} {cases} ELSE {name} END"
        else:
            yield then if then in there and name not in there else name


def write_partition(
    cursor: duckdb.DuckDBPyConnection, trial_codes: Mapping[str, str], folder: Path
) -> None:
    """Write the trials that ``trial_codes`` names, each under its code, into a new folder.

    Plots get codes of their own: the trial's, and their number in walking order.
    """
    import pandas as pd

    folder.mkdir(parents=True)
    names = pd.DataFrame({"trial": list(trial_codes), "code": list(trial_codes.values())})
    cursor.register("coded_trial", names)
    cursor.execute("CREATE TEMP TABLE coded_plot AS " + question("coded_plots"))
    try:
        for table, columns in TABLES.items():
            told = cursor.sql(_coded(table, columns))
            told.write_parquet(str(folder / f"{table}.parquet"), compression="zstd")
    finally:
        cursor.execute("DROP TABLE coded_plot")
        cursor.unregister("coded_trial")


def _coded(table: str, columns: Mapping[str, str]) -> str:
    """The question for a table's own columns, with codes for the names of trials and plots."""
    joins, told = [], []
    for name in columns:
        if name == "trial":
            joins.append("JOIN coded_trial AS t ON t.trial = held.trial")
            told.append("t.code AS trial")
        elif name in {"plot", "other_plot"}:
            kind = "LEFT JOIN" if "trial" in columns else "JOIN"
            joins.append(f"{kind} coded_plot AS {name}s ON {name}s.plot = held.{name}")
            told.append(f"{name}s.code AS {name}")
        else:
            told.append(f"held.{name}")
    columns_told, tables_joined = ", ".join(told), " ".join(joins)
    return f"SELECT {columns_told} FROM {table} AS held {tables_joined} ORDER BY ALL"  # noqa: S608
