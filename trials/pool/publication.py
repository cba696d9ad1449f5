"""What a network publishes: varieties over its farms, withheld where too few farms are behind it.

Each publication is a numbered folder that names no farm but by code. What it rests on is kept
beside the results, so that the next one can be held against it: a publication waits until enough
farms have come, gone or changed, as its difference from the last one is a figure too.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

import numpy as np

from trials.errors import FileRefused, NotConverged
from trials.model.formula_escaping import inert
from trials.pool.network import AcrossFarms, Heterogeneity, Network, together
from trials.pool.network_model import TrialMeans
from trials.pool.part import DONE
from trials.pool.partitions import MANIFEST, Partition
from trials.pool.result_rows import Table
from trials.pool.withholding import rest_on_enough
from trials.stats.design.table import Floats

FEWEST_FARMS = 5
NETWORK = "network.json"
_RELEASES = "releases"
_FACTOR = "variety"


@dataclass(frozen=True, slots=True)
class Subject:
    """A crop in a measure, as it is published: its varieties, and why others are not.

    ``waits`` says why nothing is published this time; '' where something is.
    """

    crop: str
    measure: str
    farms: int
    trials: int
    seasons: int
    varieties: tuple[AcrossFarms, ...]
    heterogeneity: tuple[Heterogeneity, ...]
    withheld: tuple[str, ...]
    apart: tuple[str, ...]
    waits: str = ""


@dataclass(frozen=True, slots=True)
class Published:
    """A publication: its folder (None where every subject waits) and what it says."""

    folder: Path | None
    fewest_farms: int
    subjects: tuple[Subject, ...]


def newest(folder: Path) -> Published:
    """The newest publication in a folder that ``publish`` wrote to.

    Raises
    ------
    FileRefused
        There is none, or it cannot be read.
    """
    files = sorted(folder.glob(f"[0-9]*/{NETWORK}"))
    if not files:
        raise FileRefused(f"{folder} contains no publication. Name the folder of pool --publish.")
    try:
        told = json.loads(files[-1].read_text(encoding="utf-8"))
        fewest = json.loads(files[-1].with_name(MANIFEST).read_text(encoding="utf-8"))
        subjects = tuple(
            Subject(
                **{
                    **each,
                    "varieties": tuple(AcrossFarms(**v) for v in each["varieties"]),
                    "heterogeneity": tuple(Heterogeneity(**h) for h in each["heterogeneity"]),
                    "withheld": tuple(each["withheld"]),
                    "apart": tuple(each["apart"]),
                }
            )
            for each in told
        )
        return Published(files[-1].parent, int(fewest["fewest_farms"]), subjects)
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise FileRefused(
            f"{files[-1].parent} cannot be read ({problem}). Ask for the publication again."
        ) from problem


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """A subject's published figures as weights: (figures, means) with the farm of each mean.

    ``means`` names each column by its records, so that the same records are the same column.
    """

    weights: Floats
    farms: tuple[str, ...]
    means: tuple[str, ...]


def publish(
    partitions: Sequence[Partition], into: Path, folder: Path, fewest: int = FEWEST_FARMS
) -> Published:
    """Publish every crop and measure of the results in ``into``, as far as enough farms allow.

    Raises
    ------
    FileRefused
        The results are not there, or fewer than two farms are asked for.
    """
    if fewest < 2:
        raise FileRefused(
            "A figure from one farm would reveal that farm. Ask for two farms or more."
        )
    ledger = into / _RELEASES
    number = 1 + sum(1 for path in ledger.glob("[0-9]*") if path.is_dir())
    subjects: list[Subject] = []
    kept: dict[str, _Rows] = {}
    for (crop, measure), members in sorted(_means(partitions, into).items()):
        name = f"{crop}-{measure}"
        before = _released(ledger, name)
        subject, rows = _subject(crop, measure, members, before, fewest)
        subjects.append(subject)
        if rows is not None:
            kept[name] = rows
    if not kept:
        return Published(None, fewest, tuple(subjects))
    target = folder / f"{number:03d}"
    target.mkdir(parents=True)
    _write(target, subjects, partitions, fewest)
    own = ledger / f"{number:03d}"
    own.mkdir(parents=True)
    for name, rows in kept.items():
        np.savez_compressed(
            own / f"{name}.npz",
            weights=rows.weights,
            farms=np.array(rows.farms),
            means=np.array(rows.means),
        )
    return Published(target, fewest, tuple(subjects))


@dataclass(frozen=True, slots=True, eq=False)
class _Member:
    """A trial's adjusted means by the names of its varieties, and the digest of its records."""

    partition: Partition
    trial: str
    levels: tuple[str, ...]
    means: Floats
    cov: Floats
    df: float


def _means(partitions: Sequence[Partition], into: Path) -> dict[tuple[str, str], list[_Member]]:
    """The trials of each crop and measure, from the results."""
    import pyarrow.parquet as pq

    found: dict[tuple[str, str], list[_Member]] = {}
    for partition in partitions:
        folder = into / "results" / partition.name
        try:
            crops = dict(json.loads((folder / DONE).read_text(encoding="utf-8"))["crops"])
            rows = pq.read_table(folder / f"{Table.ADJUSTED}.parquet").to_pylist()
        except FileNotFoundError as problem:
            raise FileRefused(f"{folder} has no results. Run the pool again.") from problem
        for row in rows:
            if row["factor"] != _FACTOR:
                continue
            size = len(row["levels"])
            cov = np.zeros((size, size))
            cov[np.tril_indices(size)] = row["cov"]
            cov += np.tril(cov, -1).T
            member = _Member(
                partition,
                row["trial"],
                tuple(row["levels"]),
                np.array(row["means"]),
                cov,
                row["df"],
            )
            found.setdefault((crops[row["trial"]], row["measure"]), []).append(member)
    return found


def _subject(
    crop: str, measure: str, members: Sequence[_Member], before: Sequence[_Rows], fewest: int
) -> tuple[Subject, _Rows | None]:
    """A crop in a measure as far as it may be published, and the weights of what it says."""
    names = sorted({level for member in members for level in member.levels})
    place = {name: number for number, name in enumerate(names)}
    trials = [
        TrialMeans(
            m.partition.farm,
            m.partition.season,
            np.array([place[level] for level in m.levels]),
            m.means,
            m.cov,
            m.df,
        )
        for m in members
    ]
    farms = {member.partition.farm for member in members}
    waits = (
        _waits(members, before, fewest)
        if len(farms) >= fewest
        else (
            f"Farms with trials of it: {len(farms)}. Figures are published from {fewest} farms on."
        )
    )
    if waits:
        return Subject(crop, measure, len(farms), len(members), 0, (), (), (), (), waits), None
    try:
        network = together(crop, measure, trials, names)
    except NotConverged as refusal:
        return (
            Subject(crop, measure, len(farms), len(members), 0, (), (), (), (), str(refusal)),
            None,
        )
    shown, rows = _allowed(network, members, before, fewest)
    withheld = tuple(v.variety for v in network.varieties if v.variety not in shown)
    if not shown:
        waits = "Every figure, or its difference from an earlier one, rests on too few farms."
    subject = Subject(
        crop,
        measure,
        network.farms,
        network.trials,
        network.seasons,
        tuple(v for v in network.varieties if v.variety in shown),
        network.heterogeneity if shown else (),
        withheld,
        network.apart,
        waits,
    )
    return subject, rows


def _waits(members: Sequence[_Member], before: Sequence[_Rows], fewest: int) -> str:
    """Why the subject waits: too few farms have come, gone or changed; '' where it need not."""
    if not before:
        return ""
    now, then = _by_farm(_columns(members)), _by_farm((before[-1].means, before[-1].farms))
    changed = [farm for farm in {*now, *then} if now.get(farm) != then.get(farm)]
    if len(changed) >= fewest:
        return ""
    if not changed:
        return "Nothing has changed since it was last published."
    return (
        f"Farms that joined, left or changed since it was last published: {len(changed)}. "
        f"The next figures come when there are {fewest}."
    )


def _by_farm(columns: tuple[Sequence[str], Sequence[str]]) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for mean, farm in zip(*columns, strict=True):
        found.setdefault(farm, set()).add(mean)
    return {farm: frozenset(means) for farm, means in found.items()}


def _columns(members: Sequence[_Member]) -> tuple[list[str], list[str]]:
    """Each mean by its records, and its farm, in the order of the network's farms and trials."""
    ordered = sorted(members, key=lambda member: member.partition.farm)
    means = [f"{m.partition.digest[:16]} {m.trial} {level}" for m in ordered for level in m.levels]
    return means, [m.partition.farm for m in ordered for _ in m.levels]


def _allowed(
    network: Network, members: Sequence[_Member], before: Sequence[_Rows], fewest: int
) -> tuple[set[str], _Rows | None]:
    """The varieties that may be shown: those with fewest farms are withheld until all is safe."""
    inside = {v.variety for v in network.varieties}
    means, farms = _columns([m for m in members if set(m.levels) <= inside])
    centre = np.eye(len(network.varieties)) - 1.0 / len(network.varieties)
    weights = np.vstack(network.fitted.weights(centre)).T
    order = sorted(
        (i for i, v in enumerate(network.varieties) if v.farms >= fewest),
        key=lambda i: -network.varieties[i].farms,
    )
    while order:
        rows = _Rows(weights[sorted(order)], tuple(farms), tuple(means))
        if rest_on_enough(_stacked([*before, rows]), fewest):
            return {network.varieties[i].variety for i in order}, rows
        order.pop()
    return set(), None


def _stacked(releases: Sequence[_Rows]) -> Mapping[str, Floats]:
    """All figures ever published of a subject by farm: the same means are the same columns."""
    place: dict[str, int] = {}
    farm_of: dict[str, str] = {}
    for release in releases:
        for mean, farm in zip(release.means, release.farms, strict=True):
            place.setdefault(mean, len(place))
            farm_of[mean] = farm
    whole = np.zeros((sum(len(r.weights) for r in releases), len(place)))
    row = 0
    for release in releases:
        at = [place[mean] for mean in release.means]
        whole[row : row + len(release.weights), at] = release.weights
        row += len(release.weights)
    columns: dict[str, list[int]] = {}
    for mean, number in place.items():
        columns.setdefault(farm_of[mean], []).append(number)
    return {farm: whole[:, numbers] for farm, numbers in columns.items()}


def _released(ledger: Path, name: str) -> list[_Rows]:
    """What was published of a subject before, the oldest first."""
    found = []
    for file in sorted(ledger.glob(f"[0-9]*/{name}.npz")):
        with np.load(file) as told:
            found.append(
                _Rows(told["weights"], tuple(told["farms"].tolist()), tuple(told["means"].tolist()))
            )
    return found


def _write(
    folder: Path, subjects: Sequence[Subject], partitions: Sequence[Partition], fewest: int
) -> None:
    """The publication: figures as CSV, what is behind them as JSON, and which records went in."""
    columns = [field.name for field in fields(AcrossFarms)]
    with (folder / "varieties.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["crop", "measure", *columns])
        for subject in subjects:
            for each in subject.varieties:
                row = [getattr(each, name) for name in columns]
                told = [inert(cell) if isinstance(cell, str) else cell for cell in row]
                writer.writerow([inert(subject.crop), subject.measure, *told])
    about = [asdict(subject) for subject in subjects]
    (folder / NETWORK).write_text(json.dumps(about, indent=1), encoding="utf-8")
    manifest = {
        "fewest_farms": fewest,
        "records": {each.name: each.digest for each in partitions},
    }
    (folder / MANIFEST).write_text(json.dumps(manifest, indent=1), encoding="utf-8")
