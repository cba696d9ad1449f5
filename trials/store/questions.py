"""The SQL of the store, one file a question, and its answers as rows or frames."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

QUERIES = Path(__file__).with_name("queries")
_WITHIN = re.compile(r"\(/\* (\w+) \*/\)")


@cache
def question(name: str) -> str:
    """The text of ``queries/<name>.sql``; ``(/* other */)`` in it stands for another question."""
    text = (QUERIES / f"{name}.sql").read_text(encoding="utf-8")
    return _WITHIN.sub(lambda other: f"({nested(other[1])})", text)


def nested(name: str) -> str:
    """A question to be asked within another one: without its comments and its end."""
    lines = question(name).splitlines()
    return "\n".join(line for line in lines if not line.startswith("--")).rstrip(";")


def filled(name: str, **words: str) -> str:
    """The same with each {word} filled in, where the database takes no parameter: a table's name.

    The words come from this package, or are quoted as the name that they are.
    """
    text = "\n".join(line for line in question(name).splitlines() if not line.startswith("--"))
    for word, sql in words.items():
        text = text.replace(f"{{{word}}}", sql)
    return text


def rows(
    cursor: duckdb.DuckDBPyConnection, name: str, /, **parameters: object
) -> list[tuple[Any, ...]]:
    """The answer as tuples; dates are ``datetime.date`` and NULL is None."""
    return cursor.execute(question(name), parameters or None).fetchall()


def frame(cursor: duckdb.DuckDBPyConnection, name: str, /, **parameters: object) -> pd.DataFrame:
    """The answer as a frame, see ``tidy``."""
    return tidy(cursor.execute(question(name), parameters or None).df())


def tidy(answer: pd.DataFrame) -> pd.DataFrame:
    """A frame as the rest of the program expects it.

    Text and ``datetime.date`` columns hold plain objects with None where nothing was recorded,
    whole numbers are ``int64`` (``Int64`` with NA where some are missing), fractions ``float64``
    with NaN.
    """
    from pandas.api import types

    for name in answer.columns:
        column = answer[name]
        if types.is_datetime64_any_dtype(column.dtype):
            answer[name] = _objects(column.dt.date)
        elif types.is_integer_dtype(column.dtype):
            answer[name] = column.astype("Int64" if column.hasnans else "int64")
        elif not types.is_numeric_dtype(column.dtype):
            answer[name] = _objects(column)
    return answer


def _objects(column: pd.Series[Any]) -> pd.Series[Any]:
    import pandas as pd

    values = column.to_numpy(dtype=object, copy=True)
    values[column.isna().to_numpy()] = None
    return pd.Series(values, index=column.index, dtype=object)
