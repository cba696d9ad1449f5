"""The verbs that keep the store safe: is it whole, a copy of it, and a copy put back."""

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
