"""Numbers are written so that they cannot be misread."""

from __future__ import annotations

import pytest

from trials.model.trial import MEASURES, Margin
from trials.model.units import UnitSystem
from trials.report.figures import (
    Figures,
    amounts_in,
    capital,
    count,
    listed,
    margin_words,
    measure_figures,
    p_value,
    pairs_of,
    per_cent,
)


@pytest.mark.parametrize(
    ("p", "shown"),
    [
        (0.0, "p < 0.001"),
        (0.0004, "p < 0.001"),
        (0.0497, "p = 0.0497"),  # never 0.05
        (0.04999, "p = 0.04999"),
        (0.05, "p = 0.050"),
        (0.0486, "p = 0.049"),
        (0.3453, "p = 0.345"),
        (1.0, "p = 1.000"),
    ],
)
def test_p_never_rounds_across_the_line(p: float, shown: str) -> None:
    assert p_value(p) == shown


def test_p_respects_the_trials_own_line() -> None:
    assert p_value(0.0998, 0.10) == "p = 0.0998"


@pytest.mark.parametrize(
    ("share", "shown"),
    [(0.0, "0%"), (0.001, "under 1%"), (0.5, "50%"), (0.9999, "over 99%"), (1.0, "100%")],
)
def test_chances_are_never_certain_by_rounding(share: float, shown: str) -> None:
    assert per_cent(share) == shown


def test_figures_convert_and_sign() -> None:
    inches = Figures("in", 1 / 2.54, 1)
    assert inches.amount(25.4) == "10.0 in"
    assert inches.signed(-2.54) == "−1.0"
    assert inches.signed(2.54) == "+1.0"
    assert inches.number(-0.01) == "0.0"
    assert inches.number(None) == "–"


def test_lists_and_counts() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed([str(i) for i in range(10)]).endswith("and 2 more")
    assert count(1, "plot") == "1 plot"
    assert count(1200, "plot") == "1,200 plots"


def test_amounts_in_a_sentence_are_written_in_the_reader_s_units() -> None:
    said = "None on 4.8 m: up to 2 stems/m, 3 stems/m² or 30.48 cm in HR4M8."
    assert amounts_in(said, UnitSystem.METRIC) == said
    # 1 ft is 0.3048 m and 1 in is 2.54 cm by definition.
    assert amounts_in(said, UnitSystem.US) == (
        "None on 16 ft: up to 0.61 stems/ft, 0.28 stems/sq ft or 12 in in HR4M8."
    )


@pytest.mark.parametrize(
    ("number", "every", "words"),
    [
        (3, 6, "3 of the 6 pairs"), (0, 1, "0 of the 1 pair"), (1, 1, "the one pair"),
        (2, 2, "both pairs"), (6, 6, "all 6 pairs"), (1225, 1225, "all 1,225 pairs"),
    ],
)  # fmt: skip
def test_pairs_are_counted_out_of_all(number: int, every: int, words: str) -> None:
    assert pairs_of(number, every) == words
    assert capital(words) == words[0].upper() + words[1:]


def test_what_is_shown_per_foot_is_named_so() -> None:
    stems = next(measure for measure in MEASURES if measure.key == "stems_per_metre")
    us = measure_figures(stems, UnitSystem.US)
    assert (us.unit, us.named(stems.label)) == ("stems/ft", "stems per foot of bed")
    assert measure_figures(stems, UnitSystem.METRIC).named(stems.label) == stems.label
    length = next(measure for measure in MEASURES if measure.key == "stem_length_cm")
    assert measure_figures(length, UnitSystem.US).named(length.label) == "stem length"


@pytest.mark.parametrize(
    ("margin", "key", "metric", "us"),
    [
        (Margin(10, percent=True), "stems_per_metre", "10%", "10%"),
        (Margin(7, percent=False), "stems_per_metre", "7 stems/m", "2.1 stems/ft"),
        (Margin(5, percent=False), "stem_length_cm", "5 cm", "2 in"),
        (Margin(0.05, percent=False), "marketable_share", "5 percentage points",
         "5 percentage points"),
        (Margin(1.5, percent=False), "stems_per_plant", "1.5 stems/plant", "1.5 stems/plant"),
    ],
)  # fmt: skip
def test_a_margin_has_the_readers_units(margin: Margin, key: str, metric: str, us: str) -> None:
    measure = next(each for each in MEASURES if each.key == key)
    assert margin_words(margin, measure, UnitSystem.METRIC) == metric
    assert margin_words(margin, measure, UnitSystem.US) == us
