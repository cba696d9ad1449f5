"""What a treatment earns rests on the prices of its own levels, each next to the first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trials import decide
from trials.season import growing, net

PLOTS = pd.DataFrame(
    {
        "variety": ["Ember"] * 4,
        "pinch": ["no", "no", "yes", "yes"],
        net.PREMIUM: [0.5, 1.5, 2.5, 3.5],
        net.GROSS: [4.0, 6.0, 8.0, 10.0],
    }
)
FACTORS = (
    SimpleNamespace(name="variety", levels=("Ember", "Fern")),
    SimpleNamespace(name="spacing", levels=("20 cm",)),
    SimpleNamespace(name="pinch", levels=("no", "yes")),
)
NEWEST: Any = SimpleNamespace(
    season=2026, code="Z26", crop="zinnia", alpha=0.05, minimum_length_cm=40.0, factors=FACTORS
)


def store(*prices: tuple[int, float]) -> Any:
    rows = [SimpleNamespace(grade_cm=grade, stem_price=price) for grade, price in prices]
    return SimpleNamespace(prices=lambda crop: rows)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """What is handed to the calculation, which finds a gain of 1 of the level named first."""
    found: list[dict[str, Any]] = []

    def calculated(
        factor: str, levels: tuple[str, str], means: Any, premiums: Any, **other: Any
    ) -> Any:
        found.append({"factor": factor, "levels": levels, "premiums": premiums, **other})
        return (decide.Growing("Ember", factor, *levels, 1.0, 0.5, 1.5, 0.9),)

    effects = SimpleNamespace(levels=("Ember",), means=np.ones(1), cov=np.eye(1), df=9.0)
    monkeypatch.setattr(growing, "plot_table", lambda *_: None)
    monkeypatch.setattr(growing, "effects_within", lambda *_: effects)
    monkeypatch.setattr(decide, "growing", calculated)
    return found


def test_each_level_is_set_against_the_first_at_its_own_premium(
    asked: list[dict[str, Any]],
) -> None:
    prices = store((30, 0.9), (40, 0.5), (60, 1.0), (60, 0.8))
    (row,) = growing.growing(prices, NEWEST, PLOTS, ["Ember", "Fern"])
    assert (row.level, row.other) == ("yes", "no")
    (one,) = asked  # the variety and what had one level are no treatments
    assert (one["factor"], one["levels"]) == ("pinch", ("yes", "no"))
    assert one["premiums"] == {"Ember": 2.0}  # 3 less 1
    assert one["usual"] == 7.0
    # Of the saleable grades, where stems are paid least: 0.8 over 0.5.
    prices_of_grades = one["prices"]
    assert (prices_of_grades.long_cm, prices_of_grades.short_cm) == (60, 40)
    assert prices_of_grades.ratio == pytest.approx(1.6)


@pytest.mark.parametrize(
    "prices", [(), ((40, 0.5),), ((30, 0.5), (40, 0.5)), ((40, 0.0), (60, 1.0))]
)
def test_one_priced_grade_makes_no_premium(
    asked: list[dict[str, Any]], prices: tuple[tuple[int, float], ...]
) -> None:
    growing.growing(store(*prices), NEWEST, PLOTS, ["Ember"])
    assert asked[0]["prices"] is None
