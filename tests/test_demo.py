"""The demo replaces what an earlier demo made, and nothing else."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from trials import season
from trials.cli import tallybed
from trials.errors import FileRefused
from trials.model.rows import Signed
from trials.season.demo import FILES, LIST_NAME, STORE_NAME, demo


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Path:
    """A finished demo to change."""
    return Path(shutil.copytree(demo_folder, tmp_path / "demo"))


def contents(folder: Path) -> dict[str, bytes]:
    files = [file for file in folder.rglob("*") if file.is_file()]
    return {str(file.relative_to(folder)): file.read_bytes() for file in files}


def refused(folder: Path, name: str) -> str:
    """The refusal of a demo; it names the file, says where else, and has changed nothing."""
    before = contents(folder)
    with pytest.raises(FileRefused, match="--into") as refusal:
        demo(folder)
    assert name in str(refusal.value)
    assert contents(folder) == before
    return str(refusal.value)


@pytest.mark.slow
def test_a_second_demo_replaces_its_own_and_nothing_else(own: Path, farm_store: Path) -> None:
    shutil.copy(farm_store, own)
    (own / "notes.txt").write_text("order netting", encoding="utf-8")
    (own / "standings.txt").unlink()
    before = contents(own)
    ran = CliRunner().invoke(tallybed, ["demo", "--into", str(own)])
    assert ran.exit_code == 0
    for name in ("comparison.txt", "standings.txt", "seed-order.csv", "seed-order.pdf"):
        assert (own / name).stat().st_size > 0
        assert name in ran.output
    assert len(season.trials(own / STORE_NAME)) == 7
    after = contents(own)
    for name in (farm_store.name, "notes.txt"):
        assert after[name] == before[name]


@pytest.mark.slow
def test_its_list_of_files_is_what_sha256sum_checks(demo_folder: Path) -> None:
    """Each line is a digest, two spaces and a name: the form of the coreutils program."""
    lines = (demo_folder / LIST_NAME).read_text(encoding="utf-8").splitlines()
    listed = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
    assert listed == {
        name: hashlib.sha256((demo_folder / name).read_bytes()).hexdigest()
        for name in FILES
        if (demo_folder / name).exists()
    }
    orders = {name for name in FILES if name.startswith("order-")}
    assert FILES.keys() - listed <= orders  # a house that nothing is bought from gets none
    assert listed.keys() & orders


def test_a_store_of_somebody_by_the_demos_name_is_left(tmp_path: Path, farm_store: Path) -> None:
    shutil.copy(farm_store, tmp_path / STORE_NAME)
    season.trials(tmp_path / STORE_NAME)  # its lock is beside it from now on
    assert "was not made by the demo" in refused(tmp_path, STORE_NAME)


def test_a_file_that_is_no_store_is_left(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / STORE_NAME) as connection:
        connection.execute("CREATE TABLE bed (name)")
    assert "was not made by the demo" in refused(tmp_path, STORE_NAME)


def test_a_journal_without_its_store_is_left(tmp_path: Path) -> None:
    (tmp_path / f"{STORE_NAME}.wal").write_bytes(b"somebody's")
    refused(tmp_path, f"{STORE_NAME}.wal")


@pytest.mark.slow
def test_a_demo_that_somebody_recorded_in_is_left(own: Path) -> None:
    store = own / STORE_NAME
    rows = "site,place,bed_width_m\nTop field,behind the barn,1.2\n"
    sites = own / "sites.csv"
    sites.write_text(rows, encoding="utf-8")
    season.load(store, [sites], signed=Signed("Ida", "our own beds"))
    assert "changes that the demo did not make" in refused(own, STORE_NAME)


@pytest.mark.parametrize("name", FILES)
def test_a_file_of_the_same_name_is_left(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("my own\n", encoding="utf-8")
    assert "was not written by the demo" in refused(tmp_path, name)
    assert not (tmp_path / STORE_NAME).exists()


@pytest.mark.slow
def test_a_file_of_the_demo_that_was_edited_is_left(own: Path) -> None:
    path = own / "standings.txt"
    path.write_text(f"{path.read_text(encoding='utf-8')}Sow early.\n", encoding="utf-8")
    refused(own, path.name)


@pytest.mark.slow
def test_a_link_by_the_name_of_a_file_is_left(own: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "orders.csv"
    (own / "seed-order.csv").rename(elsewhere)
    (own / "seed-order.csv").symlink_to(elsewhere)
    elsewhere.write_text("my own\n", encoding="utf-8")
    refused(own, "seed-order.csv")


def test_another_list_of_the_same_name_is_left(tmp_path: Path) -> None:
    (tmp_path / LIST_NAME).write_text(f"my own, {date(2026, 11, 1)}\n", encoding="utf-8")
    refused(tmp_path, LIST_NAME)


@pytest.mark.parametrize("line", ["abc  standings.txt", f"{'0' * 64}  my-own.txt"])
def test_a_list_of_other_digests_or_files_is_left(tmp_path: Path, line: str) -> None:
    (tmp_path / LIST_NAME).write_text(f"{line}\n", encoding="utf-8")
    assert "not a list the demo wrote" in refused(tmp_path, LIST_NAME)
