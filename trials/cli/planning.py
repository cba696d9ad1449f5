"""The verbs that lay a trial out, print it and say when its work is due."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import (
    json_option,
    paper_option,
    show,
    signed_by,
    store_option,
    store_path,
    units_option,
    who_option,
)
from trials.units import PaperSize


@click.command()
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@click.option("--propose", "only_look", is_flag=True, help="Show the layouts that fit; store none.")
@click.option(
    "--take",
    type=int,
    metavar="NUMBER",
    help="Lay out the proposal of that number instead of the plan as it is written.",
)
@click.option("--dry-run", is_flag=True, help="Lay it out and store nothing.")
@click.option(
    "--sheets",
    "into",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Print its sheets into that folder too, as the verb sheets does.",
)
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
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Show the layouts that fit the beds, lay one out by lot, and say what it will tell."""
    from trials import season
    from trials.printing import Printing
    from trials.report.plain import json_text, plain
    from trials.report.plan_page import plan_page, proposed_page, sheets_page
    from trials.units import UnitSystem

    if into is not None and (only_look or dry_run):
        raise click.UsageError("Sheets are printed of a stored trial only; leave off --sheets.")
    if only_look:
        if take is not None:
            raise click.UsageError(
                "--propose only looks; leave off --take, or leave off --propose."
            )
        asked = season.propose(store_path(store), season.plan_text(plan_file), plan_file.name)
        page = proposed_page(asked, plan_file, UnitSystem(units))
        show(json_text(plain(asked)) if as_json else page)
        return
    planned = season.plan(
        store_path(store), plan_file, take=take, dry_run=dry_run, signed=signed_by(who)
    )
    page = plan_page(planned, dry_run=dry_run, units=UnitSystem(units))
    if into is not None:
        code = planned.layout.plan.code
        how = Printing("", date.today(), size=paper, units=UnitSystem(units))
        files = season.sheets(store_path(store), code, into, how)
        page += f"\n{sheets_page(files)}"
    show(json_text(plain(planned)) if as_json else page)


@click.command()
@click.argument("trial")
@units_option
@store_option
@json_option
def calendar(trial: str, units: str, store: Path | None, as_json: bool) -> None:
    """Say when a planned trial's work is due, after what has happened so far."""
    from trials import season
    from trials.report.calendar_page import trial_calendar_page
    from trials.report.plain import json_text, plain
    from trials.report.plan_words import note_words
    from trials.units import UnitSystem

    dates = season.calendar(store_path(store), trial)
    notes = [note_words(note) for note in dates.notes]
    page = trial_calendar_page(trial, dates.tasks, dates.frost, notes, UnitSystem(units))
    show(json_text(plain(dates)) if as_json else page)


@click.command()
@click.argument("trial")
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="The folder to write to (default: this one).",
)
@click.option("--blind", is_flag=True, help="Leave the treatments off stakes and picking sheets.")
@click.option("--farm", default="", help="The farm's name, to print on every sheet.")
@click.option("--pages", help="Where the pages are, as http://192.168.1.20:8501: a code to scan.")
@click.option(
    "--stakes",
    type=click.IntRange(1, 10),
    default=2,
    show_default=True,
    help="Stake labels for each plot.",
)
@click.option(
    "--label-mm",
    type=(click.FloatRange(10, 1000), click.FloatRange(10, 1000)),
    metavar="WIDTH HEIGHT",
    help="One stake label a page of that size, for a label printer; else sheets of labels.",
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
    units: str,
    store: Path | None,
) -> None:
    """Write a planned trial's map, stakes, picking sheets, page and workbook."""
    from trials import season
    from trials.printing import Printing
    from trials.report.plan_page import sheets_page
    from trials.units import UnitSystem

    how = Printing(farm, date.today(), blind, paper, label_mm, stakes, pages, UnitSystem(units))
    show(sheets_page(season.sheets(store_path(store), trial, into, how)))
