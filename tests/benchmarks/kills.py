"""Kill the program at random instants, and see that nothing acknowledged is lost or half written.

Each time a process of its own does one piece of work on a small store and is killed (SIGKILL) at
a random instant within it. Then the store is read past the program and through it: it must be as
before or as after one of the steps of the work, after if that step was acknowledged; every
fifth is checked to its last block. Times of recording do not count, as they differ between runs.

    python tests/benchmarks/kills.py --kills 200
"""

from __future__ import annotations

import argparse
import gzip
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from tests.store import conftest as farm
from trials.model.rows import Sheet, Signed
from trials.store import Store
from trials.store.copies.backup import LIST, folder_beside, read_back, require_equal
from trials.store.copies.restore import read_list
from trials.store.file.connection import hold_of, open_file
from trials.store.migrate import all_migrations, bring_forward, pending

TESTS = Path(__file__).resolve().parents[1]
LOADS = 6
SLOWER = 2.0  # a process that has just begun takes longer than the one that was timed
CHECKED_EACH = 5  # of so many stores one is read to its last block
Contents = dict[str, list[tuple[Any, ...]]]
Say = Callable[[str], None]


# -------------------------------------------------------------------------------- the work


def load(path: Path, say: Say) -> None:
    """Six loads of a picking day, each acknowledged."""
    store = Store.open(path)
    for number in range(LOADS):
        day = date(2025, 8, 1 + number)
        picked = [("Y1", day, "picked", 40, 5, None), ("Y2", day, "picked", 20, number, None)]
        scored = [("Y1", day, "vase_life_days", 7.5)]
        store.add(farm.batch_of({Sheet.CUTS: picked, Sheet.SCORES: scored}, f"{number}"))
        say("done")


def correct(path: Path, say: Say) -> None:
    """Two corrections, and the second one undone."""
    store = Store.open(path)
    for stems in (7, 8):
        right = farm.batch_of({Sheet.CUTS: [("Z1", farm.DAY_2, "picked", 40, stems, None)]})
        latest = store.history()[-1]
        store.correct(right, Signed("Wilhelmina", "read again"), latest.number)
        say("done")
    store.undo(None, Signed("Wilhelmina", "was right before"))
    say("done")


def close(path: Path, say: Say) -> None:
    """A closing, with the copy that it keeps."""
    Store.open(path).close("Z", date(2025, 10, 6), "first hard frost")
    say("done")


def backup(path: Path, say: Say) -> None:
    """A copy made for the asking: the store is as before throughout."""
    Store.open(path).backup()
    say("done")


def migrate(path: Path, say: Say) -> None:
    """A store of an earlier step is opened."""
    Store.open(path)
    say("done")


@dataclass
class Work:
    """One kind of work: what does it, on what, and the states it leads through."""

    name: str
    does: Callable[[Path, Say], None]
    before: Path
    changes: bool = True
    states: list[Contents] = field(default_factory=list)
    lasts_s: float = 0.0


# ---------------------------------------------------------------------------------- states


def contents(path: Path) -> Contents:
    """Every row of every table but the times, read past the program without changing a byte."""
    with open_file(path) as connection:
        columns: dict[str, list[str]] = {}
        asked = "SELECT table_name, column_name, data_type FROM duckdb_columns() WHERE NOT internal"
        for table, column, kind in connection.execute(asked).fetchall():
            if kind != "TIMESTAMP":
                columns.setdefault(table, []).append(f'"{column}"')
        return {
            table: connection.execute(
                f'SELECT {", ".join(names)} FROM "{table}" ORDER BY ALL'
            ).fetchall()
            for table, names in sorted(columns.items())
        }


def copy_of(store: Path, folder: Path) -> Path:
    return Path(shutil.copy(store, folder / "farm.tallybed"))


def learn_states(work: Work, folder: Path) -> None:
    """Do the work once undisturbed, noting each state and how long it all takes."""
    path = copy_of(work.before, folder)
    work.states = [contents(path)]
    if work.does is migrate:  # each step is a transaction: a store may stand between two
        for step in all_migrations():
            with hold_of(path).cursor() as cursor:
                if step not in pending(cursor, all_migrations(), path):
                    continue
                bring_forward(cursor, [step])
            work.states.append(contents(path))
    else:
        work.does(path, lambda _: work.states.append(contents(path)))
    timed = copy_of(work.before, Path(tempfile.mkdtemp(dir=folder)))
    begun = time.perf_counter()
    work.does(timed, lambda _: None)
    work.lasts_s = time.perf_counter() - begun


# ----------------------------------------------------------------------------------- kills


def child(work: Callable[[Path, Say], None], path: Path, line: Connection) -> None:
    line.send("begun")
    work(path, line.send)


def killed_within(work: Work, path: Path, after_s: float) -> tuple[int, bool]:
    """How many steps were acknowledged before the kill, and whether it came in time."""
    context = multiprocessing.get_context("forkserver")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=child, args=(work.does, path, there))
    process.start()
    there.close()
    assert here.recv() == "begun"
    time.sleep(after_s)
    assert process.pid is not None
    with suppress(ProcessLookupError):  # it was done already
        os.kill(process.pid, signal.SIGKILL)
    process.join()
    acknowledged = 0
    with suppress(EOFError):
        while here.recv() == "done":
            acknowledged += 1
    if process.exitcode not in {0, -signal.SIGKILL}:
        raise RuntimeError(f"{work.name} failed by itself: exit code {process.exitcode}")
    return acknowledged, process.exitcode == -signal.SIGKILL


def faults_after(
    work: Work, path: Path, found: Contents, acknowledged: int, *, check: bool
) -> Iterator[str]:
    """What is not as it should be: 'lost', 'half written' or 'not whole'.

    ``check`` also reads the store to its last block, which takes longer than the work.
    """
    if work.does is migrate and acknowledged:
        acknowledged = len(work.states) - 1  # all of its steps
    reached = [number for number, state in enumerate(work.states) if state == found]
    if not reached:
        yield "half written"
    elif reached[-1] < acknowledged:
        yield "lost"
    for folder in folder_beside(path).glob("[!.]*"):
        made = read_list(folder)  # a folder under its own name is a finished copy
        require_equal(read_back(folder, made.tables), made.tables, folder)
    if work.does is backup and acknowledged and not [*folder_beside(path).glob(f"[!.]*/{LIST}")]:
        yield "lost"
    store = Store.open(path)
    if check and not store.check().whole:
        yield "not whole"
    if work.does is migrate:
        if contents(path) != work.states[-1]:
            yield "half written"
    elif contents(path) != found:
        yield "half written"


def works(folder: Path) -> list[Work]:
    store = folder / "now.tallybed"
    Store.create(store).add(farm.batch_of(farm.season_rows()))
    older = folder / "older.tallybed"
    packed = TESTS / "store" / "fixtures" / "step_0004.tallybed.gz"
    older.write_bytes(gzip.decompress(packed.read_bytes()))
    return [
        Work("load", load, store),
        Work("correction", correct, store),
        Work("close", close, store),
        Work("backup", backup, store),
        Work("migration", migrate, older),
    ]


def main() -> int:
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--kills", type=int, default=200)
    wanted.add_argument("--only", help="one kind of work, as the table names it")
    wanted.add_argument("--seed", type=int, default=20261125)
    asked = wanted.parse_args()
    lot, faults = random.Random(asked.seed), Counter[str]()
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["pandas", "duckdb", "trials.store", "trials.season"])
    print(f"{'work':<12}{'tries':>6}{'killed within':>15}{'acknowledged':>14}  states found")
    with tempfile.TemporaryDirectory() as scratch:
        all_works = [
            work for work in works(Path(scratch)) if asked.only is None or work.name == asked.only
        ]
        for place, work in enumerate(all_works):
            learn_states(work, Path(tempfile.mkdtemp(dir=scratch)))
            kills = len(range(place, asked.kills, len(all_works)))
            within = tries = total = 0
            reached = Counter[int]()
            while within < kills:
                tries += 1
                path = copy_of(work.before, Path(tempfile.mkdtemp(dir=scratch)))
                acknowledged, in_time = killed_within(
                    work, path, lot.uniform(0, SLOWER * work.lasts_s)
                )
                total += acknowledged
                within += in_time
                state = contents(path)
                reached[work.states.index(state) if state in work.states else -1] += 1
                faults.update(
                    faults_after(work, path, state, acknowledged, check=tries % CHECKED_EACH == 0)
                )
                shutil.rmtree(path.parent)
            seen = ", ".join(f"{number}: {count}" for number, count in sorted(reached.items()))
            print(f"{work.name:<12}{tries:>6}{within:>15}{total:>14}  {seen}", flush=True)
    print(
        f"{asked.kills} kills: acknowledged records lost {faults['lost']}, "
        f"half-written {faults['half written']}, stores not whole {faults['not whole']}"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
