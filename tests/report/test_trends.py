"""The sentences on a trend say what was tested, in the measure's unit and the factor's."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.report.test_words import cultivars
from trials.report.figures import Figures
from trials.report.trends import trend_words
from trials.stats import Comparison
from trials.stats.what_was_tested import TermTest, Trend

SURE, UNSURE = 0.001, 0.4


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    return cultivars()


def part(name: str, p: float) -> TermTest:
    return TermTest(name, 1, 12, 5.0, p)


def a_trend(straight: float, bend: float, rest: float = UNSURE, slope: float = 0.12) -> Trend:
    return Trend(
        "spacing",
        "cm",
        15,
        45,
        slope,
        slope - 0.04,
        slope + 0.04,
        part("straight", straight),
        part("bend", bend),
        part("rest", rest),
    )


def said(comparison: Comparison, trend: Trend) -> str:
    return trend_words(replace(comparison, trends=(trend,)), "spacing", Figures("stems/plant"))


@pytest.mark.parametrize(
    ("trend", "words"),
    [
        (a_trend(SURE, UNSURE), "With each cm more of spacing, from 15 to 45 cm, "),
        (a_trend(SURE, UNSURE), "is 0.12 stems/plant more (95% limits 0.08 to 0.16)"),
        (a_trend(SURE, UNSURE, slope=-0.12), "0.12 stems/plant less (95% limits 0.08 to 0.16)"),
        (a_trend(UNSURE, UNSURE), "no trend in"),
        (a_trend(SURE, SURE), "bends, with no best value in between"),
        (a_trend(SURE, UNSURE, rest=SURE), "Use the means themselves"),
        (
            replace(a_trend(SURE, SURE), best=29.63, best_low=27.02, best_high=33.31),
            "is highest near 29.6 cm (95% limits 27 to 33.3)",
        ),
    ],
)
def test_a_trend_in_words(comparison: Comparison, trend: Trend, words: str) -> None:
    assert words in said(comparison, trend)


def test_a_factor_without_numbers_has_no_trend(comparison: Comparison) -> None:
    assert trend_words(comparison, "variety", Figures("")) == ""
