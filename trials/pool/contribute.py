"""A farm's own part of a network: a folder that the farm fills, and can empty again."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trials.errors import TrialState, UnknownName
from trials.pool.gather import Key, write_farm
from trials.store import Store


@dataclass(frozen=True, slots=True)
class Contributed:
    """What the folder holds of this farm: its code, and each trial with the code it goes under.

    ``withdrawn`` are the seasons whose files were removed.
    """

    folder: Path
    farm: str
    trials: tuple[tuple[str, str], ...]
    withdrawn: tuple[str, ...] = ()


def contribute(store: Path, folder: Path, trials: Sequence[str] = ()) -> Contributed:
    """Write closed trials of a store for a network; no place, person or note leaves the farm.

    Without ``trials`` every closed one. The farm's secret stays beside the store.

    Raises
    ------
    UnknownName
        There is no such trial.
    TrialState
        A trial is still open, or none is closed.
    """
    held = {trial.code: trial for trial in Store.open(store).trials()}
    for code in trials:
        if code not in held:
            raise UnknownName("trial", code, held)
        if held[code].closed_on is None:
            raise TrialState(f"{code} is still open. Close it, then contribute it.")
    chosen = list(trials) or [code for code, trial in held.items() if trial.closed_on]
    if not chosen:
        raise TrialState("No trial is closed yet. Close one, then contribute it.")
    key = _key(store)
    codes = write_farm(store, key, "farm", chosen, folder)
    return Contributed(folder, key.code("farm", "farm"), tuple(codes.items()))


def withdraw_contribution(store: Path, folder: Path) -> Contributed:
    """Remove this farm's files from the folder; the next publication is made without them."""
    farm = _key(store).code("farm", "farm")
    gone = []
    for path in sorted(folder.glob("season=*/site=*")):
        if path.name.removeprefix("site=").partition("-")[0] == farm:
            shutil.rmtree(path)
            gone.append(path.parent.name.removeprefix("season="))
    return Contributed(folder, farm, (), tuple(gone))


def _key(store: Path) -> Key:
    return Key.at(store.with_name(f"{store.stem}-network-key.json"))
