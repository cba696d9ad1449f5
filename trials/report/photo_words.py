"""Photos as words: what each shows, and what adding some did."""

from __future__ import annotations

from collections.abc import Sequence

from trials.model.photo import PhotosAdded, StoredPhoto
from trials.report.figures import count
from trials.report.grid import Column, Table

NO_PHOTOS = "There are no photos yet."
PLACE_DATA_GONE = "Place, camera and names are removed from every photo."


def photo_shows(photo: StoredPhoto) -> str:
    """What a photo shows: 'Wrenlatch, plot C4222 of cosmos-2024'."""
    if photo.plot is None:
        return photo.variety or ""
    plot = f"plot {photo.plot} of {photo.trial}"
    return f"{photo.variety}, {plot}" if photo.variety else plot


def photo_facts(photo: StoredPhoto) -> str:
    """When a photo was taken, and by whom it was stored."""
    by = f", stored by {photo.added_by}" if photo.added_by else ""
    return f"{photo.taken_on}{by}"


def photo_alt(photo: StoredPhoto) -> str:
    """A photo in words, for whoever does not see it."""
    return f"Photo of {photo_shows(photo)}, {photo.taken_on}" + (
        f": {photo.caption}" if photo.caption else ""
    )


def added_sentence(done: PhotosAdded) -> str:
    """How many photos were stored."""
    again = f" {count(done.already, 'photo')} stored already." if done.already else ""
    if not done.added:
        return f"Nothing new.{again}"
    return f"{count(len(done.added), 'photo')} stored.{again} {PLACE_DATA_GONE}"


def added_page(done: PhotosAdded) -> str:
    """What adding photos did, for a terminal."""
    return f"{added_sentence(done)}\n" + (f"\n{photos_page(done.added)}" if done.added else "")


def photos_page(photos: Sequence[StoredPhoto]) -> str:
    """A list of photos, for a terminal."""
    return f"{photos_table(photos).text()}\n" if photos else f"{NO_PHOTOS}\n"


def photos_table(photos: Sequence[StoredPhoto]) -> Table:
    """One row per photo, with the beginning of its digest, which names it."""
    return Table(
        (Column("photo"), Column("shows"), Column("taken"), Column("stored by"), Column("caption")),
        tuple(
            (
                photo.sha256[:12],
                photo_shows(photo),
                photo.taken_on.isoformat(),
                photo.added_by or "",
                photo.caption,
            )
            for photo in photos
        ),
    )
