"""The verbs that keep records safe and pass them on: check, copies, and open packages."""

from __future__ import annotations

from pathlib import Path

import click

from trials.cli.options import json_option, show, store_option, store_path


@click.command()
@store_option
@json_option
@click.pass_context
def check(context: click.Context, store: Path | None, as_json: bool) -> None:
    """Read the whole store and say whether anything in it is broken (exit code 2 if so)."""
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import check_page

    found = season.check(store_path(store))
    show(json_text(plain(found)) if as_json else check_page(found))
    if not found.whole:
        context.exit(2)


@click.command()
@click.option(
    "--to",
    "into",
    type=click.Path(file_okay=False, path_type=Path),
    help="The folder to put the copy in (default: one beside the store).",
)
@store_option
@json_option
def backup(into: Path | None, store: Path | None, as_json: bool) -> None:
    """Make a verified copy of the store, while others may go on working."""
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import backup_page

    made = season.backup(store_path(store), into)
    show(json_text(plain(made)) if as_json else backup_page(made))


@click.command()
@click.argument(
    "folder", metavar="BACKUP", type=click.Path(file_okay=False, exists=True, path_type=Path)
)
@click.option(
    "--to",
    "to",
    required=True,
    metavar="STORE",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The store to put it back as. One that is there is kept under another name.",
)
@json_option
def restore(folder: Path, to: Path, as_json: bool) -> None:
    """Put a backup back as a store, and prove it equal."""
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import restored_page

    done = season.restore(folder, to)
    show(json_text(plain(done)) if as_json else restored_page(done))


@click.command()
@click.argument("trial")
@click.option(
    "--to",
    "into",
    required=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="The folder to make; there must be nothing there yet.",
)
@click.option(
    "--licence",
    metavar="NAME",
    help="What others may do with it: CC0-1.0, CC-BY-4.0, CC-BY-SA-4.0, CC-BY-NC-4.0 or ODbL-1.0.",
)
@click.option(
    "--names",
    is_flag=True,
    help="Say by name who made each entry of the history. Without it persons are numbered.",
)
@store_option
@json_option
def package(
    trial: str, into: Path, licence: str | None, names: bool, store: Path | None, as_json: bool
) -> None:
    """Write a trial as an open data package, with its history, that others can read."""
    from trials import season
    from trials.report.package_page import packed_page
    from trials.report.plain import json_text, plain

    packed = season.package(store_path(store), trial, into, licence, names=names)
    show(json_text(plain(packed)) if as_json else packed_page(packed))


@click.command()
@click.argument(
    "folder", metavar="FOLDER", type=click.Path(file_okay=False, exists=True, path_type=Path)
)
@store_option
@json_option
def unpack(folder: Path, store: Path | None, as_json: bool) -> None:
    """Bring the trial of an open data package, and its history, into a store: all, or nothing."""
    from trials import season
    from trials.report.package_page import unpacked_page
    from trials.report.plain import json_text, plain

    unpacked = season.unpack(folder, store_path(store))
    show(json_text(plain(unpacked)) if as_json else unpacked_page(unpacked))
