"""When a copy of a store is made: on being asked, before it is brought forward, after a closing."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import TallybedError
from trials.store import backup, migrate
from trials.store.backup import Backup, CopiedOut, Reason
from trials.store.connection import transaction

if TYPE_CHECKING:
    import duckdb

    from trials.model import Closing
    from trials.store.turns import Turns

_NOTES = logging.getLogger(__name__)


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
        _NOTES.warning("The trial is closed, but no copy of the store was kept. %s", refusal)
        return closed
    return replace(closed, kept_copy=str(kept.folder), removed_copies=tuple(map(str, kept.removed)))


def bring_forward(turns: Turns) -> None:
    """Copy a store of an older program and take the steps it lacks; a current one is left alone."""
    hold = turns.hold
    with hold.looking(turns.wait_s) as cursor:
        if not migrate.pending(cursor, migrate.all_migrations(), hold.path):
            return
    with turns.alone() as cursor:
        # Asked again: another process may have been quicker.
        steps = migrate.pending(cursor, migrate.all_migrations(), hold.path)
        if not steps:
            return
        with transaction(cursor):
            copied = _copy_out(cursor, hold.path, None, Reason.UPGRADE)
        kept = backup.finish(copied)
        migrate.bring_forward(cursor, steps)
        _NOTES.info("This store was brought up to date; as it was: %s", kept.folder)
        for removed in kept.removed:
            _NOTES.info("Ten copies made unasked are kept; the oldest is gone: %s", removed)


def _copy_out(
    cursor: duckdb.DuckDBPyConnection, path: Path, into: Path | None, reason: Reason
) -> CopiedOut:
    place = into or backup.folder_beside(path)
    return backup.copy_out(cursor, path, place, reason, datetime.now().astimezone())
