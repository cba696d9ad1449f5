"""Reads a trial's package into a store: every file as it was written, all rows or none."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from trials import records
from trials.errors import FileRefused, Remedy, Verb
from trials.model.former_names import MEASURES, column_today
from trials.model.formula_escaping import live
from trials.model.rows import Added, Sheet, Signed
from trials.package.histories import read_history
from trials.package.photos import ENDING, PHOTOS, packed_photos
from trials.package.writing import CLOSINGS, DESCRIPTOR, PLANS
from trials.records.mapping.agreement import Agreed
from trials.records.rules.forms import FORMS, TEXTS
from trials.store import Store
from trials.store.file.photo_files import keep_photo, photo_folder
from trials.store.history.package_rows import Ending, store_for, take_in
from trials.store.plans import KeptPlan

if TYPE_CHECKING:
    from trials.model.rows import Known

Rows = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A package that was read: which trial it was, and what the store gained.

    ``same_records``: the store now holds exactly the package's records of the trial, by their
    digest; False where it held others beside them, None where the package names no digest.
    ``entries`` counts those of the history that came along; 0 where the store held the trial, which
    keeps the history it has here, None where the package has no history.
    """

    folder: Path
    trial: str
    added: Added
    same_records: bool | None
    entries: int | None = None


def unpack(folder: Path, store: Path) -> Unpacked:
    """Bring the trial of a package into a store, with its plan, its closing and its history.

    The store is made if there is none.

    Raises
    ------
    FileRefused
        It is no package of a trial, or a file is not as it was written.
    RecordsRefused
        Rows clash with what the store holds.
    HistoryRefused
        The history cannot be, or does not fit the records.
    """
    document = _document(folder)
    files, pictures = _read(folder, document)
    sheets = {sheet: files[sheet.value] for sheet in Sheet if sheet.value in files}
    codes = [row.get("trial", "") for row in _rows(sheets.get(Sheet.TRIALS, ""))]
    if len(codes) != 1:
        raise FileRefused(
            f"{folder} is not the package of a trial: it contains {len(codes)} trials."
        )
    (code,) = map(live, codes)
    with TemporaryDirectory() as work:
        paths = []
        for sheet, text in sheets.items():
            paths.append(Path(work) / f"{sheet.value}.csv")
            paths[-1].write_text(_live(sheet, text), encoding="utf-8", newline="")
        # What was unlikely was answered for where it was recorded.
        batch = records.read(paths, _known(store), Agreed(accept=f"held so in {folder.name}"))
    carried = read_history(str(folder), files)
    try:
        plan, ending = _plan(files), _ending(files)
    except (KeyError, ValueError) as problem:
        raise FileRefused(
            f"{folder}: its plan or closing cannot be read ({problem}). Ask for it again."
        ) from problem
    photos = packed_photos(folder, _rows(files.get(PHOTOS, "")), pictures)
    signed = Signed(None, f"package {folder.name}")
    with store_for(store) as kept:
        for sha256, (_, content) in photos.items():
            keep_photo(photo_folder(store), sha256, content)
        shown = {sha256: of for sha256, (of, _) in photos.items()}
        taken = take_in(kept, code, batch, plan, ending, carried, shown, signed)
        digest = kept.digest(code).digest
    stated = document.get("digest")
    same = None if stated is None else stated == f"sha256:{digest}"
    return Unpacked(folder, code, taken.added, same, taken.entries)


def _known(store: Path) -> Known:
    """What the store holds; of a store still to be made, what an empty one holds."""
    if store.exists():
        return Store.open(store).known()
    with TemporaryDirectory() as folder:
        return Store.create(Path(folder) / store.name).known()


def _document(folder: Path) -> dict[str, Any]:
    try:
        document = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
    except OSError as problem:
        raise FileRefused(
            f"{folder} is not a package: {problem.strerror} ({DESCRIPTOR}). Name the folder that "
            f"holds {DESCRIPTOR}."
        ) from problem
    except ValueError as problem:
        raise _not_described(folder, problem) from problem
    if not isinstance(document, dict):
        raise _not_described(folder, "it is not an object")
    return document


def _not_described(folder: Path, why: object) -> FileRefused:
    return FileRefused(f"{folder / DESCRIPTOR} does not describe a package ({why}).")


def _read(
    folder: Path, document: Mapping[str, Any]
) -> tuple[Mapping[str, str], Mapping[str, bytes]]:
    """The text of each table of the package by the name of its resource, and photos by file."""
    try:
        contents = {
            (str(each["name"]), each["path"]): _content(folder, each["path"], each.get("hash"))
            for each in document["resources"]
        }
        return (
            {
                name: content.decode()
                for (name, path), content in contents.items()
                if not path.endswith(ENDING)
            },
            {path: content for (_, path), content in contents.items() if path.endswith(ENDING)},
        )
    except OSError as problem:
        raise FileRefused(
            f"{folder} is damaged: {problem.strerror} ({problem.filename}). Ask for it again."
        ) from problem
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        raise _not_described(folder, repr(problem)) from problem


def _content(folder: Path, path: Any, digest: Any) -> bytes:
    if not isinstance(path, str) or Path(path).name != path:
        raise FileRefused(f"{folder}: {path!r} is not a file of the package. Nothing was read.")
    content = (folder / path).read_bytes()
    if digest is not None and digest != f"sha256:{hashlib.sha256(content).hexdigest()}":
        raise FileRefused(
            f"{folder / path} was changed since it was written: its digest differs.",
            Remedy("Ask for the package again, or load its files", Verb.LOAD, "FILES"),
        )
    return content


def _rows(text: str) -> Rows:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def _live(sheet: Sheet, text: str) -> str:
    """The file with its text as it was before it was made harmless to spreadsheets.

    Columns and measures of an earlier version get their names of today.
    """
    reader = csv.reader(io.StringIO(text, newline=""))
    names = [column_today(sheet, live(name)) for name in next(reader, [])]
    measures = [name == "primary_measure" for name in names]
    texts = [FORMS[sheet].column(name).kind in TEXTS for name in names]
    out = io.StringIO(newline="")
    writer = csv.writer(out)  # with its own ends of lines it quotes any in a cell
    writer.writerow(names)
    for row in reader:
        writer.writerow(
            _cell(cell, is_text=is_text, is_measure=is_measure)
            for cell, is_text, is_measure in zip(row, texts, measures, strict=False)
        )
    return out.getvalue()


def _cell(cell: str, *, is_text: bool, is_measure: bool) -> str:
    plain = live(cell) if is_text else cell
    return MEASURES.get(plain, plain) if is_measure else plain


def _plan(files: Mapping[str, str]) -> KeptPlan | None:
    for row in _rows(files.get(PLANS, "")):
        return KeptPlan(live(row["text"]), int(row["first_number"]), live(row["digest"]))
    return None


def _ending(files: Mapping[str, str]) -> Ending | None:
    for row in _rows(files.get(CLOSINGS, "")):
        return Ending(date.fromisoformat(row["closed_on"]), live(row["reason"]))
    return None
