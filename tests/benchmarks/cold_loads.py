"""Loads records in fresh processes whose imports are all cold: does any end in a traceback?

Each load is the real command, started without any compiled file (an empty folder as
PYTHONPYCACHEPREFIX, and -B), while other processes keep every core busy. Each has a store of its
own and must store all records.

    python tests/benchmarks/cold_loads.py --loads 200
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

FARM = Path(__file__).resolve().parents[2] / "data" / "farm"
BUSY = "while True: pass"


def load(folder: Path, number: int) -> tuple[str, float]:
    """How one cold load into a store of its own ended, and after how many seconds."""
    line = [sys.executable, "-B", "-m", "trials.cli", "load", str(FARM)]
    line += ["--store", str(folder / f"{number}.tallybed")]
    cold = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder / f"compiled-{number}")}
    begun = time.monotonic()
    done = subprocess.run(line, env=cold, capture_output=True, text=True, check=False)
    took = time.monotonic() - begun
    if "Traceback" in done.stderr:
        return f"traceback: {done.stderr.strip().splitlines()[-1]}", took
    return ("loaded" if done.returncode == 0 else f"refused: {done.stderr.strip()}"), took


def main() -> int:
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--loads", type=int, default=200)
    wanted.add_argument("--at-once", type=int, default=4)
    wanted.add_argument("--busy", type=int, default=os.cpu_count() or 1, help="busy processes")
    asked = wanted.parse_args()
    busy = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(asked.busy)]
    try:
        with (
            tempfile.TemporaryDirectory() as scratch,
            ThreadPoolExecutor(asked.at_once) as at_once,
        ):
            done = list(at_once.map(lambda n: load(Path(scratch), n), range(asked.loads)))
    finally:
        for process in busy:
            process.kill()
    ends = Counter(end for end, _ in done)
    for end, times in ends.most_common():
        print(f"{times:>5} {end}")
    print(f"longest {max(took for _, took in done):.1f} s")
    return 0 if set(ends) == {"loaded"} else 1


if __name__ == "__main__":
    sys.exit(main())
