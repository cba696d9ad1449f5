"""The commands that choose varieties and order their seed."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from trials.cli.options import (
    as_of_option,
    json_option,
    paper_option,
    readers_units,
    show,
    store_option,
    store_path,
    units_option,
)
from trials.cli.terminal import progress_bar
from trials.model.units import PaperSize


@click.command()
@click.argument("crop")
@click.option(
    "--measure", help="Measure that decides (default: the newest trial's primary measure)."
)
@click.option(
    "--tall-chance",
    type=click.FloatRange(0, 1),
    default=0.8,
    help="Lowest chance of stems long enough to sell; a variety below it is dropped.",
)
@click.option(
    "--tie-share",
    type=click.FloatRange(0, 1),
    default=0.05,
    help="Difference from the leader that counts as a tie, as a share of the measure's usual size.",
)
@click.option(
    "--least-seasons",
    type=click.IntRange(1),
    default=1,
    help="Seasons to grow a variety before it is reordered.",
)
@click.option(
    "--bed-metres",
    type=click.FloatRange(0, min_open=True),
    default=20.0,
    help="Metres of bed of this crop per season; another trial is worth more if you grow more.",
)
@click.option(
    "--seasons-ahead",
    type=click.IntRange(1),
    default=3,
    help="Seasons you would grow the variety that another trial finds.",
)
@as_of_option
@units_option
@store_option
@json_option
def choose(
    crop: str,
    measure: str | None,
    tall_chance: float,
    tie_share: float,
    least_seasons: int,
    bed_metres: float,
    seasons_ahead: int,
    as_of: datetime | int | None,
    units: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Choose from all closed trials: reorder, grow again or drop."""
    from trials import season
    from trials.decide import Rules
    from trials.report.choice_page import choice_page
    from trials.report.documents import choice_document
    from trials.report.history_page import as_known_words
    from trials.report.plain import json_text

    rules = Rules(
        tall_chance=tall_chance,
        tie_share=tie_share,
        bed_metres=bed_metres,
        seasons_ahead=seasons_ahead,
        least_seasons=least_seasons,
    )
    with progress_bar("Choosing"):
        choice = season.choose(store_path(store), crop, measure, rules, as_of)
    if as_json:
        show(json_text(choice_document(choice, as_of)))
    else:
        show(choice_page(choice, readers_units(units, store), as_known_words(as_of)))


def _on_hand(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> dict[str, int]:
    shelf: dict[str, int] = {}
    for one in given:
        lot, mark, seeds = one.rpartition("=")
        if not mark or not lot.strip() or not seeds.strip().isdecimal():
            raise click.BadParameter(
                f"{one!r} is not a seed lot and its seeds. Write it as L1=200."
            )
        shelf[lot.strip()] = int(seeds)
    return shelf


def _tested(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> dict[str, tuple[tuple[int, int], ...]]:
    tests: dict[str, tuple[tuple[int, int], ...]] = {}
    for one in given:
        lot, _, counts = one.rpartition("=")
        pairs = [count.strip().split("/") for count in counts.split(",")]
        whole = all(len(pair) == 2 and all(n.isdecimal() for n in pair) for pair in pairs)
        if not lot.strip() or not whole or any(int(n) > int(of) or of == "0" for n, of in pairs):
            raise click.BadParameter(
                f"{one!r} is not a seed lot and what germinated. Write it as L1=88/100,84/100."
            )
        tests[lot.strip()] = tuple((int(n), int(of)) for n, of in pairs)
    return tests


tested_option = click.option(
    "--tested",
    multiple=True,
    callback=_tested,
    metavar="LOT=GERMINATED/SEEDS,...",
    help="Your germination test of a lot in stock, one count per replicate, such as "
    "L1=88/100,84/100, in place of its stored test.",
)
on_hand_option = click.option(
    "--on-hand",
    multiple=True,
    callback=_on_hand,
    metavar="LOT=SEEDS",
    help="Seeds in stock from a seed lot, such as L1=200, in place of its stored count; repeat for "
    "more.",
)


def _by_crop(
    _ctx: click.Context, param: click.Parameter, given: tuple[str, ...]
) -> dict[str, float]:
    """Figures by crop; that of '' is for every crop without its own."""
    found: dict[str, float] = {}
    for one in given:
        crop, _, figure = one.rpartition("=")
        try:
            number = float(figure)
        except ValueError:
            number = 0.0
        if not 0 < number < 1e7:
            raise click.BadParameter(
                f"{one!r} is not a figure above 0. Write {param.opts[0]} 24, or a crop and its "
                f"figure: {param.opts[0]} cosmos=24."
            )
        found[crop.strip()] = number
    return found


plugs_option = click.option(
    "--plugs",
    multiple=True,
    metavar="VARIETY",
    help="A variety to buy as young plants instead of seed; repeat for more. Varieties that are "
    "sold only as plugs need no naming.",
)
without_house_option = click.option(
    "--without-house",
    multiple=True,
    metavar="HOUSE",
    help="Seed house to order nothing from; repeat for more.",
)


@click.command()
@click.argument("crops", nargs=-1, required=True, metavar="CROP...")
@click.option(
    "--bed-metres",
    multiple=True,
    callback=_by_crop,
    metavar="[CROP=]METRES",
    help="Metres of bed per sowing, shared by the varieties, such as 24; for several crops "
    "repeat it with each crop's own, such as cosmos=24.",
)
@click.option(
    "--stems",
    multiple=True,
    callback=_by_crop,
    metavar="[CROP=]STEMS",
    help="Stems wanted over the season, instead of --bed-metres; likewise by crop.",
)
@click.option(
    "--successions",
    type=click.IntRange(1),
    default=1,
    help="Number of sowings in the season.",
)
@click.option(
    "--variety",
    multiple=True,
    help="Variety to order; repeat for more (default: those to reorder).",
)
@click.option(
    "--max-varieties",
    type=click.IntRange(1),
    help="Most varieties to order (default: all to reorder).",
)
@click.option(
    "--plants-per-metre",
    type=click.FloatRange(0, min_open=True),
    help="Plants per metre of bed (default: as in the newest trial).",
)
@click.option(
    "--trial-plants",
    type=click.IntRange(0),
    default=0,
    help="Plants of each variety to grow again, for next season's plots.",
)
@on_hand_option
@tested_option
@click.option(
    "--budget",
    type=click.FloatRange(0),
    help="Most to spend, shipping included (default: no limit).",
)
@click.option(
    "--currency",
    help="Currency of the seed houses to order from, such as EUR (default: the one that offers "
    "the most varieties).",
)
@click.option(
    "--prices",
    type=click.IntRange(1950, 2199),
    metavar="YEAR",
    help="Newest year of price lists to use, such as 2026 (default: each seed house's newest).",
)
@without_house_option
@plugs_option
@click.option(
    "--accept-short",
    is_flag=True,
    help="Order the named varieties even if their stems are too short to sell.",
)
@click.option(
    "--csv",
    "csv_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Also write the order to this CSV file, such as order.csv.",
)
@click.option(
    "--pdf",
    "pdf_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Also write the order as a PDF to print, such as order.pdf.",
)
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    help="Also write each seed house's order into this folder as CSV, XLSX and PDF.",
)
@click.option("--farm", default="", show_default=False, help="Farm name to print on the order.")
@paper_option
@units_option
@store_option
@json_option
def order(
    crops: tuple[str, ...],
    bed_metres: dict[str, float],
    stems: dict[str, float],
    successions: int,
    variety: tuple[str, ...],
    max_varieties: int | None,
    plants_per_metre: float | None,
    trial_plants: int,
    on_hand: dict[str, int],
    tested: dict[str, tuple[tuple[int, int], ...]],
    budget: float | None,
    currency: str | None,
    prices: int | None,
    without_house: tuple[str, ...],
    plugs: tuple[str, ...],
    accept_short: bool,
    csv_path: Path | None,
    pdf_path: Path | None,
    into: Path | None,
    farm: str,
    paper: PaperSize,
    units: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Order the chosen varieties' seed at the lowest total cost.

    Name several crops to order for all of them together: they share shipping and minimum orders.
    """
    from trials import season
    from trials.decide import Sowing
    from trials.report.documents import joint_document, ordering_document
    from trials.report.order_page import joint_page, order_page
    from trials.report.plain import json_text

    crops = tuple(dict.fromkeys(crops))
    for name in {*bed_metres, *stems} - {"", *crops}:
        raise click.UsageError(f"{name!r} is none of the crops named: {', '.join(crops)}.")
    metres = {crop: bed_metres.get(crop, bed_metres.get("")) for crop in crops}
    wanted = {crop: stems.get(crop, stems.get("")) for crop in crops}
    for crop in crops:
        if (metres[crop] is None) == (wanted[crop] is None):
            raise click.UsageError(f"Name either --bed-metres or --stems for {crop}.")
    path = store_path(store)
    how = season.Buying(
        *(budget, on_hand, tested, currency, prices, without_house),
        accept_short=accept_short,
        plugs=plugs,
    )
    with progress_bar("Finding the cheapest order"):
        choices = [season.choose(path, crop) for crop in crops]
        named = season.by_crop(path, choices, variety)
        plans = [
            season.CropPlan(
                choice,
                Sowing(
                    bed_metres=metres[choice.crop] or 0.0,
                    successions=successions,
                    varieties=named[choice.crop],
                    most=max_varieties,
                    plants_per_metre=plants_per_metre,
                    trial_plants=trial_plants,
                ),
                wanted[choice.crop],
            )
            for choice in choices
        ]
        joint = season.order_together(path, plans, how)
    if csv_path is not None:
        season.write_order_csv(joint, csv_path)
    if pdf_path is not None:
        season.write_order_pdf(joint, pdf_path, farm=farm, on=date.today(), size=paper)
    written = (
        ()
        if into is None
        else season.write_orders(
            joint.order, joint.crops[0].next_season, into, farm=farm, on=date.today(), size=paper
        )
    )
    alone = joint.crops[0] if len(crops) == 1 else None
    if as_json:
        show(json_text(joint_document(joint) if alone is None else ordering_document(alone)))
    else:
        system = readers_units(units, store)
        show(joint_page(joint, system) if alone is None else order_page(alone, system))
        for each in written:
            show(f"Written: {each}\n")
