"""Vase life: the tests of a crop's trials, by variety."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trials import decide

if TYPE_CHECKING:
    from trials.store import Store


def vase_lives(kept: Store, trials_used: Sequence[str]) -> tuple[decide.VaseLife, ...]:
    """The vase life of every variety tested in the trials, the longest first."""
    return decide.vase_lives(
        decide.VaseTest(code, plot, variety, float(days))
        for code in trials_used
        for plot, variety, days in kept.vase_life(code).itertuples(index=False)
    )
