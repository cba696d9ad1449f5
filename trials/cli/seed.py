"""The verbs that choose varieties and order their seed."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from trials.cli.options import (
    as_known_at_option,
    json_option,
    paper_option,
    show,
    store_option,
    store_path,
    units_option,
)
from trials.units import PaperSize


@click.command()
@click.argument("crop")
@click.option("--measure", help="What decides (the newest trial's primary measure by default).")
@click.option(
    "--tall-chance",
    type=click.FloatRange(0, 1),
    help="The chance of stems long enough to sell that a variety must have (0.8 by default).",
)
@as_known_at_option
@units_option
@store_option
@json_option
def choose(
    crop: str,
    measure: str | None,
    tall_chance: float | None,
    as_known_at: datetime | int | None,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Say what to reorder, try again or drop, over all closed trials of a CROP."""
    from trials import season
    from trials.decide import Rules
    from trials.report.choice_page import choice_page
    from trials.report.documents import choice_document
    from trials.report.history_page import as_known_words
    from trials.report.plain import json_text
    from trials.units import UnitSystem

    rules = Rules() if tall_chance is None else Rules(tall_chance=tall_chance)
    choice = season.choose(store_path(store), crop, measure, rules, as_known_at)
    if as_json:
        show(json_text(choice_document(choice, as_known_at)))
    else:
        show(choice_page(choice, UnitSystem(units), as_known_words(as_known_at)))


def _on_hand(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> dict[str, int]:
    shelf: dict[str, int] = {}
    for one in given:
        lot, mark, seeds = one.rpartition("=")
        if not mark or not lot.strip() or not seeds.strip().isdecimal():
            raise click.BadParameter(f"{one!r} does not name a lot and its seeds, as L1=200 does.")
        shelf[lot.strip()] = int(seeds)
    return shelf


@click.command()
@click.argument("crop")
@click.option(
    "--bed-metres",
    type=click.FloatRange(0, min_open=True),
    help="Metres of bed to sow to this crop each time, shared by the varieties.",
)
@click.option(
    "--stems",
    type=click.FloatRange(1),
    help="Or the stems wanted over the season: the bed is worked out.",
)
@click.option(
    "--successions",
    type=click.IntRange(1),
    default=1,
    show_default=True,
    help="How many times it is sown in the season.",
)
@click.option("--variety", multiple=True, help="A variety to order; without it, those to reorder.")
@click.option("--most", type=click.IntRange(1), help="At most so many of those to reorder.")
@click.option(
    "--plants-per-metre",
    type=click.FloatRange(0, min_open=True),
    help="Plants in a metre of bed (as in the newest trial by default).",
)
@click.option(
    "--trial-plants",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    help="Plants to order of each variety to try again, for next season's plots.",
)
@click.option(
    "--on-hand",
    multiple=True,
    callback=_on_hand,
    metavar="LOT=SEEDS",
    help="Seed on the shelf, by its lot; repeat for more.",
)
@click.option("--budget", type=click.FloatRange(0), help="What may be spent, carriage included.")
@click.option("--csv", "csv_path", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--pdf", "pdf_path", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--farm", default="", help="The name to print at the head of the order.")
@paper_option
@units_option
@store_option
@json_option
def order(
    crop: str,
    bed_metres: float | None,
    stems: float | None,
    successions: int,
    variety: tuple[str, ...],
    most: int | None,
    plants_per_metre: float | None,
    trial_plants: int,
    on_hand: dict[str, int],
    budget: float | None,
    csv_path: Path | None,
    pdf_path: Path | None,
    farm: str,
    paper: PaperSize,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Turn the choice of a CROP into the cheapest seed order over all seed houses."""
    from trials import season
    from trials.decide import Sowing
    from trials.ordering import STEMS_PER_PLANT
    from trials.report.documents import ordering_document
    from trials.report.order_page import order_page
    from trials.report.plain import json_text
    from trials.units import UnitSystem

    if (bed_metres is None) == (stems is None):
        raise click.UsageError("Name either --bed-metres or --stems.")
    path = store_path(store)
    sowing = Sowing(
        bed_metres=bed_metres or 0.0,
        successions=successions,
        varieties=variety,
        most=most,
        plants_per_metre=plants_per_metre,
        trial_plants=trial_plants,
    )
    choice = season.choose(path, crop, None if stems is None else STEMS_PER_PLANT)
    ordering = season.order(path, choice, sowing, budget, stems, on_hand)
    if csv_path is not None:
        season.write_order_csv(ordering, csv_path)
    if pdf_path is not None:
        season.write_order_pdf(ordering, pdf_path, farm=farm, on=date.today(), size=paper)
    if as_json:
        show(json_text(ordering_document(ordering)))
    else:
        show(order_page(ordering, UnitSystem(units)))
