"""A verified copy of a store: a folder that can be read without this program.

It holds one Parquet file a table, the statements that make the tables and say what they mean, a
list of all of it with digests, and a page for whoever finds it. The tables are written in one
transaction, so they are of one moment; then the file of the store is free again, and what was
written is read back and held against what was read. Until that is done the folder has a name that
says it is not finished; it never takes a name that is in use.
"""

from __future__ import annotations

import errno
import glob
import json
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from enum import StrEnum
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused, Remedy, Verb
from trials.store.copies import digests
from trials.store.copies.digests import TableDigest
from trials.store.copies.disk_space import require_room
from trials.store.file.connection import require_text
from trials.store.file.engine import SETTINGS
from trials.store.file.photo_files import (
    copy_photos,
    photo_bytes,
    photo_file,
    photo_folder,
    photo_problem,
)
from trials.store.file.places import flush
from trials.store.file.private import at_work, clear_left, make_folder, private_files
from trials.store.file.refusals import first_line, means_damage
from trials.store.migrate import tables_of
from trials.store.photos import ever_stored
from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

KIND = "tallybed backup"
LIST = "backup.json"
TABLES = "tables"
SCHEMA = "schema.sql"
PAGE = "README.txt"
PHOTOS = "photos"
AUTOMATIC_KEPT = 10
_UNFINISHED = ".unfinished"
_UNFINISHED_FOR_S = 86_400.0


class Reason(StrEnum):
    """Why a copy was made; the automatic ones are limited in number."""

    ASKED = "asked for"
    CLOSING = "closing"
    UPGRADE = "upgrade"


_SUFFIX = {Reason.ASKED: "", Reason.CLOSING: "-closing", Reason.UPGRADE: "-upgrade"}


@dataclass(frozen=True, slots=True)
class Step:
    """A step the store had taken, by its number, name and digest."""

    number: int
    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Backup:
    """A finished copy: where it is, what of, when, why, and what it holds.

    ``photos`` are the digests of the photos in it; ``photos_missing`` of those whose files the
    store itself no longer had as they were.
    """

    folder: Path
    store: str
    made_at: str  # local time, ISO 8601 with its distance from UTC
    reason: Reason
    steps: tuple[Step, ...]
    tables: tuple[TableDigest, ...]
    photos: tuple[str, ...] = ()
    photos_missing: tuple[str, ...] = ()
    removed: tuple[Path, ...] = ()  # older copies that were made unasked and made way for it

    @property
    def rows(self) -> int:
        """Rows of all tables together."""
        return sum(table.rows for table in self.tables)


@dataclass(frozen=True, slots=True)
class CopiedOut:
    """Tables that were written but not yet read back."""

    unfinished: Path
    backup: Backup  # ``folder`` is where it will be unless that is taken meanwhile
    photos_from: Path  # the folder of the store's photos: they are copied while others go on
    work: ExitStack  # marks the folder as being worked on until it is closed


def folder_beside(store: Path) -> Path:
    """Where the copies of a store are kept unless another place is named."""
    return store.with_name(f"{store.stem}-backups")


def copy_out(
    cursor: duckdb.DuckDBPyConnection, store: Path, into: Path, reason: Reason, now: datetime
) -> CopiedOut:
    """Write every table into a new folder within ``into``; to be called within a transaction.

    Raises
    ------
    FileRefused
        The folder cannot be written to. The store is as it was, and nothing is left behind.
    """
    require_text(into)
    with refusing_to_copy(into):
        photos = ever_stored(cursor)
        taken = photo_bytes(photo_folder(store), photos)
        require_room(into, store, steps=reason is Reason.UPGRADE, photos=taken)
        make_folder(into)
        _clear_unfinished(into, store, now)
        folder = _free_place(into, store, reason, now)
        unfinished = into / f".{folder.name}-{os.getpid()}{_UNFINISHED}"
        with _gone_on_failure(unfinished), private_files():
            (unfinished / TABLES).mkdir(parents=True)
            work = ExitStack()
            work.enter_context(at_work(unfinished))
            held = digests.of_tables(cursor)
            for each in held:
                rows_held = cursor.sql(question("all_rows"), params={"table": each.table})
                rows_held.write_parquet(str(table_file(unfinished, each.table)))
            (unfinished / SCHEMA).write_text(tables_of(cursor), encoding="utf-8")
            steps = tuple(Step(*step) for step in rows(cursor, "applied_migrations"))
    made_at = now.isoformat(timespec="seconds")
    backup = Backup(folder, store.name, made_at, reason, steps, held, photos)
    return CopiedOut(unfinished, backup, photo_folder(store), work)


def finish(copied: CopiedOut) -> Backup:
    """Read back what was written, hold it against what was read, and give it its name.

    Raises
    ------
    FileRefused
        The disk gave back something else than was written, or nothing; no copy was kept.
    """
    backup, unfinished = copied.backup, copied.unfinished
    with refusing_to_copy(backup.folder.parent), _gone_on_failure(unfinished), private_files():
        require_equal(read_back(unfinished, backup.tables), backup.tables, backup.folder.parent)
        backup = _with_photos(copied)
        (unfinished / PAGE).write_text(_page(backup), encoding="utf-8")
        (unfinished / LIST).write_text(_list(backup), encoding="utf-8")
        copied.work.close()
        _settle(unfinished)
        folder = _move(unfinished, backup.folder)
        flush(folder.parent)
    removed: tuple[Path, ...] = ()
    if backup.reason is not Reason.ASKED:
        removed = _keep_newest(folder.parent, Path(backup.store).stem)
    return replace(backup, folder=folder, removed=removed)


def _with_photos(copied: CopiedOut) -> Backup:
    """Copy the photos too, each held against its digest; what is missing stays no copy's fault."""
    backup, place = copied.backup, copied.unfinished / PHOTOS
    beside = (folder / PHOTOS for folder in backup.folder.parent.glob("*") if folder.is_dir())
    missing = copy_photos(copied.photos_from, place, backup.photos, beside)
    kept = tuple(sha256 for sha256 in backup.photos if sha256 not in missing)
    require_photos(copied.unfinished, kept)
    return replace(backup, photos=kept, photos_missing=missing)


def require_photos(folder: Path, photos: Iterable[str]) -> None:
    """Refuse a copy in which the file of a photo is missing or is not as it was written."""
    for sha256 in photos:
        problem = photo_problem(folder / PHOTOS, sha256)
        if problem is not None:
            raise FileRefused(
                f"{folder} is damaged: {photo_file(folder / PHOTOS, sha256).name} {problem}. Use "
                "another backup."
            )


def table_file(folder: Path, table: str) -> Path:
    """Where a copy keeps the rows of a table."""
    return folder / TABLES / f"{table}.parquet"


def read_back(folder: Path, tables: Iterable[TableDigest]) -> tuple[TableDigest, ...]:
    """The digests of the tables as they are found in a copy's files."""
    import duckdb

    with duckdb.connect(config=SETTINGS) as reader:
        return tuple(
            digests.of_file(reader, each.table, table_file(folder, each.table)) for each in tables
        )


def require_equal(
    found: Iterable[TableDigest], expected: Iterable[TableDigest], where: Path
) -> None:
    """Refuse tables that do not hold what they should."""
    for one, other in zip(found, expected, strict=True):
        if one != other:
            raise FileRefused(
                f"{where}: table {other.table} was read back with {one.rows} rows and digest "
                f"{one.sha256[:12]}…, but {other.rows} rows with {other.sha256[:12]}… were "
                "written. The disk may be failing: use another."
            )


@contextmanager
def refusing_to_copy(into: Path) -> Iterator[None]:
    """Say of a full disk, a read-only folder or a drive that is gone what it is."""
    import duckdb

    try:
        yield
    except OSError as problem:
        raise _no_copy(into, problem.strerror or str(problem)) from problem
    except duckdb.IOException as problem:
        if means_damage(problem):  # of the store that is read, not of the copy
            raise
        raise _no_copy(into, first_line(problem)) from problem


def _no_copy(into: Path, why: str) -> FileRefused:
    return FileRefused(
        f"No backup can be made in {into}: {why}. The store is unchanged. Check that the disk "
        "is there, has room and can be written to.",
        Remedy("Or name another folder", Verb.BACKUP, "--to FOLDER"),
    )


@contextmanager
def _gone_on_failure(unfinished: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        shutil.rmtree(unfinished, ignore_errors=True)
        raise


def _free_place(into: Path, store: Path, reason: Reason, now: datetime) -> Path:
    name = f"{store.stem}-{now:%Y%m%d-%H%M%S}" + _SUFFIX[reason]
    return next(place for place in _places(into / name) if not place.exists())


def _places(first: Path) -> Iterator[Path]:
    yield first
    for number in count(2):
        yield first.with_name(f"{first.name}-{number}")


def _move(unfinished: Path, wanted: Path) -> Path:
    for place in _places(wanted):
        if place.exists():
            continue
        try:
            unfinished.rename(place)
        except OSError as problem:
            if problem.errno in {errno.ENOTEMPTY, errno.EEXIST}:  # somebody was quicker
                continue
            raise
        return place
    raise AssertionError("there is always another number")


def _list(backup: Backup) -> str:
    document = {
        "kind": KIND,
        "format": 1,
        "store": backup.store,
        "made_at": backup.made_at,
        "reason": backup.reason,
        "steps": [asdict(step) for step in backup.steps],
        "tables": [asdict(table) for table in backup.tables],
        "photos": list(backup.photos),
        "photos_missing": list(backup.photos_missing),
    }
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _page(backup: Backup) -> str:
    return (
        f"A copy of the records in {backup.store}, made on {backup.made_at} "
        f"({backup.reason}).\n\nRestore it with: tallybed restore FOLDER --to STORE\n\nIt can "
        f"be read without Tallybed. {TABLES}/ contains each table as a Parquet file, "
        f"and\n{SCHEMA} says what tables and columns mean. {LIST} lists the tables with the "
        "number\nof their rows and a SHA-256 digest: of the rows as JSON objects without "
        "spaces, one to a\nline, sorted by their bytes.\n"
        f"{PHOTOS}/ contains the photos, each under its SHA-256 digest.\n"
    )


def _settle(folder: Path) -> None:
    """See that all of it is on the disk, not only on its way there."""
    for path in (*folder.rglob("*"), folder):
        flush(path)


def _clear_unfinished(into: Path, store: Path, now: datetime) -> None:
    """Remove what copies that were cut off left behind; those of older programs after a day."""
    left = list(into.glob(f".{glob.escape(store.stem)}-*{_UNFINISHED}"))
    clear_left(left, now.timestamp())
    for folder in left:
        with suppress(FileNotFoundError):
            if now.timestamp() - folder.stat().st_mtime > _UNFINISHED_FOR_S:
                shutil.rmtree(folder, ignore_errors=True)


def _keep_newest(into: Path, stem: str) -> tuple[Path, ...]:
    """Remove the oldest automatic copies beyond the number that is kept, and name them."""
    kinds = "|".join(suffix for suffix in _SUFFIX.values() if suffix)
    automatic = re.compile(rf"{re.escape(stem)}-\d{{8}}-\d{{6}}({kinds})(-\d+)?")
    copies = sorted(
        folder
        for folder in into.iterdir()
        if automatic.fullmatch(folder.name) and (folder / LIST).is_file()
    )
    removed = []
    for old in copies[:-AUTOMATIC_KEPT]:
        # First out of the way: half a copy must never stand under the name of a whole one.
        going = old.with_name(f".{old.name}{_UNFINISHED}")
        with suppress(OSError):  # what is left is removed with the next copy
            old.rename(going)
            removed.append(old)
            shutil.rmtree(going)
    return tuple(removed)
