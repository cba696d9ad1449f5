"""What the metres of a winter plan sell for in each drawn season, and what a metre more adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials.decide.market import Corners, corners
from trials.decide.winter import Winter

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Part:
    """What an outlet takes at one price: stems promised bring the charge saved as ``extra``."""

    outlet: int  # of Winter.outlets
    extra: float


@dataclass(frozen=True, slots=True, eq=False)
class Week:
    """The sale of one week's stems to outlets that compete for them.

    ``places`` are the crops with stems then, ``yields`` (draws, classes, crops) their stems a metre
    by class of equal prices, ``prices`` (classes, parts) what a stem brings, ``room`` (parts) what
    can be sold, and ``charge`` what is lost where nothing at all is delivered. ``number`` is the
    place of the week.
    """

    number: int
    parts: tuple[Part, ...]
    prices: Floats
    places: NDArray[np.intp]
    yields: Floats
    room: Floats
    corners: Corners
    charge: float

    def revenue(self, metres: Floats) -> tuple[Floats, Floats, Floats]:
        """Revenue (draws) of ``metres`` of all crops, and its linear bound by draw.

        The bound holds everywhere: constants (draws) + slopes (draws, crops) x metres.
        """
        stems = self.yields @ metres[self.places]
        values, best = self.corners.worth(stems, self.room)
        constants = (self.corners.place @ self.room)[best] - self.charge
        slopes = np.einsum("dk,dkj->dj", self.corners.stem[best], self.yields)
        return values - self.charge, constants, slopes


def sales(winter: Winter) -> tuple[Week, ...]:
    """Every week and group of outlets in which something can be sold."""
    known: dict[bytes, Corners] = {}
    return tuple(
        week
        for group in _groups(winter)
        for number in range(winter.crops[0].stems.shape[2])
        if (week := _week(winter, group, number, known)) is not None
    )


def _groups(winter: Winter) -> list[list[int]]:
    """Outlets that share a crop, directly or through others."""
    groups: list[tuple[set[str], list[int]]] = []
    for number, outlet in enumerate(winter.outlets):
        joined = (set(outlet.prices), [number])
        apart = []
        for crops, outlets in groups:
            if crops & joined[0]:
                joined = (joined[0] | crops, [*outlets, *joined[1]])
            else:
                apart.append((crops, outlets))
        groups = [*apart, joined]
    return [outlets for _, outlets in groups]


def _week(
    winter: Winter, group: Sequence[int], number: int, known: dict[bytes, Corners]
) -> Week | None:
    parts, room, charge = _parts(winter, group, number)
    if not parts:
        return None
    rows: dict[tuple[float, ...], Floats] = {}
    draws = len(winter.crops[0].stems)
    bought = {crop for outlet in group for crop in winter.outlets[outlet].prices}
    for place, crop in enumerate(winter.crops):
        for grade in range(crop.stems.shape[1] if crop.crop in bought else 0):
            stems = crop.stems[:, grade, number]
            prices = tuple(
                winter.outlets[part.outlet].price(crop, grade, number) + part.extra
                for part in parts
            )
            if not stems.any() or all(np.isnan(price) for price in prices):
                continue
            key = tuple(-1.0 if np.isnan(price) else price for price in prices)
            rows.setdefault(key, np.zeros((draws, len(winter.crops))))[:, place] += stems
    keys = sorted(rows) or [(-1.0,) * len(parts)]
    table = np.array([[np.nan if price < 0 else price for price in key] for key in keys])
    yields = np.stack([rows.get(key, np.zeros((draws, len(winter.crops)))) for key in keys], axis=1)
    places = np.flatnonzero(yields.any(axis=(0, 1)))
    if not len(places) and not charge:
        return None
    mark = table.tobytes() + bytes([len(parts)])
    if mark not in known:
        known[mark] = corners(table)
    yields = np.ascontiguousarray(yields[:, :, places])
    return Week(number, tuple(parts), table, places, yields, room, known[mark], charge)


def _parts(winter: Winter, group: Sequence[int], week: int) -> tuple[list[Part], Floats, float]:
    """Each outlet, those with stems promised twice: the promised ones bring the charge saved."""
    parts, room, charge = [], [], 0.0
    for place in group:
        outlet = winter.outlets[place]
        promised = float(outlet.at_least[week]) if outlet.missing_costs else 0.0
        if promised:
            parts.append(Part(place, outlet.missing_costs))
            room.append(promised)
            charge += promised * outlet.missing_costs
        if outlet.at_most[week] > promised:
            parts.append(Part(place, 0.0))
            room.append(float(outlet.at_most[week]) - promised)
    return parts, np.array(room), charge


def net(winter: Winter, weeks: Sequence[Week], metres: Floats) -> Floats:
    """The net of each drawn season (draws)."""
    costs = float(np.array([crop.cost for crop in winter.crops]) @ metres)
    total = np.full(len(winter.crops[0].stems), -costs)
    for week in weeks:
        total += week.revenue(metres)[0]
    return total
