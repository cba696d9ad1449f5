"""The rules of a choice at the terminal."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from trials.cli import tallybed
from trials.cli.seed import choose
from trials.decide import Rules


def test_the_rules_start_where_the_page_starts() -> None:
    usual = Rules()
    at_the_terminal = {
        str(option.name): option.default
        for option in choose.params
        if hasattr(usual, str(option.name))
    }
    assert len(at_the_terminal) == 5
    for name, value in at_the_terminal.items():
        assert value == getattr(usual, name)


@pytest.mark.slow
def test_more_bed_makes_another_trial_worth_more(demo_store: Path) -> None:
    def said(*words: str) -> str:
        shown = CliRunner().invoke(
            tallybed,
            ["choose", "cosmos", "--measure", "net_per_metre", *words, "--store", str(demo_store)],
        )
        assert shown.exit_code == 0, shown.output
        return " ".join(shown.output.split())

    assert "over 20 m of cosmos per season for 3 seasons" in said()
    assert "over 500 m of cosmos per season for 5 seasons" in said(
        "--bed-metres", "500", "--seasons-ahead", "5"
    )
    assert "Drop: all the rest" in said("--least-seasons", "3", "--tie-share", "0")
