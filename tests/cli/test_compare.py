from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from trials.cli import tallybed
from trials.errors import ComparisonRefused

ROWS = """variety,block,stems
old,1,4
old,2,5
old,3,6
new,1,8
new,2,11
new,3,13
"""


def compared(path: Path, *options: str) -> str:
    words = ["compare", "--table", str(path), "--measure", "stems", "--treatment", "variety"]
    said = CliRunner().invoke(tallybed, [*words, "--block", "block", *options])
    assert said.exit_code == 0, said.output
    return said.output


@pytest.fixture
def rows(tmp_path: Path) -> Path:
    path = tmp_path / "rows.csv"
    path.write_text(ROWS, encoding="utf-8")
    return path


def test_on_the_log_scale_the_difference_is_a_ratio(rows: Path) -> None:
    document = json.loads(compared(rows, "--scale", "log", "--json"))
    (pair,) = document["all_pairs"]
    ratio = (8 * 11 * 13 / (4 * 5 * 6)) ** (1 / 3)  # of geometric means
    assert max(pair["difference"], 1 / pair["difference"]) == pytest.approx(ratio)
    assert document["scale"] == "log"
    assert "differences are ratios" in " ".join(compared(rows, "--scale", "log").split())


def test_the_square_root_scale_and_none(rows: Path) -> None:
    assert json.loads(compared(rows, "--scale", "sqrt", "--json"))["scale"] == "square root"
    assert json.loads(compared(rows, "--json"))["scale"] == "as measured"


def test_what_has_no_logit_is_refused_with_a_remedy(rows: Path) -> None:
    words = ["compare", "--table", str(rows), "--measure", "stems", "--treatment", "variety"]
    said = CliRunner().invoke(tallybed, [*words, "--scale", "logit"])
    assert isinstance(said.exception, ComparisonRefused) or "as measured" in said.output
    assert said.exit_code != 0
