"""How long the seed order of a large farm takes: 40 varieties at 6 houses in 4 packet sizes.

    python tests/benchmarks/bench_order.py [FARMS]

Houses and prices are drawn; every house has shipping, half have free shipping from an amount, a
third a minimum order, and every packet two price breaks. Prints processor time and proven gap.
"""

from __future__ import annotations

import random
import sys
from time import process_time

from trials.decide import Need, order
from trials.model.trial import SeedHouse, SeedItem

VARIETIES, SIZES = 40, (50, 100, 250, 1000)


def farm(number: int) -> tuple[list[Need], list[SeedItem], list[SeedHouse]]:
    """One farm's needs and what six houses offer."""
    draw = random.Random(number)
    houses = [
        SeedHouse(
            f"house {n}",
            "EUR",
            draw.randrange(300, 1500, 10) / 100,
            float(draw.randrange(60, 200, 5)) if n % 2 else None,
            float(draw.randrange(10, 60, 5)) if n % 3 == 0 else 0.0,
        )
        for n in range(6)
    ]
    items = []
    for v in range(VARIETIES):
        dear = draw.uniform(0.02, 0.12)
        for house in houses:
            for size in SIZES:
                price = dear * draw.uniform(0.8, 1.25) * size**0.8 * 1.5
                for packs, share in ((1, 1.0), (4, 0.93), (10, 0.86)):
                    cents = round(100 * price * share)
                    items.append(
                        SeedItem(
                            house.name,
                            f"{v}-{size}",
                            f"variety {v}",
                            size,
                            cents / 100,
                            packs,
                            True,
                        )
                    )
    needs = [Need(f"variety {v}", draw.randrange(60, 1500)) for v in range(VARIETIES)]
    return needs, items, houses


def main() -> None:
    """Print a row for each farm."""
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    print("| farm | processor seconds | total | most above the cheapest |\n|---|---|---|---|")
    for number in range(farms):
        needs, items, houses = farm(number)
        start = process_time()
        found = order(needs, items, houses)
        took = process_time() - start
        print(f"| {number} | {took:.2f} | {found.total} | {found.most_above_cheapest} |")


if __name__ == "__main__":
    main()
