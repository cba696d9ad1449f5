from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from trials.errors import NotAStore, StoreBusy, StoreDamaged, StoreMissing
from trials.model.rows import Batch, Sheet
from trials.store import Store
from trials.store.file.connection import Hold, hold_of, transaction

pytestmark = pytest.mark.slow

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]

# A process that stores one score at a time, each in a unit of work of its own.
WRITER = """
import sys
from datetime import date, timedelta
from pathlib import Path
import pandas as pd
from trials.model.rows import Batch, Sheet
from trials.store import Store
store, plot = Store.open(Path(sys.argv[1])), sys.argv[2]
for day in range(10):
    row = {"plot": [plot], "scored_on": [date(2025, 8, 1) + timedelta(day)],
           "trait": ["ease"], "value": [1.0]}
    store.add(Batch({Sheet.SCORES: pd.DataFrame(row)}, (), {}))
"""
HOLDER = """
import sys
from pathlib import Path
from trials.store.file.connection import hold_of
with hold_of(Path(sys.argv[1])).cursor():
    print("held", flush=True)
    sys.stdin.readline()
"""


@contextmanager
def another_process_holding(path: Path) -> Iterator[int]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        try:
            yield process.pid
        finally:
            process.stdin.write("\n")
            process.stdin.flush()


def test_processes_wait_their_turn_and_lose_nothing(store: Store) -> None:
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(store.path), plot])
        for plot in ("Z1", "Z2")
    ]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    scores = store.known().frames[Sheet.SCORES]
    assert list(scores[scores["trait"] == "ease"]["plot"]) == ["Z1"] * 10 + ["Z2"] * 10


def test_a_held_store_is_busy_after_the_limit_and_names_the_holder(
    store: Store, batch: Batch, contents: Contents
) -> None:
    before = contents(store.path)
    impatient = Store(replace(store.turns, wait_s=0.05))
    with another_process_holding(store.path) as pid:
        named = rf"in use by python[\d.]* \(process {pid}\).*within 0.05 s"
        with pytest.raises(StoreBusy, match=named):
            impatient.add(batch)
        with pytest.raises(StoreBusy, match=named):
            Store.open(store.path, wait_s=0.05)
    assert contents(store.path) == before
    assert impatient.trials()


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="the system does not tell")
def test_the_holder_is_named_by_its_command(store: Store, tmp_path: Path) -> None:
    program = tmp_path / "tallybed"
    program.write_text(HOLDER.replace("sys.argv[1]", "sys.argv[2]"))
    command = [sys.executable, str(program), "dashboard", str(store.path)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        with pytest.raises(StoreBusy, match=rf"by tallybed dashboard \(process {process.pid}\)"):
            Store.open(store.path, wait_s=0.05)
        process.communicate("\n")


def test_nothing_is_held_between_units_of_work(store: Store) -> None:
    store.trials()
    with another_process_holding(store.path):
        pass


def test_threads_share_the_store_each_with_its_own_answers(
    store: Store, make_batch: Callable[..., Batch]
) -> None:
    wrong: list[object] = []

    def work(number: int) -> None:
        code = "ZY"[number % 2]
        for turn in range(5):
            plots = store.plots(code)["plot"]
            if {plot[0] for plot in plots} != {code}:
                wrong.append(plots)
            scored_on = date(2025, 8, 1) + timedelta(turn)
            row = (f"{code}1", scored_on, f"trait {number}", 1.0)
            store.add(make_batch({Sheet.SCORES: [row]}, f"{number}{turn}"))

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    assert len(store.known().frames[Sheet.SCORES]) == 1 + 4 * 5


def test_threads_that_never_rest_let_other_processes_in(store: Store) -> None:
    stop = threading.Event()

    def read() -> None:
        while not stop.is_set():
            store.trials()

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    try:
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(store.path), "Z3"])
        assert writer.wait(60) == 0
    finally:
        stop.set()
        for reader in readers:
            reader.join()
    assert list(store.known().frames[Sheet.SCORES]["plot"]).count("Z3") == 10


def test_a_second_writer_of_this_process_is_told_when_it_waited_too_long(store: Store) -> None:
    hold = hold_of(store.path)
    with hold.writing(), pytest.raises(StoreBusy, match="another part of this program"):
        Store(replace(store.turns, wait_s=0.01)).close("Z", date(2025, 9, 1), "frost")


def test_one_file_has_one_hold_by_whatever_name(store: Store) -> None:
    link = store.path.with_name("link")
    link.symlink_to(store.path)
    assert hold_of(link) is hold_of(store.path)
    assert hold_of(store.path.parent / "." / store.path.name) is hold_of(store.path)


def test_a_transaction_rolls_back_and_raises_again() -> None:
    connection = duckdb.connect()
    connection.execute("CREATE TABLE t (a INTEGER PRIMARY KEY)")

    def interrupted() -> None:
        with transaction(connection):
            connection.execute("INSERT INTO t VALUES (1)")
            raise KeyboardInterrupt

    def twice() -> None:
        with transaction(connection):
            connection.execute("INSERT INTO t VALUES (2)")
            connection.execute("INSERT INTO t VALUES (2)")

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    with pytest.raises(duckdb.ConstraintException):
        twice()
    with transaction(connection):
        connection.execute("INSERT INTO t VALUES (3)")
    assert connection.execute("FROM t").fetchall() == [(3,)]
    connection.close()


def test_no_extension_is_fetched(store: Store) -> None:
    with hold_of(store.path).cursor() as cursor:
        asked = "SELECT current_setting('autoinstall_known_extensions')"
        assert cursor.execute(asked).fetchone() == (False,)


def test_a_damaged_file_is_refused_and_kept(store: Store) -> None:
    # Flip one byte of the newest header, then one within the first block of tables.
    whole = store.path.read_bytes()
    for place in (4096 + 8, 8192 + 8):
        damaged = bytearray(whole)
        damaged[place] ^= 0xFF
        store.path.write_bytes(damaged)
        with pytest.raises(StoreDamaged, match="is damaged"):
            Store.open(store.path)
        assert store.path.read_bytes() == damaged


def test_a_file_cut_short_is_refused(store: Store) -> None:
    whole = store.path.read_bytes()
    store.path.write_bytes(whole[: len(whole) // 4])
    with pytest.raises(StoreDamaged, match="is damaged"):
        Store.open(store.path).check()


def test_after_damage_was_met_the_store_can_be_opened_again(store: Store) -> None:
    whole = store.path.read_bytes()
    store.path.write_bytes(whole[: len(whole) // 4])
    with pytest.raises(StoreDamaged):
        store.check()
    store.path.write_bytes(whole)
    assert store.trials()


def test_a_file_is_looked_into_once_unless_another_takes_its_place(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks: list[Path] = []
    looking = Hold.looking

    def counted(hold: Hold, wait_s: float) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        looks.append(hold.path)
        return looking(hold, wait_s)

    monkeypatch.setattr(Hold, "looking", counted)
    for _ in range(2):
        Store.open(store.path)
    assert len(looks) == 1
    same = store.path.read_bytes()
    store.path.rename(store.path.with_name("before"))
    with pytest.raises(StoreMissing):
        Store.open(store.path)
    store.path.write_bytes(same)
    Store.open(store.path)
    assert len(looks) == 2
    store.path.write_bytes(b"no store" * 1000)  # within the same file
    with pytest.raises(NotAStore):
        Store.open(store.path)
