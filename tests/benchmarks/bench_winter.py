"""Simulated winters: what the winter plan earns beside even shares and last year's plan again.

    python tests/benchmarks/bench_winter.py [FARMS]

Each farm has 3 crops of 4 varieties, 3 sowings, two markets and 60 m of bed; its varieties are
invented, with an SD of 15% of the mean, 8% from season to season, 20% for the season as a whole
and a trial error of 6% (magnitudes common in the trade; our judgement). The plan and even shares
know the same two seasons of trials; last year's plan knew the first of them and the prices of then.
All are judged on 300 further seasons that none of them saw.
"""

from __future__ import annotations

import sys
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from trials.decide.sales import net, sales
from trials.decide.winter import Bed, Crop, Limits, Outlet, Winter, worst_fifth
from trials.decide.winter_programme import winter_plan

Floats = NDArray[np.float64]
CROPS, VARIETIES, SOWINGS, WEEKS, BED_M = 3, 4, 3, 18, 60.0
ENTRY_SD, SWING_SD, SEASON_SD, ERROR_SD = 0.15, 0.08, 0.20, 0.06
PLANNED_DRAWS, JUDGED_DRAWS = 100, 300
TIED = 0.10  # even shares go to the varieties within this share of the best


def seasons(levels: Floats, draws: int, draw: np.random.Generator, unsure: float) -> Floats:
    """Stems per metre (draws, crops, varieties) of seasons around what is known of the levels."""
    known = levels * (1 + unsure * draw.standard_normal((draws, CROPS, VARIETIES)))
    season = 1 + SEASON_SD * draw.standard_normal((draws, CROPS, 1))
    own = 1 + SWING_SD * draw.standard_normal((draws, CROPS, VARIETIES))
    return np.asarray(np.maximum(known * season * own, 0.0), dtype=np.float64)


def winter(stems: Floats, prices: Floats, most: Floats) -> Winter:
    """The farm's choices with these drawn seasons."""
    crops = []
    shape = np.array([0.5, 1.0, 1.0, 0.8, 0.6, 0.4])
    shape /= shape.sum()
    for kind in range(CROPS):
        for variety in range(VARIETIES):
            for sowing in range(SOWINGS):
                first = 5 + 3 * sowing
                by_week = np.zeros((len(stems), 1, WEEKS))
                end = min(first + len(shape), WEEKS)
                by_week[:, 0, first:end] = stems[:, kind, variety, None] * shape[: end - first]
                takes = np.zeros(WEEKS, dtype=bool)
                takes[3 * sowing : end] = True
                colour = ("white", "red")[variety % 2]
                crops.append(
                    Crop(
                        f"crop {kind}",
                        f"variety {kind}.{variety}",
                        "",
                        f"sowing {sowing}",
                        colour,
                        by_week,
                        12.0,
                        4.0,
                        np.zeros(WEEKS),
                        takes,
                    )
                )
    outlets = []
    for kind in range(CROPS):
        price = np.full((1, WEEKS), prices[kind])
        cap = np.full(WEEKS, most[kind])
        none = np.zeros(WEEKS)
        outlets.append(Outlet("florists", {f"crop {kind}": price}, none, cap))
        white = frozenset({"white"})
        outlets.append(Outlet("weddings", {f"crop {kind}": 1.3 * price}, none, cap / 3, white))
    beds = (Bed("all", BED_M, np.ones(WEEKS, dtype=bool)),)
    return Winter(tuple(crops), tuple(outlets), beds, Limits())


def even(model: Winter, means: Floats) -> Floats:
    """The metres where every variety near the best of its crop shares the beds evenly."""
    near = means >= (1 - TIED) * means.max(axis=1, keepdims=True)
    chosen = np.repeat(near.ravel(), SOWINGS).astype(np.float64)
    taken = np.array([crop.takes for crop in model.crops]).T @ chosen
    return np.asarray(chosen * BED_M / taken.max(), dtype=np.float64)


def farm(number: int) -> list[Floats]:
    """The net of the judged seasons by each way of planning."""
    draw = np.random.default_rng(number)
    levels = draw.uniform(60, 120, (CROPS, 1)) * (
        1 + ENTRY_SD * draw.standard_normal((CROPS, VARIETIES))
    )
    prices = draw.uniform(0.25, 0.55, CROPS)
    most = draw.uniform(60, 220, CROPS)
    error = np.hypot(ERROR_SD, SWING_SD)
    trials = levels * (1 + error * draw.standard_normal((2, CROPS, VARIETIES)))
    # Shrunken towards the crop's mean, as the choice does with entries that are a sample.
    means = trials.mean(axis=0)
    keep = ENTRY_SD**2 / (ENTRY_SD**2 + error**2 / 2)
    shrunk = means.mean(axis=1, keepdims=True) * (1 - keep) + keep * means
    unsure = np.sqrt(keep * error**2 / 2)
    model = winter(seasons(shrunk, PLANNED_DRAWS, draw, unsure), prices, most)
    once = ENTRY_SD**2 / (ENTRY_SD**2 + error**2)
    first = trials[0].mean(axis=1, keepdims=True) * (1 - once) + once * trials[0]
    before = winter(
        seasons(first, PLANNED_DRAWS, draw, np.sqrt(once) * error),
        prices * draw.uniform(0.85, 1.15, CROPS),
        most * draw.uniform(0.7, 1.3, CROPS),
    )
    judged = winter(seasons(levels, JUDGED_DRAWS, draw, 0.0), prices, most)
    weeks = sales(judged)
    ways = (winter_plan(model).metres, even(model, means), winter_plan(before).metres)
    return [net(judged, weeks, metres) for metres in ways]


def main() -> None:
    """Print the table of WINTER.md."""
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    start = perf_counter()
    found = [farm(number) for number in range(farms)]
    names = ("winter plan", "even shares of the reordered", "last year's plan again")
    mean = np.array([[float(net_of.mean()) for net_of in one] for one in found])
    poor = np.array([[worst_fifth(net_of) for net_of in one] for one in found])
    print("| way of planning | mean net | less than the plan (se) | worst fifth | less (se) |")
    print("|---|---|---|---|---|")
    for way, name in enumerate(names):
        cells = []
        for table in (mean, poor):
            less = table[:, 0] - table[:, way]
            error = less.std(ddof=1) / np.sqrt(farms)
            cells += [f"{table[:, way].mean():.0f}", f"{less.mean():.0f} ({error:.0f})"]
        print(f"| {name} | " + " | ".join(cells) + " |")
    better = (mean[:, :1] > mean[:, 1:]).mean(axis=0)
    print(f"\nThe plan earned more on {better[0]:.0%} and {better[1]:.0%} of {farms} farms.")
    print(f"{perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
