"""The verbs that list trials and end a season."""

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


@click.command("trials")
@store_option
@json_option
def list_trials(store: Path | None, as_json: bool) -> None:
    """List the trials of the store and what each needs next."""
    from trials import season
    from trials.report.pages import trials_page
    from trials.report.plain import json_text, plain

    found = season.trials(store_path(store))
    show(json_text(plain(found)) if as_json else trials_page(found))


@click.command()
@click.argument("trial")
@click.option(
    "--on",
    "planted_on",
    required=True,
    callback=day,
    metavar="DATE",
    help="The day it was planted out, such as 2026-05-20.",
)
@click.option("--plot", "plots", multiple=True, help="Only this plot; may be repeated.")
@store_option
@json_option
def planted(
    trial: str, planted_on: date, plots: tuple[str, ...], store: Path | None, as_json: bool
) -> None:
    """Record the day a trial was planted out; from then on its layout is fixed."""
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
    help="The day the season ended, such as 2026-10-14.",
)
@click.option("--reason", default="first frost", show_default=True, help="What ended it.")
@who_option
@store_option
@json_option
def close(
    trial: str, closed_on: date, reason: str, who: str | None, store: Path | None, as_json: bool
) -> None:
    """End a trial's season and say what its records hold and lack."""
    from trials import season
    from trials.report.pages import closing_page
    from trials.report.plain import json_text, plain

    closing = season.close(store_path(store), trial, closed_on, reason, signed_by(who))
    show(json_text(plain(closing)) if as_json else closing_page(closing))
