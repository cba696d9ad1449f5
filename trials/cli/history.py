"""The verbs for records that are wrong: correct, withdraw, undo, and the history of it all."""

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
    from trials.model import Entry

_FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
_SEEN = click.option(
    "--seen",
    type=click.IntRange(0),
    metavar="ENTRY",
    help="The newest entry of the history when you looked: if somebody changed the same records "
    "since, nothing is changed and you are told.",
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
    """Put right what is stored, by corrected sheets of the same form: all of it, or nothing.

    Of a picking day give every row of the plot: they take the place of all that is stored of that
    plot and day. Rows that are stored just so may stay in the file. What was stored before is
    kept in the history. A closed trial may be corrected; its pages then say so.
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
    """Take out records that should never have been: the files name them word for word.

    Stand counts, cuts, stem samples, events and scores can be withdrawn. They stay in the history.
    """
    from trials import season

    entry = season.withdraw(store_path(store), files, signed_by(who, why), seen=seen)
    _show(entry, as_json)


@click.command()
@click.argument("entry", required=False, type=click.IntRange(1))
@click.option("--why", help="Why, in a few words: the history keeps it.")
@who_option
@store_option
@json_option
def undo(
    entry: int | None, why: str | None, who: str | None, store: Path | None, as_json: bool
) -> None:
    """Take an ENTRY of the history back (your own newest, if none is named).

    What was stored before it is stored again; undoing an undo brings the entry back, and undoing
    a closing opens the trial again.
    """
    from trials import season

    _show(season.undo(store_path(store), entry, signed_by(who, why)), as_json)


@click.command()
@click.argument("of", required=False, metavar="[TRIAL|PLOT]")
@click.option(
    "--last",
    type=click.IntRange(1),
    help="Only so many of the newest entries (20, if neither trial nor plot is named).",
)
@store_option
@json_option
def history(of: str | None, last: int | None, store: Path | None, as_json: bool) -> None:
    """Show who changed what, when and why: of a TRIAL, of a PLOT, or of everything."""
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
