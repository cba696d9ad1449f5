"""A variety's page: what is not recorded says so, and a trial without figures says why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.model.seed_lot import SeedLot
from trials.model.trial import Trial
from trials.model.units import UnitSystem
from trials.model.variety import Measured, VarietyInList
from trials.report.variety_page import (
    InTrial,
    VarietyRecords,
    days_words,
    description_lines,
    height_words,
    list_facts,
    listed_varieties,
    lots_table,
    not_compared_lines,
    trials_table,
)

METRIC, US = UnitSystem.METRIC, UnitSystem.US
EMBER = VarietyInList("Ember", "zinnia", "dark red", "tall cutting", ("Z26",), 2026, 63.5, 7.25, 1)
ASH = VarietyInList("ash", "aster", None, None, (), None, None, None, 0)


@pytest.fixture(scope="module")
def trial(farm_store: Path) -> Trial:
    (found,) = [each for each in season.trials(farm_store) if each.code == "zinnia-2026"]
    return found


def test_the_list_says_what_is_known_and_nothing_of_the_rest() -> None:
    assert list_facts(EMBER, METRIC) == [
        "zinnia", "dark red", "tall cutting", "1 trial, newest 2026", "64 cm tall",
        "7.2 days in the vase", "1 photo",
    ]  # fmt: skip
    assert list_facts(ASH, METRIC) == ["aster", "no trial yet"]
    assert "25 in tall" in list_facts(EMBER, US)  # 63.5 / 2.54


def test_a_page_says_of_each_fact_that_it_is_not_recorded() -> None:
    assert description_lines(ASH, METRIC) == [
        "Colour: not recorded",
        "Habit: not recorded",
        "Height (mean stem length): not recorded",
        "Vase life: not recorded",
    ]
    assert (height_words(None, US), days_words(None)) == ("not recorded", "not recorded")


@pytest.mark.parametrize(
    ("sort", "names"),
    [
        ("Name", ["ash", "Ember"]),
        ("Crop", ["ash", "Ember"]),
        ("Newest trial", ["Ember", "ash"]),
        ("Tallest", ["Ember", "ash"]),
        ("Longest vase life", ["Ember", "ash"]),
    ],
)
def test_what_is_not_recorded_comes_last(sort: str, names: list[str]) -> None:
    assert [each.variety for each in listed_varieties([EMBER, ASH], "", sort)] == names


def test_every_word_of_a_search_must_fit() -> None:
    assert listed_varieties([EMBER, ASH], "RED zinnia", "Name") == (EMBER,)
    assert listed_varieties([EMBER, ASH], "red aster", "Name") == ()


def test_a_trial_that_could_not_be_compared_keeps_its_row(trial: Trial) -> None:
    records = VarietyRecords(EMBER, (Measured(trial.code, 2026, 63.5, None),), (), (), {}, ())
    one = InTrial(trial, None, "It has one replicate.")
    table = trials_table(records, [one], METRIC)
    assert table.rows == (
        (f"{trial.code} (still open)", "2026", "", "–", "–", "–", "–", "64 cm", "–"),
    )
    closed = replace(one, trial=replace(trial, closed_on=date(2026, 10, 11)))
    bare = trials_table(replace(records, measured=()), [closed], METRIC)
    assert bare.rows == ((trial.code, "2026", "", "–", "–", "–", "–", "–", "–"),)
    assert not_compared_lines([one, InTrial(trial, None)]) == [
        f"{trial.code}: It has one replicate."
    ]


def test_a_variety_that_a_trial_has_no_mean_of_has_dashes(farm_store: Path, trial: Trial) -> None:
    quick = season.Asked(second_opinions=False)
    found = season.compare_trial(farm_store, trial.code, None, quick)
    records = VarietyRecords(EMBER, (), (), (), {}, ())
    (row,) = trials_table(records, [InTrial(trial, found)], METRIC).rows
    assert row[2:] == (found.measure, "–", "–", "–", "–", "–", "–")


def test_a_lot_says_whether_it_was_counted_and_tested() -> None:
    lot = SeedLot("L1", "Ember", 2025, 0.86, None, ())
    tested = replace(lot, lot="L2", packed_for=2026, seeds=1200, test=((45, 50), (40, 50)))
    assert lots_table([lot, tested]).rows == (
        ("L2", "2026", "86%", "85% of 100", "1,200"),
        ("L1", "2025", "86%", "not tested", "not counted"),
    )
