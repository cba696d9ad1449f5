"""Photos of varieties and plots: adding, listing, reading and withdrawing them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from trials.errors import FileRefused, TallybedError
from trials.model.photo import LONGEST_CAPTION, PhotoOf, PhotosAdded, ReducedPhoto, StoredPhoto
from trials.model.rows import NOBODY, Signed
from trials.model.trial import Entry
from trials.records.files.photo import MOST_BYTES, reduced_photos, smaller
from trials.store import Store

IN_A_REPORT_PX = 640

Files = Sequence[tuple[str, bytes]]  # of each its name, which is only said, and its content


def add_photos(
    store: Path, files: Files, of: PhotoOf, signed: Signed = NOBODY, *, today: date | None = None
) -> PhotosAdded:
    """Store photos of a variety or a plot, all or none: upright, reduced, without place data.

    ``today`` (default: by this computer's clock) is the last day they can be of.

    Raises
    ------
    RecordsRefused
        A file is no photo, broken or too large; every fault is listed.
    UnknownName
        There is no such variety or plot.
    FileRefused
        A photo is stored already and shows something else, or the folder cannot be written to.
    """
    said = _checked(of, today or date.today())
    if not files:
        raise TallybedError("No photo is chosen yet. Choose at least one.")
    reduced = reduced_photos(files)
    added = Store.open(store).album.add(reduced, said, signed)
    return PhotosAdded(added, len({photo.sha256 for photo in reduced}) - len(added))


def read_photo_files(paths: Sequence[Path]) -> Files:
    """The names and contents of files of photos.

    Raises
    ------
    FileRefused
        One cannot be read.
    """
    found = []
    for path in paths:
        try:
            with path.open("rb") as file:  # no more than shows that it is too large
                found.append((path.name, file.read(MOST_BYTES + 1)))
        except OSError as problem:
            raise FileRefused(f"{path}: {problem.strerror}. Nothing was stored.") from None
    return found


def photos(
    store: Path, variety: str | None = None, trial: str | None = None
) -> tuple[StoredPhoto, ...]:
    """The photos of a variety (also in its plots), of a trial's plots, or all; newest day first.

    Raises
    ------
    UnknownName
        There is no such variety or trial.
    """
    return Store.open(store).album.stored(variety, trial)


def photos_by_variety(store: Path, trial: str) -> tuple[tuple[str, tuple[StoredPhoto, ...]], ...]:
    """The photos of each variety of a trial that has some, by name.

    Of its plots in this trial, and where there are none, of the variety itself.

    Raises
    ------
    UnknownName
        There is no such trial.
    """
    kept = Store.open(store)
    levels = [
        level
        for factor in kept.trial(trial).factors
        if factor.name == "variety"
        for level in factor.levels
    ]
    every = kept.album.stored()
    found = []
    for variety in sorted(levels, key=str.casefold):
        of_it = [photo for photo in every if photo.variety == variety]
        own = tuple(photo for photo in of_it if photo.trial == trial)
        shown = own or tuple(photo for photo in of_it if photo.plot is None)
        if shown:
            found.append((variety, shown))
    return tuple(found)


def photos_in_small(store: Path, trial: str) -> tuple[tuple[StoredPhoto, ReducedPhoto], ...]:
    """The newest photo of each variety of a trial, for its report; one that is lost is left out."""
    album = Store.open(store).album
    found = []
    for _, shown in photos_by_variety(store, trial):
        try:
            small = smaller(album.content(shown[0].sha256), IN_A_REPORT_PX)
        except FileRefused:
            continue
        found.append((shown[0], small))
    return tuple(found)


def photo(store: Path, sha256: str, longest_side_px: int | None = None) -> bytes:
    """The file of a stored photo, a JPEG; in small if ``longest_side_px`` says so.

    Raises
    ------
    UnknownName
        There is no such photo.
    FileRefused
        Its file is missing or was altered.
    """
    content = Store.open(store).album.content(sha256)
    return content if longest_side_px is None else smaller(content, longest_side_px).content


def withdraw_photo(store: Path, sha256: str, signed: Signed) -> Entry:
    """Remove a photo, with the reason in ``signed``; ``undo`` brings it back.

    ``sha256`` may be the beginning of the digest.

    Raises
    ------
    UnknownName
        There is no such photo.
    """
    return Store.open(store).album.withdraw(sha256, signed)


def _checked(of: PhotoOf, today: date) -> PhotoOf:
    caption = " ".join(of.caption.split())
    if (of.variety is None) == (of.plot is None):
        raise TallybedError("Name what the photos show: either a variety or a plot.")
    if not date(1950, 1, 1) <= of.taken_on <= today:
        raise TallybedError(
            f"Photos cannot be of {of.taken_on}. Give the day they were taken, up to {today}."
        )
    if len(caption) > LONGEST_CAPTION:
        raise TallybedError(
            f"The caption has {len(caption)} characters. Shorten it to {LONGEST_CAPTION}."
        )
    return PhotoOf(of.variety, of.plot, of.taken_on, caption)
