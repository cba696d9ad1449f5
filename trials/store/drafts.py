"""What is typed at the beds and not recorded yet: kept by person, plot and day, until it is."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from trials.model.rows import Signed
from trials.store.history.changes import entry_of
from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

    Unit = Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]]


class Purpose(StrEnum):
    """What is to become of a draft."""

    TALLY = "tally"
    CORRECTION = "correction"


@dataclass(frozen=True, slots=True)
class DraftPlace:
    """Whose draft it is, what for, and of which plot and day."""

    person: str
    plot: str
    day: date
    purpose: Purpose = Purpose.TALLY


@dataclass(frozen=True, slots=True)
class Typed:
    """Fields of a draft that were typed since it was last kept, at ``typed_at`` (UTC).

    ``token`` is the mark under which the draft will be recorded. An empty text empties its field.
    """

    place: DraftPlace
    token: str
    fields: Mapping[str, str]
    typed_at: datetime


@dataclass(frozen=True, slots=True)
class KeptDraft:
    """A draft as it is kept.

    ``trial`` is None where no such plot is held any more; ``closed_on`` is the end of its trial.
    """

    place: DraftPlace
    token: str
    fields: Mapping[str, str]
    typed_at: datetime
    trial: str | None
    closed_on: date | None


@dataclass(frozen=True, slots=True)
class Desk:
    """The drafts of a store; each call is one short unit of work. Get it from ``Store.desk``."""

    reading: Unit
    writing: Unit

    def of(self, person: str | None) -> tuple[KeptDraft, ...]:
        """What somebody, or anybody (None), has typed and not recorded, the oldest first."""
        with self.reading() as cursor:
            return tuple(
                KeptDraft(
                    DraftPlace(by, plot, day, Purpose(purpose)),
                    token,
                    json.loads(typed),
                    typed_at,
                    trial,
                    closed_on,
                )
                for by, purpose, plot, day, token, typed, typed_at, trial, closed_on in rows(
                    cursor, "drafts_of", person=person
                )
            )

    def keep(self, typed: Sequence[Typed]) -> None:
        """Keep what was typed, field by field: what another device typed meanwhile stays.

        What belongs to a draft that was recorded meanwhile is let go, and a draft of which every
        field was emptied as well.
        """
        with self.writing() as cursor:
            for each in typed:
                _keep(cursor, each)

    def discard(self, place: DraftPlace) -> None:
        """Throw a draft away."""
        with self.writing() as cursor:
            cursor.execute(question("drop_draft"), asdict(place))


def _keep(cursor: duckdb.DuckDBPyConnection, typed: Typed) -> None:
    if entry_of(cursor, Signed(None, token=typed.token)) is not None:
        return
    place, token, fields = asdict(typed.place), typed.token, {**typed.fields}
    for kept_token, kept in rows(cursor, "draft", **place):
        token, fields = kept_token, {**json.loads(kept), **fields}
    fields = {field: text for field, text in fields.items() if text.strip()}
    if not fields:
        cursor.execute(question("drop_draft"), place)
        return
    text = json.dumps(fields, ensure_ascii=False, sort_keys=True)
    kept = {**place, "token": token, "typed": text, "typed_at": typed.typed_at}
    cursor.execute(question("keep_draft"), kept)
