"""The commands that verify and copy a store, and those for data packages."""

from __future__ import annotations

from pathlib import Path

import click

from trials.cli.options import json_option, show, store_option, store_path
from trials.cli.terminal import progress_bar


@click.command()
@store_option
@json_option
@click.pass_context
def verify(context: click.Context, store: Path | None, as_json: bool) -> None:
    """Verify that nothing in the store is damaged.

    Reads every row and every file block. The exit code is 2 if something is damaged.
    """
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import check_page

    with progress_bar("Verifying the store"):
        found = season.check(store_path(store))
    show(json_text(plain(found)) if as_json else check_page(found))
    if not found.whole:
        context.exit(2)


@click.command()
@click.option(
    "--to",
    "into",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the copy (default: the backups folder next to the store).",
)
@store_option
@json_option
def backup(into: Path | None, store: Path | None, as_json: bool) -> None:
    """Back up the store to a verified copy.

    Others can go on working meanwhile.
    """
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import backup_page

    with progress_bar("Backing up"):
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
    help="Store file to make. A file already there is renamed.",
)
@json_option
def restore(folder: Path, to: Path, as_json: bool) -> None:
    """Restore a backup to a store, and verify that both are equal."""
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.safety_page import restored_page

    with progress_bar("Restoring"):
        done = season.restore(folder, to)
    show(json_text(plain(done)) if as_json else restored_page(done))


@click.command()
@click.argument("trials", metavar="[TRIAL]...", nargs=-1)
@click.option(
    "--closed", is_flag=True, help="Write every closed trial, each in a folder of its own."
)
@click.option(
    "--to",
    "into",
    required=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="New folder to make for the package.",
)
@click.option(
    "--licence",
    metavar="NAME",
    help="Licence for others: CC0-1.0, CC-BY-4.0, CC-BY-SA-4.0, CC-BY-NC-4.0 or ODbL-1.0 "
    "(default: none).",
)
@click.option(
    "--names",
    is_flag=True,
    help="Show by name who made each change (default: people are numbered).",
)
@store_option
@json_option
def package(
    trials: tuple[str, ...],
    closed: bool,
    into: Path,
    licence: str | None,
    names: bool,
    store: Path | None,
    as_json: bool,
) -> None:
    """Write trials and their history as open data packages."""
    from trials import season
    from trials.report.package_page import packed_page
    from trials.report.plain import json_text, plain

    if closed == bool(trials):
        raise click.UsageError("Name one trial or several, or give --closed for every closed one.")
    if len(trials) == 1:
        with progress_bar("Writing the package"):
            packed = season.package(store_path(store), trials[0], into, licence, names=names)
        show(json_text(plain(packed)) if as_json else packed_page(packed))
        return
    with progress_bar("Writing packages"):
        many = season.package_many(store_path(store), trials, into, licence, names=names)
    show(json_text(plain(many)) if as_json else "\n".join(packed_page(each) for each in many))


@click.command()
@click.argument(
    "folder", metavar="FOLDER", type=click.Path(file_okay=False, exists=True, path_type=Path)
)
@store_option
@json_option
def unpack(folder: Path, store: Path | None, as_json: bool) -> None:
    """Import a trial and its history from a data package."""
    from trials import season
    from trials.report.package_page import unpacked_page
    from trials.report.plain import json_text, plain

    with progress_bar("Importing the package"):
        unpacked = season.unpack(folder, store_path(store))
    show(json_text(plain(unpacked)) if as_json else unpacked_page(unpacked))
