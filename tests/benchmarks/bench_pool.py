"""How the cost of a pool grows with its trials, beside what one trial costs by itself.

    python tests/benchmarks/bench_pool.py --farms 1 10 100
    python tests/benchmarks/bench_pool.py --farms 10 --workers 2
    python tests/benchmarks/bench_pool.py --scheduler-overhead

Each run is a process of its own over a network from ``make_network.py`` (5 seasons, 20 trials of a
farm and season, 48 plots, 10 picking days, four measures). Time of the processor is that of the
process and its workers; memory is the most that one of them held.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MEASURES = ("stems_per_plant", "stems_per_metre", "saleable_length_share", "days_to_first_cut")
HERE = Path(__file__).parent
_RUN = """
import json, resource, sys, time
from pathlib import Path
from trials import season
start = time.perf_counter()
done = season.pool([sys.argv[1]], Path(sys.argv[2]), workers=int(sys.argv[3]),
                   measures=sys.argv[4:])
own = resource.getrusage(resource.RUSAGE_SELF)
others = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([done.trials, done.comparisons, len(done.refusals), time.perf_counter() - start,
                  own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime,
                  max(own.ru_maxrss, others.ru_maxrss) / 1024]))
"""


def pooled(network: Path, workers: int) -> str:
    """A row of the table: one pool in a process of its own."""
    with tempfile.TemporaryDirectory() as into:
        ran = subprocess.run(
            [sys.executable, "-c", _RUN, str(network), into, str(workers), *MEASURES],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
        )
    trials, comparisons, refused, wall, processor, memory = json.loads(ran.stdout)
    each = 1000 * processor / trials
    return (
        f"| {trials:,} | {comparisons:,} | {refused} | {workers} | {wall:.1f} | {processor:.1f} "
        f"| {each:.1f} | {memory:.0f} |"
    )


def overhead() -> None:
    """What the scheduler of a cluster adds to a task, on this machine."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        client.gather(client.map(abs, range(100), pure=False))
        start = time.perf_counter()
        client.gather(client.map(abs, range(2000), pure=False))
        print(f"{(time.perf_counter() - start) / 2000 * 1000:.2f} ms a task")


def main() -> None:
    """Print what the options ask for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--farms", type=int, nargs="*", default=[])
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--layouts", nargs=4, default=["0.84", "0.16", "0", "0"])
    parser.add_argument("--scheduler-overhead", action="store_true")
    given = parser.parse_args()
    if given.scheduler_overhead:
        overhead()
    if given.farms:
        spent = ("s", "s of processor", "ms of processor a trial", "MB")
        heads = ("trials", "comparisons", "refused", "workers", *spent)
        print(f"| {' | '.join(heads)} |\n|{'---|' * len(heads)}")
    for farms in given.farms:
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run(
                [
                    sys.executable,
                    str(HERE / "make_network.py"),
                    folder,
                    "--farms",
                    str(farms),
                    *("--seasons", "5", "--trials", "20", "--varieties", "200"),
                    *("--layouts", *given.layouts),
                ],
                check=True,
                stdout=subprocess.DEVNULL,
            )
            print(pooled(Path(folder), given.workers), flush=True)


if __name__ == "__main__":
    main()
