"""The photos of a trial's plots in a package: their files, and the table of what they show.

Their files have no place and no camera in them. Who stored them does not go along, and captions,
which may name people, only where the package names people.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from trials.errors import FileRefused
from trials.model.formula_escaping import live
from trials.model.photo import PhotoOf, StoredPhoto
from trials.package.description import Meanings, described_table
from trials.records.files.photo import is_reduced

PHOTOS = "photos"
ENDING = ".jpg"
_COLUMNS = {"sha256": "string", "plot": "string", "taken_on": "date", "caption": "string"}
_DIGEST = re.compile(r"[0-9a-f]{64}")


def photo_columns(*, names: bool) -> dict[str, str]:
    """The columns of the table, with their types."""
    return {name: kind for name, kind in _COLUMNS.items() if names or name != "caption"}


def photo_rows(photos: Iterable[StoredPhoto], *, names: bool) -> list[tuple[object, ...]]:
    """One row per photo."""
    return [
        (photo.sha256, photo.plot, photo.taken_on, *([photo.caption] if names else []))
        for photo in photos
    ]


def described_photos(meant: Meanings, *, names: bool) -> Any:
    """What the table's columns mean."""
    return described_table("photo", photo_columns(names=names), meant)


def packed_photos(
    folder: Path, rows: Iterable[Mapping[str, str]], files: Mapping[str, bytes]
) -> dict[str, tuple[PhotoOf, bytes]]:
    """What the photos of a package show, and their files, by digest.

    Raises
    ------
    FileRefused
        A photo is missing, is not named by its digest, or has more in it than a picture.
    """
    found = {}
    for row in rows:
        sha256 = row.get("sha256", "")
        content = files.get(f"{sha256}{ENDING}")
        if content is None or not _DIGEST.fullmatch(sha256):
            raise FileRefused(f"{folder} is damaged: it lacks a photo. Ask for it again.")
        if hashlib.sha256(content).hexdigest() != sha256 or not is_reduced(content):
            raise FileRefused(
                f"{folder / sha256}{ENDING} is not a photo as this program writes them. Nothing "
                "was stored. Ask for the package again."
            )
        found[sha256] = (_shown(folder, row), content)
    return found


def _shown(folder: Path, row: Mapping[str, str]) -> PhotoOf:
    try:
        taken_on = date.fromisoformat(row["taken_on"])
        caption = " ".join(live(row.get("caption") or "").split())
        return PhotoOf(None, live(row["plot"]), taken_on, caption)
    except (KeyError, ValueError) as problem:
        raise FileRefused(
            f"{folder}: its photos cannot be read ({problem}). Ask for it again."
        ) from problem
