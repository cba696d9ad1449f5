"""What befalls the folder of a store leaves it whole, and the words say what to do."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import duckdb
import pytest

from trials.errors import FileRefused, StoreDamaged, StoreMissing
from trials.store import Store, put_back


def journal_of(store: Store, why: str) -> bytes:
    """What a store's journal holds after a change that was not tidied up, as after a crash."""
    with duckdb.connect(store.path) as connection:
        connection.execute("PRAGMA disable_checkpoint_on_shutdown")
        connection.execute("UPDATE entry SET why = $why", {"why": why})
    return Path(f"{store.path}.wal").read_bytes()


def test_a_folder_that_goes_within_a_write_is_a_refusal(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    there = Store.open(Path(shutil.copy(store.path, folder)))
    with (  # noqa: PT012 (the commit is what fails)
        pytest.raises(FileRefused, match="Check that the disk is there"),
        there.turns.writing() as cursor,
    ):
        cursor.execute("UPDATE entry SET why = 'never'")
        shutil.rmtree(folder)
    with pytest.raises(StoreMissing, match="There is no store"):
        there.trials()


def test_a_journal_left_by_a_crash_is_read_with_its_store(store: Store) -> None:
    journal_of(store, "before the lights went out")
    assert store.history()[0].why == "before the lights went out"
    assert store.check().whole


@pytest.mark.slow
@pytest.mark.parametrize("whose", ["another store's", "an older one of the same store"])
def test_a_journal_that_belongs_to_another_file_is_told_from_damage(
    store: Store, tmp_path: Path, whose: str
) -> None:
    other = Store.create(tmp_path / "other.tallybed")
    with other.turns.writing() as cursor:
        cursor.execute("INSERT INTO entry (number, recorded_at, what) VALUES (1, now(), 'load')")
    owner = other if whose == "another store's" else store
    left = journal_of(owner, "of another")
    journal = Path(f"{store.path}.wal")
    journal.unlink(missing_ok=True)
    with store.turns.writing() as cursor:
        cursor.execute("UPDATE entry SET why = 'as it is'")
    journal.write_bytes(left)
    with pytest.raises(StoreDamaged, match="do not belong together") as refusal:
        Store.open(store.path)
    assert f"move {journal.name} out of the folder" in str(refusal.value)
    journal.unlink()
    assert store.history()[0].why == "as it is"


def test_the_folder_of_backups_names_its_newest(store: Store, tmp_path: Path) -> None:
    store.backup(tmp_path / "copies")
    made = store.backup(tmp_path / "copies")
    with pytest.raises(FileRefused, match="It contains backups; the newest is") as refusal:
        put_back(tmp_path / "copies", tmp_path / "again.tallybed", datetime.now().astimezone())
    assert str(made.folder) in str(refusal.value)
