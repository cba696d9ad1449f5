"""The commands that list trials, set units, and record planting and closing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import (
    day,
    json_option,
    show,
    signed_by,
    store_option,
    store_path,
    who_option,
)
from trials.model.units import UnitSystem


@click.command("trials")
@store_option
@json_option
def list_trials(store: Path | None, as_json: bool) -> None:
    """List the stored trials and what each needs next."""
    from trials import season
    from trials.report.pages import trials_page
    from trials.report.plain import json_text, plain

    found = season.trials(store_path(store))
    show(json_text(plain(found)) if as_json else trials_page(found))


@click.command()
@click.argument(
    "chosen", metavar="[metric|us]", type=click.Choice(["metric", "us"]), required=False
)
@store_option
@json_option
def units(chosen: str | None, store: Path | None, as_json: bool) -> None:
    """Show the farm's units, or set them for every page and sheet."""
    from trials import season
    from trials.report.pages import units_page
    from trials.report.plain import json_text

    if chosen is not None:
        season.set_farm_units(store_path(store), UnitSystem(chosen))
    found = season.farm_units(store_path(store))
    show(json_text({"units": found.value}) if as_json else units_page(found))


@click.command()
@click.argument("trial")
@click.option(
    "--on",
    "planted_on",
    required=True,
    callback=day,
    metavar="DATE",
    help="Day it was planted out, such as 2026-05-20.",
)
@click.option(
    "--plot",
    "plots",
    multiple=True,
    help="Only this plot, such as C6222; repeat for more (default: all).",
)
@store_option
@json_option
def planted(
    trial: str, planted_on: date, plots: tuple[str, ...], store: Path | None, as_json: bool
) -> None:
    """Record the day a trial was planted out.

    From then on its layout is fixed.
    """
    from trials import season
    from trials.report.pages import planted_page
    from trials.report.plain import json_text, plain

    added = season.planted(store_path(store), trial, planted_on, plots)
    show(json_text(plain(added)) if as_json else planted_page(trial, planted_on, plots))


@click.command()
@click.argument("trial")
@click.option(
    "--on",
    "closed_on",
    required=True,
    callback=day,
    metavar="DATE",
    help="Day the season ended, such as 2026-10-14.",
)
@click.option("--reason", default="first frost", help="What ended the season.")
@who_option
@store_option
@json_option
def close(
    trial: str, closed_on: date, reason: str, who: str | None, store: Path | None, as_json: bool
) -> None:
    """Close a trial after its season.

    Shows what its records contain and what is missing. A closed trial takes no new records.
    """
    from trials import season
    from trials.report.pages import closing_page
    from trials.report.plain import json_text, plain

    closing = season.close(store_path(store), trial, closed_on, reason, signed_by(who))
    show(json_text(plain(closing)) if as_json else closing_page(closing))
