"""Seed in stock: what the store keeps of it, and how a count or a germination test is recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import MappingProxyType

from trials import decide, records
from trials.errors import UnknownName
from trials.model.rows import NOBODY, Added, Sheet, Signed
from trials.model.seed_lot import SeedLot
from trials.model.trial import SoldAs
from trials.season.storage_loss import aged, crops_of, storage_losses, years_stored
from trials.store import Store

Tests = Mapping[str, Sequence[tuple[int, int]]]


@dataclass(frozen=True, slots=True)
class StockEntry:
    """What was typed of a lot on a day, as it was typed.

    ``seeds`` is the count of what is left, '' where nobody counted; ``replicates`` are those of a
    germination test, (germinated, laid out) each.
    """

    lot: str
    day: date
    seeds: str = ""
    replicates: tuple[tuple[str, str], ...] = ()


def next_season(kept: Store) -> int:
    """The season after the newest trial's; next year where there is none."""
    return 1 + max((trial.season for trial in kept.trials()), default=date.today().year)


def shelf(
    kept: Store,
    season: int,
    on_hand: Mapping[str, int] = MappingProxyType({}),
    tested: Tests = MappingProxyType({}),
) -> tuple[decide.OnHand, ...]:
    """The seed in stock by lot, each at its newest test or else at the germination of its packet.

    What is known of its crop's loss in storage is taken off for the years up to ``season``.

    ``on_hand`` (seeds) and ``tested`` (germinated, laid out; of each replicate) take the place of
    what the store has of their lots. Lots of plugs are no seed. Own seed has its cost of cleaning,
    and what any price list says of saving seed of its variety.

    Raises
    ------
    UnknownName
        There is no such lot.
    """
    lots = {each.lot: each for each in kept.seed_lots() if each.sold_as is not SoldAs.PLUGS}
    items = kept.seed_items()
    saving = decide.seed_saving(items)
    cleaning = {(item.house, item.item): item.price / item.seeds for item in items}
    currencies = {house.name: house.currency for house in kept.seed_houses()}
    for lot in (*on_hand, *tested):
        if lot not in lots:
            raise UnknownName("seed lot", lot, list(lots))
    crops, losses = crops_of(kept), storage_losses(kept)
    return tuple(
        aged(
            replace(
                _on_hand(each, on_hand.get(lot, each.seeds or 0), tested.get(lot, each.test)),
                own=each.sold_as is SoldAs.OWN_SEED,
                cleaning=cleaning.get(each.item, 0.0) if each.sold_as is SoldAs.OWN_SEED else 0.0,
                currency=currencies.get(each.item[0], ""),
                saving=saving.get(each.variety),
                years=years_stored(each, season, tested_now=lot in tested),
            ),
            losses.get(crops.get(each.variety, "")),
        )
        for lot, each in lots.items()
        if each.seeds or lot in on_hand or lot in tested
    )


def _on_hand(each: SeedLot, seeds: int, counts: Sequence[tuple[int, int]]) -> decide.OnHand:
    test = _test(counts)
    rate = each.germination if test is None else test.rate
    return decide.OnHand(each.variety, seeds, rate, each.lot, each.packed_for, test)


def _test(counts: Sequence[tuple[int, int]]) -> decide.Germination | None:
    found = [decide.Replicate(of, germinated) for germinated, of in counts]
    return decide.germination(found) if found else None


def seed_in_stock(store: Path, season: int | None = None) -> tuple[decide.OnHand, ...]:
    """The seed in stock by the newest counts of the store, by default for the next season."""
    kept = Store.open(store)
    return shelf(kept, next_season(kept) if season is None else season)


def seed_lots(store: Path) -> tuple[tuple[str, str], ...]:
    """Every seed lot and its variety, the newest first."""
    lots = sorted(Store.open(store).seed_lots(), key=lambda each: (-each.packed_for, each.lot))
    return tuple((each.lot, each.variety) for each in lots)


def record_stock(store: Path, entry: StockEntry, signed: Signed = NOBODY) -> Added:
    """Record a count of seed, a germination test, or both.

    Raises
    ------
    RecordsRefused
        Something typed cannot be right; every fault is listed and nothing was stored.
    """
    kept = Store.open(store)
    day = entry.day.isoformat()
    tables: dict[Sheet, list[Mapping[str, str]]] = {}
    if entry.seeds.strip():
        row = {"lot": entry.lot, "counted_on": day, "seeds": entry.seeds.strip()}
        tables[Sheet.SEED_STOCK] = [row]
    if entry.replicates:
        tables[Sheet.GERMINATION_TESTS] = [
            {
                "lot": entry.lot,
                "tested_on": day,
                "replicate": str(number),
                "seeds": laid_out.strip(),
                "germinated": germinated.strip(),
            }
            for number, (germinated, laid_out) in enumerate(entry.replicates, start=1)
        ]
    return kept.add(records.judge_rows(tables, kept.known()), signed)
