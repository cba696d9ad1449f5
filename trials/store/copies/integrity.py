"""Is the store whole: its rows, its keys, what its rows refer to, and the blocks of its file.

Damage shows only in what is read, so everything is read, in four ways: every cell; every key,
looked up through its index; every row once more, put into an empty copy in memory that judges
it by the rules of the tables, and held against the rules that no table can see to; and every
block of the file, which finds what no query meets. The files of photos are compared with their
digests besides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from trials.store.copies import digests
from trials.store.copies.digests import TableDigest
from trials.store.copies.file_blocks import read_blocks_apart
from trials.store.file.connection import quoted
from trials.store.file.photo_files import photo_file, photo_problem
from trials.store.history.tables import PHOTO
from trials.store.history.trial_digest import altered_closings
from trials.store.photos import ever_stored
from trials.store.questions import rows
from trials.store.reference_checks import loose_ends

if TYPE_CHECKING:
    import duckdb

_COPY = "held_once_more"


class Part(StrEnum):
    """What of a store was read when something was found not to be whole."""

    ROWS = "rows"
    KEYS = "keys"
    RULES = "rules"
    FILE = "file"
    PHOTOS = "photos"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not whole: what was read, of which table, and what is wrong with it.

    ``table`` is None where it concerns the file as a whole.
    """

    part: Part
    table: str | None
    problem: str


@dataclass(frozen=True, slots=True)
class Wholeness:
    """What was read, and all that is not whole.

    ``blocks`` is None where the blocks of this file's format cannot be judged. ``photos`` counts
    those whose files were read.
    """

    store: str
    migrations: tuple[str, ...]
    tables: tuple[TableDigest, ...]
    keys: int  # keys of tables through which every row was looked up
    blocks: int | None
    findings: tuple[Finding, ...]
    photos: int = 0

    @property
    def whole(self) -> bool:
        return not self.findings

    @property
    def readable(self) -> bool:
        """Whether every row could be read, whatever else is broken."""
        return all(finding.part is not Part.ROWS for finding in self.findings)

    @property
    def only_photos(self) -> bool:
        """Whether all that is wrong are files of photos, while every record is as it was."""
        return not self.whole and all(each.part is Part.PHOTOS for each in self.findings)

    @property
    def rows(self) -> int:
        """Rows of all tables together."""
        return sum(table.rows for table in self.tables)


# What is told while a store is read: how far it is, from 0 to 1, and what is read now.
Told = Callable[[float, Part], object]


def _untold(_done: float, _part: Part) -> None:
    """Nobody listens."""


def read_everything(
    cursor: duckdb.DuckDBPyConnection, path: Path, photos: Path, told: Told = _untold
) -> Wholeness:
    """Read the store in every way there is; to be called while nobody else can write to it.

    ``photos`` is the folder of its photos.

    ``told`` hears how far it is; what it raises ends the reading.
    """
    findings: list[Finding] = []
    tables: list[TableDigest] = []
    names, keys = digests.tables(cursor), rows(cursor, "key_columns")
    steps_of_reading = len(names) + len(keys) + 4  # the rules, the blocks, photos, closings
    for place, table in enumerate(names):
        told(place / steps_of_reading, Part.ROWS)
        with _noting(findings, Part.ROWS, table):
            tables.append(digests.of_table(cursor, table))
    for place, (table, columns) in enumerate(keys, len(names)):
        told(place / steps_of_reading, Part.KEYS)
        with _noting(findings, Part.KEYS, table):
            _look_up(cursor, table, columns)
    told(1 - 4 / steps_of_reading, Part.RULES)
    with _noting(findings, Part.RULES, None):
        _hold_once_more(cursor)
    with _noting(findings, Part.RULES, None):
        findings.extend(
            Finding(Part.RULES, end.sheet.value, str(end)) for end in loose_ends(cursor)
        )
    for table, column in rows(cursor, "entry_columns"):
        with _noting(findings, Part.RULES, table):
            _find_entries(cursor, table, column)
    told(1 - 3 / steps_of_reading, Part.FILE)
    ((block_bytes,),) = rows(cursor, "block_size")
    blocks = read_blocks_apart(path, block_bytes)
    if blocks is not None and blocks.damaged:
        findings.append(Finding(Part.FILE, None, _block_words(blocks.damaged, blocks.blocks)))
    told(1 - 2 / steps_of_reading, Part.PHOTOS)
    read: tuple[str, ...] = ()
    with _noting(findings, Part.ROWS, PHOTO.table):
        read = ever_stored(cursor)
    findings.extend(_damaged_photos(photos, read))
    steps = rows(cursor, "applied_migrations")
    told(1 - 1 / steps_of_reading, Part.RULES)
    with _noting(findings, Part.RULES, "closing"):  # last, as the cursor looks back from here on
        findings.extend(
            Finding(Part.RULES, "closing", f"the records {trial} was closed with have changed")
            for trial in altered_closings(cursor)
        )
    return Wholeness(
        store=str(path),
        migrations=tuple(f"{number:04d} {name}" for number, name, _ in steps),
        tables=tuple(tables),
        keys=len(keys),
        blocks=None if blocks is None else blocks.blocks,
        findings=tuple(findings),
        photos=len(read),
    )


def _damaged_photos(folder: Path, photos: Iterable[str]) -> Iterator[Finding]:
    for sha256 in photos:
        problem = photo_problem(folder, sha256)
        if problem is not None:
            yield Finding(Part.PHOTOS, None, f"{photo_file(folder, sha256)} {problem}")


@contextmanager
def _noting(findings: list[Finding], part: Part, table: str | None) -> Iterator[None]:
    """Make damage that is met a finding, and go on."""
    import duckdb

    try:
        yield
    except duckdb.FatalException:  # the connection is dead: nothing more can be read
        raise
    except duckdb.Error as error:
        findings.append(Finding(part, table, str(error).splitlines()[0]))


def _look_up(cursor: duckdb.DuckDBPyConnection, table: str, columns: Sequence[str]) -> None:
    """Look each row of the table up through the index of one of its keys."""
    import duckdb

    name, key = quoted(table), ", ".join(map(quoted, columns))
    filled = " AND ".join(f"{quoted(column)} IS NOT NULL" for column in columns)
    # A row that its own index does not know would be stored a second time.
    again = (
        f"INSERT INTO {name} SELECT * FROM {name} WHERE {filled} "  # noqa: S608
        f"ON CONFLICT ({key}) DO NOTHING"
    )
    cursor.begin()
    try:
        ((unknown,),) = cursor.execute(again).fetchall()
        if unknown:
            raise duckdb.DataError(f"{unknown} rows are not in the index of ({key})")
    finally:
        cursor.rollback()


def _find_entries(cursor: duckdb.DuckDBPyConnection, table: str, column: str) -> None:
    """See that each entry that the rows of a table name is in the history."""
    import duckdb

    name, named = quoted(table), quoted(column)
    asked = (
        f"SELECT count(*) FROM {name} AS held ANTI JOIN entry ON entry.number = held.{named} "  # noqa: S608
        f"WHERE held.{named} IS NOT NULL"
    )
    ((missing,),) = cursor.execute(asked).fetchall()
    if missing:
        raise duckdb.DataError(f"{missing} rows name a change that is not in the history")


def _hold_once_more(cursor: duckdb.DuckDBPyConnection) -> None:
    """Put every row into an empty copy in memory, which judges it by the rules of the tables."""
    ((held,),) = cursor.execute("SELECT current_database()").fetchall()
    cursor.execute(f"ATTACH ':memory:' AS {_COPY}")
    try:
        cursor.execute(f"COPY FROM DATABASE {quoted(held)} TO {_COPY}")
    finally:
        cursor.execute(f"DETACH {_COPY}")


def _block_words(damaged: Sequence[int], blocks: int) -> str:
    if len(damaged) == 1:
        return f"block {damaged[0]} of its {blocks} differs from what was written"
    places = ", ".join(map(str, damaged[:10])) + (" and more" if len(damaged) > 10 else "")
    return f"{len(damaged)} of its {blocks} blocks differ from what was written: {places}"
