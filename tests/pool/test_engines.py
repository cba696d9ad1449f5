"""Workers that are killed change no result: processes of this machine, and a real cluster."""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pool.result_files import same
from trials import season
from trials.pool import run
from trials.pool.run import Progress

pytestmark = pytest.mark.slow

MEASURES = ("stems_per_plant",)


@pytest.fixture(scope="module")
def undisturbed(network: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    into = tmp_path_factory.mktemp("undisturbed")
    season.pool([str(network)], into, measures=MEASURES)
    return into


@pytest.fixture(autouse=True)
def small_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts of two farm seasons, so that there are some to lose."""
    monkeypatch.setattr(run, "PER_PART", 2)


def test_ten_killed_processes_change_no_result(
    network: Path, undisturbed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "PER_PART", 1)
    rng = random.Random(20261129)
    killed: list[int | None] = []

    def kill(_: Progress) -> None:
        children = multiprocessing.active_children()
        if children and len(killed) < 10:
            time.sleep(rng.uniform(0, 0.2))
            victim = rng.choice(children)
            victim.kill()
            killed.append(victim.pid)

    season.pool([str(network)], tmp_path, workers=2, measures=MEASURES, told=kill)
    assert len(killed) == 10
    same(undisturbed, tmp_path)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A scheduler and three workers, each a process of its own on this machine."""
    pytest.importorskip("distributed", reason="needs tallybed[cluster]")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    # Nothing but this machine is asked for anything.
    here = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "NO_PROXY": "*"}

    def start(*words: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-m", *words],
            env=here,
            cwd=tmp_path,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    scheduler = start(
        "distributed.cli.dask_scheduler",
        *("--host", "127.0.0.1", "--port", str(port), "--no-dashboard"),
    )
    workers = [
        start(
            "distributed.cli.dask_worker",
            *(address, "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard"),
            *("--local-directory", str(tmp_path / f"worker-{i}")),
        )
        for i in range(3)
    ]
    try:
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


@pytest.mark.filterwarnings("default")
def test_a_cluster_that_loses_a_worker_changes_no_result(
    network: Path,
    undisturbed: Path,
    tmp_path: Path,
    cluster: tuple[str, list[subprocess.Popen[bytes]]],
) -> None:
    address, workers = cluster
    into = tmp_path / "pool"

    def kill(_: Progress) -> None:
        if workers[0].poll() is None:
            workers[0].send_signal(signal.SIGKILL)

    done = season.pool([str(network)], into, scheduler=address, measures=MEASURES, told=kill)
    assert workers[0].wait(timeout=10) == -signal.SIGKILL
    assert (done.trials, done.refusals) == (40, ())
    same(undisturbed, into)
    shutil.rmtree(next((into / "results").glob("season=*/site=*")))
    again = season.pool([str(network)], into, scheduler=address, measures=MEASURES)
    assert again.done_before == 19
    same(undisturbed, into)
