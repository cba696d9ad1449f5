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
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from trials.errors import FileRefused, UnknownName
from trials.model.formula_escaping import inert
from trials.package import histories
from trials.package.contents import contents
from trials.package.description import (
    described,
    described_changes,
    described_doubts,
    described_history,
    described_table,
)
from trials.package.licences import LICENCES, Licence
from trials.package.photos import ENDING, PHOTOS, described_photos, photo_columns, photo_rows
from trials.package.terms import STANDARD, VERSION
from trials.store import Store
from trials.store.history.export import KINDS
from trials.store.history.package_rows import Parcel, parcel_of

DESCRIPTOR = "datapackage.json"
SCHEMA = "https://datapackage.org/profiles/2.0/datapackage.json"
PLANS, CLOSINGS = "plans", "closings"
PLAN_COLUMNS = {"trial": "string", "text": "string", "first_number": "integer", "digest": "string"}
CLOSING_COLUMNS = {"trial": "string", "closed_on": "date", "reason": "string"}


@dataclass(frozen=True, slots=True)
class Packed:
    """A package that was written: where, of which trial, under which licence, and its rows.

    ``names``: whether it says who made each entry of the history.
    """

    folder: Path
    trial: str
    licence: Licence | None
    rows: tuple[tuple[str, int], ...]  # (file, rows)
    names: bool = False


def package(
    store: Path, trial: str, into: Path, licence: str | None = None, *, names: bool = False
) -> Packed:
    """Write a trial's package as the new folder ``into``, with the history of its records.

    ``names`` says who made each entry; without it persons are numbered, and photos go without
    their captions.

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
    parcel = parcel_of(kept, trial)
    files = [*_files(parcel, names=names), *_photos(kept, parcel, names=names)]
    document = {
        "$schema": SCHEMA,
        "name": _slug(trial),
        "title": trial,
        "description": parcel.trial.question,
        "created": datetime.now(UTC).isoformat(timespec="seconds"),
        "licenses": None if chosen is None else [asdict(chosen)],
        "digest": f"sha256:{parcel.digest}",
        "standard": {"name": STANDARD, "version": VERSION},
        "resources": [file.resource for file in files],
    }
    stated = {name: value for name, value in document.items() if value is not None}
    _write(into, files, json.dumps(stated, indent=2, ensure_ascii=False) + "\n")
    return Packed(
        into,
        trial,
        chosen,
        tuple((file.path, file.rows) for file in files if file.described is not None),
        names=names,
    )


def package_many(
    store: Path,
    trials: Sequence[str],
    into: Path,
    licence: str | None = None,
    *,
    names: bool = False,
) -> tuple[Packed, ...]:
    """Write the packages of several trials (none named: every closed one) into a new folder.

    Each is a folder of its own within it. All are written, or none.

    Raises
    ------
    UnknownName, FileRefused
        As ``package``; or no trial is closed.
    """
    held = Store.open(store).trials()
    chosen = list(trials) or [trial.code for trial in held if trial.closed_on]
    if not chosen:
        raise FileRefused("No trial is closed yet. Close one first, or name the trials to pack.")
    if into.exists():
        raise FileRefused(f"{into} already exists. Name a new folder.")
    aside = into.with_name(f".{into.name}-unfinished")
    shutil.rmtree(aside, ignore_errors=True)
    try:
        packed = [
            package(store, trial, aside / _slug(trial), licence, names=names) for trial in chosen
        ]
        aside.replace(into)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return tuple(replace(each, folder=into / each.folder.name) for each in packed)


@dataclass(frozen=True, slots=True)
class _File:
    name: str
    rows: int
    content: bytes
    described: Any  # None where it is a photo

    @property
    def path(self) -> str:
        return f"{self.name}{ENDING if self.described is None else '.csv'}"

    @property
    def resource(self) -> dict[str, Any]:
        if self.described is None:
            return {
                "name": self.name,
                "path": self.path,
                "format": "jpg",
                "mediatype": "image/jpeg",
                "bytes": len(self.content),
                "hash": f"sha256:{hashlib.sha256(self.content).hexdigest()}",
            }
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


def _files(parcel: Parcel, *, names: bool) -> list[_File]:
    trial, meant = parcel.trial.code, parcel.meanings
    found = contents(parcel.known, trial, parcel.carried.lots)
    files = []
    for sheet, table in found.items():
        headings = [str(name) for name in table.columns]
        rows = table.itertuples(index=False, name=None)
        about = described(sheet, headings, found, meant)
        files.append(_File(sheet.value, len(table), _csv(headings, rows), about))
    if parcel.plan is not None:
        plan = (trial, parcel.plan.text, parcel.plan.first_number, parcel.plan.digest)
        about = described_table("plan", PLAN_COLUMNS, meant)
        files.append(_File(PLANS, 1, _csv(PLAN_COLUMNS, [plan]), about))
    if parcel.ending is not None:
        ended = (trial, parcel.ending.closed_on, parcel.ending.reason)
        about = described_table("closing", CLOSING_COLUMNS, meant)
        files.append(_File(CLOSINGS, 1, _csv(CLOSING_COLUMNS, [ended]), about))
    return [*files, *_history(parcel, names=names)]


def _history(parcel: Parcel, *, names: bool) -> list[_File]:
    carried, meant = parcel.carried, parcel.meanings
    entries = carried.entries if names else histories.unnamed(carried.entries, parcel.trial.code)
    made = histories.entry_rows(entries)
    files = [
        _File(
            histories.CHANGES,
            len(made),
            _csv(histories.CHANGE_COLUMNS, made),
            described_changes(meant),
        )
    ]
    for name, table in carried.rows.items():
        headings = [*KINDS[name].columns, *histories.CAME_AND_WENT]
        rows = histories.kind_rows(name, table)
        about = described_history(name, meant)
        files.append(_File(histories.file_of(name), len(rows), _csv(headings, rows), about))
    if carried.doubts:
        doubts = histories.doubt_rows(carried.doubts)
        columns = histories.DOUBT_COLUMNS
        about = described_doubts(meant)
        files.append(_File(histories.DOUBTS, len(doubts), _csv(columns, doubts), about))
    return files


def _photos(kept: Store, parcel: Parcel, *, names: bool) -> list[_File]:
    photos = kept.album.stored(trial=parcel.trial.code)
    if not photos:
        return []
    table = _csv(photo_columns(names=names), photo_rows(photos, names=names))
    about = described_photos(parcel.meanings, names=names)
    return [
        _File(PHOTOS, len(photos), table, about),
        *(_File(each.sha256, 1, kept.album.content(each.sha256), None) for each in photos),
    ]


def _csv(names: Iterable[str], rows: Iterable[tuple[object, ...]]) -> bytes:
    lines = [_line(inert(name) for name in names)]
    lines += [_line(_cell(value) for value in row) for row in rows]
    return "".join(lines).encode()


def _line(cells: Iterable[str]) -> str:
    """One row; a stray carriage return is quoted, as the writer does for its own ends of lines."""
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerow(cells)
    return text.getvalue().removesuffix("\r\n") + "\n"


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
        raise FileRefused(f"{into} already exists. Name a new folder.")
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
