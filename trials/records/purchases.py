"""Rules of seed: what houses sell, the lots that were bought, and the plots they went to."""

from __future__ import annotations

import numpy as np

from trials.batch import Sheet
from trials.records.faults import Faults, Wrong, hint, shown
from trials.records.judging import Judged
from trials.records.world import World, records


def item_is_one_packet(judged: Judged, world: World, faults: Faults) -> None:
    """The price breaks of one item are of one packet: the same variety and number of seeds."""
    items = world.frames[Sheet.SEED_ITEMS]
    for column in ("variety", "seeds"):
        first: dict[tuple[str, str], object] = {}
        for house, item, cell in records(items, "house", "item", column):
            if cell is not None:
                first.setdefault((house, item), cell)
        here = list(records(judged.frame, "house", "item", column))
        other = [cell not in (None, first.get((house, item))) for house, item, cell in here]

        def words(
            record: int, column: str = column, first: dict[tuple[str, str], object] = first
        ) -> Wrong:
            house, item = judged.cell(record, "house"), judged.cell(record, "item")
            return Wrong(
                f"Another row of item {shown(item)} says {column} {first[house, item]}.",
                "Rows of one item differ only in price and number of packets; another packet is "
                "another item.",
            )

        judged.fault(faults, np.array(other, dtype=bool), column, words)


def house_sells_item(judged: Judged, world: World, faults: Faults) -> None:
    """A lot was bought as an item its house sells."""
    if Sheet.SEED_ITEMS in world.unsure:
        return
    sold: dict[str, set[str]] = {}
    for house, item in records(world.frames[Sheet.SEED_ITEMS], "house", "item"):
        if item is not None:
            sold.setdefault(house, set()).add(item)
    houses = world.names(Sheet.SEED_HOUSES)
    unknown = [
        house in houses and item is not None and item not in sold.get(house, set())
        for house, item in records(judged.frame, "house", "item")
    ]

    def words(record: int) -> Wrong:
        house, item = judged.cell(record, "house"), judged.cell(record, "item")
        return Wrong(
            f"{house} has no item {shown(item)}.",
            hint(item, sold.get(house, set()), "Add it to a file of seed items."),
        )

    judged.fault(faults, np.array(unknown, dtype=bool), "item", words)


def lot_is_of_the_variety(judged: Judged, world: World, faults: Faults) -> None:
    """The seed lot of a plot holds the variety the plot is said to grow."""
    if "variety" not in judged.frame.columns:
        return
    packed = {
        (house, item): variety
        for house, item, variety in records(
            world.frames[Sheet.SEED_ITEMS], "house", "item", "variety"
        )
    }
    of_lot = {
        lot: packed.get((house, item))
        for lot, house, item in records(world.frames[Sheet.SEED_LOTS], "lot", "house", "item")
    }
    varieties = world.names(Sheet.VARIETIES)  # an unknown one is a fault of its own
    other = [
        variety in varieties and of_lot.get(lot) in varieties and of_lot[lot] != variety
        for lot, variety in records(judged.frame, "lot", "variety")
    ]

    def words(record: int) -> Wrong:
        lot, variety = judged.cell(record, "lot"), judged.cell(record, "variety")
        return Wrong(
            f"Lot {shown(lot)} is of {of_lot[lot]}, but the plot grows {variety}.",
            "Correct the lot, or the variety.",
        )

    judged.fault(faults, np.array(other, dtype=bool), "lot", words)
