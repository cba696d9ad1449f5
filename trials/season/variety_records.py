"""Varieties: the list of all, and everything the store has about one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from trials.errors import TallybedError, UnknownName
from trials.model.trial import Trial
from trials.model.variety import Measured, VarietyInList
from trials.report.variety_page import InTrial, VarietyRecords
from trials.season.comparing import Asked, compare_trial
from trials.store import Store

VARIETY = "variety"


def varieties(store: Path) -> tuple[VarietyInList, ...]:
    """Every variety, by crop and name."""
    return _listed(Store.open(store))


def variety(store: Path, name: str) -> VarietyRecords:
    """What the store has about a variety, except what its trials found.

    Raises
    ------
    UnknownName
        There is no such variety.
    """
    kept = Store.open(store)
    every = {each.variety: each for each in _listed(kept)}
    if name not in every:
        raise UnknownName("variety", name, every)
    listed = every[name]
    return VarietyRecords(
        listed=listed,
        measured=tuple(reversed(_measured(kept).get(name, ()))),
        lots=tuple(lot for lot in kept.seed_lots() if lot.variety == name),
        offers=tuple(item for item in kept.seed_items() if item.variety == name),
        currencies={house.name: house.currency for house in kept.seed_houses()},
        photos=kept.album.stored(variety=name),
    )


def variety_in_trials(store: Path, name: str) -> tuple[InTrial, ...]:
    """The trials of a variety, the newest first, each compared on its main measure."""
    trials = [trial for trial in Store.open(store).trials() if _grows(trial, name)]
    return tuple(_in_trial(store, trial) for trial in _newest_first(trials))


def _listed(kept: Store) -> tuple[VarietyInList, ...]:
    measured, trials = _measured(kept), _newest_first(kept.trials())
    shown: dict[str, int] = defaultdict(int)
    for photo in kept.album.stored():
        if photo.variety is not None:
            shown[photo.variety] += 1
    return tuple(
        _in_list(row, trials, measured.get(row[0], ()), shown.get(row[0], 0))
        for row in kept.varieties().itertuples(index=False, name=None)
    )


def _in_list(
    row: tuple[str, str, str | None, str | None],
    trials: Iterable[Trial],
    measured: Sequence[Measured],
    photos: int,
) -> VarietyInList:
    name, crop, colour, habit = row
    grown = [trial for trial in trials if _grows(trial, name)]
    return VarietyInList(
        variety=name,
        crop=crop,
        colour=colour,
        habit=habit,
        trials=tuple(trial.code for trial in grown),
        newest_season=grown[0].season if grown else None,
        height_cm=_mean(each.height_cm for each in measured),
        vase_life_days=_mean(each.vase_life_days for each in measured),
        photos=photos,
    )


def _newest_first(trials: Iterable[Trial]) -> list[Trial]:
    return sorted(trials, key=lambda trial: (-trial.season, trial.code))


def _grows(trial: Trial, name: str) -> bool:
    return any(factor.name == VARIETY and name in factor.levels for factor in trial.factors)


def _measured(kept: Store) -> Mapping[str, list[Measured]]:
    found: dict[str, list[Measured]] = defaultdict(list)
    for name, trial, season, height_cm, vase_life_days in kept.variety_figures():
        found[name].append(Measured(trial, season, height_cm, vase_life_days))
    return found


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _in_trial(store: Path, trial: Trial) -> InTrial:
    try:
        return InTrial(trial, compare_trial(store, trial.code, None, Asked(second_opinions=False)))
    except TallybedError as refusal:
        return InTrial(trial, None, refusal.text)
