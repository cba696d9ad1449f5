"""The commands that plan a trial, print its sheets and show when its work is due."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import (
    json_option,
    paper_option,
    readers_units,
    reference_option,
    show,
    signed_by,
    store_option,
    store_path,
    units_option,
    who_option,
)
from trials.model.units import PaperSize


@click.command()
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@click.option(
    "--propose", "only_look", is_flag=True, help="Show the layouts that fit, and store none."
)
@click.option(
    "--take",
    type=int,
    metavar="NUMBER",
    help="Use this proposed layout, such as 3, instead of the plan as written.",
)
@click.option("--dry-run", is_flag=True, help="Show the plan and store nothing.")
@click.option(
    "--sheets",
    "into",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Also print the sheets to this folder, as tallybed sheets does.",
)
@reference_option("--keys", "plan_keys_page", "Print what a plan can contain.")
@paper_option
@who_option
@units_option
@store_option
@json_option
def plan(
    plan_file: Path,
    only_look: bool,
    take: int | None,
    dry_run: bool,
    into: Path | None,
    paper: PaperSize,
    who: str | None,
    units: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Plan a randomised trial that fits your beds.

    PLAN.toml says what is compared and where. `tallybed plan --keys` lists what it can contain.
    """
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.plan_page import plan_page, proposed_page, sheets_page
    from trials.season.printing import Printing

    if into is not None and (only_look or dry_run):
        raise click.UsageError("Only a stored trial has sheets. Leave out --sheets.")
    if only_look:
        if take is not None:
            raise click.UsageError(
                "--propose shows layouts and --take stores one. Leave out one of them."
            )
        asked = season.propose(store_path(store), season.plan_text(plan_file), plan_file.name)
        page = proposed_page(asked, plan_file, readers_units(units, store))
        show(json_text(plain(asked)) if as_json else page)
        return
    planned = season.plan(
        store_path(store), plan_file, take=take, dry_run=dry_run, signed=signed_by(who)
    )
    page = plan_page(planned, dry_run=dry_run, units=readers_units(units, store))
    if into is not None:
        code = planned.layout.plan.code
        how = Printing("", date.today(), size=paper, units=readers_units(units, store))
        files = season.sheets(store_path(store), code, into, how)
        page += f"\n{sheets_page(files)}"
    show(json_text(plain(planned)) if as_json else page)


@click.command()
@click.argument("trial")
@units_option
@store_option
@json_option
def calendar(trial: str, units: str | None, store: Path | None, as_json: bool) -> None:
    """Show when a trial's work is due."""
    from trials import season
    from trials.report.calendar_page import trial_calendar_page
    from trials.report.plain import json_text, plain

    dates = season.calendar(store_path(store), trial)
    page = trial_calendar_page(trial, dates, readers_units(units, store))
    show(json_text(plain(dates)) if as_json else page)


@click.command()
@click.argument("trial")
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="Folder to write to.",
)
@click.option("--blind", is_flag=True, help="Print no treatments on stakes and picking sheets.")
@click.option("--farm", default="", show_default=False, help="Farm name to print on every sheet.")
@click.option(
    "--pages", help="Address of the pages, such as http://192.168.1.20:8501; prints a code to scan."
)
@click.option(
    "--stakes",
    type=click.IntRange(1, 10),
    default=2,
    help="Number of stake labels per plot.",
)
@click.option(
    "--label-mm",
    type=(click.FloatRange(10, 1000), click.FloatRange(10, 1000)),
    metavar="WIDTH HEIGHT",
    help="Print one stake label per page of this size, such as 89 36, for a label printer "
    "(default: sheets of labels).",
)
@paper_option
@units_option
@store_option
def sheets(
    trial: str,
    into: Path,
    blind: bool,
    farm: str,
    pages: str | None,
    stakes: int,
    label_mm: tuple[float, float] | None,
    paper: PaperSize,
    units: str | None,
    store: Path | None,
) -> None:
    """Print a trial's map, stakes, sheets and workbook."""
    from trials import season
    from trials.report.plan_page import sheets_page
    from trials.season.printing import Printing

    how = Printing(
        farm, date.today(), blind, paper, label_mm, stakes, pages, readers_units(units, store)
    )
    show(sheets_page(season.sheets(store_path(store), trial, into, how)))
