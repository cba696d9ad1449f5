"""The files of photos, beside the store: a private folder, each file under its digest.

A file never changes: what is in it and its name say the same. So a photo is written before its row
is stored, and a file that no row names does no harm.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path
from secrets import token_hex

from trials.errors import FileRefused, Remedy, Verb
from trials.store.file.places import flush
from trials.store.file.private import close_to_others, make_folder, private_files


def photo_folder(store: Path) -> Path:
    """Where the photos of a store are kept."""
    return store.with_name(f"{store.stem}.photos")


def photo_file(folder: Path, sha256: str) -> Path:
    """The file of a photo."""
    return folder / f"{sha256}.jpg"


def keep_photo(folder: Path, sha256: str, content: bytes) -> None:
    """Write a photo's file, whole or not at all; one that is there and right stays as it is.

    Raises
    ------
    FileRefused
        The folder cannot be written to.
    """
    place = photo_file(folder, sha256)
    unfinished = folder / f".{token_hex(8)}.unfinished"
    try:
        make_folder(folder)
        close_to_others(folder)
        if photo_problem(folder, sha256) is None:
            return
        with private_files():
            unfinished.write_bytes(content)
        flush(unfinished)
        unfinished.replace(place)
        flush(folder)
    except OSError as problem:
        unfinished.unlink(missing_ok=True)
        raise FileRefused(
            f"No photo can be stored in {folder}: {problem.strerror}. Nothing was stored. Check "
            "that the disk has room and can be written to."
        ) from problem


def photo_content(folder: Path, sha256: str) -> bytes:
    """A photo's file.

    Raises
    ------
    FileRefused
        It is missing, or it was altered.
    """
    problem = photo_problem(folder, sha256)
    if problem is not None:
        raise FileRefused(
            f"{photo_file(folder, sha256)} {problem}.",
            Remedy("Restore a backup that has it", Verb.RESTORE, "BACKUP --to STORE"),
        )
    return photo_file(folder, sha256).read_bytes()


def photo_problem(folder: Path, sha256: str) -> str | None:
    """What is wrong with a photo's file; None where it is as it was written."""
    try:
        content = photo_file(folder, sha256).read_bytes()
    except FileNotFoundError:
        return "is missing"
    except OSError as problem:
        return f"cannot be read ({problem.strerror})"
    if hashlib.sha256(content).hexdigest() != sha256:
        return "differs from what was stored"
    return None


def photo_bytes(folder: Path, photos: Iterable[str]) -> int:
    """How many bytes the files of photos have together, as far as they are there."""
    files = (photo_file(folder, sha256) for sha256 in photos)
    return sum(file.stat().st_size for file in files if file.is_file())


def copy_photos(
    source: Path, into: Path, photos: Iterable[str], elsewhere: Iterable[Path] = ()
) -> tuple[str, ...]:
    """Copy photos to another folder, and answer those whose file is missing or altered.

    Where one of the folders ``elsewhere`` has a whole copy on the same disk, that copy's file gets
    a second name instead, so that ten backups take the room of one.
    """
    others, left_out = tuple(elsewhere), []
    for sha256 in photos:
        if photo_problem(source, sha256) is not None:
            left_out.append(sha256)
        elif not _linked(sha256, into, others):
            keep_photo(into, sha256, photo_file(source, sha256).read_bytes())
    return tuple(left_out)


def _linked(sha256: str, into: Path, others: Iterable[Path]) -> bool:
    for other in others:
        if photo_problem(other, sha256) is None:
            make_folder(into)
            try:
                os.link(photo_file(other, sha256), photo_file(into, sha256))
            except OSError:  # a file system without links, or another disk
                return False
            return True
    return False
