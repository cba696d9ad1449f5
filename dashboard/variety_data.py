"""What the pages ask of the season about varieties and photos."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from dashboard.access.visitor import READERS, WRITERS, require
from dashboard.kept import Kept, store_path
from trials import season as front
from trials.model.photo import PhotoOf, PhotosAdded, StoredPhoto
from trials.model.rows import Signed
from trials.model.trial import Entry
from trials.model.variety import VarietyInList
from trials.report.variety_page import InTrial, VarietyRecords

THUMBNAIL_PX = 480

# A second tap runs beside the first: it waits, and finds what the first has done.
_one_at_a_time = threading.Lock()


@Kept
def varieties() -> tuple[VarietyInList, ...]:
    """Every variety, by crop and name."""
    return front.varieties(store_path())


@Kept
def variety(name: str) -> VarietyRecords:
    """What the store has about a variety, except what its trials found."""
    return front.variety(store_path(), name)


@Kept
def variety_in_trials(name: str) -> tuple[InTrial, ...]:
    """What the trials of a variety found."""
    return front.variety_in_trials(store_path(), name)


@Kept
def trial_photos(trial: str) -> tuple[tuple[str, tuple[StoredPhoto, ...]], ...]:
    """The photos of each variety of a trial: of its plots, else of the variety itself."""
    return front.photos_by_variety(store_path(), trial)


@Kept
def thumbnail(sha256: str) -> bytes:
    """A photo in small, a JPEG."""
    return front.photo(store_path(), sha256, THUMBNAIL_PX)


def photo(sha256: str) -> bytes:
    """A photo as it is stored, a JPEG."""
    require(READERS)
    return front.photo(store_path(), sha256)


def add_photos(files: Sequence[tuple[str, bytes]], of: PhotoOf) -> PhotosAdded:
    """Store photos; the same again changes nothing."""
    who = require(WRITERS)
    with _one_at_a_time:
        return front.add_photos(store_path(), files, of, Signed(who.name))


def withdraw_photo(sha256: str, why: str, token: str) -> Entry:
    """Remove a photo, once for each token."""
    who = require(WRITERS)
    with _one_at_a_time:
        signed = Signed(who.name, why.strip(), token)
        return front.withdraw_photo(store_path(), sha256, signed)
