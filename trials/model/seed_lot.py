"""A lot of seed: what its packet said, what is left of it, and what its newest test found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from trials.model.trial import SoldAs


@dataclass(frozen=True, slots=True)
class SeedLot:
    """One lot; ``germination`` (0 to 1) is that of its packet, ``packed_for`` a year.

    ``seeds`` is the newest count, None where nobody counted. ``test`` has the seeds that germinated
    and those laid out, of each replicate of the newest germination test, made ``tested_on`` that
    day. ``item`` are the house and the item that it was bought as.
    """

    lot: str
    variety: str
    packed_for: int
    germination: float
    seeds: int | None
    test: tuple[tuple[int, int], ...]
    sold_as: SoldAs = SoldAs.SEED
    item: tuple[str, str] = ("", "")
    tested_on: date | None = None
