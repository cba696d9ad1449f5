"""The sentences that growers see most, as the program makes them from results and refusals.

Figures in them are worked out beside the program: counted from the verdicts, or by hand.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from tests.conftest import FARM, table_of
from tests.decide.test_substitutes import GONE, LARGE, SMALL, ordering
from tests.plans import plan_of
from trials import season
from trials.cli import tallybed
from trials.decide import Reason, ReasonCode
from trials.errors import Fault, PlanRefused, RecordsHeld, RecordsRefused, SignInRefused
from trials.layout import lay_out
from trials.model.trial import MEASURES, AppliedTo, Role
from trials.records.plan.file import plan_text
from trials.report.choice_page import choice_page, reason_words
from trials.report.comparison_page import comparison_page
from trials.report.figures import measure_figures
from trials.report.form_words import EMPTY, form_sentences
from trials.report.order_page import unavailable_sentence
from trials.season.people import add_person, sign_in
from trials.stats import Question, compare
from trials.stats.results import Comparison, LayoutKind, Verdict

EXAMPLE = Path(__file__).parents[1] / "data" / "plan-example.toml"
STEMS: dict[str, Any] = {"measure": "stems per plant", "unit": "stems/plant"}


def noise(row: int) -> float:
    """The same small differences between plots every time; they add up to about nothing."""
    return ((row * 7 + row * row * 3) % 11 - 5) / 5


def twelve_varieties(step: float) -> Comparison:
    """Twelve varieties in four blocks, each ``step`` stems per plant above the one before it."""
    cells = [(variety, block) for block in range(4) for variety in range(12)]
    columns: dict[str, list[Any]] = {
        "variety": [f"V{variety:02}" for variety, _ in cells],
        "block": [str(block) for _, block in cells],
        "stems per plant": [
            20 + step * variety + block + noise(row) for row, (variety, block) in enumerate(cells)
        ],
    }
    return compare(table_of(columns, "variety", block="block", **STEMS), Question())


def said(found: Comparison) -> str:
    """The page of a result on one line."""
    return " ".join(comparison_page(found, "trial").split())


def test_no_difference() -> None:
    found = twelve_varieties(0.0)
    assert {pair.verdict for pair in found.all_pairs} == {Verdict.UNKNOWN}
    assert (
        "None of the differences in stems per plant is larger than chance could explain."
    ) in said(found)


def test_how_many_differ_and_how_many_are_too_close_to_call() -> None:
    found = twelve_varieties(0.5)
    verdicts = [pair.verdict for pair in found.all_pairs]
    close = verdicts.count(Verdict.UNKNOWN)
    assert len(verdicts) == 66
    assert 5 < close < 61
    page = said(found)
    assert f"{66 - close} of the 66 pairs of varieties differ." in page
    assert f"{close} of the 66 pairs of varieties are too close to call." in page
    reach = float(np.median([(p.high - p.low) / 2 for p in found.all_pairs]))
    only = "Between two varieties this trial could only show differences of about"
    shown = re.search(rf"{only} ([\d.]+) stems/plant", page)
    assert shown is not None
    assert float(shown[1]) == pytest.approx(reach, abs=0.05)


def test_one_season_letters_and_other_tests() -> None:
    page = said(twelve_varieties(1.0))
    assert (
        "These results are from one season. Another season may rank the varieties differently."
    ) in page
    same = "Varieties with the same letter are too close to call when all pairs are compared."
    assert same in page
    assert "Do other tests agree? Yes" in page


def test_the_surest_difference() -> None:
    grown = [("unpinched", "pinched")[row % 2] for row in range(12)]
    stems = [5 + 6.5 * (row % 2) + row // 2 + noise(row) for row in range(12)]
    columns: dict[str, list[Any]] = {
        "pinch": grown,
        "block": [str(row // 2) for row in range(12)],
        "stems per plant": stems,
    }
    found = compare(table_of(columns, "pinch", block="block", **STEMS), Question())
    by_hand = np.array(stems)
    differences = by_hand[1::2] - by_hand[::2]
    least = differences.mean() - 2.5706 * differences.std(ddof=1) / np.sqrt(6)  # t of 5 df, tables
    shown = re.search(
        r"Pinched gave about ([\d.]+) more stems per plant than unpinched, and at least ([\d.]+) "
        r"more\.",
        said(found),
    )
    assert shown is not None
    assert float(shown[1]) == pytest.approx(differences.mean(), abs=0.05)
    assert float(shown[2]) == pytest.approx(least, abs=0.05)


def test_an_interaction() -> None:
    cells = [(p, v, b) for b in range(4) for p in range(2) for v in range(3)]
    columns: dict[str, list[Any]] = {
        "pinch": [("no", "yes")[p] for p, _, _ in cells],
        "variety": [f"V{v}" for _, v, _ in cells],
        "block": [str(b) for *_, b in cells],
        "stems per plant": [10 + 8 * p * v + b + noise(row) for row, (p, v, b) in enumerate(cells)],
    }
    found = compare(table_of(columns, "pinch", "variety", block="block", **STEMS), Question())
    assert (
        "How much pinch changed stems per plant depended on the variety: compare each combination."
    ) in said(found)


def test_whole_plots_that_differ_no_more_than_their_plots() -> None:
    within = (1.0, -2.0, 1.0)  # adds up to nothing in every whole plot
    cells = [(c, v, b) for b in range(4) for c in range(2) for v in range(3)]
    columns: dict[str, list[Any]] = {
        "cover": [("bare", "covered")[c] for c, _, _ in cells],
        "variety": [f"V{v}" for _, v, _ in cells],
        "block": [str(b) for *_, b in cells],
        "stems per plant": [
            10 + 2 * c + b + (1 + b / 5) * within[(v + b + c) % 3] + noise(2 * b + c) / 9
            for c, v, b in cells
        ],
    }
    table = table_of(
        columns,
        "cover",
        "variety",
        block="block",
        on={"cover": AppliedTo.WHOLE_PLOT},
        **STEMS,
    )
    assert "Whole plots differed no more than the plots inside them" in said(
        compare(table, Question())
    )


def plan_refusal(**changed: Any) -> str:
    """Why the example plan with something changed cannot be laid out."""
    with pytest.raises(PlanRefused) as refused:
        lay_out(replace(plan_of(plan_text(EXAMPLE), "plan"), **changed))
    return str(refused.value)


def test_layouts_that_cannot_be_tested() -> None:
    assert plan_refusal(replicates=1) == (
        "1 replicate: with one plot per treatment there is nothing to estimate error from. Use at "
        "least 2, better 3 or 4."
    )
    assert plan_refusal(kind=LayoutKind.AUGMENTED_BLOCKS) == (
        "In augmented blocks the error is estimated from the checks only, and 1 is too few. Name "
        "at least 2 checks; 3 in 5 blocks work well."
    )


def test_empty_fields_of_a_form() -> None:
    keys = ("trial", "question", "season", "crop")
    faults = [Fault("plan", None, key, EMPTY, "Write it.") for key in keys]
    labels = {"trial": "Code", "question": "Question", "season": "Season", "crop": "Crop"}
    assert form_sentences(RecordsRefused(faults), labels) == [
        "Four fields are empty: “Code”, “Question”, “Season” and “Crop”."
    ]


@pytest.mark.slow
def test_a_wrong_passphrase_and_a_wrong_name(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    season.load(store, [FARM / "sites.csv"])
    add_person(store, "Ada", Role.GROWER, "four plain words here", None)
    for name, passphrase in (("Ada", "four other words here"), ("Eve", "four plain words here")):
        with pytest.raises(SignInRefused) as refused:
            sign_in(store, name, passphrase)
        assert str(refused.value) == "Name or passphrase is wrong."


def test_more_stems_than_plants_can_have_given(farm_store: Path, tmp_path: Path) -> None:
    """C6222 was set with 16 plants; 4,000 stems come on top of those stored."""
    plots = season.plots(farm_store, "cosmos-2026")
    first = plots.iloc[0]
    cuts = tmp_path / "cuts.csv"
    cuts.write_text(
        "plot,cut_on,outcome,grade_cm,stems,cull_reason\n"
        f"{first['plot']},2026-10-01,picked,60,4000,\n",
        encoding="utf-8",
    )
    with pytest.raises(RecordsHeld) as held:
        season.load(farm_store, [cuts], dry_run=True)
    (fault,) = held.value.faults
    shown = re.fullmatch(
        rf"(4,\d\d\d) stems so far from 16 plants in plot '{first['plot']}'\?", fault.problem
    )
    assert shown is not None
    assert fault.remedy.startswith("Check the number.")


def test_a_packet_that_is_sold_out() -> None:
    assert unavailable_sentence(ordering([GONE, SMALL, LARGE], "Ash")) == (
        "Barn is sold out of A50 (Ash, 50 seeds at 6.00 EUR per 100). The lowest price per seed "
        "now: a200 from Loft, 200 seeds at 7.00 EUR per 100."
    )


def test_another_trial_that_pays() -> None:
    net = next(measure for measure in MEASURES if measure.key == "net_per_metre")
    figures = replace(measure_figures(net), unit="EUR/m")
    assert reason_words(Reason(ReasonCode.TRIAL_PAYS, 31.2, 14.4), figures) == (
        "It could still be the best. Another trial of it costs about 14 EUR and is worth about "
        "31 EUR."
    )


@pytest.mark.slow
def test_what_is_dropped_for_its_length(demo_store: Path) -> None:
    page = " ".join(choice_page(season.choose(demo_store, "cosmos")).split())
    assert "Dropped: less than 80% chance of stems long enough to sell" in page
    assert "however good the flowers." in page


def test_help_of_two_options() -> None:
    page = " ".join(CliRunner().invoke(tallybed, ["compare", "--help"]).output.split())
    assert "Whether higher or lower is better" in page
    assert "Table: column with the field-column number." in page
