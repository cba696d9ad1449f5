"""The sentences say what the figures carry, and no more."""

from __future__ import annotations

import numpy as np

from trials.model import AppliedTo, Margin
from trials.report.comparison_page import comparison_page
from trials.report.words import plain_words
from trials.stats import Labels, PlotTable, Question, Treatment, compare
from trials.stats.results import Comparison
from trials.units import UnitSystem

# Clewer & Scarisbrick 2001, 4 cultivars in 3 blocks; Tukey: C4 - C1 differ (p 0.0486), no other.
CULTIVARS = ("C1", "C2", "C3", "C4") * 3
BLOCKS = ("B1",) * 4 + ("B2",) * 4 + ("B3",) * 4
YIELDS = np.array([7.4, 9.8, 7.3, 9.5, 6.5, 6.8, 6.1, 8.0, 5.6, 6.2, 6.4, 7.4])


def cultivars(question: Question | None = None, unit: str = "t/ha") -> Comparison:
    table = PlotTable(
        measure="yield",
        unit=unit,
        y=YIELDS,
        treatments=(Treatment(Labels.of("cultivar", CULTIVARS)),),
        plot_names=tuple(f"plot {n}" for n in range(12)),
        block=Labels.of("block", BLOCKS),
    )
    return compare(table, question or Question())


def halves() -> Comparison:
    """One bed, one half pinched, 40 stems measured on each half."""
    lengths = np.concatenate([np.linspace(50, 60, 40), np.linspace(40, 50, 40)])
    sides = ["unpinched"] * 40 + ["pinched"] * 40
    table = PlotTable(
        measure="stem length",
        unit="cm",
        y=lengths,
        treatments=(Treatment(Labels.of("pinch", sides), AppliedTo.WHOLE_PLOT),),
        plot_names=tuple(sides),
        whole_plot_unit=Labels.of("half", sides),
    )
    return compare(table, Question())


def test_what_differs_is_said_by_its_nearest_limit() -> None:
    words = plain_words(cultivars())
    # The limit nearest to none: 8.3 - 6.5 less the published HSD of 1.7876201 leaves 0.0124.
    assert "C4 is above C1 by at least 0.01 t/ha" in words.differs
    assert "Of 6 pairs of cultivar levels, 1 differs." in words.differs
    assert "5 of 6 pairs" in words.not_told
    assert "1.8 t/ha" in words.not_told  # the published HSD at 5 %


def test_a_wide_margin_makes_pairs_the_same_for_the_grower() -> None:
    words = plain_words(cultivars(Question(margin=Margin(5.0))))
    assert "Every pair got an answer." in words.not_told
    assert "No difference" in words.differs


def test_halves_of_a_bed_get_no_verdict_but_a_remedy() -> None:
    found = halves()
    words = plain_words(found)
    assert "Without replication" in words.not_told
    assert "blocks" in words.not_answered
    page = comparison_page(found, "one bed")
    assert "p =" not in page
    assert "p <" not in page
    assert "interval" not in page.split("Cautions", maxsplit=1)[0].replace("no interval", "")


def test_inches_for_those_who_think_in_them() -> None:
    page = comparison_page(cultivars(unit="cm"), "lengths", UnitSystem.US)
    assert "(in)" in page
    assert f"{8.3 / 2.54:.1f}" in page


def test_names_cannot_steer_the_terminal() -> None:
    page = comparison_page(cultivars(), "\x1b[2Jtrial")
    assert "\x1b" not in page
