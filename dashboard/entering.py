"""What the forms ask of the season: storing what was typed into one, once for each token."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence

from dashboard.access.visitor import WRITERS, require
from dashboard.kept import store_path
from trials import season as front
from trials.model.rows import Added, Sheet, Signed

# A second tap runs beside the first: it waits, and its token finds what the first has done.
_one_at_a_time = threading.Lock()


def enter(
    tables: Mapping[Sheet, Sequence[Mapping[str, str]]], token: str, accept: str | None
) -> Added:
    """Store rows that were typed, all or none; ``accept`` says why unlikely ones are true."""
    who = require(WRITERS)
    with _one_at_a_time:
        return front.enter(store_path(), tables, Signed(who.name, token=token), accept)
