"""The verbs that lay a trial out and print it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import json_option, show, store_option, store_path


@click.command()
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Lay it out and store nothing.")
@store_option
@json_option
def plan(plan_file: Path, dry_run: bool, store: Path | None, as_json: bool) -> None:
    """Lay a trial out by lot from its plan, and say what it will be able to tell."""
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.plan_page import plan_page

    planned = season.plan(store_path(store), plan_file, dry_run=dry_run)
    page = plan_page(planned.layout, planned.tells, dry_run=dry_run)
    show(json_text(plain(planned)) if as_json else page)


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
@store_option
def sheets(trial: str, into: Path, blind: bool, farm: str, store: Path | None) -> None:
    """Write a planned trial's map, stakes, picking sheets, page and workbook."""
    from trials import season
    from trials.report.plan_page import sheets_page

    written = season.sheets(store_path(store), trial, into, farm=farm, on=date.today(), blind=blind)
    show(sheets_page(written))
