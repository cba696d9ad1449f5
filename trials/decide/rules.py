"""The rules by which an entry is reordered, tried again or dropped: to be read and changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Advice(StrEnum):
    """What to do with an entry next season."""

    REORDER = "reorder"
    TRY_AGAIN = "try again"
    DROP = "drop"


class TieBreaker(StrEnum):
    """What settles the order of entries that are tied with the best."""

    SEED_PRICE = "cheaper seed"
    LENGTH = "longer stems"
    PERFORMANCE = "better on the deciding measure"


class ReasonCode(StrEnum):
    """A rule that spoke for an entry's verdict."""

    TOO_SHORT = "too short"
    TALL_ENOUGH = "tall enough"
    LENGTH_NOT_RECORDED = "length not recorded"
    COSTS_LITTLE = "costs little"
    TOO_FEW_SEASONS = "too few seasons"
    HARDLY_THE_BEST = "hardly the best"
    STILL_OPEN = "still open"
    LEADS = "leads"
    TIED = "tied with the best"


class Quantity(StrEnum):
    """What a reason's value and limit are, so that a report knows how to write them."""

    CHANCE = "chance"
    AMOUNT = "amount of the deciding measure"
    SEASONS = "seasons"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Rule:
    """How a rule reads: a sentence with places for {value} and {limit}, and what those are."""

    sentence: str
    quantity: Quantity


RULES_IN_WORDS: Mapping[ReasonCode, Rule] = {
    ReasonCode.TOO_SHORT: Rule(
        "Its chance of stems long enough to sell is {value}; at least {limit} is wanted.",
        Quantity.CHANCE,
    ),
    ReasonCode.TALL_ENOUGH: Rule(
        "Its chance of stems long enough to sell is {value}; {limit} is enough.",
        Quantity.CHANCE,
    ),
    ReasonCode.LENGTH_NOT_RECORDED: Rule(
        "Its stems were never measured; measure them before relying on it.",
        Quantity.NOTHING,
    ),
    ReasonCode.COSTS_LITTLE: Rule(
        "Choosing it gives up {value} on average beside the best, whichever that is; "
        "up to {limit} is accepted.",
        Quantity.AMOUNT,
    ),
    ReasonCode.TOO_FEW_SEASONS: Rule(
        "Seasons grown: {value}; at least {limit} before it is relied on.",
        Quantity.SEASONS,
    ),
    ReasonCode.HARDLY_THE_BEST: Rule(
        "Its chance of being the best is {value}; below {limit} it is dropped.",
        Quantity.CHANCE,
    ),
    ReasonCode.STILL_OPEN: Rule(
        "Choosing it may give up {value} on average, more than the {limit} accepted, "
        "but it may still be the best.",
        Quantity.AMOUNT,
    ),
    ReasonCode.LEADS: Rule(
        "No other is expected to do better.",
        Quantity.NOTHING,
    ),
    ReasonCode.TIED: Rule(
        "Tied with the best: choosing it rather than the leader costs {value} on average; "
        "up to {limit} counts as a tie.",
        Quantity.AMOUNT,
    ),
}


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of the choice.

    ``tall_chance``: an entry with a smaller chance of reaching the shortest saleable length is
    dropped, whatever its stems. ``tie_shortfall_share``: an entry is tied with the leader where
    choosing it instead costs at most this share of the leader's mean; where the outlook has a
    margin, that counts instead. ``tie_breakers`` settle the order of the tied, the first first.
    The leader and those tied with it are reordered. ``reorder_shortfall_share``: so is an entry
    whose expected shortfall is at most this share of the leader's mean (or at most the margin,
    where that is more). ``drop_chance_best``: otherwise it is dropped where its chance of being
    the best is smaller, and tried again where it is not. ``least_seasons``: an entry grown in
    fewer is tried again at best. The defaults are judgement, from no source.
    """

    tall_chance: float = 0.80
    reorder_shortfall_share: float = 0.10
    drop_chance_best: float = 0.05
    tie_shortfall_share: float = 0.05
    tie_breakers: tuple[TieBreaker, ...] = (
        TieBreaker.SEED_PRICE,
        TieBreaker.LENGTH,
        TieBreaker.PERFORMANCE,
    )
    least_seasons: int = 1

    def __post_init__(self) -> None:
        for share in (self.tall_chance, self.drop_chance_best):
            if not 0 <= share <= 1:
                raise ValueError(f"a chance lies between 0 and 1, not {share!r}")
        for share in (self.reorder_shortfall_share, self.tie_shortfall_share):
            if not share >= 0:
                raise ValueError(f"a share is not negative: {share!r}")


@dataclass(frozen=True, slots=True)
class Reason:
    """A rule that applied, the entry's value and the rule's limit (None where it has none)."""

    code: ReasonCode
    value: float | None
    limit: float | None
