"""Photos of varieties and plots: one that was read and reduced, and one that is stored."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

LONGEST_CAPTION = 200
MOST_AT_ONCE = 10  # photos in one submission


@dataclass(frozen=True, slots=True)
class ReducedPhoto:
    """A photo as it is stored: a JPEG without any metadata.

    ``sha256`` is the digest of ``content`` in hexadecimal. Sides are in pixels.
    """

    sha256: str
    content: bytes
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class PhotoOf:
    """What photos show, and when they were taken: a variety or a plot, exactly one of them.

    ``caption`` is '' where nothing was written.
    """

    variety: str | None
    plot: str | None
    taken_on: date
    caption: str = ""


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo in the store.

    Attributes
    ----------
    sha256
        The digest of its file, and its name.
    variety
        The variety it shows; for a plot, the one that grows there. None where none does.
    plot, trial
        The plot it shows, with its trial; None where it shows a variety.
    caption
        '' where nothing was written.
    added_by, added_at
        Who stored it (None: not recorded), and when (UTC).
    """

    sha256: str
    variety: str | None
    plot: str | None
    trial: str | None
    taken_on: date
    caption: str
    entry: int
    added_by: str | None
    added_at: datetime


@dataclass(frozen=True, slots=True)
class PhotosAdded:
    """What adding photos did: those that are new, and how many were stored already."""

    added: tuple[StoredPhoto, ...]
    already: int
