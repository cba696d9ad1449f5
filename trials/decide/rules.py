"""The rules by which an entry is reordered, grown again or dropped: to be read and changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Advice(StrEnum):
    """What to do with an entry next season."""

    REORDER = "reorder"
    GROW_AGAIN = "grow again"
    DROP = "drop"


class ReasonCode(StrEnum):
    """A rule that spoke for an entry's verdict."""

    TOO_SHORT = "too short"
    MOSTLY_SHORT = "mostly too short"
    TALL_ENOUGH = "tall enough"
    LENGTH_NOT_RECORDED = "length not recorded"
    TOO_FEW_SEASONS = "too few seasons"
    HARDLY_THE_BEST = "hardly the best"
    STILL_OPEN = "still open"
    TRIAL_PAYS = "another trial pays"
    TRIAL_COSTS_MORE = "another trial costs more"
    LEADS = "leads"
    TIED = "tied with the best"


class Quantity(StrEnum):
    """What a reason's value and limit are, so that a report knows how to write them."""

    CHANCE = "chance"
    SHARE = "share"
    AMOUNT = "amount of the deciding measure"
    MONEY = "money"
    SEASONS = "seasons"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Rule:
    """How a rule reads: a sentence with places for {value} and {limit}, and what those are."""

    sentence: str
    quantity: Quantity


RULES_IN_WORDS: Mapping[ReasonCode, Rule] = {
    ReasonCode.TOO_SHORT: Rule(
        "Its chance of stems long enough to sell is {value}; it needs at least {limit}.",
        Quantity.CHANCE,
    ),
    ReasonCode.MOSTLY_SHORT: Rule(
        "Its share of saleable length is {value} so far; it needs at least {limit}.",
        Quantity.SHARE,
    ),
    ReasonCode.TALL_ENOUGH: Rule(
        "Its chance of stems long enough to sell is {value}; {limit} is enough.",
        Quantity.CHANCE,
    ),
    ReasonCode.LENGTH_NOT_RECORDED: Rule(
        "Its stems were never measured. Measure them before you rely on it.",
        Quantity.NOTHING,
    ),
    ReasonCode.TOO_FEW_SEASONS: Rule(
        "You have grown it for {value} of the {limit} seasons you ask for.",
        Quantity.SEASONS,
    ),
    ReasonCode.HARDLY_THE_BEST: Rule(
        "Its chance of being the best is {value}; below {limit} it is dropped.",
        Quantity.CHANCE,
    ),
    ReasonCode.STILL_OPEN: Rule(
        "It could still be the best: its chance is {value}, and from {limit} it is grown again.",
        Quantity.CHANCE,
    ),
    ReasonCode.TRIAL_PAYS: Rule(
        "It could still be the best. Another trial of it costs about {limit} and is worth about "
        "{value}.",
        Quantity.MONEY,
    ),
    ReasonCode.TRIAL_COSTS_MORE: Rule(
        "Another trial of it costs about {limit} and is worth about {value}.",
        Quantity.MONEY,
    ),
    ReasonCode.LEADS: Rule(
        "None of the others is expected to do better.",
        Quantity.NOTHING,
    ),
    ReasonCode.TIED: Rule(
        "Tied with the leader: growing it instead of the leader costs {value} on average. "
        "Up to {limit} counts as a tie.",
        Quantity.AMOUNT,
    ),
}


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of the choice.

    ``tall_chance``: an entry with a smaller chance of reaching the shortest saleable length is
    dropped, whatever its stems. ``tie_share``: an entry is tied with the leader where growing it
    instead costs at most this share of the usual size of the measure (of the gross, for a net);
    where the outlook has a margin, that counts instead. The leader and those tied with it are
    reordered. Where money decides, another entry is grown again if one more trial of it is worth
    more than it costs, over ``bed_metres`` of the crop in each of ``seasons_ahead`` seasons after
    it; otherwise if its chance of being the best is at least ``drop_chance_best``. The rest is
    dropped. ``least_seasons``: an entry grown in fewer is grown again at best. The defaults are
    judgement, from no source.
    """

    tall_chance: float = 0.80
    tie_share: float = 0.05
    drop_chance_best: float = 0.05
    bed_metres: float = 20.0
    seasons_ahead: int = 3
    least_seasons: int = 1

    def __post_init__(self) -> None:
        for share in (self.tall_chance, self.drop_chance_best):
            if not 0 <= share <= 1:
                raise ValueError(f"a chance lies between 0 and 1, not {share!r}")
        for size in (self.tie_share, self.bed_metres, self.seasons_ahead):
            if not size >= 0:
                raise ValueError(f"a share, a length or a number is not negative: {size!r}")


@dataclass(frozen=True, slots=True)
class Reason:
    """A rule that applied, the entry's value and the rule's limit (None where it has none)."""

    code: ReasonCode
    value: float | None
    limit: float | None
