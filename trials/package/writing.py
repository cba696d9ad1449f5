"""Writes a trial's package: whole under its own name, or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import re
import shutil
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from trials.errors import FileRefused, UnknownName
from trials.inert import inert
from trials.package.contents import contents
from trials.package.description import described, described_table
from trials.package.licences import LICENCES, Licence
from trials.package.terms import STANDARD, VERSION
from trials.store import Store
from trials.store.parcels import ending_of, meanings, plan_of

DESCRIPTOR = "datapackage.json"
SCHEMA = "https://datapackage.org/profiles/2.0/datapackage.json"
PLANS, CLOSINGS = "plans", "closings"
PLAN_COLUMNS = {"trial": "string", "text": "string", "first_number": "integer", "digest": "string"}
CLOSING_COLUMNS = {"trial": "string", "closed_on": "date", "reason": "string"}


@dataclass(frozen=True, slots=True)
class Packed:
    """A package that was written: where, of which trial, under which licence, and its rows."""

    folder: Path
    trial: str
    licence: Licence | None
    rows: tuple[tuple[str, int], ...]  # (file, rows)


def package(store: Path, trial: str, into: Path, licence: str | None = None) -> Packed:
    """Write a trial's package as the new folder ``into``.

    Raises
    ------
    UnknownName
        There is no such trial or licence.
    FileRefused
        There is something at the place already, or it cannot be written to.
    """
    if licence is not None and licence not in LICENCES:
        raise UnknownName("licence", licence, LICENCES)
    chosen = None if licence is None else LICENCES[licence]
    kept = Store.open(store)
    asked = kept.trial(trial).question
    digest, files = _of_one_moment(kept, trial)
    document = {
        "$schema": SCHEMA,
        "name": _slug(trial),
        "title": trial,
        "description": asked,
        "created": datetime.now(UTC).isoformat(timespec="seconds"),
        "licenses": None if chosen is None else [asdict(chosen)],
        "digest": f"sha256:{digest}",
        "standard": {"name": STANDARD, "version": VERSION},
        "resources": [file.resource for file in files],
    }
    stated = {name: value for name, value in document.items() if value is not None}
    _write(into, files, json.dumps(stated, indent=2, ensure_ascii=False) + "\n")
    return Packed(into, trial, chosen, tuple((file.path, file.rows) for file in files))


@dataclass(frozen=True, slots=True)
class _File:
    name: str
    rows: int
    content: bytes
    described: Any

    @property
    def path(self) -> str:
        return f"{self.name}.csv"

    @property
    def resource(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "type": "table",
            "path": self.path,
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "bytes": len(self.content),
            "hash": f"sha256:{hashlib.sha256(self.content).hexdigest()}",
            **self.described,
        }


def _of_one_moment(store: Store, trial: str) -> tuple[str, list[_File]]:
    """The digest of the trial's records and its files, again if they changed meanwhile."""
    while True:
        digest = store.digest(trial).digest
        files = _files(store, trial)
        if store.digest(trial).digest == digest:
            return digest, files


def _files(store: Store, trial: str) -> list[_File]:
    meant = meanings(store)
    found = contents(store.known(), trial)
    files = []
    for sheet, table in found.items():
        names = [str(name) for name in table.columns]
        rows = table.itertuples(index=False, name=None)
        about = described(sheet, names, found, meant)
        files.append(_File(sheet.value, len(table), _csv(names, rows), about))
    plan, ending = plan_of(store, trial), ending_of(store, trial)
    if plan is not None:
        planned = (trial, plan.text, plan.first_number, plan.digest)
        files.append(_table(PLANS, "plan", PLAN_COLUMNS, planned, meant))
    if ending is not None:
        ended = (trial, ending.closed_on, ending.reason)
        files.append(_table(CLOSINGS, "closing", CLOSING_COLUMNS, ended, meant))
    return files


def _table(
    name: str,
    table: str,
    columns: Mapping[str, str],
    row: tuple[object, ...],
    meant: Mapping[tuple[str, str], str],
) -> _File:
    return _File(name, 1, _csv(columns, [row]), described_table(table, columns, meant))


def _csv(names: Iterable[str], rows: Iterable[tuple[object, ...]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(inert(name) for name in names)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue().encode()


def _cell(value: object) -> str:
    if isinstance(value, str):
        return inert(value)
    if isinstance(value, float):
        return "" if math.isnan(value) else repr(float(value))  # all of its digits
    return "" if value is None or str(value) == "<NA>" else str(value)


def _slug(code: str) -> str:
    plain = unicodedata.normalize("NFKD", code).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "trial"


def _write(into: Path, files: Iterable[_File], document: str) -> None:
    if into.exists():
        raise FileRefused(f"{into} exists already. Name a folder that is not there yet.")
    unfinished = into.with_name(f".{into.name}.unfinished")
    try:
        into.parent.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(unfinished, ignore_errors=True)
        unfinished.mkdir()
        for file in files:
            (unfinished / file.path).write_bytes(file.content)
        (unfinished / DESCRIPTOR).write_text(document, encoding="utf-8")
        unfinished.rename(into)
    except OSError as problem:
        shutil.rmtree(unfinished, ignore_errors=True)
        raise FileRefused(
            f"No package can be written to {into}: {problem.strerror}. Name another place."
        ) from problem
