"""Ten phones and five command lines on one store: is every acknowledged record there, once?

The phones are threads that tally as the pages do, each sending one picking day of a plot at a
time and, as if the signal was lost, every fifth of them twice. The command lines are processes:
one loads files, one lists the trials, one makes copies, one lists who may sign in, one shows the
history. A wait is the time from asking to the answer; for a command line that is the whole process,
from its start to its end.

    python tests/benchmarks/crowd.py --seconds 60
    python tests/benchmarks/crowd.py --seconds 60 --pause 0 --phones 0
"""

from __future__ import annotations

import argparse
import itertools
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from tests.store import conftest as farm
from trials.errors import StoreBusy
from trials.model.rows import Sheet, Signed
from trials.season.tallying import Tally, TallyEntry, tally
from trials.store import Store

FIRST_DAY = date(2025, 8, 1)
PHONES = 10
PLOTS = ("Z1", "Z2", "Z3", "Z6", "Z7", "Y1", "Y2")


@dataclass
class Worker:
    """A phone or a command line: what it was told is stored, and how long it waited each time."""

    name: str
    work: Callable[[Worker, int], None]
    acknowledged: list[tuple[str, str, float]] = field(default_factory=list)  # plot, trait, value
    waits_s: list[float] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)

    def until(self, end: float, pause_s: float) -> None:
        lot = random.Random(self.name)
        for number in itertools.count():
            time.sleep(lot.uniform(0, pause_s))
            if time.monotonic() >= end:
                return
            begun = time.monotonic()
            try:
                self.work(self, number)
            except StoreBusy as busy:
                self.refused.append(str(busy))
            self.waits_s.append(time.monotonic() - begun)


def phone(path: Path, place: int) -> Worker:
    def send(worker: Worker, number: int) -> None:
        plot = PLOTS[number % len(PLOTS)]
        day = FIRST_DAY + timedelta(number // len(PLOTS) * PHONES + place)  # no other phone's
        entry = TallyEntry(plot, day, Tally.COUNTED, stems=((40, str(number)),))
        signed = Signed(worker.name, token=f"{worker.name}:{number}")
        for again in (False, True)[: 2 if number % 5 == 0 else 1]:
            if tally(path, entry, signed).again is not again:
                raise RuntimeError(f"{worker.name} was told wrongly of {entry}")
        worker.acknowledged.append((plot, str(day), float(number)))

    return Worker(f"phone {place}", send)


def command(path: Path, name: str, words: Callable[[Worker, int], list[str]]) -> Worker:
    def run(worker: Worker, number: int) -> None:
        line = [sys.executable, "-m", "trials.cli", *words(worker, number), "--store", str(path)]
        done = subprocess.run(line, capture_output=True, text=True, check=False)
        if done.returncode:
            worker.refused.append(done.stderr.strip())
        elif name == "load":
            worker.acknowledged.append(("Z4", f"load {number}", float(number)))

    return Worker(name, run)


def loading(folder: Path) -> Callable[[Worker, int], list[str]]:
    def words(_: Worker, number: int) -> list[str]:
        file = folder / f"scores-{number}.csv"
        file.write_text(f"plot,scored_on,trait,value\nZ4,2025-08-01,load {number},{number}\n")
        return ["load", str(file)]

    return words


def records_in(store: Store) -> list[tuple[str, str, float]]:
    """Every graded line of the cuts and every score: plot, day or trait, and how many."""
    frames = store.known().frames
    cuts, scores = frames[Sheet.CUTS], frames[Sheet.SCORES]
    graded = cuts[cuts["grade_cm"].notna()]
    return [
        *zip(graded["plot"], graded["cut_on"].map(str), graded["stems"].map(float), strict=True),
        *zip(scores["plot"], scores["trait"], scores["value"].map(float), strict=True),
    ]


def main() -> int:
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--seconds", type=float, default=60)
    wanted.add_argument("--picking", type=float, default=20, help="a phone's longest pause (s)")
    wanted.add_argument("--pause", type=float, default=4, help="a command line's longest (s)")
    wanted.add_argument("--phones", type=int, default=PHONES)
    asked = wanted.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "farm.tallybed"
        store = Store.create(path)
        store.add(farm.batch_of(farm.season_rows()))
        before = len(records_in(store))
        phones = [phone(path, place) for place in range(asked.phones)]
        lines = [
            command(path, "load", loading(Path(scratch))),
            command(path, "trials", lambda *_: ["trials"]),
            command(path, "backup", lambda *_: ["backup"]),
            command(path, "people", lambda *_: ["people", "list"]),
            command(path, "history", lambda *_: ["history"]),
        ]
        end = time.monotonic() + asked.seconds
        threads = [
            threading.Thread(target=worker.until, args=(end, pause))
            for workers, pause in ((phones, asked.picking), (lines, asked.pause))
            for worker in workers
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        found = records_in(store)
        whole = store.check().whole
    expected = [row for worker in (*phones, *lines) for row in worker.acknowledged]
    lost = len(set(expected) - set(found))
    doubled = len(found) - len(set(found))
    unasked = len(found) - before - len(expected)
    for name, workers in (("phones", phones), *((line.name, [line]) for line in lines)):
        waits = sorted(wait for worker in workers for wait in worker.waits_s)
        if not waits:
            continue
        print(
            f"{name:<8}{len(waits):>6} asked, {sum(len(w.refused) for w in workers)} refused; "
            f"wait: median {waits[len(waits) // 2]:.3f} s, 95 of 100 within "
            f"{waits[int(len(waits) * 0.95)]:.3f} s, longest {waits[-1]:.3f} s"
        )
    for refusal in {refusal for worker in (*phones, *lines) for refusal in worker.refused}:
        print(f"  refused: {refusal}")
    print(
        f"{len(expected)} records acknowledged in {asked.seconds:.0f} s "
        f"({len(expected) / asked.seconds:.1f} a second): lost {lost}, doubled {doubled}, "
        f"beside them {unasked}; store {'whole' if whole else 'NOT whole'}"
    )
    return 1 if lost or doubled or unasked or not whole else 0


if __name__ == "__main__":
    sys.exit(main())
