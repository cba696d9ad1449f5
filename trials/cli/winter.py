"""The command that plans a winter over all crops."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import json_option, paper_option, show, store_option, store_path
from trials.cli.seed import on_hand_option, tested_option, without_house_option
from trials.cli.terminal import progress_bar
from trials.model.units import PaperSize


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@on_hand_option
@tested_option
@without_house_option
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    help="Also write orders, sowing list and calendar to this folder, such as winter-2027.",
)
@click.option("--farm", default="", show_default=False, help="Farm name to print on every page.")
@paper_option
@store_option
@json_option
def winter(
    file: Path,
    on_hand: dict[str, int],
    tested: dict[str, tuple[tuple[int, int], ...]],
    without_house: tuple[str, ...],
    into: Path | None,
    farm: str,
    paper: PaperSize,
    store: Path | None,
    as_json: bool,
) -> None:
    """Plan next season's sowings over all crops and markets.

    FILE gives beds, markets, hours and budget. All crops share one seed order.
    """
    from trials.records.plan.winter_file import winter_wishes
    from trials.report.documents import winter_document
    from trials.report.plain import json_text
    from trials.report.winter_page import winter_page
    from trials.season.winter import winter as plan_winter
    from trials.season.winter_files import write_winter

    wishes = winter_wishes(file)
    with progress_bar("Planning the winter"):
        found = plan_winter(
            store_path(store), wishes, on_hand, tested, without_houses=without_house
        )
    written = (
        () if into is None else write_winter(found, into, farm=farm, on=date.today(), size=paper)
    )
    if as_json:
        show(json_text(winter_document(found)))
    else:
        show(winter_page(found))
        for path in written:
            show(f"Written: {path}\n")
