"""The commands for wrong records: correct, withdraw, undo, and their history."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import (
    accept_option,
    json_option,
    show,
    signed_by,
    store_option,
    store_path,
    who_option,
    why_option,
)

if TYPE_CHECKING:
    from trials.model.trial import Entry

_FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
_SEEN = click.option(
    "--seen",
    type=click.IntRange(0),
    metavar="CHANGE",
    help="Number of the newest change you have seen. If somebody changed the same records since, "
    "nothing is stored and you are told.",
)


@click.command()
@_FILES
@why_option
@accept_option
@_SEEN
@who_option
@store_option
@json_option
def correct(
    files: tuple[Path, ...],
    why: str,
    accept: str | None,
    seen: int | None,
    who: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Correct stored records from files with the right rows.

    Either every row is corrected or none. For a harvest, give every row for that plot and day:
    they replace all its stored rows. Rows that have not changed may stay in the file. The history
    keeps the earlier rows. A closed trial may be corrected; its results then say so.
    """
    from trials import season

    entry = season.correct(store_path(store), files, signed_by(who, why), seen=seen, accept=accept)
    _show(entry, as_json)


@click.command()
@_FILES
@why_option
@_SEEN
@who_option
@store_option
@json_option
def withdraw(
    files: tuple[Path, ...],
    why: str,
    seen: int | None,
    who: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Remove stored records that should never have been there.

    The files contain the rows exactly as they are stored. Stand counts, cuts, stem samples, events
    and scores can be withdrawn. They stay in the history.
    """
    from trials import season

    entry = season.withdraw(store_path(store), files, signed_by(who, why), seen=seen)
    _show(entry, as_json)


@click.command()
@click.argument("change", required=False, type=click.IntRange(1))
@click.option("--why", help="Reason to store with the change.")
@who_option
@store_option
@json_option
def undo(
    change: int | None, why: str | None, who: str | None, store: Path | None, as_json: bool
) -> None:
    """Undo a change; without a number, your own newest.

    The records become what they were before CHANGE. Undoing an undo restores the change, and
    undoing a closing opens the trial again.
    """
    from trials import season

    _show(season.undo(store_path(store), change, signed_by(who, why)), as_json)


@click.command()
@click.argument("of", required=False, metavar="[TRIAL|PLOT]")
@click.option(
    "--last",
    type=click.IntRange(1),
    help="Number of newest changes to show (default: all; 20 without a trial or plot).",
)
@store_option
@json_option
def history(of: str | None, last: int | None, store: Path | None, as_json: bool) -> None:
    """Show who changed what, when and why: for a trial, a plot or all."""
    from trials import season
    from trials.report.history_page import history_document, history_page
    from trials.report.plain import json_text, plain

    if last is None and of is None:
        last = 20
    entries = season.history(store_path(store), of, last)
    show(json_text(plain(history_document(entries))) if as_json else history_page(entries, of))


def _show(entry: Entry | None, as_json: bool) -> None:
    from trials.report.history_page import changed_page, entry_document
    from trials.report.plain import json_text, plain

    if as_json:
        show(json_text(None if entry is None else plain(entry_document(entry))))
    else:
        show(changed_page(entry))
