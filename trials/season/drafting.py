"""What is typed and not recorded yet: kept as it is typed, found again on any device."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.store import DraftPlace, KeptDraft, Store, Typed

# Keeping a draft waits no longer for its turn: what was typed stays with whoever keeps it, and is
# offered again.
DRAFT_WAITS_S = 1.0


def drafts_of(store: Path, person: str | None) -> tuple[KeptDraft, ...]:
    """What somebody, or anybody (None), has typed and not recorded, the oldest first.

    Raises
    ------
    StoreBusy
        Another program holds the store; it is not waited for long.
    """
    return Store.open(store, wait_s=DRAFT_WAITS_S).desk.of(person)


def keep_drafts(store: Path, typed: Sequence[Typed]) -> None:
    """Keep fields as they were typed, in one short transaction.

    Raises
    ------
    StoreBusy
        Another program holds the store; nothing was kept, and it may be tried again.
    """
    Store.open(store, wait_s=DRAFT_WAITS_S).desk.keep(typed)


def discard_draft(store: Path, place: DraftPlace) -> None:
    """Throw a draft away."""
    Store.open(store).desk.discard(place)
