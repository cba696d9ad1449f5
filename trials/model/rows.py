"""Rows that are right, on their way from records to the store, and what the store holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from trials.model.trial import EventKind

if TYPE_CHECKING:
    import pandas as pd


class Sheet(StrEnum):
    """The kinds of file a season's records come in, in the order in which they must be stored."""

    SITES = "sites"
    SEASONS = "seasons"
    VARIETIES = "varieties"
    CROPS = "crops"
    CURRENCIES = "currencies"
    PRICES = "prices"
    COSTS = "costs"
    SEED_HOUSES = "seed_houses"
    SEED_ITEMS = "seed_items"
    SEED_LOTS = "seed_lots"
    SEED_STOCK = "seed_stock"
    GERMINATION_TESTS = "germination_tests"
    TRIALS = "trials"
    PLOTS = "plots"
    STAND_COUNTS = "stand_counts"
    CUTS = "cuts"
    STEM_SAMPLES = "stem_samples"
    EVENTS = "events"
    SCORES = "scores"


@dataclass(frozen=True, slots=True)
class Source:
    """A file that was read: its name, the SHA-256 of its bytes, and what it turned out to hold."""

    file: str
    sha256: str
    sheet: Sheet
    rows: int


@dataclass(frozen=True, slots=True)
class AgreedReading:
    """How somebody's own sheets were read: what their headings are known by, and the reading."""

    signature: str
    text: str


@dataclass(frozen=True, slots=True)
class Accepted:
    """A record beyond what is likely, which somebody answers for: its place, why, and the yes."""

    sheet: Sheet
    file: str
    row: int | None
    column: str | None
    doubt: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Judged rows by sheet, ready to be stored in one transaction.

    Each frame has the columns of its sheet with their final types (text, whole numbers, floats,
    ``datetime.date``); an empty cell is None (NA in number columns). Frames come in ``Sheet``
    order and hold only rows that are not stored yet. ``already_held`` counts the rows that were
    found in the store word for word and therefore left out. ``readings`` are those by which sheets
    of somebody's own were read; ``accepted`` are unlikely records that were taken with a reason.
    ``seen`` is the newest entry of the history that the rows were judged against; None: not said.
    The columns of cuts may be categories, as rows are many and few cells differ.
    """

    frames: Mapping[Sheet, pd.DataFrame]
    sources: tuple[Source, ...]
    already_held: Mapping[Sheet, int]
    readings: tuple[AgreedReading, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    seen: int | None = None

    @property
    def as_added(self) -> Added:
        """What storing this batch would add."""
        return Added(
            tuple((sheet, len(frame)) for sheet, frame in self.frames.items()),
            tuple(self.already_held.items()),
            self.sprays_without_hours,
        )

    @property
    def sprays_without_hours(self) -> int:
        """How many of the sprays have no re-entry time."""
        if (events := self.frames.get(Sheet.EVENTS)) is None:
            return 0
        sprayed = events["kind"] == EventKind.SPRAYED.value
        return int((sprayed & events["re_entry_hours"].isna()).sum())


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What the store already holds, as far as judging new rows needs it.

    One frame a sheet, in the columns of that sheet; a sheet with no rows has an empty frame with
    its columns. ``closed_trials`` take no more records. ``last_entry`` is the number of the newest
    entry of the history: what is judged against these frames has seen the records up to it.
    ``readings`` (TOML) were agreed on before, by what the headings of their sheets are known by.
    """

    frames: Mapping[Sheet, pd.DataFrame]
    closed_trials: frozenset[str]
    last_entry: int = 0
    readings: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Signed:
    """Who changes the records and why, as the history keeps it.

    ``who`` is None where nobody can be named. ``token`` marks one submission: sent again after a
    lost connection, it is recorded once. ``tallied_at`` is when it was tallied at the plot (UTC),
    where it comes later than that.
    """

    who: str | None
    why: str | None = None
    token: str | None = None
    tallied_at: datetime | None = None


NOBODY = Signed(None)


@dataclass(frozen=True, slots=True)
class Added:
    """What a load did: rows added and rows that were there already, by sheet.

    ``sprays_without_hours`` are those of the added sprays that have no re-entry time.
    """

    added: tuple[tuple[Sheet, int], ...]
    already_held: tuple[tuple[Sheet, int], ...]
    sprays_without_hours: int = 0

    @property
    def nothing_new(self) -> bool:
        return not any(count for _, count in self.added)
