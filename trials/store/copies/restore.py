"""Makes a store of a backup, proves it equal, and only then puts it in its place.

The tables are made by this program's own steps up to the one the backup stood at, filled from the
backup's files, read back and held against the digests in its list. A store that is at the place
already is kept beside it under another name, with what belongs to it. Photos are added to those
beside the store: their names are their digests, so none takes the place of another.
"""

from __future__ import annotations

import glob
import json
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused, NotAStore, StoreDamaged, StoreTooNew
from trials.store import migrate
from trials.store.copies import digests
from trials.store.copies.backup import (
    KIND,
    LIST,
    PHOTOS,
    Backup,
    Reason,
    Step,
    read_back,
    require_equal,
    require_photos,
    table_file,
)
from trials.store.copies.digests import TableDigest
from trials.store.file.connection import (
    WAIT_S,
    create_file,
    hold_of,
    open_file,
    quoted,
    require_text,
    transaction,
)
from trials.store.file.photo_files import copy_photos, photo_folder
from trials.store.file.places import flush, move_to_free_place, swap
from trials.store.file.private import close_to_others, make_folder, working_folder
from trials.store.file.refusals import first_line

if TYPE_CHECKING:
    import duckdb

_TABLE_NAME = re.compile(r"[a-z][a-z0-9_]*")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_FORMAT = 1


@dataclass(frozen=True, slots=True)
class Restored:
    """A store that was put back: from what, to where, and where the one before it is kept."""

    backup: Backup
    store: Path
    kept_aside: Path | None


def read_list(folder: Path) -> Backup:
    """What a backup says it holds.

    Raises
    ------
    FileRefused
        The folder is not a finished backup of a store.
    StoreTooNew
        A newer program made it.
    """
    try:
        document = json.loads((folder / LIST).read_text(encoding="utf-8"))
    except OSError as problem:
        raise FileRefused(
            f"{folder} is not a backup: its {LIST} cannot be read ({problem.strerror}). "
            f"{_where_to_look(folder)}"
        ) from problem
    except ValueError as problem:
        raise _not_a_list(folder) from problem
    try:
        if document["kind"] != KIND:
            raise _not_a_list(folder)
        if document["format"] > _FORMAT:
            raise StoreTooNew(
                f"{folder} was made by a newer version of this program. Update the program."
            )
        return _backup(folder, document)
    except (KeyError, TypeError, ValueError) as problem:
        raise _not_a_list(folder) from problem


def _where_to_look(folder: Path) -> str:
    """Which folder was meant: perhaps one within."""
    within = sorted(found.parent for found in folder.glob(f"*/{LIST}"))
    if within:
        newest = max(within, key=lambda each: (each / LIST).stat().st_mtime)
        return f"It contains backups; the newest is {newest}."
    return "Name the folder of one backup."


def put_back(folder: Path, to: Path, now: datetime, wait_s: float = WAIT_S) -> Restored:
    """Put a backup back as the store ``to``.

    Raises
    ------
    FileRefused
        It is no whole backup, or the place cannot be written to.
    StoreTooNew, StoreDamaged
        A newer program made it, or its steps are not this program's.
    StoreBusy
        Another program is using the store at that place.
    """
    require_text(folder)
    backup = read_list(folder)
    steps = _steps(backup)
    to = to.expanduser().absolute()
    to = to.resolve() if to.exists() else to
    try:
        make_folder(to.parent)
        with working_folder(".restore-", to.parent) as work:
            fresh = work / to.name
            _build(backup, steps, fresh)
            copy_photos(backup.folder / PHOTOS, photo_folder(to), backup.photos)
            aside = _put_in_place(fresh, to, now, wait_s)
    except OSError as problem:
        raise _not_put_back(to, problem.strerror or str(problem)) from problem
    return Restored(backup, to, aside)


def _not_put_back(to: Path, why: str) -> FileRefused:
    return FileRefused(
        f"Nothing can be restored at {to}: {why}. What was there is unchanged. Check that the "
        "disk is there, has room and can be written to."
    )


def _backup(folder: Path, document: Any) -> Backup:
    tables = tuple(
        TableDigest(str(each["table"]), int(each["rows"]), str(each["sha256"]))
        for each in document["tables"]
    )
    for each in tables:  # a name from a file leads nowhere but into the folder
        if not _TABLE_NAME.fullmatch(each.table):
            raise ValueError(each.table)
    photos = tuple(map(str, document.get("photos", ())))  # none in a copy of an older program
    missing = tuple(map(str, document.get("photos_missing", ())))
    for sha256 in (*photos, *missing):
        if not _DIGEST.fullmatch(sha256):
            raise ValueError(sha256)
    return Backup(
        folder,
        str(document["store"]),
        str(document["made_at"]),
        Reason(document["reason"]),
        tuple(
            Step(int(step["number"]), str(step["name"]), str(step["sha256"]))
            for step in document["steps"]
        ),
        tables,
        photos,
        missing,
    )


def _not_a_list(folder: Path) -> FileRefused:
    return FileRefused(f"{folder / LIST} does not list a backup. Name the folder of one backup.")


def _steps(backup: Backup) -> tuple[migrate.Migration, ...]:
    """This program's steps up to the backup's."""
    known = migrate.all_migrations()
    if len(backup.steps) > len(known):
        raise StoreTooNew(
            f"{backup.folder} was made by a newer version of this program (it is at step "
            f"{len(backup.steps)}, this program has {len(known)}). Update the program."
        )
    for ours, theirs in zip(known, backup.steps, strict=False):
        if (ours.number, ours.name, ours.sha256) != (theirs.number, theirs.name, theirs.sha256):
            raise StoreDamaged(
                f"{backup.folder} does not fit this program: its step {theirs.number} "
                f"({theirs.name}) is not this program's. Use the program that made it."
            )
    return known[: len(backup.steps)]


def require_whole(backup: Backup) -> None:
    """Refuse a backup that does not hold what its list says, every row of it read.

    Raises
    ------
    FileRefused
        A file is missing or broken, or holds something else.
    """
    import duckdb

    missing = [
        each.table for each in backup.tables if not table_file(backup.folder, each.table).is_file()
    ]
    if missing:
        raise FileRefused(
            f"{backup.folder} is damaged: there is no file of {', '.join(missing)}. Use "
            "another backup."
        )
    try:
        require_equal(read_back(backup.folder, backup.tables), backup.tables, backup.folder)
    except duckdb.Error as problem:
        raise FileRefused(
            f"{backup.folder} is damaged: {first_line(problem)}. Use another backup."
        ) from problem
    require_photos(backup.folder, backup.photos)


def _build(backup: Backup, steps: tuple[migrate.Migration, ...], fresh: Path) -> None:
    """A file at ``fresh`` with what the backup holds, read again and found equal."""
    import duckdb

    require_whole(backup)
    try:
        connection = create_file(fresh)
        try:
            _fill(connection, backup, steps)
        finally:
            with suppress(duckdb.Error):  # the failure was met before
                connection.close()
    except duckdb.Error as problem:  # a full disk: what is put back was found equal just now
        raise _not_put_back(fresh.parent.parent, first_line(problem)) from problem
    reader = open_file(fresh)
    try:
        require_equal(
            sorted(digests.of_tables(reader), key=_by_name),
            sorted(backup.tables, key=_by_name),
            fresh.parent.parent,
        )
    finally:
        reader.close()


def _by_name(table: TableDigest) -> str:
    return table.table


def _fill(
    connection: duckdb.DuckDBPyConnection, backup: Backup, steps: tuple[migrate.Migration, ...]
) -> None:
    for step in steps:
        with transaction(connection):
            connection.execute(step.sql)
    tables = digests.tables(connection)
    for table in reversed(tables):  # what a step may have put in comes from the backup
        connection.execute(f"DELETE FROM {quoted(table)}")  # noqa: S608
    listed = {each.table for each in backup.tables}
    with transaction(connection):
        for table in tables:
            if table in listed:
                held = connection.read_parquet(str(table_file(backup.folder, table)))
                held.insert_into(table)
    connection.execute("CHECKPOINT")  # closing would keep a failure to itself


def _put_in_place(fresh: Path, to: Path, now: datetime, wait_s: float) -> Path | None:
    """Swap the file in; answers where what was at the place before is kept."""
    import duckdb

    flush(fresh)
    aside = _aside(to, now)
    if not to.exists():
        _move_journals(to, aside)
        move_to_free_place(fresh, to)
        return None
    try:
        # While it is held nobody else can write to it; those who wait will find the new file.
        with hold_of(to).alone(wait_s) as connection:
            connection.execute("FORCE CHECKPOINT")
            swap(fresh, to, aside)
    except (StoreDamaged, NotAStore, StoreTooNew, duckdb.Error):
        if fresh.exists():
            _move_journals(to, aside)
            swap(fresh, to, aside)
    close_to_others(aside)
    flush(to.parent)
    return aside


def _aside(to: Path, now: datetime) -> Path:
    name = f"{to.stem}-before-restore-{now:%Y%m%d-%H%M%S}"
    places = (to.with_name(f"{name}{more}{to.suffix}") for more in _counted())
    return next(place for place in places if not place.exists())


def _counted() -> Iterator[str]:
    yield ""
    yield from (f"-{number}" for number in count(2))


def _move_journals(to: Path, aside: Path) -> None:
    """Move what the database keeps beside a file: it must not be taken for the new file's."""
    for journal in to.parent.glob(f"{glob.escape(to.name)}.wal*"):
        journal.rename(aside.with_name(aside.name + journal.name.removeprefix(to.name)))
