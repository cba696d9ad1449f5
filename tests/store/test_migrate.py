from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb
import pytest

from trials.errors import NotAStore, StoreDamaged, StoreRefused, StoreTooNew
from trials.model.rows import Batch
from trials.store import Store, migrate
from trials.store.migrate import Migration, all_migrations

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]


def change(path: Path, sql: str) -> None:
    connection = duckdb.connect(path)
    connection.execute(sql)
    connection.close()


def make(path: Path, steps: tuple[Migration, ...]) -> None:
    connection = duckdb.connect(path)
    migrate.bring_forward(connection, steps)
    connection.close()


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_steps_are_numbered_without_gaps() -> None:
    assert [step.number for step in all_migrations()] == [*range(1, len(all_migrations()) + 1)]


def test_every_step_is_noted_with_its_digest(empty_store: Store, contents: Contents) -> None:
    noted = [row[:3] for row in contents(empty_store.path)["migration"]]
    assert noted == [(step.number, step.name, step.sha256) for step in all_migrations()]


def test_the_kept_tables_are_those_that_the_steps_leave(tmp_path: Path) -> None:
    kept = migrate.kept_tables()
    made = tmp_path / "by steps"
    make(made, all_migrations()[: kept.number])
    with duckdb.connect() as at_once:
        at_once.execute(kept.sql)
        by_step = duckdb.connect(made, read_only=True)
        for facts in (
            "duckdb_columns() SELECT table_name, column_name, column_index, column_default",
            "duckdb_constraints() SELECT table_name, constraint_text, constraint_column_names",
        ):
            ask = f"FROM {facts} WHERE schema_name = 'main' ORDER BY ALL"
            assert at_once.execute(ask).fetchall() == by_step.execute(ask).fetchall()
        # Types, keys, checks, indexes and comments; in what order tables come is of no account.
        there = sorted(kept.sql.splitlines())
        assert sorted(migrate.tables_of(at_once).splitlines()) == there
        assert sorted(migrate.tables_of(by_step).splitlines()) == there
        by_step.close()


def test_tables_are_kept_up_to_the_last_step() -> None:
    last = all_migrations()[-1].number
    assert migrate.kept_tables().number == last, "run tests/store/fixtures/keep_tables.py"


def test_a_new_store_takes_the_steps_that_the_kept_tables_lack(
    tmp_path: Path, contents: Contents, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = Migration(len(all_migrations()) + 1, "later", "CREATE TABLE later (a INTEGER)")
    steps = (*all_migrations(), later)
    monkeypatch.setattr(migrate, "all_migrations", lambda: steps)
    held = contents(Store.create(tmp_path / "farm.tallybed").path)
    assert held["later"] == []
    assert [row[0] for row in held["migration"]] == [step.number for step in steps]


def test_line_ends_do_not_change_a_digest() -> None:
    step = all_migrations()[0]
    assert replace(step, sql=step.sql.replace("\n", "\r\n")).sha256 == step.sha256
    assert replace(step, sql=step.sql + "-- more").sha256 != step.sha256


@pytest.mark.slow
@pytest.mark.parametrize("taken", range(1, len(all_migrations())))
def test_an_older_store_is_brought_forward(
    tmp_path: Path, taken: int, batch: Batch, contents: Contents
) -> None:
    path = tmp_path / "old.tallybed"
    make(path, all_migrations()[:taken])
    change(path, "INSERT INTO site VALUES ('Far field', 'over the hill', 1.0, NULL)")
    store = Store.open(path)
    held = contents(path)
    assert [row[0] for row in held["migration"]] == [step.number for step in all_migrations()]
    assert held["site"] == [("Far field", "over the hill", 1.0, None)]
    assert store.add(batch).added


def test_a_step_that_fails_leaves_the_store_at_the_step_before(
    empty_store: Store, contents: Contents, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = len(all_migrations()) + 1
    faulty = Migration(
        number, "faulty", "CREATE TABLE more (a INT); INSERT INTO nowhere VALUES (1);"
    )
    before = contents(empty_store.path)
    steps = (*all_migrations(), faulty)
    monkeypatch.setattr(migrate, "all_migrations", lambda: steps)
    with pytest.raises(duckdb.CatalogException, match="nowhere"):
        Store.open(empty_store.path)
    assert contents(empty_store.path) == before


def test_a_store_of_a_newer_program_is_refused(store: Store) -> None:
    number = len(all_migrations()) + 1
    change(
        store.path,
        f"INSERT INTO migration VALUES ({number}, 'later', '{'0' * 64}', TIMESTAMP '2030-01-01')",
    )
    before = digest(store.path)
    with pytest.raises(StoreTooNew, match="newer version of this program"):
        Store.open(store.path)
    with pytest.raises(StoreTooNew):
        store.trials()  # and so is one that was put in the place of an open store
    assert digest(store.path) == before


def test_a_step_edited_after_it_was_taken_is_refused(store: Store) -> None:
    change(store.path, f"UPDATE migration SET sha256 = '{'0' * 64}' WHERE number = 2")
    before = digest(store.path)
    with pytest.raises(StoreDamaged, match="step 2"):
        Store.open(store.path)
    with pytest.raises(StoreDamaged):
        store.check()
    assert digest(store.path) == before


def test_an_older_store_put_in_the_place_of_an_open_one_is_refused(
    store: Store, contents: Contents
) -> None:
    store.path.unlink()
    make(store.path, all_migrations()[:1])
    before = contents(store.path)
    with pytest.raises(StoreRefused, match="replaced by an older store"):
        store.trials()
    assert contents(store.path) == before


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE TABLE site (site VARCHAR)",
        "CREATE TABLE migration (version INTEGER)",
        "CREATE TABLE migration (number INT, name TEXT, sha256 TEXT, applied_at TIMESTAMP)",
    ],
)
def test_a_database_of_something_else_is_no_store(tmp_path: Path, sql: str) -> None:
    path = tmp_path / "other.duckdb"
    change(path, sql)
    before = digest(path)
    with pytest.raises(NotAStore):
        Store.open(path)
    assert digest(path) == before


def test_refusing_a_database_leaves_even_its_journal_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.duckdb"
    crash = (
        "import duckdb, os, sys; c = duckdb.connect(sys.argv[1]);"
        "c.execute('CREATE TABLE t (a INT)'); c.execute('CHECKPOINT');"
        "c.execute('INSERT INTO t VALUES (1)'); os._exit(0)"
    )
    subprocess.run([sys.executable, "-c", crash, str(path)], check=True)
    journal = path.with_name(path.name + ".wal")
    before = digest(path), digest(journal)
    with pytest.raises(NotAStore):
        Store.open(path)
    assert (digest(path), digest(journal)) == before


CRASH_AFTER_STEPS = """
import os, sys
from pathlib import Path
from trials.store import migrate
from trials.store.file.connection import create_file
connection = create_file(Path(sys.argv[1]))
migrate.bring_forward(connection, migrate.all_migrations()[:1])
connection.execute("CHECKPOINT")
connection.execute("SET checkpoint_threshold = '1GB'")
migrate.bring_forward(connection, migrate.all_migrations()[1:])
os._exit(0)
"""


@pytest.mark.slow
def test_steps_that_are_only_in_the_journal_are_read_back(tmp_path: Path, batch: Batch) -> None:
    path = tmp_path / "farm.tallybed"
    subprocess.run([sys.executable, "-c", CRASH_AFTER_STEPS, str(path)], check=True)
    assert path.with_name("farm.tallybed.wal").stat().st_size > 10_000
    store = Store.open(path)
    assert store.check().whole
    assert store.add(batch).added
