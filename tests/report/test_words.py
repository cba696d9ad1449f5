"""The sentences say what the figures carry, and no more."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from tests.conftest import table_of
from trials.model.trial import AppliedTo, Margin
from trials.model.units import UnitSystem
from trials.report.comparison_page import comparison_page
from trials.report.comparison_tables import means_table, pair_rows, pairs_table
from trials.report.diagnostics_words import solid_line
from trials.report.figures import figures_of
from trials.report.words import plain_words
from trials.stats import Labels, PlotTable, Question, Treatment, compare, second_opinions
from trials.stats.results import Comparison, Verdict
from trials.stats.what_was_tested import FragileVerdict, Why

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
    assert "C4 is about 1.8 t/ha above C1, and at least 0.01 t/ha above it" in words.differs
    assert "1 of the 6 pairs of cultivars differs." in words.differs
    assert "5 of the 6 pairs of cultivars are too close to call." in words.not_told
    assert "differences of about 1.8 t/ha" in words.not_told  # the published HSD at 5 %


def test_a_difference_that_another_test_doubts_is_not_said_to_be_answered() -> None:
    found = compare(
        table_of(
            {
                "pinch": ["no"] * 4 + ["yes"] * 4,
                "yield": [10.0, 11, 10.5, 10.7, 14, 15, 14.2, 14.9],
            },
            "pinch",
        ),
        Question(),
    )
    assert plain_words(found).not_told == "Every pair got an answer."
    fragile = (FragileVerdict("pinch", "row 3", 0.2),)
    doubted = replace(found, solid=replace(found.solid, fragile=fragile))
    said = plain_words(doubted)
    assert "the verdict on pinch depends on one plot, row 3: leaving it out" in said.differs
    assert said.not_told == "What differs is in doubt, as said above: treat it as undecided."


def test_many_plots_that_each_turn_a_verdict_are_counted() -> None:
    found = compare(
        table_of({"pinch": ["no"] * 4 + ["yes"] * 4, "yield": [*range(4), *range(9, 13)]}, "pinch"),
        Question(),
    )
    for number, said in (
        (1, "one plot, row 9"),
        (2, "any one of 2 plots (row 9 and row 8)"),
        (10, "any one of 10 plots (row 9, row 8, row 7, row 6 or 6 others)"),
    ):
        fragile = tuple(FragileVerdict("pinch", f"row {9 - i}", 0.2) for i in range(number))
        doubted = replace(found, solid=replace(found.solid, fragile=fragile))
        assert f"the verdict on pinch depends on {said}" in solid_line(doubted)
        assert f"the verdict on pinch depends on {said}: leaving" in plain_words(doubted).differs


def test_differences_of_shares_are_percentage_points() -> None:
    """0.7 and 0.3 of the plants, or 70 % and 30 %: 40 percentage points apart."""
    shares = [0.29, 0.31, 0.30, 0.30, 0.70, 0.71, 0.69, 0.70]
    table = table_of({"pinch": ["no"] * 4 + ["yes"] * 4, "yield": shares}, "pinch")
    found = compare(replace(table, unit="share"), Question(check="no"))
    said = plain_words(found).differs
    assert "about 40.0 percentage points above" in said
    figures = figures_of(found)
    assert figures.amount(0.7) == "70.0%"
    headings = [column.heading for column in means_table(found, "pinch", figures).columns]
    assert "difference from no (percentage points)" in headings
    rows = pair_rows(found, "pinch", figures)
    heading = pairs_table(found, "pinch", rows).columns[1].heading
    assert heading == "difference (percentage points)"
    unlike = compare(
        replace(table, y=table.y[::-1] * 0 + np.tile([0.2, 0.6, 0.4, 0.5], 2), unit="share"),
        Question(),
    )
    not_told = plain_words(unlike).not_told
    assert "percentage points." in not_told
    assert "of the mean" not in not_told


def test_a_wide_margin_makes_pairs_the_same_for_the_grower() -> None:
    words = plain_words(cultivars(Question(margin=Margin(5.0))))
    assert "Every pair got an answer." in words.not_told
    # The published difference of C4 and C1 is real (p 0.0486), only too small to matter.
    said = "1 pair of cultivars differs, but by less than what matters to you."
    assert words.differs.startswith(said)


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


def planted(rows: list[tuple[str, str, str, float]], *factors: str) -> Comparison:
    """Rows of block, a, b and figure, compared with all second opinions."""
    block, a, b, y = zip(*rows, strict=True)
    columns = {"block": block, "a": a, "b": b, "yield": y}
    table = table_of(columns, *factors, block="block")
    return second_opinions(table, Question(), compare(table, Question()))


LUCK = np.random.default_rng(3).normal(0, 0.5, 18)


def test_an_empty_combination_is_left_out_by_name_and_shown_within_levels() -> None:
    places = list(itertools.product("123", ("a1", "a2", "a3"), ("b1", "b2")))
    rows = [
        (block, a, b, 10 + 3 * int(a[1]) + luck)
        for (block, a, b), luck in zip(places, LUCK, strict=True)
        if (a, b) != ("a3", "b2")
    ]
    found = planted(rows, "a", "b")
    words, page = plain_words(found), comparison_page(found, "t")
    assert "Every pair" not in words.not_told
    assert "a3 has no figure with b2, so it has no mean over all levels of b." in words.not_answered
    assert "In yield with b1, a3 is about" in words.differs
    assert "pairs of a within b1" in page
    assert "a3 over a1" in page
    lines = [line.split() for line in page.splitlines()]
    assert ["a3", "3", "–", "–", "–", "–"] in lines
    assert "a3 has no mean over all levels of the other factors" in " ".join(page.split())


def test_treatments_that_always_go_together_get_no_verdict() -> None:
    rows = [
        (block, f"a{i}", f"b{i}", 10 + LUCK[3 * int(block) + i])
        for block in "012"
        for i in range(3)
    ]
    found = planted(rows, "a", "b")
    words, page = plain_words(found), comparison_page(found, "t")
    assert words.differs == "Nothing was compared: the effects of a and b cannot be separated."
    assert "a and b always went together" in words.not_answered
    assert "in part of the trial" not in page.lower()
    assert "Do other tests agree? There is nothing to check" in page
    assert "replication" not in words.not_told


def test_four_plots_say_what_could_not_be_checked() -> None:
    rows = [("A", "x", "", 4.1), ("A", "z", "", 6.0), ("B", "x", "", 4.3), ("B", "z", "", 6.25)]
    found = planted(rows, "a")
    page = " ".join(comparison_page(found, "t").split())
    assert found.tests[0].p < 0.05
    assert "But no second test could confirm the result for a, so it is only a hint." in page
    assert "Do other tests agree? None could be made." in page
    assert "its p-value cannot fall below 0.5" in page  # x z or z x in the second block: 1 in 2


def test_a_test_that_disagrees_softens_the_headline() -> None:
    wild = np.array([-6.0, 5.0, -4.0, 7.0, -1.0, 3.0, -8.0, 4.0])
    quiet = np.array([0.1, -0.2, 0.0, 0.3, -0.1, 0.2, -0.3, 0.1])
    groups = {"x": 10 + quiet, "z": 11 + quiet[::-1], "w": 14 + wild}
    columns = {
        "a": [level for level in groups for _ in range(8)],
        "yield": np.concatenate(list(groups.values())).tolist(),
    }
    table = table_of(columns, "a")
    found = second_opinions(table, Question(), compare(table, Question()))
    opinion = found.solid.unequal_variances
    assert opinion is not None
    assert not opinion.agrees
    assert "he test with a variance for each level" in plain_words(found).differs
    assert "undecided" in plain_words(found).differs


def test_a_constant_measure_is_called_constant() -> None:
    rows = [(block, a, "", 7.0) for block in "123" for a in "xyz"]
    found = planted(rows, "a")
    words, page = plain_words(found), comparison_page(found, "t")
    assert words.differs == "Nothing was compared: yield is 7.0 kg in every plot."
    assert "replication" not in page


def test_what_was_not_compared_is_left_out_of_the_count() -> None:
    """C4 - C1 alone of the six pairs, as where the other cultivars never met within a block."""
    found = cultivars()
    (tested,) = found.tested.factors
    one = next(pair for pair in found.all_pairs if pair.verdict is not Verdict.UNKNOWN)
    part = replace(tested, compared=1, why=Why.NEVER_MET, left_out=("C2", "C3"))
    met = replace(
        found,
        all_pairs=(one,),
        tested=replace(found.tested, factors=(part,)),
        solid=replace(found.solid, fragile=(), made=(), not_made=()),
    )
    assert plain_words(met).not_told == "The one pair that was compared got an answer."
    assert (
        "1 of the 6 pairs of cultivars was compared: the others never met within a block, "
        "directly or through other levels."
    ) in plain_words(met).not_answered
    two = replace(met, all_pairs=(one, replace(one, a=one.b, b=one.a)))
    assert plain_words(two).not_told == "Each of the 2 pairs that were compared got an answer."
    none = replace(
        met,
        all_pairs=tuple(replace(pair, verdict=Verdict.UNKNOWN) for pair in met.all_pairs),
        tests=(),
    )
    assert plain_words(none).differs == (
        "None of the differences in yield that could be compared is larger than chance could "
        "explain."
    )


def test_what_only_differs_from_the_check_is_said_so() -> None:
    found = cultivars(Question(check="C1"))
    unknown = tuple(replace(pair, verdict=Verdict.UNKNOWN) for pair in found.all_pairs)
    only = replace(found, all_pairs=unknown, tests=())
    beside = [pair for pair in found.with_check if pair.verdict is not Verdict.UNKNOWN]
    named = sorted(pair.a[0][1] for pair in beside)
    assert named == ["C4"]
    assert plain_words(only).differs == (
        "C4 differs from C1 when only comparisons with the check are made."
    )
    more = replace(only, with_check=(*beside, replace(beside[0], a=(("cultivar", "C2"),))))
    assert plain_words(more).differs == (
        "C2, C4 differ from C1 when only comparisons with the check are made."
    )
