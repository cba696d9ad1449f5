from __future__ import annotations

import errno
import hashlib
import json
import logging
import os
import shutil
import stat
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import duckdb
import pytest

from trials.errors import FileRefused, StoreBusy, StoreDamaged, StoreTooNew
from trials.model.rows import Batch, Sheet
from trials.store import Store, migrate, put_back
from trials.store.copies import backup
from trials.store.copies.backup import Reason
from trials.store.file.connection import hold_of
from trials.store.migrate import Migration, all_migrations

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
NOW = datetime(2026, 11, 25, 14, 5, 22).astimezone()

CATALOGUE = """
SELECT 'table', table_name, sql, comment FROM duckdb_tables()
UNION ALL SELECT 'index', index_name, sql, comment FROM duckdb_indexes()
UNION ALL SELECT 'view', view_name, sql, comment FROM duckdb_views() WHERE NOT internal
UNION ALL SELECT 'sequence', sequence_name, sql, CAST(last_value AS VARCHAR) FROM duckdb_sequences()
UNION ALL SELECT 'constraint', table_name, constraint_text, NULL FROM duckdb_constraints()
UNION ALL SELECT 'column', table_name || '.' || column_name, data_type, comment
          FROM duckdb_columns() WHERE NOT internal
UNION ALL SELECT 'macro', function_name, macro_definition, comment FROM duckdb_functions()
          WHERE NOT internal
ORDER BY ALL
"""


def catalogue(path: Path) -> list[tuple[Any, ...]]:
    with duckdb.connect(path, read_only=True) as connection:
        return connection.execute(CATALOGUE).fetchall()


def rows_of(file: Path) -> list[tuple[Any, ...]]:
    with duckdb.connect() as reader:
        return reader.execute("FROM read_parquet(?)", [str(file)]).fetchall()


def left_in(folder: Path) -> list[str]:
    """What lies in a folder, without the locks at which processes wait for a store."""
    there = folder.iterdir() if folder.exists() else ()
    return sorted(path.name for path in there if not path.name.endswith(".tallybed.lock"))


def beside(store: Store) -> Path:
    return store.path.with_name("farm-backups")


# ------------------------------------------------------------------------------------ a copy


def test_a_copy_put_back_is_the_same_store(
    store: Store, tmp_path: Path, contents: Contents
) -> None:
    made = store.backup()
    there = tmp_path / "elsewhere" / "again.tallybed"
    done = put_back(made.folder, there, NOW)
    assert done.store == there
    assert done.kept_aside is None
    assert contents(there) == contents(store.path)
    assert catalogue(there) == catalogue(store.path)
    assert Store.open(there).check().whole
    assert left_in(there.parent) == ["again.tallybed"]


@pytest.mark.slow
def test_a_copy_can_be_read_without_the_program(store: Store) -> None:
    made = store.backup()
    assert made.folder.parent == beside(store)
    listed = json.loads((made.folder / "backup.json").read_text())
    for table in listed["tables"]:
        file = made.folder / "tables" / f"{table['table']}.parquet"
        assert len(rows_of(file)) == table["rows"]
    # The digest of the list, worked out from the Parquet file by other means.
    lots = rows_of(made.folder / "tables" / "seed_lot.parquet")
    lines = (
        f'{{"lot":"{lot}","house":"{house}","item":"{item}","packed_for":{year},'
        f'"germination":{share}}}\n'
        for lot, house, item, year, share in lots
    )
    digests = {table["table"]: table["sha256"] for table in listed["tables"]}
    assert digests["seed_lot"] == hashlib.sha256("".join(sorted(lines)).encode()).hexdigest()


def test_its_schema_makes_the_tables_and_says_what_they_mean(store: Store, tmp_path: Path) -> None:
    made = store.backup()
    with duckdb.connect(tmp_path / "other.duckdb") as other:
        other.execute((made.folder / "schema.sql").read_text())
    assert catalogue(tmp_path / "other.duckdb") == catalogue(store.path)


def test_a_copy_never_takes_a_name_in_use(store: Store) -> None:
    folders = {store.backup().folder for _ in range(3)}
    assert len(folders) == 3
    assert left_in(beside(store)) == sorted(folder.name for folder in folders)


def test_only_its_owner_may_read_a_copy(store: Store) -> None:
    if os.name == "nt":
        pytest.skip("rights are kept otherwise there")
    assert stat.S_IMODE(store.backup().folder.stat().st_mode) & 0o077 == 0


@pytest.mark.slow
def test_a_copy_is_of_one_moment_while_others_write(
    store: Store, make_batch: Callable[..., Batch], tmp_path: Path
) -> None:
    stop = threading.Event()
    written: list[int] = []

    def write() -> None:
        while not stop.is_set():
            number = len(written)
            row = ("Z1", date(2025, 8, 1), f"trait {number}", float(number))
            store.add(make_batch({Sheet.SCORES: [row]}, f"{number}"))
            written.append(number)

    writer = threading.Thread(target=write)
    writer.start()
    while not written:
        pass
    before = len(written)
    try:
        made = store.backup()
    finally:
        stop.set()
        writer.join()
    put_back(made.folder, tmp_path / "again.tallybed", NOW)
    again = Store.open(tmp_path / "again.tallybed")
    scores = again.known().frames[Sheet.SCORES]
    numbers = sorted(int(value) for value in scores["value"] if value != 7.5)
    assert numbers == list(range(len(numbers)))  # every earlier one, none that came later
    assert len(numbers) >= before
    assert again.check().whole


# ------------------------------------------------------------------------------- unasked copies


def test_closing_keeps_a_copy_that_holds_the_closing(store: Store, tmp_path: Path) -> None:
    closed = store.close("Z", date(2025, 9, 1), "frost")
    (name,) = left_in(beside(store))
    assert name.endswith("-closing")
    assert closed.kept_copy == str(beside(store) / name)
    assert closed.removed_copies == ()
    put_back(beside(store) / name, tmp_path / "again.tallybed", NOW)
    assert Store.open(tmp_path / "again.tallybed").closing("Z") == store.closing("Z")


def test_a_closing_stands_where_no_copy_can_be_kept(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    beside(store).write_text("a file where the folder should be")
    store.close("Z", date(2025, 9, 1), "frost")
    assert store.closing("Z") is not None
    (record,) = caplog.records
    assert record.levelno == logging.WARNING
    assert "closed, but the store" in record.getMessage()


def test_an_older_store_is_copied_before_it_is_brought_forward(
    store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, contents: Contents
) -> None:
    before = contents(store.path)
    number = len(all_migrations()) + 1
    steps = (*all_migrations(), Migration(number, "more", "CREATE TABLE more (a INTEGER)"))
    with monkeypatch.context() as newer:
        newer.setattr(migrate, "all_migrations", lambda: steps)
        Store.open(store.path)
        Store.open(store.path)
        (name,) = left_in(beside(store))
        assert name.endswith("-upgrade")
        # The newer program can put the older copy back, and it is as it was.
        put_back(beside(store) / name, tmp_path / "again.tallybed", NOW)
        assert contents(tmp_path / "again.tallybed") == before
        newest = Store.open(store.path).backup()
    with pytest.raises(StoreTooNew, match="newer version of this program"):
        put_back(newest.folder, tmp_path / "more.tallybed", NOW)


def test_no_step_is_taken_where_no_copy_can_be_made(
    store: Store, monkeypatch: pytest.MonkeyPatch, contents: Contents
) -> None:
    before = contents(store.path)
    number = len(all_migrations()) + 1
    steps = (*all_migrations(), Migration(number, "more", "CREATE TABLE more (a INTEGER)"))
    monkeypatch.setattr(migrate, "all_migrations", lambda: steps)
    beside(store).write_text("a file where the folder should be")
    with pytest.raises(FileRefused, match="No backup can be made"):
        Store.open(store.path)
    assert contents(store.path) == before


def test_only_the_newest_unasked_copies_are_kept(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "AUTOMATIC_KEPT", 2)
    asked = store.backup().folder.name
    for minute in range(4):
        with store.turns.reading() as cursor:
            copied = backup.copy_out(
                cursor, store.path, beside(store), Reason.CLOSING, NOW.replace(minute=minute)
            )
        made = backup.finish(copied)
    assert [folder.name for folder in made.removed] == ["farm-20261125-140122-closing"]
    assert left_in(beside(store)) == sorted(
        [asked, "farm-20261125-140222-closing", "farm-20261125-140322-closing"]
    )


# ----------------------------------------------------------------------------- what goes wrong


def test_a_copy_is_not_begun_where_it_has_no_room(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "shutil.disk_usage", lambda place: SimpleNamespace(total=9_000_000, used=0, free=60_000)
    )
    with pytest.raises(FileRefused, match=r"needs about 0\.\d MB, and the disk has 0\.1 MB left"):
        store.backup()
    assert not beside(store).exists()


def no_room(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("step", ["tables_of", "read_back", "_move"])
def test_a_full_disk_leaves_nothing_behind(
    store: Store, monkeypatch: pytest.MonkeyPatch, contents: Contents, step: str
) -> None:
    before = contents(store.path)
    monkeypatch.setattr(backup, step, no_room)
    with pytest.raises(FileRefused, match=r"No backup can be made in .*No space left on device"):
        store.backup()
    assert left_in(beside(store)) == []
    assert contents(store.path) == before
    assert store.trials()


def test_a_disk_that_fills_while_a_table_is_written(store: Store, tmp_path: Path) -> None:
    """The real thing, as far as a limit on the size of a file is like a full disk."""
    resource = pytest.importorskip("resource")
    assert resource
    program = (
        "import resource, signal, sys; from pathlib import Path; from trials.store import Store;"
        "from trials.errors import FileRefused; store = Store.open(Path(sys.argv[1]));"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (600, 600))\n"
        "try: store.backup(Path(sys.argv[2]))\n"
        "except FileRefused as refusal: print(refusal)"
    )
    command = [sys.executable, "-c", program, str(store.path), str(tmp_path / "full")]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert said.startswith(f"No backup can be made in {tmp_path / 'full'}: ")
    assert "exception_message" not in said
    assert left_in(tmp_path / "full") == []
    assert store.check().whole


@pytest.mark.slow
def test_a_disk_that_fills_while_a_copy_is_put_back(store: Store, tmp_path: Path) -> None:
    pytest.importorskip("resource")
    made = store.backup()
    program = (
        "import resource, signal, sys; from pathlib import Path; from datetime import datetime;"
        "from trials.store import put_back; from trials.errors import FileRefused;"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), int(sys.argv[3])))\n"
        "try: put_back(Path(sys.argv[1]), Path(sys.argv[2]), datetime.now())\n"
        "except FileRefused as refusal: print(refusal)"
    )
    there = tmp_path / "full" / "farm.tallybed"
    for most_bytes in (10_000, 60_000, 400_000):  # at once, within the tables, within the rows
        command = [sys.executable, "-c", program, str(made.folder), str(there), str(most_bytes)]
        said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
        assert said.startswith("Nothing can be restored at "), said
        assert left_in(there.parent) == []


def test_a_folder_that_may_not_be_written_to(
    store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def refused(*_: object, **__: object) -> None:  # rights do not bind the one who runs as root
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(FileRefused, match="Permission denied"):
        store.backup(tmp_path / "locked")


def test_a_disk_that_gives_back_something_else(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = backup.read_back

    def altered(folder: Path, tables: Any) -> Any:
        shutil.copy(folder / "tables" / "event.parquet", folder / "tables" / "score.parquet")
        return real(folder, tables)

    monkeypatch.setattr(backup, "read_back", altered)
    with pytest.raises(FileRefused, match="table score was read back with 4 rows"):
        store.backup()
    assert left_in(beside(store)) == []


def test_what_a_copy_that_was_cut_off_left_is_removed_later(store: Store) -> None:
    left = beside(store) / ".farm-20250101-000000-1.unfinished"
    (left / "tables").mkdir(parents=True)
    at_work = beside(store) / ".farm-20250102-000000-1.unfinished"
    at_work.mkdir()
    os.utime(left, (0, 0))
    made = store.backup()
    assert left_in(beside(store)) == sorted([at_work.name, made.folder.name])


# -------------------------------------------------------------------------------- put back


@pytest.mark.slow
def test_a_store_at_the_place_is_kept_aside(store: Store, contents: Contents) -> None:
    made = store.backup()
    before = contents(store.path)
    store.close("Z", date(2025, 9, 1), "frost")
    closed = contents(store.path)
    done = put_back(made.folder, store.path, NOW)
    assert contents(store.path) == before
    assert done.kept_aside == store.path.with_name("farm-before-restore-20261125-140522.tallybed")
    assert contents(done.kept_aside) == closed
    assert put_back(made.folder, store.path, NOW).kept_aside != done.kept_aside


CRASH = """
import os, sys, duckdb
c = duckdb.connect(sys.argv[1])
c.execute("SET checkpoint_threshold = '1GB'")
c.execute("INSERT INTO site VALUES ('In the journal', 'nowhere', 1, NULL)")
os._exit(0)
"""


def test_a_journal_left_by_a_crash_goes_aside_with_its_store(
    store: Store, contents: Contents
) -> None:
    made = store.backup()
    before = contents(store.path)
    subprocess.run([sys.executable, "-c", CRASH, str(store.path)], check=True)
    journal = store.path.with_name("farm.tallybed.wal")
    assert journal.exists()
    done = put_back(made.folder, store.path, NOW)
    assert not journal.exists()
    assert contents(store.path) == before
    assert done.kept_aside is not None
    assert ("In the journal", "nowhere", 1.0, None) in contents(done.kept_aside)["site"]


def test_a_journal_without_its_store_is_not_taken_for_the_new_one_s(
    store: Store, contents: Contents
) -> None:
    made = store.backup()
    before = contents(store.path)
    subprocess.run([sys.executable, "-c", CRASH, str(store.path)], check=True)
    store.path.unlink()
    put_back(made.folder, store.path, NOW)
    assert contents(store.path) == before
    assert left_in(store.path.parent) == [
        "farm-backups",
        "farm-before-restore-20261125-140522.tallybed.wal",
        "farm.tallybed",
    ]


@pytest.mark.slow
@pytest.mark.parametrize("content", [b"", b"not a store", b"\0" * 20_000])
def test_a_broken_store_is_replaced_and_kept(
    store: Store, content: bytes, contents: Contents
) -> None:
    made = store.backup()
    before = contents(store.path)
    store.path.write_bytes(content)
    done = put_back(made.folder, store.path, NOW)
    assert contents(store.path) == before
    assert done.kept_aside is not None
    assert done.kept_aside.read_bytes() == content


def test_a_store_in_use_is_not_replaced(store: Store) -> None:
    made = store.backup()
    content = store.path.read_bytes()
    holding, done = threading.Event(), threading.Event()

    def hold() -> None:
        with hold_of(store.path).cursor():
            holding.set()
            done.wait()

    holder = threading.Thread(target=hold)
    holder.start()
    holding.wait()
    try:
        with pytest.raises(StoreBusy):
            put_back(made.folder, store.path, NOW, wait_s=0.05)
    finally:
        done.set()
        holder.join()
    assert store.path.read_bytes() == content
    assert left_in(store.path.parent) == ["farm-backups", "farm.tallybed"]


def test_a_copy_that_is_not_whole_is_refused(store: Store, tmp_path: Path) -> None:
    there = tmp_path / "again.tallybed"
    made = store.backup()
    score = made.folder / "tables" / "score.parquet"
    content = bytearray(score.read_bytes())
    score.write_bytes(content[: len(content) // 2])
    with pytest.raises(FileRefused, match="is damaged"):
        put_back(made.folder, there, NOW)
    shutil.copy(made.folder / "tables" / "event.parquet", score)
    with pytest.raises(FileRefused, match="table score was read back"):
        put_back(made.folder, there, NOW)
    score.unlink()
    with pytest.raises(FileRefused, match="no file of score"):
        put_back(made.folder, there, NOW)
    (made.folder / "backup.json").write_text("{}")
    with pytest.raises(FileRefused, match="does not list a backup"):
        put_back(made.folder, there, NOW)
    with pytest.raises(FileRefused, match="is not a backup"):
        put_back(tmp_path, there, NOW)
    assert not there.exists()


def test_a_list_cannot_lead_out_of_its_folder(store: Store, tmp_path: Path) -> None:
    made = store.backup()
    listed = json.loads((made.folder / "backup.json").read_text())
    listed["tables"][0]["table"] = "../../farm"
    (made.folder / "backup.json").write_text(json.dumps(listed))
    with pytest.raises(FileRefused, match="does not list a backup"):
        put_back(made.folder, tmp_path / "again.tallybed", NOW)


def test_a_copy_by_another_program_s_steps_is_refused(store: Store, tmp_path: Path) -> None:
    made = store.backup()
    listed = json.loads((made.folder / "backup.json").read_text())
    listed["steps"][1]["sha256"] = "0" * 64
    (made.folder / "backup.json").write_text(json.dumps(listed))
    with pytest.raises(StoreDamaged, match="its step 2"):
        put_back(made.folder, tmp_path / "again.tallybed", NOW)


def test_a_full_disk_leaves_the_store_that_is_there(
    store: Store, monkeypatch: pytest.MonkeyPatch, contents: Contents
) -> None:
    from trials.store.copies import restore

    made = store.backup()
    before = contents(store.path)
    monkeypatch.setattr(restore, "_fill", no_room)
    with pytest.raises(FileRefused, match="No space left on device"):
        put_back(made.folder, store.path, NOW)
    assert contents(store.path) == before
    assert left_in(store.path.parent) == ["farm-backups", "farm.tallybed"]
