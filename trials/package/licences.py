"""The licences for open data that a grower may give a package."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Licence:
    """A licence: its short name, its title, and where it can be read."""

    name: str
    title: str
    path: str


LICENCES: Mapping[str, Licence] = {
    licence.name: licence
    for licence in (
        Licence(
            "CC0-1.0",
            "Creative Commons Zero 1.0",
            "https://creativecommons.org/publicdomain/zero/1.0/",
        ),
        Licence(
            "CC-BY-4.0",
            "Creative Commons Attribution 4.0",
            "https://creativecommons.org/licenses/by/4.0/",
        ),
        Licence(
            "CC-BY-SA-4.0",
            "Creative Commons Attribution Share-Alike 4.0",
            "https://creativecommons.org/licenses/by-sa/4.0/",
        ),
        Licence(
            "CC-BY-NC-4.0",
            "Creative Commons Attribution Non-Commercial 4.0",
            "https://creativecommons.org/licenses/by-nc/4.0/",
        ),
        Licence(
            "ODbL-1.0",
            "Open Data Commons Open Database License 1.0",
            "https://opendatacommons.org/licenses/odbl/1-0/",
        ),
    )
}
