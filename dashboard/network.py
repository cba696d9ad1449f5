"""The network's publication, as whoever started the pages named it, for those who read here."""

from __future__ import annotations

import os
from pathlib import Path

from dashboard.access.visitor import EVERYBODY, READERS, require
from trials.errors import FileRefused
from trials.pool.publication import Published, newest

NETWORK_VARIABLE = "TALLYBED_NETWORK"


def network_folder() -> Path | None:
    """The folder of the network's publications; None where the pages show none."""
    require(EVERYBODY)
    named = os.environ.get(NETWORK_VARIABLE)
    return Path(named) if named else None


def publication() -> Published:
    """The newest publication of the network."""
    require(READERS)
    folder = network_folder()
    if folder is None:
        raise FileRefused("These pages show no network. Ask whoever started them for it.")
    return newest(folder)
