"""Engines of the database: lent again, never to two at a time, never a broken one."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from trials.store import Store
from trials.store.file import engine


@pytest.fixture(autouse=True)
def none_is_idle() -> Iterator[None]:
    engine._end_all()
    yield
    engine._end_all()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A store whose name SQL would stumble over."""
    return Store.create(tmp_path / "the grower's; farm.tallybed").path


def is_free(file: Path) -> bool:
    """Whether another process can have the file."""
    asked = "import duckdb, sys; duckdb.connect(sys.argv[1], read_only=True)"
    tried = subprocess.run([sys.executable, "-c", asked, file], check=False, capture_output=True)
    return tried.returncode == 0


def test_one_engine_serves_one_turn_after_another_and_lets_go_of_the_file(file: Path) -> None:
    with engine.attached(file, read_only=True) as connection:
        assert connection.execute("SELECT count(*) FROM trial").fetchone() == (0,)
    idle = [*engine._idle]
    assert len(idle) == 1
    assert is_free(file)
    with engine.attached(file, read_only=False):
        assert engine._idle == []
        assert not is_free(file)
    assert engine._idle == idle


def test_no_engine_serves_two_at_a_time_and_few_are_kept(file: Path, tmp_path: Path) -> None:
    others = [Store.create(tmp_path / f"{n}.tallybed").path for n in range(2)]
    with (
        engine.attached(file, read_only=True) as one,
        engine.attached(others[0], read_only=True) as two,
        engine.attached(others[1], read_only=True) as three,
    ):
        attached = "SELECT path FROM duckdb_databases() WHERE path IS NOT NULL"
        seen = [each.execute(attached).fetchall() for each in (one, two, three)]
        assert seen == [[(str(path),)] for path in (file, *others)]
    assert len(engine._idle) == engine._KEPT


def test_an_engine_that_failed_is_not_lent_again(file: Path, tmp_path: Path) -> None:
    text = tmp_path / "text.tallybed"
    text.write_text("no database " * 2000)
    with pytest.raises(duckdb.Error, match="not a valid"), engine.attached(text, read_only=True):
        pass
    assert engine._idle == []
    with engine.attached(file, read_only=True) as connection:
        connection.execute("ATTACH ':memory:' AS own; USE own; DETACH farm_file")
    assert engine._idle == []
    assert is_free(file)


def test_what_was_begun_and_left_is_not_the_next_one_s(file: Path) -> None:
    for _ in range(2):
        with engine.attached(file, read_only=False) as connection:
            connection.begin()
            connection.execute("CREATE TEMP TABLE mine AS SELECT 1")
            assert connection.execute("SELECT count(*) FROM site").fetchone() == (0,)
            connection.execute("INSERT INTO site VALUES ('left', 'here', 1, NULL)")
        assert is_free(file)


def test_every_connection_is_to_the_file(file: Path) -> None:
    with (
        engine.attached(file, read_only=False) as connection,
        engine.cursor_of(connection) as cursor,
    ):
        assert cursor.execute("SELECT current_database()").fetchone() == ("farm_file",)
        beside = cursor.execute("SELECT current_setting('temp_directory')").fetchone()
        assert beside == (f"{file}.tmp",)


def test_what_is_only_read_cannot_be_written(file: Path) -> None:
    with (
        engine.attached(file, read_only=True) as connection,
        pytest.raises(duckdb.InvalidInputException, match="read-only"),
    ):
        connection.execute("DELETE FROM trial")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system makes processes otherwise")
def test_a_process_that_is_forked_off_has_engines_of_its_own(file: Path) -> None:
    with engine.attached(file, read_only=True):
        pass
    assert engine._idle
    child = os.fork()
    if child == 0:
        kept = bool(engine._idle)
        with engine.attached(file, read_only=True) as connection:
            found = connection.execute("SELECT count(*) FROM trial").fetchone()
        os._exit(0 if found == (0,) and not kept else 1)
    assert os.waitpid(child, 0)[1] == 0


@pytest.mark.slow
def test_an_engine_that_wrote_beside_the_file_is_not_lent_again(file: Path) -> None:
    beside = file.with_name(f"{file.name}.tmp")
    with engine.attached(file, read_only=False) as connection:
        connection.execute("SET memory_limit = '60MB'; SET threads = 1")
        connection.execute(
            "CREATE TEMP TABLE much AS SELECT hash(n)::VARCHAR || hash(n + 1)::VARCHAR AS words "
            "FROM range(3_000_000) AS rows(n)"
        )
        assert beside.exists()
    assert engine._idle == []
    assert not beside.exists()
    with engine.attached(file, read_only=True) as connection:
        assert connection.execute("SELECT count(*) FROM trial").fetchone() == (0,)
