"""One piece of work: some partitions compared together, each written whole or not at all."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from trials.pool.family_rows import Asked
from trials.pool.layouts import Layouts
from trials.pool.partitions import Partition
from trials.pool.plots import asked_of
from trials.pool.result_rows import Rows, Table
from trials.pool.together import compare_all
from trials.store.partition import Grown, grown

if TYPE_CHECKING:
    import pyarrow as pa

DONE = "done.json"
_BETWEEN = "\t"  # a partition's place, this, and the trial's code: how a trial is named meanwhile


@dataclass(frozen=True, slots=True)
class Refusal:
    """A trial's measure that could not be compared, or a partition that could not be read."""

    partition: str
    trial: str | None
    measure: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a partition, and the digest of the records that it came from.

    ``crops`` has each trial's crop.
    """

    partition: str
    digest: str
    measures: tuple[str, ...]
    trials: int
    comparisons: int
    refusals: tuple[Refusal, ...]
    crops: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """Some partitions, where their results go, and which measures are wanted (none: every one)."""

    partitions: tuple[Partition, ...]
    results: str
    measures: tuple[str, ...] = ()


def compare_part(part: Part) -> tuple[Done, ...]:
    """Compare every trial of some partitions and write their results.

    It may be done twice, at the same time too: the results are the same, and a partition's folder
    appears whole.
    """
    sources = {f"{place}{_BETWEEN}": each for place, each in enumerate(part.partitions)}
    plots = grown([each.under(prefix) for prefix, each in sources.items()])
    rows, asked = Rows(), list(asked_of(plots, part.measures))
    done = [_done(each, part.measures, prefix, plots, asked) for prefix, each in sources.items()]
    compare_all(asked, rows, _layouts())
    tables = {table: rows.arrow(table) for table in Table}
    finished = []
    for place, partition in enumerate(part.partitions):
        found, refusals = _of_partition(tables, place, partition)
        one = replace(
            done[place],
            comparisons=done[place].comparisons - len(refusals),
            refusals=(*done[place].refusals, *refusals),
        )
        _write(Path(part.results) / partition.name, found, one)
        finished.append(one)
    return tuple(finished)


def done_before(results: Path, partition: Partition, measures: tuple[str, ...]) -> Done | None:
    """What an earlier run made of the same records; None where there is work to do."""
    try:
        told = json.loads((results / partition.name / DONE).read_text(encoding="utf-8"))
        refusals = tuple(Refusal(**each) for each in told.pop("refusals"))
        crops = tuple((trial, crop) for trial, crop in told["crops"])
        measured = tuple(told["measures"])
        found = Done(**{**told, "refusals": refusals, "measures": measured, "crops": crops})
    except (OSError, ValueError, TypeError, KeyError):
        return None
    same = found.digest == partition.digest and found.measures == measures
    return found if same else None


def _done(
    partition: Partition, measures: tuple[str, ...], prefix: str, plots: Grown, asked: list[Asked]
) -> Done:
    """What a partition asks for, before anything was compared."""
    own = [each.trial for each in asked if each.trial.startswith(prefix)]
    crops = tuple(
        (trial.code.removeprefix(prefix), trial.crop)
        for trial in plots.trials
        if trial.code.startswith(prefix)
    )
    refused = plots.refused.get(prefix)
    reasons = () if refused is None else (Refusal(partition.name, None, None, str(refused)),)
    trials = len(set(own))
    return Done(partition.name, partition.digest, measures, trials, len(own), reasons, crops)


@cache
def _layouts() -> Layouts:
    """The layouts that this process has met."""
    return Layouts()


def _of_partition(
    tables: Mapping[Table, pa.Table], place: int, partition: Partition
) -> tuple[dict[Table, pa.Table], tuple[Refusal, ...]]:
    """The rows of one partition, its trials under their own codes."""
    import pyarrow as pa
    import pyarrow.compute as pc

    prefix = f"{place}{_BETWEEN}"
    found = {}
    for table, rows in tables.items():
        words = rows["trial"].combine_chunks().dictionary
        mine = pa.array(
            [text is not None and text.startswith(prefix) for text in words.to_pylist()]
        )
        codes = rows["trial"].combine_chunks().indices
        own = rows.filter(pc.take(mine, codes)) if len(words) else rows
        plain = pa.table(
            {
                name: own[name].cast(pa.string())
                if pa.types.is_dictionary(own.schema.field(name).type)
                else own[name]
                for name in own.column_names
            }
        )
        trial = pc.utf8_slice_codeunits(plain["trial"], len(prefix))
        found[table] = plain.set_column(plain.column_names.index("trial"), "trial", trial)
    refused = found[Table.COMPARISONS].select(["trial", "measure", "reason"]).to_pylist()
    refusals = tuple(
        Refusal(partition.name, row["trial"], row["measure"], row["reason"])
        for row in refused
        if row["reason"] is not None
    )
    return found, refusals


def _write(folder: Path, tables: Mapping[Table, Any], done: Done) -> None:
    """The folder of a partition's results: made aside, then given its name."""
    import pyarrow.parquet as pq

    aside = folder.parent / f".{folder.name}-{uuid4().hex}"
    aside.mkdir(parents=True)
    for table, rows in tables.items():
        pq.write_table(rows, aside / f"{table}.parquet", compression="zstd", compression_level=1)
    text = json.dumps(asdict(done), ensure_ascii=False, indent=1)
    (aside / DONE).write_text(text, encoding="utf-8")
    old = folder.parent / f".{folder.name}-{uuid4().hex}-old"
    for _ in range(100):  # two workers may finish the same partition: either's folder will do
        try:
            aside.replace(folder)
            break
        except OSError:
            try:
                folder.replace(old)
            except FileNotFoundError:
                continue
            shutil.rmtree(old, ignore_errors=True)
