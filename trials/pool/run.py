"""A pool from its sources to its results: what is left to do, done and told as it goes."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from trials.errors import FileRefused
from trials.pool.engines import Engine, Here
from trials.pool.part import Done, Part, Refusal, done_before
from trials.pool.partitions import Partition
from trials.pool.publication import Published

RESULTS = "results"
PER_PART = 16  # partitions: enough to share layouts, few enough to lose with a worker


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is."""

    partitions: int
    of: int
    trials: int


@dataclass(frozen=True, slots=True)
class Pooled:
    """What a run did, what it found done, and what was published (None where nothing was asked)."""

    results: Path
    partitions: int
    done_before: int
    farms: int
    trials: int
    comparisons: int
    refusals: tuple[Refusal, ...]
    seconds: float
    published: Published | None = None


def compare_partitions(
    partitions: Sequence[Partition],
    into: Path,
    engine: Engine | None = None,
    measures: Sequence[str] = (),
    told: Callable[[Progress], None] | None = None,
) -> Pooled:
    """Compare every trial of the partitions that an earlier run has not compared.

    Results of partitions that are not among these any more are removed.

    Raises
    ------
    FileRefused
        Two sources have the same season of the same farm, or the results cannot be written.
    """
    start = perf_counter()
    _require_different(partitions)
    results, chosen = into / RESULTS, tuple(measures)
    results.mkdir(parents=True, exist_ok=True)
    _remove_others(results, {each.name for each in partitions})
    before = {each.name: done_before(results, each, chosen) for each in partitions}
    found = [done for done in before.values() if done is not None]
    left = [each for each in partitions if before[each.name] is None]
    already = len(found)
    parts = [
        Part(tuple(left[i : i + PER_PART]), str(results), chosen)
        for i in range(0, len(left), PER_PART)
    ]
    trials = sum(done.trials for done in found)
    for finished in (engine or Here()).done(parts):
        found += finished
        trials += sum(done.trials for done in finished)
        if told is not None:
            told(Progress(len(found), len(partitions), trials))
    return Pooled(
        results,
        len(partitions),
        already,
        len({each.farm for each in partitions}),
        trials,
        sum(done.comparisons for done in found),
        tuple(sorted(_refusals(found), key=lambda each: (each.partition, str(each.trial)))),
        perf_counter() - start,
    )


def _remove_others(results: Path, wanted: set[str]) -> None:
    """Remove what no source has any more: a farm that took its trials out is in no result."""
    for folder in results.glob("season=*/site=*"):
        if f"{folder.parent.name}/{folder.name}" not in wanted:
            shutil.rmtree(folder)


def _refusals(found: Sequence[Done]) -> Iterator[Refusal]:
    for done in found:
        yield from done.refusals


def _require_different(partitions: Sequence[Partition]) -> None:
    seen: dict[str, Partition] = {}
    for each in partitions:
        other = seen.setdefault(each.name, each)
        if other is not each:
            raise FileRefused(
                f"{each.name} occurs twice: in {Path(other.files[0][1]).parent} and "
                f"{Path(each.files[0][1]).parent}. Name each farm's season once."
            )
