"""Turns a Parquet file or a data frame into cells of text, as if it had been saved as CSV."""

from __future__ import annotations

from hashlib import sha256
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import Faults, Wrong
from trials.records.files.delimited import no_rows, spelled
from trials.records.files.find import (
    CELLS_AT_MOST,
    COLUMNS_AT_MOST,
    ROWS_AT_MOST,
    open_bytes,
)

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

SUFFIX = ".parquet"
UNPACKED_AT_MOST = 1_000_000_000  # bytes
_SAVE_AS = "Save it as CSV UTF-8 or Parquet again from the program it comes from."


def is_parquet(path: Path) -> bool:
    """Whether a file's name says that it is a Parquet file."""
    return path.suffix.lower() == SUFFIX


def read_parquet(name: str, path: Path, faults: Faults) -> Cells | None:
    """Read a Parquet file to cells; None if that cannot be done, and ``faults`` says why.

    Days are written year-month-day and numbers in full; an empty cell is a blank one. Rows are
    counted as if the headings were row 1.
    """
    import pyarrow as pa

    data = open_bytes(path)
    if not isinstance(data, bytes):
        faults.add(name, data.row, None, data.wrong)
        return None
    try:
        columns = _columns(data)
    except (pa.ArrowException, OSError, ValueError) as problem:
        wrong = Wrong(f"This Parquet file is damaged ({type(problem).__name__}).", _SAVE_AS)
        faults.add(name, None, None, wrong)
        return None
    if isinstance(columns, Wrong):
        faults.add(name, None, None, columns)
        return None
    heading, texts, rows = columns
    if not rows or not heading:
        faults.add(name, None, None, no_rows())
        return None
    numbers = np.arange(2, rows + 2)
    return Cells(name, sha256(data).hexdigest(), 1, heading, texts, numbers)


def _columns(data: bytes) -> tuple[tuple[str, ...], tuple[Spelled, ...], int] | Wrong:
    import pyarrow as pa
    from pyarrow import parquet

    file = parquet.ParquetFile(pa.BufferReader(data))
    facts = file.metadata
    size = sum(facts.row_group(group).total_byte_size for group in range(facts.num_row_groups))
    if (
        facts.num_rows > ROWS_AT_MOST
        or facts.num_columns > COLUMNS_AT_MOST
        or facts.num_rows * facts.num_columns > CELLS_AT_MOST
        or size > UNPACKED_AT_MOST
    ):
        return Wrong(
            f"This file unpacks to {facts.num_rows:,} rows, {facts.num_columns:,} columns and "
            f"{size:,} bytes; it may have {ROWS_AT_MOST:,} rows, {COLUMNS_AT_MOST:,} columns, "
            f"{CELLS_AT_MOST:,} cells and {UNPACKED_AT_MOST:,} bytes.",
            "Split it by season, or remove rows that are not records.",
        )
    # In batches, so that a file which says less than it holds is stopped on the way.
    batches: list[pa.RecordBatch] = []
    rows = 0
    for batch in file.iter_batches(batch_size=65_536):
        rows += batch.num_rows
        if rows > facts.num_rows:
            return Wrong("This file has more rows than it declares.", _SAVE_AS)
        batches.append(batch)
    return _cells(pa.Table.from_batches(batches, schema=file.schema_arrow))


def read_frame(name: str, frame: pd.DataFrame, faults: Faults) -> Cells | None:
    """A data frame as cells; None if that cannot be done, and ``faults`` says why.

    The index is left out. Rows are counted from 2, as if the headings were row 1.
    """
    import pyarrow as pa

    named = frame.rename(columns=str)
    try:
        found = _cells(pa.Table.from_pandas(named, preserve_index=False))
    except (pa.ArrowException, ValueError) as problem:
        found = Wrong(f"A column mixes types of values ({problem}).", "Give each column one type.")
    if isinstance(found, Wrong):
        faults.add(name, None, None, found)
        return None
    heading, texts, rows = found
    if not rows or not heading:
        faults.add(name, None, None, no_rows())
        return None
    return Cells(name, "", 1, heading, texts, np.arange(2, rows + 2))


def _cells(table: pa.Table) -> tuple[tuple[str, ...], tuple[Spelled, ...], int] | Wrong:
    import pyarrow as pa

    for field in table.schema:
        if pa.types.is_nested(field.type) or pa.types.is_large_binary(field.type):
            return Wrong(f"The column {field.name!r} contains lists, not single values.", _SAVE_AS)
    # Here, as text that is none shows only once it is taken out.
    texts = tuple(spelled(_text(column).dictionary_encode()) for column in table.columns)
    return tuple(table.column_names), texts, table.num_rows


def _text(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """A column as text: empty for null, days year-month-day, whole floats without a fraction."""
    import pyarrow as pa
    from pyarrow import compute

    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_timestamp(kind) and kind.tz is not None:
        # The day is that of the clock where it was written down, not that of Greenwich.
        column = compute.local_timestamp(column)
        kind = column.type
    if pa.types.is_timestamp(kind):
        days = column.cast(pa.date32(), safe=False)
        clock = compute.equal(column, days.cast(kind))
        plain = compute.all(clock).as_py() is not False
        text = days.cast(pa.string()) if plain else column.cast(pa.string())
    elif pa.types.is_floating(kind):
        return _from_python(column, _number)
    elif pa.types.is_binary(kind):
        text = column.cast(pa.string())
    else:
        text = column.cast(pa.string())
    return compute.fill_null(text, "")


def _from_python(column: pa.ChunkedArray, say: Any) -> pa.ChunkedArray:
    import pyarrow as pa

    encoded = column.dictionary_encode().unify_dictionaries().combine_chunks()
    words = pa.array([say(value) for value in encoded.dictionary.to_pylist()], pa.string())
    from pyarrow import compute

    return pa.chunked_array([compute.fill_null(words.take(encoded.indices), "")])


def _number(value: float | None) -> str:
    from trials.records.files.workbook import number_text

    return "" if value is None or isnan(value) else number_text(value)
