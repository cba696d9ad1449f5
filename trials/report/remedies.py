"""What to do about a refusal, in the words of the pages: where it is done, and by whom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trials.errors import Remedy, TallybedError, Verb
from trials.model.trial import Role

READERS = frozenset({Role.GROWER, Role.ADVISER})
WRITERS = frozenset({Role.GROWER})


@dataclass(frozen=True, slots=True)
class Place:
    """The page on which something is done, and who sees it; ``page`` None = only at a terminal."""

    page: str | None
    roles: frozenset[Role]


PLACES: Mapping[Verb, Place] = {
    Verb.LOAD: Place("Home", WRITERS),
    Verb.CORRECT: Place("History", WRITERS),
    Verb.UNDO: Place("History", WRITERS),
    Verb.HISTORY: Place("History", READERS),
    Verb.CLOSE: Place("Home", WRITERS),
    Verb.PLANTED: Place("Plan", WRITERS),
    Verb.PLAN: Place("Plan", WRITERS),
    Verb.ORDER: Place("Order", READERS),
    Verb.BACKUP: Place(None, WRITERS),
    Verb.PHOTO: Place("Varieties", WRITERS),
    Verb.RESTORE: Place(None, WRITERS),
    Verb.INVITE: Place("People", WRITERS),
}


def remedy_words(remedy: str | Remedy, role: Role | None = None) -> str:
    """What to do, for a reader of the pages; a command is shown to a grower alone.

    ``role`` None is a terminal, where every verb can be typed.
    """
    if isinstance(remedy, str) or role is None:
        return str(remedy)
    place = PLACES[remedy.verb]
    if role not in place.roles:
        return f"{remedy.do}: ask the grower."
    if place.page is None:
        return f"{remedy}, on the farm's machine."
    return f"{remedy.do} on the page {place.page}."


def page_words(refusal: TallybedError, role: Role) -> str:
    """A refusal as a page says it: what is wrong, and what its reader can do about it."""
    if refusal.remedy is None:
        return str(refusal)
    return f"{refusal.text} {remedy_words(refusal.remedy, role)}"
