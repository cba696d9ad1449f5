"""What is being typed at the beds: at hand here, and written to the store a moment later."""

from __future__ import annotations

import atexit
import logging
import secrets
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from trials import TallybedError
from trials.season import DraftPlace, KeptDraft, Typed

KEPT_AT_MOST = 2_000
# Several fields typed in a breath go into one transaction; a kill in between loses no more.
WRITTEN_AFTER_S = 0.25
TRIED_AGAIN_AFTER_S = 2.0
HAPPENED = "happened"  # the words of a note or a loss, which are recorded by themselves

_NOTES = logging.getLogger(__name__)


@dataclass(slots=True)
class Draft:
    """The fields of one plot and day as typed, and the mark under which they will be recorded.

    ``unwritten`` are the fields that the store does not have yet; ``written_at`` is when it last
    took some (of a clock that only goes forward).
    """

    token: str = field(default_factory=lambda: secrets.token_hex(16))
    typed: dict[str, str] = field(default_factory=dict)
    typed_at: datetime | None = None
    unwritten: set[str] = field(default_factory=set)
    written_at: float | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed."""
        return not any(text.strip() for text in self.typed.values())

    @property
    def has_counts(self) -> bool:
        """Whether anything was typed beside the words of a note."""
        return any(text.strip() for key, text in self.typed.items() if key != HAPPENED)


class Drafts:
    """The drafts of everybody at one store; shared by threads.

    Parameters
    ----------
    keep
        Takes what was typed into the store, or refuses where that is held by another program:
        then it stays here and is offered again. None keeps nothing beyond this process.
    """

    def __init__(self, keep: Callable[[Sequence[Typed]], None] | None = None) -> None:
        self._keep = keep
        self._lock = threading.Lock()
        self._writing = threading.Lock()
        self._kept: dict[DraftPlace, Draft] = {}
        self._writer: threading.Thread | None = None
        if keep is not None:
            atexit.register(self.write)

    def at(self, place: DraftPlace) -> Draft:
        """The draft of a place; a new one if there is none."""
        with self._lock:
            return self._at(place)

    def _at(self, place: DraftPlace) -> Draft:
        if place not in self._kept:
            # Those that are written are found again; one that is not must not be lost.
            written = (each for each, draft in self._kept.items() if not draft.unwritten)
            while len(self._kept) >= KEPT_AT_MOST and (oldest := next(written, None)) is not None:
                del self._kept[oldest]
                written = (each for each, draft in self._kept.items() if not draft.unwritten)
            self._kept[place] = Draft()
        return self._kept[place]

    def type_in(self, place: DraftPlace, key: str, text: str) -> None:
        """Keep what was typed into a field; it is written a moment later."""
        with self._lock:
            draft = self._at(place)
            if draft.written_at is None:  # the store has none of it: what was filled in goes along
                draft.unwritten |= draft.typed.keys()
            draft.typed[key] = text
            draft.typed_at = datetime.now(UTC).replace(tzinfo=None)
            draft.unwritten.add(key)
            if self._keep is not None and self._writer is None:
                self._writer = threading.Thread(target=self._write_until_done, daemon=True)
                self._writer.start()

    def begun(self, person: str) -> frozenset[DraftPlace]:
        """The places for which somebody has typed something that is not recorded."""
        with self._lock:
            return frozenset(
                place
                for place, draft in self._kept.items()
                if place.person == person and not draft.is_empty
            )

    def done(self, place: DraftPlace) -> None:
        """The draft was recorded, or thrown away."""
        with self._lock:
            self._kept.pop(place, None)

    def throw_away(self, place: DraftPlace, drop: Callable[[], None]) -> None:
        """Let a draft go, here and by ``drop`` in the store; no writing brings it back."""
        with self._writing:
            drop()
            self.done(place)

    def found(self, person: str, kept: Sequence[KeptDraft], asked_at: float) -> None:
        """Take over what the store had of somebody when it was asked.

        What another device or process typed later takes the place of what is here; what it
        recorded or threw away is gone here too; what was typed here and is not written yet stays.
        """
        with self._lock:
            for each in kept:
                self._take_over(each, asked_at)
            there = {each.place for each in kept}
            gone = [
                place
                for place, draft in self._kept.items()
                if place.person == person
                and place not in there
                and not draft.unwritten
                and draft.written_at is not None
                and draft.written_at < asked_at
            ]
            for place in gone:
                del self._kept[place]

    def _take_over(self, kept: KeptDraft, asked_at: float) -> None:
        draft = self._at(kept.place)
        if draft.written_at is not None and draft.written_at >= asked_at:
            return
        own = {key: draft.typed[key] for key in draft.unwritten}
        if draft.typed_at is None or not own:
            draft.typed_at = kept.typed_at
        draft.token = kept.token
        draft.typed = {**kept.fields, **own}
        draft.written_at = asked_at

    def write(self) -> bool:
        """Write all that is not written; whether the store took it."""
        if self._keep is None:
            return False
        with self._writing:
            with self._lock:
                typed = [
                    Typed(
                        place,
                        draft.token,
                        {key: draft.typed[key] for key in sorted(draft.unwritten)},
                        draft.typed_at or datetime.now(UTC).replace(tzinfo=None),
                    )
                    for place, draft in self._kept.items()
                    if draft.unwritten
                ]
            if not typed:
                return True
            try:
                self._keep(typed)
            except TallybedError as refusal:
                _NOTES.info("What was typed is kept in memory for now. %s", refusal)
                return False
            with self._lock:
                for each in typed:
                    self._note_written(each)
            return True

    def _note_written(self, typed: Typed) -> None:
        draft = self._kept.get(typed.place)
        if draft is None or draft.token != typed.token:
            return
        draft.written_at = time.monotonic()
        for key, text in typed.fields.items():
            if draft.typed.get(key) == text:
                draft.unwritten.discard(key)

    def _write_until_done(self) -> None:
        while True:
            time.sleep(WRITTEN_AFTER_S)
            if not self.write():
                time.sleep(TRIED_AGAIN_AFTER_S)
            with self._lock:
                if not any(draft.unwritten for draft in self._kept.values()):
                    self._writer = None
                    return
