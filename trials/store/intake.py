"""Takes a batch of judged rows in, all or nothing, and tells what is held already.

Every sheet goes the same way: the frame is cast to the types of ``held_<sheet>.sql``, the rows held
word for word are removed, and ``add_<sheet>.sql`` stores the rest from a frame called ``fresh``.
A row whose key is held with other content fails on that key, which is the last guard against two
loads that were judged at the same time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trials.errors import Fault, RecordsRefused, TrialState
from trials.model.rows import Added, Batch, Known, Sheet, Signed, Source
from trials.store import agreements
from trials.store.history.changes import Draft, NotOneDay, What, entry, entry_of
from trials.store.history.superseding import supersede
from trials.store.history.tables import CUT
from trials.store.questions import frame, question, rows, tidy
from trials.store.reference_checks import LooseEnd, loose_ends

if TYPE_CHECKING:
    import duckdb
    import pandas as pd
    import pyarrow as pa

_LEVELS = "plot_levels"  # the factor columns of the sheet of plots, one row a plot and factor
_LEVEL_COLUMNS = ("trial", "plot", "factor", "level")

# How the rows of a sheet say which trial they belong to.
_CLOSED: Mapping[Sheet, str] = {
    Sheet.PLOTS: "closed_trials_named",
    Sheet.EVENTS: "closed_trials_named",
    Sheet.STAND_COUNTS: "closed_trials_of_plots",
    Sheet.CUTS: "closed_trials_of_plots",
    Sheet.STEM_SAMPLES: "closed_trials_of_plots",
    Sheet.SCORES: "closed_trials_of_plots",
}

_SAME_KEY = re.compile(r'Duplicate key "(?P<key>.*)" violates')
_NO_PARENT = re.compile(r'because key "(?P<key>.*)" does not exist')
_EXPRESSION = re.compile(r"COALESCE\((\w+), (?:CAST\([^)]*\)|[^)]*)\)", re.IGNORECASE)


# What is stored of a sheet beside its rows that are written once: the part with a history.
AMENDABLE: Mapping[Sheet, str] = {Sheet.SEED_ITEMS: "seed_prices", Sheet.PLOTS: "plantings"}


def add(
    cursor: duckdb.DuckDBPyConnection, batch: Batch, signed: Signed, what: What = What.LOAD
) -> Added:
    """Store the rows of a batch that are not held yet; to be called within a transaction.

    It makes an entry of the history where any row is new; of a batch whose token was recorded
    before nothing is.

    Raises
    ------
    RecordsRefused
        A row's key is held with other content, or a row refers to what is not held.
    TrialState
        A row belongs to a closed trial.
    """
    added: dict[Sheet, int] = {}
    again = {sheet: batch.already_held.get(sheet, 0) for sheet in Sheet}
    repeated = entry_of(cursor, signed) is not None
    with entry(cursor, what, signed) as draft:
        for sheet in Sheet:
            table = batch.frames.get(sheet)
            if table is None or table.empty:
                continue
            added[sheet] = (
                0 if repeated else _ADD.get(sheet, _add_sheet)(cursor, sheet, table, batch, draft)
            )
            again[sheet] += len(table) - added[sheet]
        draft.happened = any(added.values())
        if draft.happened:
            agreements.keep(cursor, batch, draft.number)
            refuse_loose_ends(loose_ends(cursor, draft.number), batch.sources)
        note_sources(cursor, batch.sources, draft)
    return Added(
        added=tuple((sheet, count) for sheet, count in added.items() if count),
        already_held=tuple((sheet, count) for sheet, count in again.items() if count),
        sprays_without_hours=batch.sprays_without_hours if added.get(Sheet.EVENTS) else 0,
    )


def known(cursor: duckdb.DuckDBPyConnection) -> Known:
    """All that is held, in the columns and types of judged rows (``Int64``, ``Float64``)."""
    frames = {sheet: _nullable(frame(cursor, f"held_{sheet.value}")) for sheet in Sheet}
    levels = frame(cursor, f"held_{_LEVELS}")
    frames[Sheet.PLOTS] = with_factors(frames[Sheet.PLOTS], levels)
    closed = frozenset(trial for (trial,) in rows(cursor, "closed_trials"))
    ((last,),) = rows(cursor, "last_entry")
    return Known(frames, closed, last, agreements.readings(cursor))


# Rows of these are a plot's; those of the others a tally is judged against are few.
_OF_A_PLOT = frozenset({Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.STAND_COUNTS, Sheet.SCORES})
_OF_A_TRIAL = frozenset({Sheet.TRIALS, Sheet.PLOTS, Sheet.EVENTS})
_OF_THE_FARM = frozenset({Sheet.SITES, Sheet.SEASONS})
_NAMES = _OF_THE_FARM | {Sheet.VARIETIES}


def known_of_trial(cursor: duckdb.DuckDBPyConnection, trial: str, plot: str | None = None) -> Known:
    """What new records of one trial, or of one ``plot`` of it, are judged against.

    Its ground and events, the seasons, and the plot's own records; all else is left empty, so
    that a record at the bed waits for none of the farm's years.
    """
    plots = [plot] if plot is not None else _plots_of(cursor, trial)
    frames = {sheet: _held_where(cursor, sheet, *_which(sheet, trial, plots)) for sheet in Sheet}
    levels = frame(cursor, f"held_{_LEVELS}")
    frames[Sheet.PLOTS] = with_factors(frames[Sheet.PLOTS], levels[levels["trial"] == trial])
    closed = frozenset(name for (name,) in rows(cursor, "closed_trials"))
    ((last,),) = rows(cursor, "last_entry")
    return Known(frames, closed & {trial}, last)


def known_names(cursor: duckdb.DuckDBPyConnection) -> Known:
    """The sites, seasons and varieties, against which the names of a plan are judged."""
    frames = {sheet: _held_where(cursor, sheet, whole=_NAMES) for sheet in Sheet}
    ((last,),) = rows(cursor, "last_entry")
    return Known(frames, frozenset(), last)


def _plots_of(cursor: duckdb.DuckDBPyConnection, trial: str) -> list[str]:
    return list(_held_where(cursor, Sheet.PLOTS, "trial", [trial])["plot"])


def _which(sheet: Sheet, trial: str, plots: Sequence[str]) -> tuple[str, Sequence[str]] | tuple[()]:
    if sheet in _OF_A_PLOT:
        return "plot", plots
    if sheet in _OF_A_TRIAL:
        return "trial", [trial]
    return ()


def _held_where(
    cursor: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    column: str = "",
    names: Sequence[str] = (),
    whole: frozenset[Sheet] = _OF_THE_FARM,
) -> pd.DataFrame:
    import duckdb

    if not column and sheet not in whole:
        return _without_rows(cursor, sheet).copy()
    held = cursor.sql(question(f"held_{sheet.value}"))
    if column:
        named = [duckdb.ConstantExpression(name) for name in names]
        held = held.filter(duckdb.ColumnExpression(column).isin(*named))
    return _nullable(tidy(held.df()))


# The same in every store of this program; asking for each anew took a quarter of a tally's time.
_WITHOUT_ROWS: dict[Sheet, pd.DataFrame] = {}


def _without_rows(cursor: duckdb.DuckDBPyConnection, sheet: Sheet) -> pd.DataFrame:
    if sheet not in _WITHOUT_ROWS:
        held = cursor.sql(question(f"held_{sheet.value}")).limit(0)
        _WITHOUT_ROWS[sheet] = _nullable(tidy(held.df()))
    return _WITHOUT_ROWS[sheet]


def with_factors(
    plots: pd.DataFrame, levels: pd.DataFrame, after: str = "position"
) -> pd.DataFrame:
    """The plots with one text column a factor behind the column ``after``; None = not varied."""
    import pandas as pd

    place = list(plots.columns).index(after)
    for factor, of_factor in levels.groupby("factor", sort=False):
        place += 1
        given = dict(zip(of_factor["plot"], of_factor["level"], strict=True))
        column = pd.Series([given.get(plot) for plot in plots["plot"]], dtype=object)
        plots.insert(place, str(factor), column)
    return plots


def _add_sheet(
    cursor: duckdb.DuckDBPyConnection, sheet: Sheet, table: pd.DataFrame, batch: Batch, draft: Draft
) -> int:
    fresh = _fresh(cursor, sheet.value, table)
    with refusing(sheet, batch.sources):
        if len(fresh):
            _refuse_closed(cursor, sheet, fresh)
            put(cursor, sheet.value, fresh, draft.number)
            if sheet in AMENDABLE:
                put(cursor, AMENDABLE[sheet], fresh, draft.number)
        if sheet is Sheet.PLOTS:
            levels = _fresh(cursor, _LEVELS, _melted(cursor, table))
            if len(levels):
                _refuse_closed(cursor, sheet, levels)
                put(cursor, _LEVELS, levels, draft.number)
    return len(fresh)


def _add_cuts(
    cursor: duckdb.DuckDBPyConnection, sheet: Sheet, table: pd.DataFrame, batch: Batch, draft: Draft
) -> int:
    """The same for rows that become picking days; they may add to days that are held already."""
    from trials.store.picking_days import beside, folded, held_of_days  # brings numpy along

    # Whoever judged them against all that is held has taken out what is held.
    if batch.seen == draft.number - 1:
        fresh = table
    else:
        fresh = _fresh(cursor, sheet.value, table).to_pandas()
    if fresh.empty:
        return 0
    with refusing(sheet, batch.sources):
        days = folded(fresh)
        _refuse_closed(cursor, sheet, days)
        held = held_of_days(cursor, days)
        if len(held):
            cursor.register("named", days.select(CUT.together))
            supersede(cursor, CUT, draft, "rows_named_together")
            cursor.unregister("named")
            days = folded(beside(held, fresh))
        _store(cursor, sheet.value, days, draft.number)
    return len(fresh)


_ADD: Mapping[Sheet, Callable[..., int]] = {Sheet.CUTS: _add_cuts}


def _fresh(cursor: duckdb.DuckDBPyConnection, name: str, table: pd.DataFrame) -> pa.Table:
    """The rows that are not held word for word, cast to the types of the store."""
    held = cursor.sql(question(f"held_{name}"))
    # Arrow, because a million Python objects would be looked at one by one, there and back.
    fresh = as_stored(cursor, name, table).except_(held).to_arrow_table()
    cursor.unregister("incoming")
    return fresh


def as_stored(
    cursor: duckdb.DuckDBPyConnection, name: str, table: pd.DataFrame
) -> duckdb.DuckDBPyRelation:
    """Rows in the columns and types of ``held_<name>.sql``; unregister ``incoming`` after use."""
    import duckdb

    held = cursor.sql(question(f"held_{name}"))
    cursor.register("incoming", _as_arrow(table))
    return cursor.table("incoming").select(
        *(
            duckdb.ColumnExpression(column).cast(kind).alias(column)
            for column, kind in zip(held.columns, held.types, strict=True)
        )
    )


def _as_arrow(table: pd.DataFrame) -> pa.Table:
    """Judged rows as an Arrow table, None and NA alike as null."""
    import pyarrow as pa

    columns = {str(name): pa.array(table[name], from_pandas=True) for name in table.columns}
    return pa.table(columns)


def put(
    cursor: duckdb.DuckDBPyConnection, name: str, fresh: pd.DataFrame | pa.Table, number: int
) -> None:
    """Store rows by ``add_<name>.sql``, as brought by the entry of that number."""
    import pandas as pd

    from trials.store.picking_days import folded

    if name == Sheet.CUTS:
        rows = folded(tidy(fresh if isinstance(fresh, pd.DataFrame) else fresh.to_pandas()))
    else:
        rows = _as_arrow(fresh) if isinstance(fresh, pd.DataFrame) else fresh
    _store(cursor, name, rows, number)


def _store(cursor: duckdb.DuckDBPyConnection, name: str, rows: pa.Table, number: int) -> None:
    import pyarrow as pa

    entry = pa.repeat(pa.scalar(number, pa.int32()), len(rows))
    cursor.register("fresh", rows.append_column("entry", entry))
    cursor.execute(question(f"add_{name}"))
    cursor.unregister("fresh")


def _refuse_closed(cursor: duckdb.DuckDBPyConnection, sheet: Sheet, fresh: pa.Table) -> None:
    if sheet not in _CLOSED:
        return
    cursor.register("fresh", fresh)
    for trial, closed_on in rows(cursor, _CLOSED[sheet]):
        raise TrialState(
            f"Trial {trial} was closed on {closed_on} and takes no more records. "
            f"Leave out its rows of {sheet.value.replace('_', ' ')}."
        )
    if sheet is Sheet.PLOTS:
        for (trial,) in rows(cursor, "planned_trials_named"):
            raise TrialState(
                f"Trial {trial} was laid out from its plan and takes no other plots or "
                "treatments. Record changes in the field as events."
            )
    cursor.unregister("fresh")


@contextmanager
def refusing(sheet: Sheet, sources: Sequence[Source]) -> Iterator[None]:
    """Turn what the database refuses to store into a fault of the sheet's file."""
    import duckdb

    try:
        yield
    except (duckdb.ConstraintException, NotOneDay) as error:
        raise RecordsRefused([_fault(sheet, sources, error)]) from error


def refuse_loose_ends(found: Sequence[LooseEnd], sources: Sequence[Source]) -> None:
    """Refuse what would leave rows without what they rest on."""
    if found:
        raise RecordsRefused(
            Fault(
                file_of(end.sheet, sources),
                None,
                None,
                str(end),
                "Load the records that belong together at the same time.",
            )
            for end in found
        )


def _melted(cursor: duckdb.DuckDBPyConnection, plots: pd.DataFrame) -> pd.DataFrame:
    fixed = cursor.sql(question("held_plots")).columns
    factors = [column for column in plots.columns if column not in fixed]
    levels = plots.melt(["trial", "plot"], factors, var_name="factor", value_name="level")
    return levels.dropna(subset=["level"])[list(_LEVEL_COLUMNS)]


def note_sources(
    cursor: duckdb.DuckDBPyConnection, sources: tuple[Source, ...], draft: Draft
) -> None:
    """Note the files that were read, with the entry that took their rows in, if any was new."""
    import pandas as pd

    if not sources:
        return
    number = draft.number if draft.happened else None
    read = [(source.sha256, source.sheet.value, source.file, source.rows) for source in sources]
    fresh = pd.DataFrame(read, columns=["sha256", "sheet", "file", "rows"])
    cursor.register("fresh", fresh.assign(entry=pd.array([number] * len(read), dtype="Int64")))
    loaded_at = datetime.now(UTC).replace(tzinfo=None)
    cursor.execute(question("add_sources"), {"loaded_at": loaded_at})
    cursor.unregister("fresh")


def _nullable(table: pd.DataFrame) -> pd.DataFrame:
    """The types of judged rows, also where no cell is empty."""
    nullable = {"int64": "Int64", "float64": "Float64"}
    kinds = {str(name): nullable.get(str(kind)) for name, kind in table.dtypes.items()}
    return table.astype({name: kind for name, kind in kinds.items() if kind is not None})


def file_of(sheet: Sheet, sources: Sequence[Source]) -> str:
    """The file that the rows of a sheet came from."""
    return next((source.file for source in sources if source.sheet is sheet), f"{sheet.value}.csv")


def _fault(sheet: Sheet, sources: Sequence[Source], error: Exception) -> Fault:
    """The row that failed, as far as the database names it."""
    text = _EXPRESSION.sub(r"\1", str(error))
    if isinstance(error, NotOneDay):
        problem = f"{error}: it is already stored with other values."
    elif same := _SAME_KEY.search(text):
        problem = f"({same['key']}) is already stored with other values."
    elif missing := _NO_PARENT.search(text):
        problem = f"({missing['key']}) is needed, but not stored."
    else:
        problem = f"a row cannot be stored: {text.splitlines()[0]}."
    return Fault(
        file_of(sheet, sources),
        None,
        None,
        problem,
        "Somebody else may have loaded records first. Load the files again.",
    )
