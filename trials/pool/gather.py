"""Stores and packages brought into the form of partitions, under codes that name nobody."""

from __future__ import annotations

import csv
import hmac
import json
import secrets
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from trials.errors import FileRefused, TallybedError
from trials.model.trial import Trial
from trials.package import unpack
from trials.pool.part import Refusal
from trials.pool.partitions import MANIFEST, Partition, manifest_of, partitions_in
from trials.store import Store
from trials.store.partition import write_partition

GATHERED, CODES, _KEY = "gathered", "codes.csv", "key.json"
_PACKAGE = "datapackage.json"


@dataclass(frozen=True, slots=True)
class Key:
    """The secret by which names become codes: the same name has the same code each time."""

    secret: bytes

    @classmethod
    def at(cls, file: Path) -> Key:
        """The key in a file, which is made at first use and readable by its owner alone."""
        try:
            return cls(bytes.fromhex(json.loads(file.read_text(encoding="utf-8"))["secret"]))
        except FileNotFoundError:
            file.parent.mkdir(parents=True, exist_ok=True)
            key = cls(secrets.token_bytes(32))
            file.touch(mode=0o600)
            file.write_text(json.dumps({"secret": key.secret.hex()}), encoding="utf-8")
            return key
        except (ValueError, KeyError, TypeError) as problem:
            raise FileRefused(
                f"{file} cannot be read. Restore it from a backup; without it, farms get new codes."
            ) from problem

    def code(self, *names: str) -> str:
        """Eight characters for a name."""
        return hmac.digest(self.secret, "\n".join(names).encode(), "sha256").hex()[:8]


@dataclass(frozen=True, slots=True)
class Gathered:
    """The partitions of all sources, and what was refused on the way."""

    partitions: tuple[Partition, ...]
    refusals: tuple[Refusal, ...]


def gather(sources: Iterable[str], into: Path) -> Gathered:
    """The partitions of stores, packages, folders of packages and partitioned folders.

    What is refused is reported with its reason and stops nothing else.
    """
    key = Key.at(into / _KEY)
    partitions: list[Partition] = []
    refusals: list[Refusal] = []
    kept = into / GATHERED
    for source in sources:
        found: list[str] = []
        try:
            path = Path(source)
            packages = [] if "://" in source else _packages(path)
            if "://" not in source and path.is_file():
                found.append(str(_from_store(path, key, kept / key.code(str(path.resolve())))))
            for package in packages:
                try:
                    target = kept / key.code(str(package.resolve()))
                    found.append(str(_from_package(package, key, target)))
                except TallybedError as refusal:
                    refusals.append(Refusal(str(package), None, None, str(refusal)))
            if not packages and not found:
                found.append(source)
            for each in found:
                partitions += partitions_in(each)
        except TallybedError as refusal:
            refusals.append(Refusal(source, None, None, str(refusal)))
    whole = [each for each in _joined(partitions) if each.refused is None]
    refusals += [
        Refusal(each.name, None, None, each.refused)
        for each in partitions
        if each.refused is not None
    ]
    return Gathered(tuple(whole), tuple(refusals))


def write_farm(
    store: Path, key: Key, farm: str, trials: Iterable[str] | None, into: Path
) -> dict[str, str]:
    """Write trials of a store (None: every closed one) as partitions, each with its manifest.

    ``farm`` is what the farm's code is made of. A partition replaces an earlier one of its season
    and site. Returns the codes by trial.
    """
    held = Store.open(store)
    known = {trial.code: trial for trial in held.trials()}
    chosen = [
        t for t in known.values() if (t.code in trials if trials is not None else t.closed_on)
    ]
    codes = {trial.code: f"t{key.code('trial', trial.code)}" for trial in chosen}
    sites = sorted({trial.site for trial in known.values()})
    own_code = key.code("farm", farm)
    for season, site in sorted({(trial.season, trial.site) for trial in chosen}):
        number = sites.index(site) + 1
        code = own_code if number == 1 else f"{own_code}-{number}"
        folder = into / f"season={season}" / f"site={code}"
        aside = folder.parent / f".{folder.name}-new"
        shutil.rmtree(aside, ignore_errors=True)
        own = {t.code: codes[t.code] for t in chosen if (t.season, t.site) == (season, site)}
        with held.turns.reading() as cursor:
            write_partition(cursor, own, aside)
        (aside / MANIFEST).write_text(json.dumps(manifest_of(aside), indent=1), encoding="utf-8")
        shutil.rmtree(folder, ignore_errors=True)
        aside.replace(folder)
    return codes


def _from_store(store: Path, key: Key, into: Path) -> Path:
    """The store's trials under ``into``; ``codes.csv`` beside it says which code is which."""
    shutil.rmtree(into, ignore_errors=True)
    every = [trial.code for trial in Store.open(store).trials()]
    _keep_codes(
        into.parent / CODES, store, write_farm(store, key, str(store.resolve()), every, into)
    )
    return into


def _from_package(package: Path, key: Key, into: Path) -> Path:
    """A package's trial, checked against its digests and the rules of every sheet."""
    with TemporaryDirectory() as work:
        shutil.rmtree(into, ignore_errors=True)
        fresh = Path(work) / "package.tallybed"
        read = unpack(package, fresh)
        if read.same_records is False:
            raise FileRefused(
                f"{package}: its records changed after it was written, as their digest differs. "
                "Ask for it again."
            )
        site = _only(Store.open(fresh).trials()).site
        _keep_codes(into.parent / CODES, package, write_farm(fresh, key, site, [read.trial], into))
    return into


def _only(trials: tuple[Trial, ...]) -> Trial:
    (one,) = trials
    return one


def _packages(folder: Path) -> list[Path]:
    return sorted(path.parent for path in folder.rglob(_PACKAGE)) if folder.is_dir() else []


def _joined(partitions: Iterable[Partition]) -> list[Partition]:
    """Each partition under a name of its own, and the same records once.

    A farm's packages of one season come as partitions of one name.
    """
    found: dict[str, Partition] = {}
    for each in partitions:
        own, number = each, 1
        while own.name in found and found[own.name].digest != own.digest:
            number += 1
            own = replace(each, site=f"{each.farm}-{number}")
        found[own.name] = own
    return list(found.values())


def _keep_codes(file: Path, source: Path, codes: dict[str, str]) -> None:
    """Which code stands for which trial, for whoever pooled them: it is not part of the results."""
    file.parent.mkdir(parents=True, exist_ok=True)
    known: dict[tuple[str, str], str] = {}
    if file.exists():
        with file.open(encoding="utf-8", newline="") as old:
            known = {(row["source"], row["trial"]): row["code"] for row in csv.DictReader(old)}
    known |= {(str(source), trial): code for trial, code in codes.items()}
    with file.open("w", encoding="utf-8", newline="") as new:
        writer = csv.writer(new)
        writer.writerow(["source", "trial", "code"])
        writer.writerows((*key, code) for key, code in sorted(known.items()))
