"""The entries in order of preference, each with its verdict and the rules that spoke for it."""

from __future__ import annotations

from dataclasses import dataclass

from trials.decide.outlook import Outlook, rescreened
from trials.decide.prospects import EntryOutlook
from trials.decide.rules import Advice, Reason, ReasonCode, Rules
from trials.decide.trial_value import TrialCost, worth_beside
from trials.model.saleable import LEAST_SALEABLE_SHARE
from trials.model.trial import Better


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry's place and verdict; figures as in `EntryOutlook`.

    ``extra_cost`` is what growing it in the leader's place costs on average: the difference of
    their expected values. ``trial_worth`` and ``trial_cost`` are of another season's trial of it,
    in money; None for the reordered and the too short, and where the measure is no money.
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
    trial_worth: float | None = None
    trial_cost: float | None = None


def standings(
    outlook: Outlook, rules: Rules | None = None, trial_cost: TrialCost | None = None
) -> tuple[Standing, ...]:
    """The entries in order of their expected value, with verdicts and reasons.

    Entries that are too short come last whatever their stems. ``trial_cost`` says what another
    trial costs where the deciding measure is money per metre of bed; without it the chance of
    being the best decides between growing again and dropping. Without rules, those of `Rules()`
    hold.
    """
    rules = rules or Rules()
    if outlook.terms.tall_chance != rules.tall_chance:
        outlook = rescreened(outlook, rules.tall_chance)
    race = _race(outlook, rules, trial_cost)
    rows = sorted(outlook.entries, key=_place)
    return tuple(_standing(rank, row, race, rules) for rank, row in enumerate(rows, start=1))


@dataclass(frozen=True, slots=True, eq=False)
class _Race:
    """The leader among the candidates, who is tied with it, and what trials are worth."""

    leader: EntryOutlook
    leader_shortfall: float
    tie_limit: float
    tied: frozenset[str]  # empty where the leader stands alone
    lengths_asked: bool
    trials: dict[str, tuple[float, float]]  # worth and cost of another trial, by entry

    def extra_cost(self, row: EntryOutlook) -> float | None:
        """What choosing the entry costs beyond choosing the leader, on average."""
        if row.expected_shortfall is None:
            return None
        return row.expected_shortfall - self.leader_shortfall


def _race(outlook: Outlook, rules: Rules, trial_cost: TrialCost | None) -> _Race | None:
    """None where no entry is a candidate."""
    shortfalls = {
        row.entry: row.expected_shortfall
        for row in outlook.entries
        if row.expected_shortfall is not None
    }
    if not shortfalls:
        return None
    leader = min(outlook.entries, key=_place)
    least = shortfalls[leader.entry]
    margin = outlook.terms.margin
    tie_limit = rules.tie_share * outlook.terms.usual if margin is None else margin
    tied = frozenset(entry for entry, s in shortfalls.items() if s - least <= tie_limit)
    trials = {}
    if trial_cost is not None:
        worth = outlook.worth if outlook.terms.better is Better.HIGHER else -outlook.worth
        of = {row.entry: draws for row, draws in zip(outlook.entries, worth.T, strict=True)}
        for entry in shortfalls.keys() - tied:
            a_metre = worth_beside(of[leader.entry], of[entry], outlook.season_noise)
            trials[entry] = (
                a_metre * rules.bed_metres * rules.seasons_ahead,
                trial_cost.of(entry, shortfalls[entry] - least),
            )
    return _Race(
        leader=leader,
        leader_shortfall=least,
        tie_limit=tie_limit,
        tied=tied if len(tied) > 1 else frozenset(),
        lengths_asked=outlook.next_length is not None,
        trials=trials,
    )


def _place(row: EntryOutlook) -> tuple[bool, float, str]:
    """Sorts the candidates by what choosing them costs, then the too short."""
    if row.expected_shortfall is None:
        return (True, -(row.chance_tall or 0.0), row.entry)
    return (False, row.expected_shortfall, row.entry)


def _standing(rank: int, row: EntryOutlook, race: _Race | None, rules: Rules) -> Standing:
    verdict, reasons = _judge(row, race, rules)
    worth, cost = (None, None) if race is None else race.trials.get(row.entry, (None, None))
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
        trial_worth=worth,
        trial_cost=cost,
    )


def _judge(
    row: EntryOutlook, race: _Race | None, rules: Rules
) -> tuple[Advice, tuple[Reason, ...]]:
    extra = None if race is None else race.extra_cost(row)
    if race is None or extra is None or row.chance_best is None:
        return Advice.DROP, _too_short(row, rules)
    reasons = []
    if row.chance_tall is not None:
        reasons.append(Reason(ReasonCode.TALL_ENOUGH, row.chance_tall, rules.tall_chance))
    verdict, reason = _by_value(row, extra, row.chance_best, race, rules)
    reasons.append(reason)
    doubts = []
    if race.lengths_asked and row.chance_tall is None:
        doubts.append(Reason(ReasonCode.LENGTH_NOT_RECORDED, None, None))
    if row.seasons < rules.least_seasons:
        doubts.append(Reason(ReasonCode.TOO_FEW_SEASONS, row.seasons, rules.least_seasons))
    if doubts and verdict is Advice.REORDER:
        verdict = Advice.GROW_AGAIN
    return verdict, (*reasons, *doubts)


def _too_short(row: EntryOutlook, rules: Rules) -> tuple[Reason, ...]:
    """Why an entry is no candidate: its grades, its measured lengths, or both."""
    reasons = []
    if row.mostly_short:
        limit = LEAST_SALEABLE_SHARE
        reasons.append(Reason(ReasonCode.MOSTLY_SHORT, row.saleable_share, limit))
    if row.chance_tall is not None and row.chance_tall < rules.tall_chance:
        reasons.append(Reason(ReasonCode.TOO_SHORT, row.chance_tall, rules.tall_chance))
    return tuple(reasons)


def _by_value(
    row: EntryOutlook, extra: float, chance_best: float, race: _Race, rules: Rules
) -> tuple[Advice, Reason]:
    if row.entry == race.leader.entry:
        return Advice.REORDER, Reason(ReasonCode.LEADS, None, None)
    if row.entry in race.tied:
        return Advice.REORDER, Reason(ReasonCode.TIED, extra, race.tie_limit)
    if row.entry in race.trials:
        worth, cost = race.trials[row.entry]
        if worth > cost:
            return Advice.GROW_AGAIN, Reason(ReasonCode.TRIAL_PAYS, worth, cost)
        return Advice.DROP, Reason(ReasonCode.TRIAL_COSTS_MORE, worth, cost)
    limit = rules.drop_chance_best
    if chance_best < limit:
        return Advice.DROP, Reason(ReasonCode.HARDLY_THE_BEST, chance_best, limit)
    return Advice.GROW_AGAIN, Reason(ReasonCode.STILL_OPEN, chance_best, limit)
