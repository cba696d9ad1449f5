"""Plans written as text: what a form holds reads back, and a proposal that was taken is kept."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from tests.plans import plan_of
from trials.errors import PlanRefused, RecordsRefused
from trials.layout.calendar import TaskKind
from trials.model.trial import AppliedTo
from trials.records.plan.file import written_plan
from trials.records.plan.keys import PARTS, PLAN, REPEATED
from trials.records.plan.text import plan_text_of, with_taken
from trials.report.file_reference import plan_keys_page
from trials.stats.results import LayoutKind

EXAMPLE = Path(__file__).parents[2] / "data" / "plan-example.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")


def test_what_a_form_holds_reads_back() -> None:
    values = tomllib.loads(TEXT)
    assert tomllib.loads(plan_text_of(values)) == values


@pytest.mark.parametrize(
    "name",
    [
        'a "quoted" one',
        "back\\slash",
        "{0} {x!r} %s",
        "Ünï 花",
        "[x] = 1",
        "a\u200bb\u202e",
        "\U0001f33c",
    ],
)
def test_any_name_reads_back(name: str) -> None:
    values = tomllib.loads(TEXT)
    values["question"] = name
    values["factors"][0]["levels"][1] = name
    read = plan_of(plan_text_of(values), "the form")
    assert read.question == name
    assert read.factors[0].levels[1] == name


def test_a_question_may_run_over_lines_and_a_name_may_not() -> None:
    values = tomllib.loads(TEXT)
    values["question"] = "two\nlines"
    assert plan_of(plan_text_of(values), "the form").question == "two\nlines"
    values["beds"][0]["name"] = "two\nlines"
    with pytest.raises(RecordsRefused, match=r"beds\[1\].name: 'two\\nlines' is not valid here"):
        plan_of(plan_text_of(values), "the form")


@pytest.mark.parametrize(
    ("name", "wrong"), [("a\x00b", "code 0"), ("\x1b[2J", "code 27"), ("x" * 1001, "1,000 char")]
)
def test_names_are_judged_as_those_of_the_sheets(name: str, wrong: str) -> None:
    values = tomllib.loads(TEXT)
    values["trial"] = name
    with pytest.raises(RecordsRefused, match=wrong):
        plan_of(plan_text_of(values), "the form")
    values["trial"] = "x"
    values["factors"][0]["levels"][1] = name
    with pytest.raises(RecordsRefused, match="levels"):
        plan_of(plan_text_of(values), "the form")


def test_halves_of_characters_are_replaced_in_a_form_s_text() -> None:
    values = {**tomllib.loads(TEXT), "question": "a\ud800b"}
    assert plan_of(plan_text_of(values), "the form").question == "a\ufffdb"


def test_what_was_not_filled_in_is_left_out() -> None:
    values = {**tomllib.loads(TEXT), "equivalence_margin": None, "assume": {"cv_percent": None}}
    read = written_plan(plan_text_of(values), "the form")
    assert read.plan.margin is None
    assert read.assumed.cv_percent is None


def test_what_was_taken_is_kept_in_the_text() -> None:
    text = TEXT.replace(
        "[[beds]]", '[[factors]]\nname = "pinch"\nlevels = ["yes", "no"]\n\n[[beds]]', 1
    )
    written = written_plan(text, "plan")
    variety, pinch = written.plan.factors
    taken = replace(
        written.plan,
        kind=LayoutKind.SPLIT_PLOT,
        replicates=3,
        plants_per_plot=9,
        factors=(variety, replace(pinch, applied_to=AppliedTo.WHOLE_PLOT)),
    )
    kept = with_taken(text, written, taken)
    assert kept.startswith(text.rstrip())
    assert plan_of(kept, "plan") == taken
    assert with_taken(text, written, written.plan) == text
    with pytest.raises(PlanRefused, match="already"):
        with_taken(kept, written_plan(kept, "plan"), written.plan)


def test_the_wishes_of_a_plan_are_read() -> None:
    text = TEXT.replace("replicates = 4", 'replicates = 2\ndetect = "20 %"\nchance = 0.9')
    read = written_plan(f"{text}\n[happened]\ntransplanted_on = 2026-05-01\n", "plan")
    assert (read.detect_percent, read.chance) == (20.0, 0.9)
    assert read.happened == {TaskKind.TRANSPLANT: date(2026, 5, 1)}
    assert read.timing.days_to_bloom == 110


@pytest.mark.parametrize(
    ("old", "new", "hint"),
    [
        ("spacing_cm = 20", "spacing = 20", "Did you mean 'spacing_cm'?"),
        ("guards = 1", "gaurds = 1", "Did you mean 'guards'?"),
        ("guards = 1", "rows = 3", r"It belongs in the part \[planting\]."),
        ("rows = 3", "rows = 3\nreplicates = 4", "It belongs at the top"),
        ("days_to_bloom", "days_to_blom", "Did you mean 'days_to_bloom'?"),
    ],
)
def test_a_wrong_key_is_told_the_one_that_was_meant(old: str, new: str, hint: str) -> None:
    with pytest.raises(RecordsRefused, match=hint):
        plan_of(TEXT.replace(old, new, 1), "plan")


def test_every_key_can_be_looked_up() -> None:
    page = " ".join(plan_keys_page().split())
    for keys in (PLAN, *(part for name, part in {**PARTS, **REPEATED}.items() if name != "taken")):
        for name, key in keys.items():
            mark = "?" if key.optional else ""
            assert f" {name}{mark} {' '.join(key.decides.split())}" in page
