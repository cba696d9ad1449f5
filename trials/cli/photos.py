"""The commands for photos of varieties and plots."""

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
    why_option,
)


@click.group("photo")
def photo() -> None:
    """Manage photos of varieties and plots.

    They are reduced and turned upright; place, camera and names are removed from them. They are
    stored in a folder next to the store, such as farm.photos for farm.tallybed.
    """


@photo.command()
@click.argument(
    "files",
    nargs=-1,
    required=True,
    metavar="FILE...",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
)
@click.option("--variety", help="Variety that the photos show, such as Wrenlatch.")
@click.option("--plot", metavar="CODE", help="Plot that the photos show, such as C4222.")
@click.option(
    "--day",
    "taken_on",
    required=True,
    callback=day,
    metavar="DAY",
    help="Day the photos were taken, such as 2026-08-14.",
)
@click.option("--caption", default="", show_default=False, help="What there is to see.")
@who_option
@store_option
@json_option
def add(
    files: tuple[Path, ...],
    variety: str | None,
    plot: str | None,
    taken_on: date,
    caption: str,
    who: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Add photos of a variety or a plot, at most 10 at once.

    Either every photo is stored or none. JPEG, PNG and WebP files of at most 64 megapixels are
    read.
    """
    from trials import season
    from trials.model.photo import PhotoOf
    from trials.report.photo_words import added_page
    from trials.report.plain import json_text, plain

    if (variety is None) == (plot is None):
        raise click.UsageError("Name either --variety or --plot.")
    done = season.add_photos(
        store_path(store),
        season.read_photo_files(files),
        PhotoOf(variety, plot, taken_on, caption),
        signed_by(who),
    )
    show(json_text(plain(done)) if as_json else added_page(done))


@photo.command("list")
@click.option("--variety", help="Variety whose photos to list, those of its plots too.")
@click.option("--trial", help="Trial whose plots' photos to list.")
@store_option
@json_option
def list_photos(variety: str | None, trial: str | None, store: Path | None, as_json: bool) -> None:
    """List the photos of a variety, of a trial's plots, or all."""
    from trials import season
    from trials.report.photo_words import photos_page
    from trials.report.plain import json_text, plain

    found = season.photos(store_path(store), variety, trial)
    show(json_text(plain(found)) if as_json else photos_page(found))


@photo.command("withdraw")
@click.argument("name", metavar="PHOTO")
@why_option
@who_option
@store_option
@json_option
def withdraw_photo(name: str, why: str, who: str | None, store: Path | None, as_json: bool) -> None:
    """Remove a photo that should not be there.

    PHOTO is its name as photo list prints it. The history keeps it, and undo restores it.
    """
    from trials import season
    from trials.report.history_page import changed_page, entry_document
    from trials.report.plain import json_text, plain

    entry = season.withdraw_photo(store_path(store), name, signed_by(who, why))
    show(json_text(plain(entry_document(entry))) if as_json else changed_page(entry))
