"""A store, its copies and all that lies beside them are their owner's, under any umask."""

from __future__ import annotations

import logging
import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import date, datetime
from pathlib import Path

import pytest

from trials.model.rows import Batch
from trials.report.safety_page import backup_page
from trials.store import Store, put_back
from trials.store.file.lock import locked
from trials.store.file.private import at_work, private_files, working_folder

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name != "posix", reason="rights of files are those of POSIX"),
]
# Root may write anywhere: it gives up what sets it above the rights of files (capset, Linux).
AS_ANYBODY = """
import ctypes, os, sys
if os.geteuid() == 0:
    header, none = (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
    assert ctypes.CDLL(None).capset(header, none) == 0
from trials.cli import main
sys.argv[0] = "tallybed"
main()
"""


@pytest.fixture(params=[0o000, 0o022], ids=["umask 000", "umask 022"])
def umask(request: pytest.FixtureRequest) -> Iterator[None]:
    usual = os.umask(request.param)
    try:
        yield
    finally:
        os.umask(usual)


def open_to_others(*folders: Path) -> list[str]:
    """Files and folders at and below some places that others than the owner may do anything to."""
    there = [path for folder in folders for path in (folder, *folder.rglob("*"))]
    return [str(path) for path in there if stat.S_IMODE(path.stat().st_mode) & 0o077]


@pytest.mark.usefixtures("umask")
def test_what_is_made_is_its_owner_s(tmp_path: Path, batch: Batch) -> None:
    folder = tmp_path / "records" / "farm"
    store = Store.create(folder / "farm.tallybed")
    with store.turns.writing():  # the journal is there while somebody works
        pass
    store.add(batch)
    store.close("Z", date(2025, 10, 1), "frost")
    elsewhere = store.backup(tmp_path / "copies").folder
    put_back(elsewhere, tmp_path / "again" / "farm.tallybed", datetime.now().astimezone())
    put_back(elsewhere, store.path, datetime.now().astimezone())
    shutil.rmtree(elsewhere / "tables")
    made = [tmp_path / name for name in ("records", "copies", "again")]
    assert len(list(folder.iterdir())) > 2
    assert open_to_others(*made) == []


@pytest.mark.usefixtures("umask")
def test_the_journal_is_its_owner_s_from_its_first_moment(store: Store) -> None:
    journal = store.path.with_name(f"{store.path.name}.wal")
    with store.turns.hold.cursor() as cursor:
        cursor.execute("CREATE TABLE one (x INTEGER)")
        assert stat.S_IMODE(journal.stat().st_mode) == 0o600


def test_a_store_that_was_open_to_others_is_closed_to_them_and_said_once(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    backups = store.backup().folder.parent
    for path in (store.path, backups):
        path.chmod(0o777)
    with caplog.at_level(logging.WARNING):
        Store.open(store.path)
        assert len(caplog.messages) == 2
        assert "only you can open it" in caplog.text
        caplog.clear()
        Store.open(store.path)
        assert caplog.messages == []
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o700
    assert open_to_others(backups) == []


def test_the_mask_of_rights_is_as_before_whoever_leaves_last() -> None:
    usual = os.umask(0o022)
    try:
        with ExitStack() as first, ExitStack() as second:
            first.enter_context(private_files())
            second.enter_context(private_files())
            first.close()
        assert os.umask(0o022) == 0o022
    finally:
        os.umask(usual)


# ------------------------------------------------------------------------------- what is left


def test_the_working_folder_of_a_killed_process_is_cleared(tmp_path: Path) -> None:
    kill = (
        "import os, sys; from pathlib import Path; "
        "from trials.store.file.private import working_folder\n"
        "with working_folder('.restore-', Path(sys.argv[1])): os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", kill, str(tmp_path)], check=False)
    (left,) = tmp_path.iterdir()
    with working_folder(".restore-", tmp_path):
        assert left.exists()  # too young to be sure
    long_ago(left)
    with working_folder(".restore-", tmp_path) as mine:
        assert list(tmp_path.iterdir()) == [mine]


def test_nothing_else_is_cleared(tmp_path: Path) -> None:
    """Neither what somebody works on, nor a folder of another program with such a name."""
    another = tmp_path / ".restore-photos"
    another.mkdir()
    (another / "photo.jpg").write_bytes(b"x")
    busy = tmp_path / ".restore-12345678"
    busy.mkdir()
    with at_work(busy):
        for folder in (another, busy):
            long_ago(folder)
        with working_folder(".restore-", tmp_path):
            assert (another / "photo.jpg").exists()
            assert busy.exists()


def long_ago(folder: Path) -> None:
    os.utime(folder, (time.time() - 1000, time.time() - 1000))


def test_a_lock_is_waited_for_until_it_comes_free(tmp_path: Path) -> None:
    file, waited = tmp_path / "lock", []

    def wait() -> None:
        with locked(file, time.monotonic() + 10) as held:
            waited.append(held)

    with locked(file, time.monotonic()) as mine:
        assert mine
        with locked(file, time.monotonic() + 0.05) as held:
            assert not held
        thread = threading.Thread(target=wait)
        thread.start()
        time.sleep(0.05)
        assert waited == []
    thread.join()
    assert waited == [True]


# ------------------------------------------------------------------------------- only read


@pytest.fixture
def read_only(store: Store, batch: Batch, tmp_path: Path) -> Iterator[Path]:
    """A store in a folder where nobody may write, as on a disc."""
    store.add(batch)
    folder = tmp_path / "disc"
    folder.mkdir()
    path = Path(shutil.copy(store.path, folder))
    path.chmod(0o444)
    folder.chmod(0o555)
    yield path
    folder.chmod(0o755)


def tallybed(*words: str) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-c", AS_ANYBODY, *words]
    return subprocess.run(line, capture_output=True, text=True, check=False)


def test_a_store_that_may_only_be_read_is_read(read_only: Path, tmp_path: Path) -> None:
    before = read_only.read_bytes()
    copies = tmp_path / "copies"
    for words in (["trials"], ["compare", "Z"], ["verify"], ["backup", "--to", str(copies)]):
        done = tallybed(*words, "--store", str(read_only))
        assert done.returncode == 0, done.stderr
    assert read_only.read_bytes() == before
    assert [path.name for path in read_only.parent.iterdir()] == [read_only.name]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["close", "Z", "--on", "2025-10-01"], "can be read but not written"),
        (["backup"], "--to FOLDER"),
    ],
    ids=["close", "backup beside it"],
)
def test_what_would_write_there_is_refused(read_only: Path, words: list[str], said: str) -> None:
    done = tallybed(*words, "--store", str(read_only))
    assert done.returncode == 2
    assert said in done.stderr


# ------------------------------------------------------------------------------- commands


def test_a_command_that_is_shown_can_be_pasted(tmp_path: Path) -> None:
    """Run by the shell as it was printed, from a folder whose name needs quoting in every way."""
    folder = tmp_path / "my farm's $HOME *(2)"
    store = Store.create(folder / "farm & field.tallybed")
    shown = backup_page(store.backup())
    (line,) = re.findall(r"Restore  (.*) --to STORE$", shown, re.MULTILINE)
    again = tmp_path / "again.tallybed"
    program = f"{shlex.quote(sys.executable)} -m trials.cli"
    command = f"{line.replace('tallybed', program, 1)} --to {again}"
    subprocess.run(["sh", "-c", command], check=True, capture_output=True)
    assert Store.open(again).trials() == ()
