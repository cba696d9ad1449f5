"""Rules of seed: what houses sell, the lots that were bought, and the plots they went to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from math import floor
from typing import TYPE_CHECKING

import numpy as np

from trials.model.columns import Coded, Mask
from trials.model.rows import Sheet
from trials.model.trial import SoldAs
from trials.records.faults import Faults, Wrong, hint, shown
from trials.records.rules.forms import MOST_SEEDS
from trials.records.rules.reference_data import World, records
from trials.records.rules.validation import Judged

if TYPE_CHECKING:
    import pandas as pd


def seeds_by_weight(judged: Judged, faults: Faults) -> Judged:
    """The same rows with the seeds of packets sold by weight: grams x seeds a gram, whole ones.

    A packet says how many seeds are in it, or both its weight and its seeds a gram; where it says
    all three they agree.
    """
    given = judged.cells("seeds")
    known = judged.clear("seeds", "grams", "seeds_per_gram")
    by_weight = [
        None if grams is None or each is None else floor(round(grams * each, 6))
        for grams, each in zip(judged.cells("grams"), judged.cells("seeds_per_gram"), strict=True)
    ]
    pairs = list(zip(given, by_weight, strict=True))
    nothing = known & _mask([seeds is None and found is None for seeds, found in pairs])
    no_packet = known & _mask(
        [found is not None and not 1 <= found <= MOST_SEEDS for _, found in pairs]
    )
    other = known & _mask([None not in pair and pair[0] != pair[1] for pair in pairs])
    judged.fault(
        faults,
        nothing,
        "seeds",
        Wrong(
            "The number of seeds in a packet is missing.",
            "Give seeds. For seed sold by weight, give grams and seeds_per_gram.",
        ),
    )
    judged.fault(faults, no_packet, "grams", lambda record: _no_packet(judged, record))
    judged.fault(
        faults, other & ~no_packet, "seeds", lambda record: _disagrees(judged, record, by_weight)
    )
    wrong = nothing | no_packet | other
    filled = np.empty(len(judged), dtype=object)
    for record, (seeds, found) in enumerate(pairs):
        filled[record] = None if wrong[record] else found if seeds is None else seeds
    seeds = Coded.of(filled, np.arange(len(judged), dtype=np.int32))
    doubtful = {**judged.doubtful, "seeds": ~judged.clear("seeds") | wrong}
    return replace(judged, columns={**judged.columns, "seeds": seeds}, doubtful=doubtful)


def prices_by_year(
    judged: Judged, held: pd.DataFrame, seasons: Sequence[int], *, amends: bool
) -> Judged:
    """The same rows with the year of their price list where the file does not say it.

    A row that a held list has word for word is of that list. A correction is of the newest list
    that has the item. Any other row is of the newest season, or of the newest list where that is
    newer; without either, of this year.
    """
    given = judged.cells("price_year")
    known = judged.clear("price_year")
    lists = list(records(held, "price_year", "house", "item", "from_packs", "price", "available"))
    lists.sort(key=lambda row: int(row[0]))
    same = {row[1:]: row[0] for row in lists}
    latest = {row[1:4]: row[0] for row in lists} if amends else {}
    newest = max([*seasons, *(int(row[0]) for row in lists)], default=date.today().year)
    here = records(judged.frame, "house", "item", "from_packs", "price", "available")
    filled = np.empty(len(judged), dtype=object)
    for record, row in enumerate(here):
        if given[record] is not None or not known[record]:
            filled[record] = given[record]
        else:
            filled[record] = int(same.get(row, latest.get(row[:3], newest)))
    years = Coded.of(filled, np.arange(len(judged), dtype=np.int32))
    return replace(judged, columns={**judged.columns, "price_year": years})


def seed_as_usual(judged: Judged) -> Judged:
    """The same rows with 'seed' left empty, as it is where a list does not say what it sells."""
    filled = np.empty(len(judged), dtype=object)
    for record, said in enumerate(judged.cells("sold_as")):
        filled[record] = None if said == SoldAs.SEED else said
    said = Coded.of(filled, np.arange(len(judged), dtype=np.int32))
    return replace(judged, columns={**judged.columns, "sold_as": said})


def _mask(which: list[bool]) -> Mask:
    return np.array(which, dtype=bool)


def _no_packet(judged: Judged, record: int) -> Wrong:
    grams, each = judged.cell(record, "grams"), judged.cell(record, "seeds_per_gram")
    return Wrong(
        f"{grams:g} g of {each:g} seeds per gram make {grams * each:,.3g} seeds per packet.",
        "Correct the weight or the seeds per gram.",
    )


def _disagrees(judged: Judged, record: int, by_weight: Sequence[int | None]) -> Wrong:
    grams, each = judged.cell(record, "grams"), judged.cell(record, "seeds_per_gram")
    return Wrong(
        f"{grams:g} g of {each:g} seeds per gram are {by_weight[record]:,} seeds, not "
        f"{judged.cell(record, 'seeds'):,}.",
        "Leave seeds empty to have them calculated, or correct the wrong figure.",
    )


# What makes a packet; an empty weight is another packet than one with a weight.
_OF_A_PACKET = ("variety", "seeds", "grams", "seeds_per_gram", "sold_as")
_MAY_BE_EMPTY = frozenset({"grams", "seeds_per_gram", "sold_as"})


def item_is_one_packet(judged: Judged, world: World, faults: Faults) -> None:
    """The price breaks of one item are of one packet: the same variety, seeds and weight."""
    items = world.frames[Sheet.SEED_ITEMS]
    for column in _OF_A_PACKET:
        empty_too = column in _MAY_BE_EMPTY
        first: dict[tuple[str, str], object] = {}
        for house, item, cell in records(items, "house", "item", column):
            if cell is not None or empty_too:
                first.setdefault((house, item), cell)
        here = list(records(judged.frame, "house", "item", column))
        other = judged.clear(column) & _mask(
            [
                cell != first.get((house, item)) and (cell is not None or empty_too)
                for house, item, cell in here
            ]
        )

        def words(
            record: int, column: str = column, first: dict[tuple[str, str], object] = first
        ) -> Wrong:
            house, item = judged.cell(record, "house"), judged.cell(record, "item")
            there = first[house, item]
            return Wrong(
                f"Another row of item {shown(item)} says {column} "
                f"{'nothing' if there is None else there}.",
                "Rows of one item may differ only in price and number of packets. Give another "
                "packet size its own item.",
            )

        judged.fault(faults, other, column, words)


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
            hint(item, sold.get(house, set()), "Add it to seed_items.csv."),
        )

    judged.fault(faults, _mask(unknown), "item", words)


def no_more_germinate_than_were_laid_out(judged: Judged, world: World, faults: Faults) -> None:
    """A replicate's germinated seeds are some of those laid out."""
    judged.fault(
        faults,
        _mask(
            [
                seeds is not None and germinated is not None and germinated > seeds
                for seeds, germinated in records(judged.frame, "seeds", "germinated")
            ]
        ),
        "germinated",
        lambda record: Wrong(
            f"{judged.cell(record, 'germinated')} germinated of {judged.cell(record, 'seeds')} "
            "seeds laid out.",
            "Correct one of the two.",
        ),
    )


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
            f"Seed lot {shown(lot)} is {of_lot[lot]}, but the plot grows {variety}.",
            "Correct the lot, or the variety.",
        )

    judged.fault(faults, _mask(other), "lot", words)
