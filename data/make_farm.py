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
from datetime import timedelta
from pathlib import Path

from ground import Draws, Plot, lay_out
from growth import Cell, Season, Sheets, grow, score
from invention import (
    BED_WIDTH_M,
    COSTS,
    CROP_FIGURES,
    HOUSES,
    NOT_AVAILABLE,
    OWN_HOUSE,
    OWN_SEED,
    PLACE,
    PLANS,
    PLUGS,
    PRICE_YEAR,
    SEASONS,
    SHORTEST_LENGTH_CM,
    SITE,
    STOCK,
    STOCK_COUNTED_ON,
    STOCK_TESTED_ON,
    VARIETIES,
    Plan,
    stem_prices,
)

HERE = Path(__file__).resolve().parent
SEED = int((HERE / "seed.txt").read_text(encoding="utf-8"))


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
            f"{house.shipping:.2f}",
            None if house.free_shipping_from is None else f"{house.free_shipping_from:.2f}",
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
    write_plugs_and_own_seed(sheets)
    return lots


def write_plugs_and_own_seed(sheets: Sheets) -> None:
    """Trays of young plants at a house, and seed that the farm saved itself."""
    sheets.add("seed_houses", OWN_HOUSE, "EUR", "0.00", None, "0.00")
    for house, item, variety, plants, price in PLUGS:
        row = (house, item, variety, plants, price, 1, "yes", "plugs", None)
        sheets.add("plugs_and_own_seed", *row)
    for lot, item, variety, seeds, price, season, germination in OWN_SEED:
        row = (OWN_HOUSE, item, variety, seeds, price, 1, "yes", "own seed", "allowed")
        sheets.add("plugs_and_own_seed", *row)
        sheets.add("seed_lots", lot, OWN_HOUSE, item, season, germination)


HEADINGS = {
    "sites": "site,place,bed_width_m,note",
    "seasons": "season,site,starts_on,ends_on,last_spring_frost,first_autumn_frost",
    "varieties": "variety,crop,colour,habit",
    "crops": "crop,figure,value,source",
    "currencies": "currency,own,rate",
    "prices": "year,market,crop,grade_cm,from_week,to_week,stem_price",
    "costs": "year,crop,cost,amount",
    "seed_houses": "house,currency,shipping,free_shipping_from,minimum_order",
    "seed_items": "house,item,variety,seeds,price,from_packs,available",
    "plugs_and_own_seed": "house,item,variety,seeds,price,from_packs,available,sold_as,seed_saving",
    "seed_lots": "lot,house,item,packed_for,germination",
    "seed_stock": "lot,counted_on,seeds",
    "germination_tests": "lot,tested_on,replicate,seeds,germinated",
    "trials": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
    "equivalence_margin,minimum_length_cm",
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
    for figure in CROP_FIGURES:
        sheets.add("crops", *figure)
    sheets.add("currencies", "EUR", "yes", 1)
    for row in stem_prices():
        sheets.add("prices", *row)
    for crop, cost, amount in COSTS:
        sheets.add("costs", PRICE_YEAR, crop, cost, amount)
    lots = write_seed(sheets, Draws.of(seed, 0))
    for lot, left, replicates in STOCK:
        sheets.add("seed_stock", lot, STOCK_COUNTED_ON, left)
        for number, (germinated, laid_out) in enumerate(replicates, start=1):
            sheets.add("germination_tests", lot, STOCK_TESTED_ON, number, laid_out, germinated)
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
