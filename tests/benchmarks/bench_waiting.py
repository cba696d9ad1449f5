"""Times what a grower waits for: the help, a comparison as a command, and a tally at the plot.

    python tests/benchmarks/bench_waiting.py [--repeats 9] [--held 200000]

The comparison stands next to the import, in a fresh process, of exactly the modules that it loads.
The tally is timed on two stores of one trial, without cuts and with many of them, in turn. All
times are the processor's, of the whole process, so that other work on the machine counts little; on
a free core they are the waiting. Of each the median is printed.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from tests.benchmarks.bench_loading import write_cuts, write_farm

ROOT = Path(__file__).resolve().parents[2]
# Complete blocks; and whole plots with plots lost, which are compared again without each plot.
TRIALS = ("plume-2026", "cosmos-2026")
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}
LOADED = """
import json, runpy, sys
sys.argv = ["tallybed", *sys.argv[1:]]
try:
    runpy.run_module("trials.cli", run_name="__main__")
except SystemExit:
    pass
print("\\n" + json.dumps(list(sys.modules)))
"""
IMPORT = """
import importlib, json, sys
for name in json.load(open(sys.argv[1])):
    try:
        importlib.import_module(name)
    except ImportError:
        pass
"""


def processor_seconds(words: Sequence[object]) -> float:
    """What the processor spends on a fresh Python with these words."""
    line = [sys.executable, *map(str, words)]
    with subprocess.Popen(
        line, env=os.environ | ONE_THREAD, stdout=subprocess.DEVNULL, cwd=ROOT
    ) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, line
    return used.ru_utime + used.ru_stime


def in_turn(repeats: int, *lines: Sequence[object]) -> list[float]:
    """The median of each line's seconds, the lines run in turn; the first round warms up."""
    rounds = [[processor_seconds(line) for line in lines] for _ in range(repeats + 1)][1:]
    return [statistics.median(each) for each in zip(*rounds, strict=True)]


def commands(folder: Path, repeats: int) -> None:
    """Print what the help and a comparison take."""
    from trials import season

    store = folder / "farm.tallybed"
    season.load(store, [ROOT / "data" / "farm"])
    helped, empty = in_turn(repeats, ["-m", "trials.cli", "--help"], ["-c", ""])
    print(f"`tallybed --help`: {helped:.3f} s (an empty Python {empty:.3f} s)", flush=True)
    for trial in TRIALS:
        comparison(folder, ["compare", trial, "--store", store], repeats)


def comparison(folder: Path, compare: Sequence[object], repeats: int) -> None:
    """Print what one comparison takes, next to the import of what it loads."""
    said = subprocess.run(
        [sys.executable, "-c", LOADED, *map(str, compare)],
        check=True, capture_output=True, text=True, env=os.environ | ONE_THREAD, cwd=ROOT,
    ).stdout  # fmt: skip
    modules = folder / "modules.json"
    modules.write_text(said.splitlines()[-1])
    compared, imported = in_turn(repeats, ["-m", "trials.cli", *compare], ["-c", IMPORT, modules])
    print(
        f"`tallybed compare {compare[1]}`: {compared:.2f} s; the import of its "
        f"{len(json.loads(modules.read_text())):,} modules {imported:.2f} s; "
        f"ratio {compared / imported:.2f}",
        flush=True,
    )


def tallies(folder: Path, held: int, repeats: int) -> None:
    """Print what a tally takes in a store without cuts and in one with many."""
    from trials import season
    from trials.model.rows import Signed

    (folder / "farm").mkdir()
    write_farm(folder / "farm")
    stores = [folder / "none.tallybed", folder / "many.tallybed"]
    for store in stores:
        season.load(store, [folder / "farm"])
    write_cuts(folder / "cuts.csv", held)
    season.load(stores[1], [folder / "cuts.csv"])
    spent: list[list[float]] = [[], []]
    first = date(2026, 10, 1)
    for number in range(repeats + 3):
        for store, times in zip(stores, spent, strict=True):
            entry = season.TallyEntry(
                f"P{number % 50:04d}",
                first + timedelta(number // 50),
                season.Tally.COUNTED,
                stems=((40, "3"), (50, "2")),
            )
            begun = time.process_time()
            season.tally(store, entry, Signed("picker"))
            times.append(time.process_time() - begun)
    none, many = (1e3 * statistics.median(times[3:]) for times in spent)
    print(f"a tally with 0 cuts stored: {none:.0f} ms; with {held:,}: {many:.0f} ms", end="; ")
    print(f"ratio {many / none:.2f}")


def main() -> None:
    """Print each figure."""
    wanted = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    wanted.add_argument("--repeats", type=int, default=9)
    wanted.add_argument("--held", type=int, default=200_000)
    asked = wanted.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        commands(Path(scratch), asked.repeats)
    with tempfile.TemporaryDirectory() as scratch:
        tallies(Path(scratch), asked.held, 4 * asked.repeats)


if __name__ == "__main__":
    main()
