"""Choosing under other prices: the same as choosing from records with those prices."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from trials import season
from trials.decide import Rules
from trials.season import MoneyIf, net

FARM = Path(__file__).parent.parent / "data" / "farm"
Row = dict[str, str]


def test_a_plots_net_follows_the_price_of_its_stems_and_the_cost_of_its_bed() -> None:
    plots = pd.DataFrame({net.GROSS: [20.0, None], net.NET: [5.0, None]})
    # Half the price is 10 less; the bed costs 2 more: 5 - 10 - 2 = -7.
    found = net.with_prices(plots, 0.5, 2.0)
    assert found[net.GROSS].tolist()[0] == 10.0
    assert found[net.NET].tolist()[0] == -7.0
    assert found[net.NET].isna().tolist() == [False, True]
    assert plots[net.NET].tolist()[0] == 5.0


def changed(folder: Path, sheet: str, change: Callable[[Row], Row]) -> None:
    path = folder / f"{sheet}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = [change(row) for row in csv.DictReader(file)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


@pytest.mark.slow
def test_it_is_the_choice_from_records_with_those_prices(demo_store: Path, tmp_path: Path) -> None:
    """Every price twice, the bed 2.00 more: asked of the sliders, and stored in another farm."""
    other = Path(shutil.copytree(FARM, tmp_path / "farm"))
    changed(other, "prices", lambda row: row | {"stem_price": str(2 * float(row["stem_price"]))})
    changed(other, "costs", lambda row: row | ({"amount": "9.50"} if row["cost"] == "bed" else {}))
    store = tmp_path / "other.tallybed"
    season.load(store, [other])
    for trial in season.trials(store):
        season.close(store, trial.code, date(trial.season, 11, 20), "first frost")
    expected = season.choose(store, "cosmos").standings
    choice = season.choose(demo_store, "cosmos")
    basis = season.money_basis(demo_store, choice)
    assert basis is not None
    same = season.choose_if(basis, MoneyIf(1.0, basis.bed_cost), Rules())
    assert same == choice.standings
    found = season.choose_if(basis, MoneyIf(2.0, basis.bed_cost + 2.0), Rules())
    assert [s.entry for s in found] == [s.entry for s in expected]
    assert [s.verdict for s in found] == [s.verdict for s in expected]
    assert [s.mean for s in found] == pytest.approx([s.mean for s in expected], abs=0.005)


@pytest.mark.slow
def test_a_choice_that_is_not_in_money_has_no_basis(demo_store: Path) -> None:
    choice = season.choose(demo_store, "cosmos", "stems_per_plant")
    assert season.money_basis(demo_store, choice) is None
