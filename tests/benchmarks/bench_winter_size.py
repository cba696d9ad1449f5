"""How long a winter plan of a large farm takes: 12 crops, 8 varieties, 6 sowings, 200 seasons.

    python tests/benchmarks/bench_winter_size.py [FARMS]

Each farm has 12 crops of 8 varieties, 6 sowings of each, 2 markets a crop of which one wants stems
at least, 320 m of bed, a budget, hours and a floor for the poor seasons. Prints processor time, so
that a busy machine does not show, and the proven gap.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from time import process_time

import numpy as np

from trials.decide.winter import Bed, Crop, Limits, Outlet, Winter
from trials.decide.winter_programme import winter_plan

CROPS, VARIETIES, SOWINGS, WEEKS, DRAWS = 12, 8, 6, 30, 200


def farm(number: int) -> Winter:
    """One farm with drawn yields, prices and demands."""
    draw = np.random.default_rng(number)
    shape = np.array([0.5, 1.0, 1.0, 0.8, 0.6, 0.4])
    shape /= shape.sum()
    crops, outlets = [], []
    for kind in range(CROPS):
        level = draw.uniform(60, 120)
        for variety in range(VARIETIES):
            own = level * (1 + 0.15 * draw.standard_normal())
            season = np.maximum(own * (1 + 0.22 * draw.standard_normal(DRAWS)), 0.0)
            for sowing in range(SOWINGS):
                first = 6 + 2 * sowing
                end = min(first + len(shape), WEEKS)
                stems = np.zeros((DRAWS, 2, WEEKS))
                for grade, part in enumerate((0.6, 0.4)):
                    by_week = season[:, None] * shape[: end - first]
                    stems[:, grade, first:end] = part * by_week
                takes = np.zeros(WEEKS, dtype=bool)
                takes[2 * sowing : end] = True
                hours = np.zeros(WEEKS)
                hours[2 * sowing] = 0.3
                crops.append(
                    Crop(
                        crop=f"crop {kind}",
                        variety=f"variety {kind}.{variety}",
                        treatment="",
                        sowing=f"sowing {sowing}",
                        colour=("white", "red")[variety % 2],
                        stems=stems,
                        cost=12.0,
                        cash=4.0,
                        hours=hours,
                        takes=takes,
                        stem_hours=1 / 200,
                    )
                )
        price = draw.uniform(0.2, 0.5) * np.outer([1.0, 1.3], np.ones(WEEKS))
        cap = np.full(WEEKS, draw.uniform(60, 220))
        none = np.zeros(WEEKS)
        name = f"crop {kind}"
        outlets.append(Outlet("florists", {name: price}, cap / 4, cap, missing_costs=0.3))
        white = frozenset({"white"})
        outlets.append(Outlet("weddings", {name: 1.3 * price}, none, cap / 3, white))
    free = np.ones(WEEKS, dtype=bool)
    late = np.arange(WEEKS) >= 6
    beds = tuple(Bed(f"bed {n}", 80.0, late if n == 3 else free) for n in range(4))
    limits = Limits(2.0, budget=2400.0, hours=np.full(WEEKS, 120.0), largest_share=0.6)
    whole = Winter(tuple(crops), tuple(outlets), beds, limits)
    return replace(whole, limits=replace(limits, floor=0.0))


def main() -> None:
    """Print a row for each farm."""
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    print("| farm | processor seconds | expected net | worst fifth | gap |\n|---|---|---|---|---|")
    for number in range(farms):
        model = farm(number)
        start = process_time()
        plan = winter_plan(model)
        took = process_time() - start
        print(
            f"| {number} | {took:.1f} | {plan.expected:.0f} | {plan.poor:.0f} | {plan.gap:.2%} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
