"""Who does the parts: this process, others on this machine, or the workers of a Dask cluster.

Each yields what came of the parts as they finish, in any order. A worker that is lost costs only
the time of its part: another does it.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from trials.errors import FileRefused
from trials.pool.part import Done, Part, compare_part

_TRIES = 20  # a part that loses so many workers is to blame itself


class Engine(Protocol):
    """A way of having parts done."""

    def done(self, parts: Sequence[Part]) -> Iterator[tuple[Done, ...]]:
        """What came of each part, as they finish."""


@dataclass(frozen=True, slots=True)
class Here:
    """This process, one part after another."""

    def done(self, parts: Sequence[Part]) -> Iterator[tuple[Done, ...]]:
        yield from map(compare_part, parts)


@dataclass(frozen=True, slots=True)
class Processes:
    """Processes of this machine."""

    workers: int

    def done(self, parts: Sequence[Part]) -> Iterator[tuple[Done, ...]]:
        from concurrent.futures import ProcessPoolExecutor, as_completed
        from concurrent.futures.process import BrokenProcessPool
        from multiprocessing import get_context

        # Threads within each process would only take turns on the same cores.
        for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
            os.environ.setdefault(name, "1")
        left = dict(enumerate(parts))
        for _ in range(_TRIES):
            with ProcessPoolExecutor(self.workers, get_context("spawn")) as pool:
                try:
                    asked = {pool.submit(compare_part, part): i for i, part in left.items()}
                    for future in as_completed(asked):
                        finished = future.result()
                        del left[asked[future]]
                        yield finished
                    return
                except BrokenProcessPool:  # a worker was killed: the others go with it
                    continue
        raise FileRefused(
            f"Workers ended {_TRIES} times without finishing their part. Check the computer's "
            "memory, and run the same command again. Finished parts are not repeated."
        )


@dataclass(frozen=True, slots=True)
class Cluster:
    """The workers of a Dask cluster that is there already."""

    scheduler: str

    def done(self, parts: Sequence[Part]) -> Iterator[tuple[Done, ...]]:
        try:
            from distributed import Client, KilledWorker, as_completed
        except ImportError as problem:
            raise FileRefused(
                "A cluster needs packages that are not installed. Install them with: "
                "pip install 'tallybed[cluster]'"
            ) from problem
        try:
            client = Client(self.scheduler, timeout="20s")
        except (OSError, TimeoutError, ValueError) as problem:  # a value: no address at all
            raise FileRefused(
                f"No scheduler answers at {self.scheduler}. Check the address and that it runs."
            ) from problem
        with client:
            # Keys of their own: a part whose results were deleted must be done again.
            asked = {client.submit(compare_part, part, pure=False): part for part in parts}
            lost: dict[str, int] = {}
            waiting = as_completed(list(asked))
            for future in waiting:
                try:
                    finished = future.result()
                except KilledWorker:
                    part = asked.pop(future)
                    name = part.partitions[0].name
                    lost[name] = lost.get(name, 0) + 1
                    if lost[name] > _TRIES:
                        raise
                    again = client.submit(compare_part, part, pure=False)
                    asked[again] = part
                    waiting.add(again)
                    continue
                future.release()
                yield finished
