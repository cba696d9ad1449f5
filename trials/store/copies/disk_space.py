"""Is there room on a disk for what is about to be written: asked before it is begun."""

from __future__ import annotations

import shutil
from pathlib import Path

from trials.errors import FileRefused

# A copy of a farm of 9,000 rows took 7 % of its store, one of a million rows 1 %; small files take
# whole blocks of the disk, and there are some forty.
_SHARE_OF_STORE = 0.1
_LEAST_BYTES = 200_000


def require_room(into: Path, store: Path, *, steps: bool = False, photos: int = 0) -> None:
    """Refuse to begin a copy of a store where the disk has no room for it.

    ``steps``: the store itself is then brought forward, which may write all of it once more.
    ``photos``: the bytes of its photos.

    Raises
    ------
    FileRefused
        There is not room enough; it says how much there is and how much is needed.
    """
    size = store.stat().st_size
    _require(into, _LEAST_BYTES + int(size * _SHARE_OF_STORE) + photos, "No backup can be made in")
    if steps:
        _require(store.parent, size, "The store cannot be updated in")


def _require(place: Path, needed: int, what: str) -> None:
    there = next(folder for folder in (place, *place.absolute().parents) if folder.is_dir())
    free = shutil.disk_usage(there).free
    if free < needed:
        raise FileRefused(
            f"{what} {place}: it needs about {_mb(needed)} MB, and the disk has {_mb(free)} "
            "MB left. The store is unchanged. Make room, or name a folder on another disk."
        )


def _mb(size: int) -> str:
    return f"{size / 1e6:,.1f}"
