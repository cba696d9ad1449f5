"""When a copy of a store is made: on being asked, before it is brought forward, after a closing."""

from __future__ import annotations

import logging
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import TallybedError
from trials.store import migrate
from trials.store.copies import backup
from trials.store.copies.backup import Backup, CopiedOut, Reason
from trials.store.file.connection import transaction
from trials.store.file.private import close_store_to_others
from trials.store.file.turns import Turns, require_writable

if TYPE_CHECKING:
    import duckdb

    from trials.model.trial import Closing

_NOTES = logging.getLogger(__name__)
_COPYING = """
import pathlib, shutil, sys
file = pathlib.Path(sys.argv[1])
shutil.copyfile(file, pathlib.Path(sys.argv[2], file.name))
"""


def make(turns: Turns, into: Path | None, reason: Reason = Reason.ASKED) -> Backup:
    """A verified copy in a new folder, by default within one beside the store."""
    with turns.reading() as cursor:
        copied = _copy_out(cursor, turns.path, into, reason)
    return backup.finish(copied)


def keep_after_closing(turns: Turns, closed: Closing) -> Closing:
    """A copy without being asked; what was done before stands even if none can be made.

    The closing says where it is, and which older ones made way for it.
    """
    try:
        kept = make(turns, None, Reason.CLOSING)
    except TallybedError as refusal:
        _NOTES.warning("The trial is closed, but the store was not backed up. %s", refusal)
        return closed
    return replace(closed, kept_copy=str(kept.folder), removed_copies=tuple(map(str, kept.removed)))


def bring_forward(turns: Turns) -> None:
    """Copy a store of an older program and take the steps it lacks; a current one is left alone.

    A file is looked into once: every unit of work asks again whether it is at the last step.
    """
    hold = turns.hold
    close_store_to_others(hold.path, backup.folder_beside(hold.path))
    if hold.is_known():
        return
    with hold.looking(turns.wait_s) as cursor:
        lacks = migrate.pending(cursor, migrate.all_migrations(), hold.path)
    if not lacks:
        hold.know()
        return
    require_writable(hold.path)
    with turns.alone() as cursor:
        # Asked again: another process may have been quicker.
        steps = migrate.pending(cursor, migrate.all_migrations(), hold.path)
        if not steps:
            return
        with transaction(cursor):
            copied = _copy_out(cursor, hold.path, None, Reason.UPGRADE)
        kept = backup.finish(copied)
        migrate.bring_forward(cursor, steps)
        _NOTES.info("This store was updated. Its backup: %s", kept.folder)
        for removed in kept.removed:
            _NOTES.info("Ten automatic backups are kept. The oldest was removed: %s", removed)


@contextmanager
def copied_apart(turns: Turns) -> Iterator[Path]:
    """The store's file and its journal, copied to a private folder that goes afterwards."""
    with tempfile.TemporaryDirectory(prefix="tallybed-") as folder:
        with turns.hold.looking(turns.wait_s):
            # A process of its own: if this one closed the file, it would lose its lock on it.
            for file in (turns.path, turns.path.with_name(f"{turns.path.name}.wal")):
                if file.exists():
                    words = [sys.executable, "-c", _COPYING, str(file), folder]
                    subprocess.run(words, check=True)  # noqa: S603 (no word is anybody's)
        yield Path(folder) / turns.path.name


def _copy_out(
    cursor: duckdb.DuckDBPyConnection, path: Path, into: Path | None, reason: Reason
) -> CopiedOut:
    place = into or backup.folder_beside(path)
    return backup.copy_out(cursor, path, place, reason, datetime.now().astimezone())
