"""Grows the invented plots: what each gave on every picking day, by grade and cull reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import fsum

import numpy as np
from ground import Draws, Floats, Plot
from invention import BEDDING, CROPS, TALL, USUAL_CULL_SHARE, Plan

TOP_GRADE_CM = 60

Cell = str | int | float | date | None


@dataclass(frozen=True, slots=True)
class Season:
    """How one variety did in one season: its own swing, on top of the season's."""

    vigour: float
    length: float
    pinch_days: float


@dataclass(slots=True)
class Sheets:
    """The rows of each file, as they are written."""

    rows: dict[str, list[tuple[Cell, ...]]] = field(default_factory=dict)

    def add(self, sheet: str, *cells: Cell) -> None:
        self.rows.setdefault(sheet, []).append(cells)


def stems_potential(plan: Plan, plot: Plot, season: Season, living: int) -> float:
    """Stems the plot could give in the whole season, culls included."""
    crop, variety = CROPS[plan.crop], plot.variety
    a_plant = crop.stems_a_plant * plan.stems_level * variety.vigour * season.vigour
    if plot.whole_level == "pinched":
        a_plant *= 1 + variety.pinch_gain
    if plot.spacing_cm == 20:
        a_plant *= 0.84
    # Neighbours fill part of a gap.
    filled = living + 0.3 * (plot.plants_set - living)
    return a_plant * filled * plot.ground / (1 - USUAL_CULL_SHARE)


def mean_length_cm(plot: Plot, season: Season, season_gone: float) -> float:
    """Mean length of a stem when a share ``season_gone`` of the picking season is over."""
    length = plot.variety.length_cm * season.length * plot.ground_length
    if plot.whole_level == "pinched":
        length *= 0.94 if plot.variety.habit == BEDDING else 0.875
    if plot.whole_level == "open":
        length *= 0.93 if plot.variety.habit == TALL else 0.97
    if plot.spacing_cm == 20:
        length *= 1.03
    return length * (1.04 - 0.20 * season_gone)


def cull_shares(plan: Plan, plot: Plot, rain: float, season_gone: float) -> dict[str, float]:
    """The share of the day's stems culled for each reason."""
    shares = dict(CROPS[plan.crop].culls)
    shares["rain"] = rain
    if season_gone < 0.3:
        shares["insects"] = 0.0
    if "browned" in shares:
        shares["browned"] *= 2 * season_gone
    if plot.whole_level == "open":
        # The tall ones lean most where nothing holds them.
        shares["crooked"] += 0.10 if plot.variety.habit == TALL else 0.05
    if plot.whole_level == "netted":
        shares["crooked"] *= 0.5
    if plot.spacing_cm == 20:
        shares["short"] += 0.04
        shares["crooked"] += 0.03
    return shares


def grow(
    plan: Plan, plot: Plot, season: Season, rains: Sequence[float], draws: Draws, sheets: Sheets
) -> None:
    """Count, pick, grade and measure one plot until its loss or the frost."""
    crop = CROPS[plan.crop]
    lost_on = next((loss.on for loss in plan.losses if loss.position == plot.position), None)
    risk = 0.02 + 0.05 * float(draws.uniform()[0])
    living = plot.plants_set - int((draws.uniform(plot.plants_set) < risk).sum())
    counted = plan.transplanted + timedelta(days=plan.picks[0] - 6)
    if lost_on is None or counted < lost_on:
        sheets.add("stand_counts", plot.code, counted, living)
    again = counted + timedelta(days=35)
    if plot.position % 8 == 3 and (lost_on is None or again < lost_on):
        sheets.add("stand_counts", plot.code, again, living - int(draws.uniform()[0] < 0.3))

    expected_start = crop.days_to_first_cut + plot.variety.days_later
    if plot.whole_level == "pinched":
        expected_start += season.pinch_days
    starts = expected_start + 1.8 * float(draws.normal()[0])
    # fsum rounds once; what sum() rounds differs between versions of Python.
    usual = fsum(share_of_season(plan, pick, expected_start) for pick in range(len(plan.picks)))
    potential = stems_potential(plan, plot, season, living) / usual
    left_standing = 0.0
    for pick, day in enumerate(plan.picks):
        on = plan.transplanted + timedelta(days=day)
        if lost_on is not None and on >= lost_on:
            break
        expected = potential * share_of_season(plan, pick, starts)
        chance_missed = float(draws.uniform()[0]) < plan.missed_share and pick > 0
        if chance_missed or any(
            pick == missed and first <= plot.position <= last
            for missed, first, last in plan.unfinished
        ):
            sheets.add("cuts", plot.code, on, "missed", None, None, None)
            left_standing = 0.5 * expected
            continue
        if (pick, plot.position) in plan.zero:
            expected = 0.0
        gone = pick / (len(plan.picks) - 1)
        shares = cull_shares(plan, plot, rains[pick], gone)
        if left_standing:
            shares["blown" if "blown" in shares else "browned"] += 0.25
        stems = draws.count(expected + left_standing, 1.5)
        left_standing = 0.0
        mean = mean_length_cm(plot, season, gone)
        lengths = mean * (1 + 0.13 * draws.normal(stems))
        write_pick(plot, on, lengths, shares, draws, sheets, dict(plan.sampled).get(pick, 0))


def share_of_season(plan: Plan, pick: int, starts: float) -> float:
    """The weight of one pick: the days since the last, as many stems as the plants then give."""
    day = plan.picks[pick]
    since = 7.0 if pick == 0 else min(day - plan.picks[pick - 1], day - starts)
    rising = min(max((day - starts + 3) / 14, 0.0), 1.0)
    fading = 1 - 0.45 * pick / (len(plan.picks) - 1)
    return max(since, 0.0) * rising * fading if day >= starts else 0.0


def write_pick(
    plot: Plot,
    on: date,
    lengths: Floats,
    shares: dict[str, float],
    draws: Draws,
    sheets: Sheets,
    to_measure: int,
) -> None:
    """Sort one day's stems into length grades and culls, and measure the first few good ones."""
    fate = draws.uniform(len(lengths))
    good = np.ones(len(lengths), dtype=bool)
    culled: dict[str, int] = {}
    edge = 0.0
    for reason, share in sorted(shares.items()):
        out = (fate >= edge) & (fate < edge + share)
        edge += share
        culled[reason] = int(out.sum())
        good &= ~out
    too_short = good & (lengths < 20)
    culled["short"] += int(too_short.sum())
    good &= ~too_short

    grades = np.minimum(np.floor(lengths[good] / 10) * 10, TOP_GRADE_CM)
    if not good.any():
        sheets.add("cuts", plot.code, on, "picked", None, 0, None)
    for grade in range(20, TOP_GRADE_CM + 1, 10):
        stems = int((grades == grade).sum())
        if stems:
            sheets.add("cuts", plot.code, on, "picked", grade, stems, None)
    for reason, stems in sorted(culled.items()):
        if stems:
            sheets.add("cuts", plot.code, on, "picked", None, stems, reason)
    for stem, length in enumerate(lengths[good][:to_measure], start=1):
        sheets.add("stem_samples", plot.code, on, stem, int(np.floor(length + 0.5)))


def score(plan: Plan, plot: Plot, draws: Draws, sheets: Sheets) -> None:
    """Mildew looked at once in cosmos-2026; vase life of fifteen stems a plot in cosmos-2025."""
    loss = any(loss.position == plot.position for loss in plan.losses)
    if plan.code == "cosmos-2026" and not loss:
        raw = 0.8 + plot.variety.length_cm / 70 + 0.9 * float(draws.normal()[0])
        value = min(5, max(0, int(np.floor(raw + 0.5))))
        sheets.add("scores", plot.code, date(2026, 9, 14), "mildew_0_5", value)
    if plan.code == "cosmos-2025" and not loss:
        raw = 6.0 + 0.03 * plot.variety.length_cm + 0.6 * float(draws.normal()[0])
        value_days = float(np.floor(raw * 10 + 0.5)) / 10
        sheets.add("scores", plot.code, date(2025, 9, 1), "vase_life_days", value_days)
