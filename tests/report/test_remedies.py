"""Remedies: the verb at a terminal, the page for who sees it, the grower for who does not."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from trials.errors import RecordsRefused, Remedy, TallybedError, TrialState, Verb
from trials.model.trial import Role
from trials.records.faults import Faults, Wrong
from trials.report.pages import faults_table
from trials.report.remedies import PLACES, page_words, remedy_words
from trials.season.tallying import said_of_fields

TRIALS = Path(__file__).parents[2] / "trials"
CLOSE = Remedy("Close it first", Verb.CLOSE, "cosmos-2026 --on DATE")
RESTORE = Remedy("Put it back", Verb.RESTORE, "BACKUP --to STORE")
OPEN = TrialState("The trial is still open.", CLOSE)
# What is printed at a terminal alone, written to files or kept in the store.
AT_THE_TERMINAL = {"cli", "report", "pool"}
NO_MESSAGES = {
    "records/mapping/remembered.py",  # a remark in a file
    "season/demo.py",  # a command alone
    "season/shortcut.py",  # made at the command line alone
    "store/copies/backup.py",  # the page in a copy's folder
    "records/plan/keys.py",  # the plan's documented keys
    # A table of no store is compared at the command line and from Python, never on a page.
    "records/table/questions.py",
    "records/table/measure.py",
}
COMMAND = re.compile(r"\btallybed (?!back|layout)[a-z]+|(?:^|\s)--[a-z]")


def test_the_command_line_names_the_verb() -> None:
    assert str(OPEN) == (
        "The trial is still open. Close it first: tallybed close cosmos-2026 --on DATE"
    )
    assert remedy_words(CLOSE) == str(CLOSE)


@pytest.mark.parametrize(
    ("role", "words"),
    [
        (Role.GROWER, "The trial is still open. Close it first on the page Home."),
        (Role.ADVISER, "The trial is still open. Close it first: ask the grower."),
        (Role.PICKER, "The trial is still open. Close it first: ask the grower."),
    ],
)
def test_a_page_names_the_page_or_the_grower(role: Role, words: str) -> None:
    assert page_words(OPEN, role) == words


def test_what_only_a_terminal_can_do_is_told_to_the_grower_alone() -> None:
    assert remedy_words(RESTORE, Role.GROWER) == (
        "Put it back: tallybed restore BACKUP --to STORE, on the farm's machine."
    )
    assert remedy_words(RESTORE, Role.PICKER) == "Put it back: ask the grower."


def test_a_refusal_without_a_remedy_is_said_as_it_is() -> None:
    assert page_words(TallybedError("No."), Role.PICKER) == "No."
    assert remedy_words("Correct the cell.", Role.PICKER) == "Correct the cell."


def test_the_faults_of_records_are_worded_alike() -> None:
    faults = Faults()
    bring = Remedy("Bring it", Verb.LOAD, "FILE")
    faults.add("cuts.csv", 2, "plot", Wrong.mended_by("It is wrong.", bring))
    with pytest.raises(RecordsRefused) as caught:
        faults.refuse_if_any()
    refused = caught.value
    assert "It is wrong. Bring it: tallybed load FILE." in str(refused)
    assert faults_table(refused).rows[0][-1] == "Bring it: tallybed load FILE."
    assert faults_table(refused, Role.GROWER).rows[0][-1] == "Bring it on the page Home."
    (said,) = said_of_fields(refused, lambda remedy: remedy_words(remedy, Role.PICKER))
    assert said == "It is wrong. Bring it: ask the grower."


def test_every_verb_has_its_place_and_is_one_of_the_command_line() -> None:
    from trials.cli import tallybed

    assert set(PLACES) == set(Verb)
    assert {verb.partition(" ")[0] for verb in Verb} <= set(tallybed.commands)


def messages(path: Path) -> Iterator[str]:
    """The texts of a module but for docstrings and what a Remedy is given."""
    module = ast.parse(path.read_text(encoding="utf-8"))
    within = {
        inner
        for node in ast.walk(module)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if node.func.id == "Remedy"
        for inner in ast.walk(node)
    }
    alone = {node.value for node in ast.walk(module) if isinstance(node, ast.Expr)}
    for node in ast.walk(module):
        text = isinstance(getattr(node, "value", None), str)
        if isinstance(node, ast.Constant) and text and node not in within | alone:
            yield str(node.value)


@pytest.mark.slow
def test_no_message_spells_a_command_that_a_page_would_show() -> None:
    """Below the command line and the reports a command is named by a Remedy alone."""
    spelled = {
        f"{place}: {text}"
        for path in sorted(TRIALS.rglob("*.py"))
        if (place := path.relative_to(TRIALS).as_posix()) not in NO_MESSAGES
        and place.partition("/")[0] not in AT_THE_TERMINAL
        for text in messages(path)
        if COMMAND.search(text)
    }
    # Pages list such faults and doubts themselves, and ask for the reason in a field. The third is
    # of a table that is only compared, which no page does.
    assert {text.partition(":")[0] for text in spelled} == {"errors.py"}
    assert len(spelled) == 3
