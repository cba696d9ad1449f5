"""``tallybed report``: the files asked for, and refusals that say what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from trials.cli import tallybed


def ran(*words: object) -> tuple[int, str]:
    said = CliRunner().invoke(tallybed, ["report", *map(str, words)])
    return said.exit_code, said.output + str(said.exception or "")


@pytest.mark.slow
def test_both_files_are_written_in_one_go(farm_store: Path, tmp_path: Path) -> None:
    pdf, page = tmp_path / "r.pdf", tmp_path / "r.html"
    code, said = ran("plume-2025", "--pdf", pdf, "--html", page, "--store", farm_store)
    assert code == 0, said
    assert f"Written: {pdf}" in said
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "Which plume celosia are worth a bed?" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["plume-2025"], "Name a file"),
        (["plum-2025", "--html", "x.html"], "Did you mean 'plume-2025'?"),
    ],
)
def test_a_refusal_says_what_to_do(
    farm_store: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    expected: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    code, said = ran(*words, "--store", farm_store)
    assert code != 0
    assert expected in said
    assert list(tmp_path.iterdir()) == []
