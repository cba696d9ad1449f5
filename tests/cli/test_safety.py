"""Checking, copying and putting back, from the command line."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from trials import season
from trials.cli import tallybed

ROOT = Path(__file__).parents[2]
BLOCK = 3 * 4096 + 100 * 16_384  # the place of a block


@pytest.fixture
def store(farm_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(farm_store, tmp_path))


def run(*words: object) -> Result:
    return CliRunner().invoke(tallybed, [str(word) for word in words], catch_exceptions=False)


def test_check_says_what_it_read(store: Path) -> None:
    shown = run("verify", "--store", store)
    assert shown.exit_code == 0
    assert shown.output.endswith("The store is undamaged.\n")
    found = json.loads(run("verify", "--store", store, "--json").output)
    assert found["findings"] == []
    assert sum(table["rows"] for table in found["tables"]) > 9_000


@pytest.mark.slow
def test_check_of_a_damaged_store_says_what_to_do(store: Path) -> None:
    content = bytearray(store.read_bytes())
    content[BLOCK + 40] ^= 1
    store.write_bytes(content)
    shown = run("verify", "--store", store)
    assert shown.exit_code == 2
    assert "The store is DAMAGED:" in shown.output
    assert "block 100 of its" in shown.output
    assert f"tallybed restore BACKUP --to {store}" in shown.output
    found = run("verify", "--store", store, "--json")
    assert found.exit_code == 2
    assert [each["part"] for each in json.loads(found.output)["findings"]][-1] == "file"


@pytest.mark.slow
def test_a_copy_is_made_and_put_back(store: Path, tmp_path: Path) -> None:
    made = json.loads(run("backup", "--store", store, "--json", "--to", tmp_path / "c").output)
    assert Path(made["folder"]).parent == tmp_path / "c"
    shown = run("restore", made["folder"], "--to", store)
    assert "read again and found equal" in shown.output
    assert "the earlier store is now" in shown.output
    assert len(season.trials(store)) == 7
    again = run("backup", "--store", store)
    assert f"tallybed restore {store.parent / 'farm-backups'}" in again.output
