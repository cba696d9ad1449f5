"""The result files of a pool, read back and compared."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd

from trials.pool.result_rows import Table


def results(into: Path, table: Table) -> pd.DataFrame:
    """All rows of a result table, whatever order the partitions came in."""
    files = str(into / "results" / "season=*" / "site=*" / f"{table}.parquet")
    with duckdb.connect() as connection:
        return connection.execute(
            "FROM read_parquet(?, hive_partitioning = true) ORDER BY ALL", [files]
        ).df()


def same(one: Path, other: Path) -> None:
    for table in Table:
        pd.testing.assert_frame_equal(results(one, table), results(other, table), rtol=1e-12)
