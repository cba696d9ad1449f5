"""The sources of a pool as partitions: one season at one farm each, with a digest of its files."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused
from trials.store.partition import TABLES, Files

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem

MANIFEST = "manifest.json"
_HIVE = re.compile(r"season=(\d{4})/site=([^/]+)/([^/]+)$")


@dataclass(frozen=True, slots=True)
class Partition:
    """One season at one farm: its files by table, and the digest of all of them together.

    ``site`` is the farm's code, with '-2' behind it for the second site of a farm. ``refused``
    says why it must not count, where that is so.
    """

    season: int
    site: str
    files: tuple[tuple[str, str], ...]
    digest: str
    remote: bool = False
    refused: str | None = None

    @property
    def name(self) -> str:
        """'season=2026/site=3f9a01c2', as its folder is called."""
        return f"season={self.season}/site={self.site}"

    @property
    def farm(self) -> str:
        """The code of the farm, whatever its sites."""
        return self.site.partition("-")[0]

    def under(self, prefix: str) -> Files:
        """Its files, to be read with others: ``prefix`` is put before its codes."""
        system = _filesystem(self.files[0][1]) if self.remote else None
        return Files(prefix, dict(self.files), system)


def partitions_in(source: str) -> tuple[Partition, ...]:
    """The partitions of a folder or an address (``s3://…`` and others, through fsspec).

    Raises
    ------
    FileRefused
        There is none.
    """
    remote = "://" in source
    found: dict[tuple[int, str], dict[str, str]] = {}
    for path in _parquet_files(source, remote):
        match = _HIVE.search(path.replace("\\", "/"))
        if match is None:
            continue
        table = match[3].removesuffix(".parquet")
        if match[3].endswith(".parquet") and table in TABLES:
            found.setdefault((int(match[1]), match[2]), {})[table] = path
    if not found:
        raise FileRefused(
            f"{source} has no trials to pool. Name a store, a package, or a folder with "
            "season=…/site=…/plot.parquet and the files beside it."
        )
    return tuple(_partition(*key, files, remote) for key, files in sorted(found.items()))


def _parquet_files(source: str, remote: bool) -> Iterable[str]:
    if remote:
        system = _filesystem(source)
        return sorted(system.unstrip_protocol(path) for path in system.find(source))
    return sorted(str(path) for path in Path(source).rglob("*.parquet"))


def _filesystem(address: str) -> AbstractFileSystem:
    try:
        from fsspec.core import url_to_fs
    except ImportError as problem:
        raise FileRefused(
            f"{address} needs the packages for clusters and object stores. Install them with: "
            "pip install 'tallybed[cluster]'"
        ) from problem
    try:
        return url_to_fs(address)[0]
    except (ValueError, ImportError) as problem:  # of no protocol that is known or installed
        raise FileRefused(
            f"{address} is neither a folder nor an address that can be opened here. Name a "
            "folder, or an address such as s3://bucket/trials."
        ) from problem


def _partition(season: int, site: str, files: Mapping[str, str], remote: bool) -> Partition:
    digests = {table: _digest(file, remote) for table, file in sorted(files.items())}
    whole = hashlib.sha256(json.dumps(digests, sort_keys=True).encode()).hexdigest()
    refused = None if remote else _why_not(Path(next(iter(files.values()))).parent, digests)
    return Partition(season, site, tuple(sorted(files.items())), whole, remote, refused)


def _digest(file: str, remote: bool) -> str:
    if remote:  # what the object store says of its object, as reading it twice would cost twice
        return str(_filesystem(file).ukey(file))
    return hashlib.sha256(Path(file).read_bytes()).hexdigest()


def manifest_of(folder: Path) -> dict[str, Any]:
    """The digests of a partition's files, as they are written beside them."""
    return {
        "kind": "tallybed partition",
        "files": {
            path.stem: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.glob("*.parquet"))
        },
    }


def _why_not(folder: Path, digests: Mapping[str, str]) -> str | None:
    """Why files differ from what their manifest says; None where they do not, or have none."""
    try:
        told = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))["files"]
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError):
        return f"{folder / MANIFEST} cannot be read. Ask the farm to contribute again."
    changed = sorted(table for table in {*told, *digests} if told.get(table) != digests.get(table))
    if not changed:
        return None
    return (
        f"{folder / changed[0]}.parquet was changed since the farm wrote it: its digest differs. "
        "Ask the farm to contribute again."
    )
