"""What an order takes from the store: the seed on the shelf, each lot at its own germination."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trials.decide import OnHand
from trials.decide.germination import Replicate, germination
from trials.errors import TrialState, UnknownName
from trials.season.field import plants_per_metre, survival
from trials.season.ordering import price_lists
from trials.season.stock import shelf
from trials.season.yields import USUAL_DAYS_BETWEEN_SOWINGS, shares_of_sowings
from trials.store import Store

FARM = Path(__file__).parent.parent / "data" / "farm"


def lot(code: str) -> tuple[str, float]:
    """A lot's variety and germination, by the files."""
    lots = pd.read_csv(FARM / "seed_lots.csv").set_index("lot")
    items = pd.read_csv(FARM / "seed_items.csv").drop_duplicates(["house", "item"])
    row = lots.loc[code]
    (variety,) = items[(items["house"] == row["house"]) & (items["item"] == row["item"])]["variety"]
    return str(variety), float(str(row["germination"]))


def stocked(kept: Store, tested: dict[str, list[tuple[int, int]]]) -> list[OnHand]:
    """What is in stock of two lots of one variety, the newer first."""
    found = {one.lot: one for one in shelf(kept, 2025, {"2025-01": 40, "2024-01": 25}, tested)}
    return [found["2025-01"], found["2024-01"]]


def test_seed_on_the_shelf_germinates_as_its_own_lot_does(farm_store: Path) -> None:
    older, newer = lot("2024-01"), lot("2025-01")
    assert older[0] == newer[0]
    assert older[1] != newer[1]
    kept = Store.open(farm_store)
    found = stocked(kept, {})
    assert [(one.variety, one.seeds, one.germination) for one in found] == [
        (newer[0], 40, newer[1]),
        (older[0], 25, older[1]),
    ]


def test_a_test_of_a_lot_counts_for_that_lot_only(farm_store: Path) -> None:
    kept = Store.open(farm_store)
    found = stocked(kept, {"2024-01": [(31, 50), (29, 50)]})
    assert [one.germination for one in found] == [lot("2025-01")[1], pytest.approx(0.6)]
    assert found[1].test == germination([Replicate(50, 31), Replicate(50, 29)])


@pytest.mark.parametrize(("on_hand", "tested"), [({"L9": 5}, {}), ({}, {"L9": [(4, 5)]})])
def test_a_lot_that_the_store_does_not_have_is_refused(
    farm_store: Path, on_hand: dict[str, int], tested: dict[str, list[tuple[int, int]]]
) -> None:
    with pytest.raises(UnknownName, match="L9"):
        shelf(Store.open(farm_store), 2027, on_hand, tested)


def test_the_years_of_the_price_lists(farm_store: Path) -> None:
    assert price_lists(farm_store) == ((2026, "EUR"),)


def newest_of_two(plots: pd.DataFrame) -> Any:
    """A store of an older trial without plots, and a newer one with these."""
    trials = {
        code: SimpleNamespace(code=code, season=int(f"20{code[1:]}")) for code in ("Z25", "Z26")
    }
    held = {"Z25": plots[:0], "Z26": plots}
    return SimpleNamespace(trial=trials.__getitem__, plots=held.__getitem__)


def test_beds_are_worked_out_as_plants_lived_and_stood_in_the_newest_trial() -> None:
    plots = pd.DataFrame(
        {
            "plants_set": [16, 20, 16],
            "living": [12.0, 15.0, np.nan],
            "net_length_m": [1.0, 2.0, 2.0],
            "lost_reason": [None, None, "deer"],
        }
    )
    kept = newest_of_two(plots)
    assert survival(kept, ["Z25", "Z26"]) == pytest.approx(27 / 36)
    assert plants_per_metre(kept, ["Z26", "Z25"]) == 10.0  # the median of 16, 10 and 8
    lost = plots.assign(lost_reason="deer")
    with pytest.raises(TrialState, match="No living plants were counted in Z26"):
        survival(newest_of_two(lost), ["Z25", "Z26"])
    more = plots.assign(living=np.array([20.0, 20.0, np.nan]))
    assert survival(newest_of_two(more), ["Z26"]) == 1.0


def test_sowings_of_an_unknown_crop_are_three_to_four_weeks_apart() -> None:
    """Common practice."""
    assert 21 <= USUAL_DAYS_BETWEEN_SOWINGS <= 28


@pytest.mark.slow
def test_a_sowing_after_the_last_cut_gives_nothing(demo_store: Path) -> None:
    kept = Store.open(demo_store).remembering()
    shares = [each.share for each in shares_of_sowings(kept, ("cosmos-2024",), 12)]
    assert shares == sorted(shares, reverse=True)
    assert (shares[0], shares[-1]) == (1.0, 0.0)
