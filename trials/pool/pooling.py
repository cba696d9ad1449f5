"""The whole of a pool: sources gathered, every trial compared, trials taken together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from trials.errors import FileRefused
from trials.pool.engines import Cluster, Engine, Here, Processes
from trials.pool.gather import gather
from trials.pool.publication import FEWEST_FARMS, publish
from trials.pool.run import Pooled, Progress, compare_partitions


def pool(
    sources: Sequence[str],
    into: Path,
    *,
    workers: int = 1,
    scheduler: str | None = None,
    measures: Sequence[str] = (),
    publish_to: Path | None = None,
    fewest_farms: int = FEWEST_FARMS,
    told: Callable[[Progress], None] | None = None,
) -> Pooled:
    """Compare every trial of many farms; what an earlier run finished is not done again.

    ``sources``: stores, packages, folders of packages, contributed folders, or sets of Parquet
    files by season and site, here or at an address. ``workers`` processes of this machine do the
    work, or those of the Dask cluster whose ``scheduler`` is named; results go ``into`` a folder
    that all of them reach. Varieties over all farms are published in the folder ``publish_to``,
    withheld where fewer than ``fewest_farms`` are behind a figure or a difference of figures.

    Raises
    ------
    FileRefused
        Nothing could be used, or the results cannot be written.
    """
    gathered = gather(sources, into)
    if not gathered.partitions:
        reasons = " ".join(refusal.reason for refusal in gathered.refusals)
        raise FileRefused(reasons or "There is nothing to pool: name a store, package or folder.")
    engine: Engine = Here()
    if scheduler is not None:
        engine = Cluster(scheduler)
    elif workers > 1:
        engine = Processes(workers)
    done = compare_partitions(gathered.partitions, into, engine, measures, told)
    published = None
    if publish_to is not None:
        published = publish(gathered.partitions, into, publish_to, fewest_farms)
    refusals = (*gathered.refusals, *done.refusals)
    return replace(done, refusals=refusals, published=published)
