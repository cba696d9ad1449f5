"""The words of a trial: what a grower lays out, records and decides, as values.

None always means *not recorded*; 0 means *looked for and none found*. Units stand in the names.
Each type checks itself once, when it is made; nothing downstream checks again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum


class AppliedTo(StrEnum):
    """The piece of ground a treatment factor was given to as a whole."""

    PLOT = "plot"
    WHOLE_PLOT = "whole plot"
    SPLIT_PLOT = "split plot"
    STRIP = "strip"


class Better(StrEnum):
    """The direction in which a measure is welcome."""

    HIGHER = "higher"
    LOWER = "lower"


class Outcome(StrEnum):
    """What happened at a plot on a picking day: a zero and a missed pick are different facts."""

    PICKED = "picked"
    MISSED = "missed"


class EventKind(StrEnum):
    """What happened to a plot, or to the whole trial, beside the picking."""

    LOST = "lost"
    PINCHED = "pinched"
    NETTED = "netted"
    SPRAYED = "sprayed"
    FROST = "frost"
    NOTE = "note"
    PLANTED = "planted"
    PLANTS_SWAPPED = "plants swapped"
    LABELS_SWAPPED = "labels swapped"


class Role(StrEnum):
    """What somebody who signs in to the pages may do."""

    PICKER = "picker"
    GROWER = "grower"
    ADVISER = "adviser"


ROLE_WORDS = {
    Role.PICKER: "tallies at the bed and sees nothing else",
    Role.GROWER: "sees and does everything",
    Role.ADVISER: "reads everything and changes nothing",
}


class TrialStage(StrEnum):
    """Where a trial stands in its season."""

    LAID_OUT = "laid out"
    PLANTED = "planted"
    PICKING = "picking"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Margin:
    """A difference that does not matter to this grower, in the measure's unit or in per cent."""

    value: float
    percent: bool = False

    def __post_init__(self) -> None:
        if not self.value > 0:
            raise ValueError(f"a margin is a positive number, not {self.value!r}")

    def of(self, grand_mean: float) -> float:
        """The margin in the measure's own unit; per cent are of the grand mean."""
        return abs(grand_mean) * self.value / 100 if self.percent else self.value


@dataclass(frozen=True, slots=True)
class Factor:
    """Something varied on purpose, with its levels and the ground each level was given to."""

    name: str
    levels: tuple[str, ...]
    applied_to: AppliedTo = AppliedTo.PLOT


@dataclass(frozen=True, slots=True)
class Trial:
    """A question put to the beds in one season at one site."""

    code: str
    season: int
    site: str
    crop: str
    question: str
    factors: tuple[Factor, ...]
    check: str | None
    primary_measure: str
    alpha: float
    margin: Margin | None
    minimum_length_cm: float
    stage: TrialStage
    plots: int
    closed_on: date | None = None

    def __post_init__(self) -> None:
        if not 0 < self.alpha < 0.5:
            raise ValueError(f"alpha lies between 0 and 0.5, not {self.alpha!r}")

    def margin_in(self, measure: Measure) -> Margin | None:
        """The margin for a measure; one in a unit holds for the primary measure only."""
        if self.margin is None or self.margin.percent or measure.key == self.primary_measure:
            return self.margin
        return None


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure computed for each plot from its records."""

    key: str
    label: str
    unit: str
    better: Better
    decimals: int
    meaning: str


MEASURES: tuple[Measure, ...] = (
    Measure(
        "stems_per_plant",
        "stems per plant",
        "stems/plant",
        Better.HIGHER,
        1,
        "marketable stems of all cuts, divided by the plants living at the first cut",
    ),
    Measure(
        "stems_per_plant_set",
        "stems per plant set",
        "stems/plant set",
        Better.HIGHER,
        1,
        "marketable stems of all cuts, divided by the plants set out: losses count",
    ),
    Measure(
        "stems_per_metre",
        "stems per metre of bed",
        "stems/m",
        Better.HIGHER,
        1,
        "marketable stems of all cuts, divided by the plot's net length of bed",
    ),
    Measure(
        "stem_length_cm",
        "stem length",
        "cm",
        Better.HIGHER,
        1,
        "mean of the sampled stems, weighted by the stems graded each day, short ones too",
    ),
    Measure(
        "saleable_length_share",
        "share of saleable length",
        "share",
        Better.HIGHER,
        2,
        "marketable stems, as a share of all graded stems, short ones included",
    ),
    Measure(
        "marketable_share",
        "marketable share",
        "share",
        Better.HIGHER,
        2,
        "marketable stems, as a share of marketable, short and culled stems together",
    ),
    Measure(
        "days_to_first_cut",
        "days to first cut",
        "days",
        Better.LOWER,
        0,
        "days from transplanting to the first day a marketable stem was cut",
    ),
    Measure(
        "gross_per_metre",
        "gross per metre of bed",
        "money/m",
        Better.HIGHER,
        1,
        "marketable stems at the price of their grade, week and lowest-paying market, divided by "
        "the plot's net length of bed",
    ),
    Measure(
        "net_per_metre",
        "net per metre of bed",
        "money/m",
        Better.HIGHER,
        1,
        "gross per metre less bed, seed or plugs, raising, planting, pinching, netting and picking",
    ),
)


@dataclass(frozen=True, slots=True)
class Completeness:
    """What a trial's records hold and lack at its closing."""

    trial: str
    plots: int
    lost_plots: tuple[tuple[str, str], ...]  # (plot, reason)
    plots_never_picked: tuple[str, ...]
    missed_picks: tuple[tuple[str, int], ...]  # (plot, how many picking days were missed)
    plots_without_stand: tuple[str, ...]
    plots_without_samples: tuple[str, ...]
    picking_days: int
    first_cut: date | None
    last_cut: date | None
    # (plot, picking days between its first and last row on which it has none: neither 0 nor missed)
    unrecorded_picks: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Closing:
    """The end of a trial's season."""

    trial: str
    closed_on: date
    reason: str
    completeness: Completeness
    # Said once, as the trial is closed: a copy of the store, and older ones that made way for it.
    kept_copy: str | None = field(default=None, compare=False)
    removed_copies: tuple[str, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class RecordsDigest:
    """What a trial's figures rest on: the digest (SHA-256) of its records.

    ``closed_on`` is None while the trial is open, ``at_closing`` also where it was closed before
    digests were kept.
    """

    trial: str
    digest: str
    closed_on: date | None
    at_closing: str | None

    @property
    def changed_after_closing(self) -> bool | None:
        """Whether the records are other than those it was closed with; None = cannot be told."""
        return None if self.at_closing is None else self.digest != self.at_closing


Cell = str | int | float | bool | None


@dataclass(frozen=True, slots=True)
class Change:
    """One row that an entry brought, superseded or took out.

    ``record`` says of what kind it is, ``place`` tells the row from others of its kind (a plot, a
    day, ...). ``before`` and ``after`` are its figures; None = there was, or is, no such row.
    """

    record: str
    place: tuple[tuple[str, Cell], ...]
    before: tuple[tuple[str, Cell], ...] | None
    after: tuple[tuple[str, Cell], ...] | None


@dataclass(frozen=True, slots=True)
class EarlyCut:
    """A cut made before a spray's re-entry time had passed; ``until`` in words, local time."""

    plot: str
    cut_on: date
    product: str
    until: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One change of the records: who made it, when and why, and what came and went by it.

    ``who`` and ``why`` are None where they were not recorded. ``rows`` counts, by kind of record,
    the rows that came and those that went; ``changes`` lists the rows of an entry that superseded
    any or brought only a few (of a plot's history: of every entry). An entry that came in a package
    says of which trial's (``origin``), and its number where it was made. ``early_cuts`` are the
    cuts it recorded, still held, that were made before a spray's re-entry time had passed.
    """

    number: int
    recorded_at: datetime
    who: str | None
    what: str
    why: str | None
    undoes: int | None
    undone_by: int | None
    files: tuple[str, ...]
    rows: tuple[tuple[str, int, int], ...]
    changes: tuple[Change, ...]
    origin: str | None = None
    origin_number: int | None = None
    early_cuts: tuple[EarlyCut, ...] = ()


@dataclass(frozen=True, slots=True)
class SeedHouse:
    """A seller of seed, with what it charges to send a parcel."""

    name: str
    currency: str
    shipping: float
    free_shipping_from: float | None
    minimum_order: float


class SoldAs(StrEnum):
    """What an item is: seed, plugs (young plants), or seed that the farm saved itself."""

    SEED = "seed"
    PLUGS = "plugs"
    OWN_SEED = "own seed"


class SeedSaving(StrEnum):
    """What saving seed of a variety comes to."""

    ALLOWED = "allowed"
    PROTECTED = "protected"
    HYBRID = "hybrid"


@dataclass(frozen=True, slots=True)
class SeedItem:
    """A packet size of a variety at a house; ``price`` holds from ``from_packs`` packets on.

    Of plugs ``seeds`` are plants; of the farm's own seed ``price`` is what cleaning it costs.
    ``seed_saving`` is None where the list does not say.
    """

    house: str
    item: str
    variety: str
    seeds: int
    price: float
    from_packs: int
    available: bool
    grams: float | None = None  # what its seed weighs; None where it is sold by number
    price_year: int | None = None  # the year of its price list
    sold_as: SoldAs = SoldAs.SEED
    seed_saving: SeedSaving | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in to the pages from the farm's network."""

    name: str
    role: Role
    email: str | None
    has_passphrase: bool


@dataclass(frozen=True, slots=True)
class Session:
    """A person signed in on one device; ``key`` is the digest of the token the device holds.

    Days are UTC. The session ends at ``ends_at``, or sooner if it is not used for long.
    """

    key: str
    person: Person
    started_at: datetime
    seen_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True)
class Invitation:
    """Leave to choose a passphrase, once and until ``ends_at`` (UTC)."""

    name: str
    role: Role
    ends_at: datetime
