"""Makes the records of an invented flower farm: three seasons of trials, and a seed list.

Nothing here is real: see README.md beside this file. Run it to write ``farm/*.csv``::

    python data/make_farm.py [FOLDER]

Every draw is a uniform number of PCG64 from the stored seed, and only sums, products, roots and
comparisons follow (each exact to the last bit under IEEE 754), so that every machine writes the
same bytes: normal deviates are twelve uniforms less six, shuffles are sorts.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import TypeVar

import numpy as np
from invention import (
    BED_WIDTH_M,
    BEDDING,
    BY_NAME,
    CROPS,
    HOUSES,
    NOT_AVAILABLE,
    PLACE,
    PLANS,
    ROWS_A_BED,
    SEASONS,
    SHORTEST_LENGTH_CM,
    SITE,
    TALL,
    USUAL_CULL_SHARE,
    VARIETIES,
    Plan,
    Variety,
)
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
SEED = int((HERE / "seed.txt").read_text(encoding="utf-8"))
TOP_GRADE_CM = 60
CODE_DIGITS = "23456789"  # no 0 or 1, and no letters O or I: a smudged tag still reads one way

Cell = str | int | float | date | None
Floats = NDArray[np.float64]
Thing = TypeVar("Thing")


# ---- drawing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Draws:
    """The chance in one trial."""

    generator: np.random.Generator

    @classmethod
    def of(cls, seed: int, stream: int) -> Draws:
        return cls(np.random.Generator(np.random.PCG64([seed, stream])))

    def uniform(self, n: int = 1) -> Floats:
        return self.generator.random(n)

    def normal(self, n: int = 1) -> Floats:
        """Near-normal deviates without a logarithm: twelve uniforms less six."""
        total = np.zeros(n)
        for row in self.generator.random((12, n)):
            total = total + row  # one at a time: the order of a sum is part of its last bit
        return total - 6.0

    def factor(self, spread: float) -> float:
        """A multiplier about 1."""
        return 1.0 + spread * float(self.normal()[0])

    def shuffled(self, things: Sequence[Thing]) -> list[Thing]:
        return [things[i] for i in np.argsort(self.uniform(len(things)), kind="stable")]

    def count(self, expected: float, dispersion: float) -> int:
        """A count whose variance is ``dispersion`` times its mean."""
        if expected <= 0:
            return 0
        spread = float(np.sqrt(expected * dispersion))
        return max(0, int(np.floor(expected + spread * float(self.normal()[0]) + 0.5)))


# ---- laying out ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot on the ground, with the luck of its place."""

    code: str
    block: str | None
    whole_plot: str | None
    bed: str
    position: int
    variety: Variety
    whole_level: str | None
    spacing_cm: int
    plants_set: int
    ground: float  # stems, as a multiple: block, whole plot and plot together
    ground_length: float


def plot_code(letter: str, season: int, number: int) -> str:
    """A code such as C6345: crop, last digit of the year, a number in the digits 2 to 9."""
    digits = ""
    for _ in range(3):
        number, digit = divmod(number, len(CODE_DIGITS))
        digits = CODE_DIGITS[digit] + digits
    return f"{letter}{season % 10}{digits}"


def lay_out(plan: Plan, draws: Draws, first_number: int) -> list[Plot]:
    """Randomise each block (whole plots, then the plots inside) and number plots as one walks.

    Positions run on from bed to bed in the order of the walk: up the first bed, down the next.
    """
    whole_name, levels = plan.whole_plots or ("", (None,))
    inside = [
        (BY_NAME[entry], spacing) for entry in plan.entries for spacing in plan.spacings_cm or (30,)
    ]
    blocks_a_bed = plan.blocks // len(plan.beds)
    plots: list[Plot] = []
    for block in range(plan.blocks):
        block_luck, block_length = draws.factor(0.07), draws.factor(0.025)
        for place, level in enumerate(draws.shuffled(levels)):
            luck, length = draws.factor(0.05), draws.factor(0.015)
            for variety, spacing in draws.shuffled(inside):
                places = int(plan.net_length_m * 100) // spacing
                plots.append(
                    Plot(
                        plot_code(CROPS[plan.crop].letter, plan.season, first_number + len(plots)),
                        str(block + 1) if plan.blocks > 1 else None,
                        f"{block + 1}{'ab'[place]}" if whole_name else None,
                        plan.beds[block // blocks_a_bed],
                        len(plots) + 1,
                        variety,
                        level,
                        spacing,
                        places * ROWS_A_BED,
                        block_luck * (luck if whole_name else 1.0) * draws.factor(0.085),
                        block_length * (length if whole_name else 1.0) * draws.factor(0.045),
                    )
                )
    return plots


# ---- what grew -------------------------------------------------------------------------------


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
    usual = sum(share_of_season(plan, pick, expected_start) for pick in range(len(plan.picks)))
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


# ---- writing it down -------------------------------------------------------------------------


def write_trial(
    plan: Plan,
    plots: Sequence[Plot],
    draws: Draws,
    lots: dict[tuple[int, str], str],
    sheets: Sheets,
) -> None:
    """The trial, its plots, and all that was recorded in them."""
    sheets.add(
        "trials",
        plan.code,
        plan.season,
        SITE,
        plan.crop,
        plan.question,
        plan.factors,
        plan.check,
        plan.measure,
        plan.alpha,
        "10 %",
        SHORTEST_LENGTH_CM,
    )
    seasons = {
        entry: Season(draws.factor(0.06), draws.factor(0.02), 8 + 1.5 * float(draws.normal()[0]))
        for entry in plan.entries
    }
    rains = [(0.0, 0.0, 0.06, 0.14)[int(4 * u)] for u in draws.uniform(len(plan.picks))]
    whole_name = plan.whole_plots[0] if plan.whole_plots else ""
    for plot in plots:
        sheets.add(
            "plots",
            plan.code,
            plot.code,
            plot.block,
            plot.whole_plot,
            plot.bed,
            plot.position,
            plot.variety.name if "variety" in plan.factors else None,
            plot.whole_level if whole_name == "pinch" else None,
            plot.whole_level if whole_name == "netting" else None,
            plot.spacing_cm if plan.spacings_cm else None,
            lots[plan.season, plot.variety.name],
            plot.plants_set,
            plan.net_length_m,
            round(plan.net_length_m * BED_WIDTH_M, 2),
            plan.transplanted,
        )
    for plot in plots:
        grow(plan, plot, seasons[plot.variety.name], rains, draws, sheets)
    for plot in plots:
        score(plan, plot, draws, sheets)
    treated_on = plan.transplanted + timedelta(days=plan.treated_after_days)
    for plot in plots:
        if plot.whole_level in ("pinched", "netted"):
            sheets.add("events", plan.code, plot.code, treated_on, plot.whole_level, None)
    for loss in plan.losses:
        sheets.add("events", plan.code, plots[loss.position - 1].code, loss.on, "lost", loss.reason)
    for on, kind, reason in plan.remarks:
        sheets.add("events", plan.code, None, on, kind, reason)
    sheets.add("events", plan.code, None, plan.frost, "frost", "first hard frost, plants black")


def write_seed(sheets: Sheets, draws: Draws) -> dict[tuple[int, str], str]:
    """The houses, what they list, and the lots that were sown; returns the lots by season."""
    for house in HOUSES:
        sheets.add(
            "seed_houses",
            house.name,
            "EUR",
            f"{house.carriage:.2f}",
            None if house.free_carriage_from is None else f"{house.free_carriage_from:.2f}",
            f"{house.minimum_order:.2f}",
        )
        for number, variety in enumerate(VARIETIES):
            if house.initial not in variety.houses:
                continue
            for seeds, cents in house.cents[variety.crop].items():
                gone = (house.name, variety.name, seeds) in NOT_AVAILABLE
                for from_packs, percent in house.breaks:
                    price = cents * variety.price_percent * percent // 50_000 * 5
                    sheets.add(
                        "seed_items",
                        house.name,
                        house.item(number, seeds),
                        variety.name,
                        seeds,
                        f"{price / 100:.2f}",
                        from_packs,
                        "no" if gone else "yes",
                    )
    lots: dict[tuple[int, str], str] = {}
    for season in sorted({plan.season for plan in PLANS}):
        sown = {e for plan in PLANS if plan.season == season for e in plan.entries}
        for number, variety in enumerate(v for v in VARIETIES if v.name in sown):
            house = next(h for h in draws.shuffled(HOUSES) if h.initial in variety.houses)
            seeds = next(iter(house.cents[variety.crop]))
            lot = f"{season}-{number + 1:02d}"
            lots[season, variety.name] = lot
            germination = int(70 + 26 * float(draws.uniform()[0])) / 100
            sheets.add(
                "seed_lots",
                lot,
                house.name,
                house.item(VARIETIES.index(variety), seeds),
                season,
                germination,
            )
    return lots


HEADINGS = {
    "sites": "site,place,bed_width_m,note",
    "seasons": "season,site,starts_on,ends_on,last_spring_frost,first_autumn_frost",
    "varieties": "variety,crop,colour,habit",
    "seed_houses": "house,currency,carriage,free_carriage_from,minimum_order",
    "seed_items": "house,item,variety,seeds,price,from_packs,available",
    "seed_lots": "lot,house,item,packed_for,germination",
    "trials": "trial,season,site,crop,question,factors,check,primary_measure,alpha,margin,"
    "shortest_length_cm",
    "plots": "trial,plot,block,whole_plot,bed,position,variety,pinch,netting,spacing_cm,lot,"
    "plants_set,net_length_m,net_area_m2,transplanted_on",
    "stand_counts": "plot,counted_on,living",
    "cuts": "plot,cut_on,outcome,grade_cm,stems,cull_reason",
    "stem_samples": "plot,cut_on,stem,length_cm",
    "events": "trial,plot,happened_on,kind,reason",
    "scores": "plot,scored_on,trait,value",
}


def make(seed: int = SEED) -> dict[str, str]:
    """The text of every file, by its name."""
    sheets = Sheets()
    sheets.add(
        "sites",
        SITE,
        PLACE,
        BED_WIDTH_M,
        "four rows a bed; guard plants at both ends of a plot are never picked into it",
    )
    for season, *days in SEASONS:
        sheets.add("seasons", season, SITE, *days)
    for variety in VARIETIES:
        sheets.add("varieties", variety.name, variety.crop, variety.colour, variety.habit)
    lots = write_seed(sheets, Draws.of(seed, 0))
    numbered: dict[tuple[str, int], int] = {}
    for stream, plan in enumerate(PLANS, start=1):
        draws = Draws.of(seed, stream)
        plots = lay_out(plan, draws, numbered.get((plan.crop, plan.season), 0))
        key = (plan.crop, plan.season)
        numbered[key] = numbered.get(key, 0) + len(plots)
        write_trial(plan, plots, draws, lots, sheets)
    return {f"{sheet}.csv": as_csv(HEADINGS[sheet], rows) for sheet, rows in sheets.rows.items()}


def as_csv(headings: str, rows: Sequence[tuple[Cell, ...]]) -> str:
    """One file's text: a heading row, ISO dates, nothing where nothing was recorded."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings.split(","))
    writer.writerows(["" if cell is None else cell for cell in row] for row in rows)
    return text.getvalue()


def main(folder: Path) -> None:
    """Write every file into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in make().items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "farm")
