"""The entries in order of preference, each with its verdict and the rules that spoke for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from trials.decide.outlook import Outlook, rescreened
from trials.decide.prospects import EntryOutlook
from trials.decide.rules import Advice, Reason, ReasonCode, Rules, TieBreaker


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry's place and verdict; figures as in `EntryOutlook`.

    ``seed_price`` is the price of one seed, None where no item on offer has one. ``extra_cost``
    is the expected shortfall beyond the leader's.
    """

    rank: int
    entry: str
    verdict: Advice
    reasons: tuple[Reason, ...]
    tied_with_best: bool
    mean: float
    low: float
    high: float
    seasons: int
    chance_best: float | None
    expected_shortfall: float | None
    extra_cost: float | None
    chance_within_margin: float | None
    chance_beats_check: float | None
    length_mean: float | None
    chance_tall: float | None
    seed_price: float | None


def standings(
    outlook: Outlook,
    rules: Rules | None = None,
    seed_prices: Mapping[str, float] | None = None,
) -> tuple[Standing, ...]:
    """The entries in order of preference, with verdicts and reasons.

    Entries that are too short come last whatever their stems; among the others, those tied with
    the leader come first in the order of the tie-breakers, then the rest by expected shortfall.
    ``seed_prices`` gives the price of one seed by entry. Without rules, those of `Rules()` hold.
    """
    rules = rules or Rules()
    prices = seed_prices or {}
    if outlook.terms.tall_chance != rules.tall_chance:
        outlook = rescreened(outlook, rules.tall_chance)
    race = _race(outlook, rules)
    rows = sorted(outlook.entries, key=lambda row: _place(row, race, rules, prices))
    return tuple(
        _standing(rank, row, race, rules, prices.get(row.entry))
        for rank, row in enumerate(rows, start=1)
    )


@dataclass(frozen=True, slots=True)
class _Race:
    """The leader among the candidates and what the rules' shares come to beside it."""

    leader: str
    leader_shortfall: float
    tie_limit: float
    reorder_limit: float
    tied: frozenset[str]  # empty where the leader stands alone
    lengths_asked: bool

    def extra_cost(self, row: EntryOutlook) -> float | None:
        """What choosing the entry costs beyond choosing the leader, on average."""
        if row.expected_shortfall is None:
            return None
        return row.expected_shortfall - self.leader_shortfall


def _race(outlook: Outlook, rules: Rules) -> _Race | None:
    """None where no entry is a candidate."""
    shortfalls = {
        row.entry: (row.expected_shortfall, row.mean)
        for row in outlook.entries
        if row.expected_shortfall is not None
    }
    if not shortfalls:
        return None
    leader = min(shortfalls, key=lambda entry: (shortfalls[entry][0], entry))
    least, mean = shortfalls[leader]
    margin = outlook.terms.margin
    tie_limit = rules.tie_shortfall_share * abs(mean) if margin is None else margin
    tied = frozenset(entry for entry, (s, _) in shortfalls.items() if s - least <= tie_limit)
    return _Race(
        leader=leader,
        leader_shortfall=least,
        tie_limit=tie_limit,
        reorder_limit=max(rules.reorder_shortfall_share * abs(mean), margin or 0.0),
        tied=tied if len(tied) > 1 else frozenset(),
        lengths_asked=outlook.next_length is not None,
    )


Place = tuple[float, ...]

_LAST = float("inf")
TIE_BREAKING: Mapping[TieBreaker, Callable[[EntryOutlook, float | None], float]] = {
    TieBreaker.SEED_PRICE: lambda row, price: _LAST if price is None else price,
    TieBreaker.LENGTH: lambda row, price: _LAST if row.length_mean is None else -row.length_mean,
    TieBreaker.PERFORMANCE: lambda row, price: row.expected_shortfall or 0.0,
}


def _place(
    row: EntryOutlook, race: _Race | None, rules: Rules, prices: Mapping[str, float]
) -> tuple[int, Place, str]:
    """Sorts the tied first, then the other candidates, then the too short."""
    if race is None or row.expected_shortfall is None:
        return (2, (-(row.chance_tall or 0.0),), row.entry)
    if row.entry in race.tied:
        price = prices.get(row.entry)
        return (0, tuple(TIE_BREAKING[t](row, price) for t in rules.tie_breakers), row.entry)
    return (1, (row.expected_shortfall,), row.entry)


def _standing(
    rank: int, row: EntryOutlook, race: _Race | None, rules: Rules, price: float | None
) -> Standing:
    verdict, reasons = _judge(row, race, rules)
    return Standing(
        rank=rank,
        entry=row.entry,
        verdict=verdict,
        reasons=reasons,
        tied_with_best=race is not None and row.entry in race.tied,
        mean=row.mean,
        low=row.low,
        high=row.high,
        seasons=row.seasons,
        chance_best=row.chance_best,
        expected_shortfall=row.expected_shortfall,
        extra_cost=None if race is None else race.extra_cost(row),
        chance_within_margin=row.chance_within_margin,
        chance_beats_check=row.chance_beats_check,
        length_mean=row.length_mean,
        chance_tall=row.chance_tall,
        seed_price=price,
    )


def _judge(
    row: EntryOutlook, race: _Race | None, rules: Rules
) -> tuple[Advice, tuple[Reason, ...]]:
    if race is None or row.expected_shortfall is None or row.chance_best is None:
        short = Reason(ReasonCode.TOO_SHORT, row.chance_tall, rules.tall_chance)
        return Advice.DROP, (short,)
    reasons = []
    if row.chance_tall is not None:
        reasons.append(Reason(ReasonCode.TALL_ENOUGH, row.chance_tall, rules.tall_chance))
    verdict, reason = _by_shortfall(row, row.expected_shortfall, row.chance_best, race, rules)
    reasons.append(reason)
    doubts = []
    if race.lengths_asked and row.chance_tall is None:
        doubts.append(Reason(ReasonCode.LENGTH_NOT_RECORDED, None, None))
    if row.seasons < rules.least_seasons:
        doubts.append(Reason(ReasonCode.TOO_FEW_SEASONS, row.seasons, rules.least_seasons))
    if doubts and verdict is Advice.REORDER:
        verdict = Advice.TRY_AGAIN
    return verdict, (*reasons, *doubts)


def _by_shortfall(
    row: EntryOutlook, shortfall: float, chance_best: float, race: _Race, rules: Rules
) -> tuple[Advice, Reason]:
    if row.entry == race.leader:
        return Advice.REORDER, Reason(ReasonCode.LEADS, None, None)
    if row.entry in race.tied:
        extra = shortfall - race.leader_shortfall
        return Advice.REORDER, Reason(ReasonCode.TIED, extra, race.tie_limit)
    if shortfall <= race.reorder_limit:
        return Advice.REORDER, Reason(ReasonCode.COSTS_LITTLE, shortfall, race.reorder_limit)
    if chance_best < rules.drop_chance_best:
        return Advice.DROP, Reason(ReasonCode.HARDLY_THE_BEST, chance_best, rules.drop_chance_best)
    return Advice.TRY_AGAIN, Reason(ReasonCode.STILL_OPEN, shortfall, race.reorder_limit)
