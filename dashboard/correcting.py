"""What the history's page asks of the season: correcting, withdrawing and undoing, once each."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable
from enum import StrEnum
from functools import partial
from pathlib import Path

from dashboard.access.visitor import WRITERS, require
from dashboard.kept import store_path
from trials import season as front
from trials.model.rows import Signed
from trials.model.trial import Entry

# A second tap runs beside the first, and the first is then stopped before it can say anything.
_one_at_a_time = threading.Lock()
_mended: dict[tuple[Path, str], Entry | None] = {}


class Mending(StrEnum):
    """What a sheet of the history's page is for."""

    CORRECT = "the right rows: they replace the stored ones"
    WITHDRAW = "rows that should never have been there: remove them"


def forget_done() -> None:
    """A store that was restored no longer has what was done since."""
    with _one_at_a_time:
        _mended.clear()


def take_back(entry: int, why: str, token: str) -> Entry:
    """Take an entry back, once for each token."""
    who = require(WRITERS)
    with _one_at_a_time:
        return front.undo(store_path(), entry, Signed(who.name, why.strip(), token))


def mend(
    how: Mending,
    write_files: Callable[[Path], list[Path]],
    why: str,
    token: str,
    seen: int,
    accept: str | None = None,
) -> Entry | None:
    """Correct or withdraw by uploaded sheets, once for each token; None: nothing differed.

    ``seen`` is the newest entry that the page had shown when it was asked for; ``accept`` says
    why the unlikely in a correction is true.
    """
    who = require(WRITERS)
    change = front.withdraw if how is Mending.WITHDRAW else partial(front.correct, accept=accept)
    signed = Signed(who.name, why.strip(), token)
    with _one_at_a_time:
        asked = (store_path(), token)
        if asked not in _mended:
            with tempfile.TemporaryDirectory() as folder:
                files = write_files(Path(folder))
                _mended[asked] = change(store_path(), files, signed, seen=seen)
        return _mended[asked]
