"""How a finished file takes its place: whole, on the disk, and never over what is there."""

from __future__ import annotations

import errno
import os
from pathlib import Path


def move_to_free_place(file: Path, place: Path) -> None:
    """Move without writing over what another process may have put there meanwhile."""
    try:
        os.link(file, place)
    except FileExistsError:
        raise
    except OSError:  # a file system without links, such as that of a memory card
        if place.exists():
            raise FileExistsError(errno.EEXIST, "something is there already") from None
        file.rename(place)


def swap(file: Path, place: Path, aside: Path) -> None:
    """Put a file where another is, which is kept under the name ``aside``.

    At every moment there is one of the two at the place, where the file system has links.
    """
    try:
        os.link(place, aside)
    except FileExistsError:
        raise
    except OSError:
        place.rename(aside)
    file.replace(place)


def flush(path: Path) -> None:
    """See that a file or folder is on the disk, not only on its way there."""
    if os.name == "nt" and path.is_dir():  # folders cannot be opened there
        return
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
