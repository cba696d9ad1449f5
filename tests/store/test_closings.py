from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from trials.errors import TallybedError, TrialState, UnknownName
from trials.model.rows import Batch, Sheet
from trials.store import Store

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
FROST = date(2025, 10, 6)


def test_completeness_says_what_is_held_and_what_is_not(store: Store) -> None:
    found = store.completeness("Z")
    assert found.trial == "Z"
    assert found.plots == 7
    assert found.lost_plots == (("Z5", "voles"),)
    assert found.plots_never_picked == ("Z4",)
    assert found.missed_picks == (("Z1", 1), ("Z4", 3))
    assert found.unrecorded_picks == (("Z6", 1),)
    assert found.plots_without_stand == ("Z6",)
    assert found.plots_without_samples == ("Z2", "Z3", "Z4")
    assert found.picking_days == 3
    assert (found.first_cut, found.last_cut) == (date(2025, 7, 10), date(2025, 7, 24))


def test_a_trial_that_was_never_picked_has_no_days(store: Store) -> None:
    found = store.completeness("X")
    assert (found.plots, found.picking_days, found.first_cut, found.last_cut) == (0, 0, None, None)


def test_a_day_on_which_every_plot_was_missed_is_no_picking_day(
    store: Store, make_batch: Callable[..., Batch]
) -> None:
    missed = [(plot, date(2025, 7, 31), "missed", None, None, None) for plot in ("Y1", "Y2")]
    store.add(make_batch({Sheet.CUTS: missed}))
    assert store.completeness("Y").picking_days == 1
    with pytest.raises(TrialState, match="its last cut is on 2025-07-31"):
        store.close("Y", date(2025, 7, 30), "frost")


def test_a_loss_of_the_whole_trial_is_a_loss_of_every_plot(
    store: Store, make_batch: Callable[..., Batch]
) -> None:
    store.add(make_batch({Sheet.EVENTS: [("Y", None, date(2025, 8, 1), "lost", "flood")]}))
    assert store.completeness("Y").lost_plots == (("Y1", "flood"), ("Y2", "flood"))
    assert store.plots("Y")["stems_per_plant_set"].isna().all()
    assert store.grades("Y").empty


def test_closing_keeps_day_reason_and_completeness(store: Store) -> None:
    assert store.closing("Z") is None
    closing = store.close("Z", FROST, "  first hard frost ")
    assert (closing.trial, closing.closed_on, closing.reason) == ("Z", FROST, "first hard frost")
    assert closing.completeness == store.completeness("Z")
    assert Store.open(store.path).closing("Z") == closing


def test_a_trial_may_close_on_the_day_of_its_last_cut(store: Store) -> None:
    assert store.close("Z", date(2025, 7, 24), "done").closed_on == date(2025, 7, 24)


def test_refusals_change_nothing(store: Store, contents: Contents) -> None:
    store.close("Y", FROST, "frost")
    before = contents(store.path)
    with pytest.raises(TrialState, match=r"already closed, since 2025-10-06 \(frost\)"):
        store.close("Y", FROST, "frost again")
    with pytest.raises(TrialState, match="Close it on 2025-07-24 or later"):
        store.close("Z", date(2025, 7, 23), "too soon")
    with pytest.raises(TallybedError, match="Say in a few words why"):
        store.close("Z", FROST, "  ")
    with pytest.raises(UnknownName):
        store.close("Q", FROST, "frost")
    assert contents(store.path) == before
