"""The verb that brings records in, and how it agrees on sheets that are not ours."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import (
    accept_option,
    json_option,
    say,
    show,
    signed_by,
    store_option,
    store_path,
    who_option,
)
from trials.errors import ReadingNeeded, RecordsRefused, TallybedError

if TYPE_CHECKING:
    from trials.batch import Added, Signed
    from trials.records.agreeing import Agreed
    from trials.records.reading_guess import Guess


def _answers(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> dict[str, str]:
    answers = {}
    for one in given:
        key, mark, answer = one.rpartition("=")
        if not mark or not key.strip() or not answer.strip():
            raise click.BadParameter(f"{one!r} is no answer. Write it as: blank=zero")
        answers[key.strip()] = answer.strip()
    return answers


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Judge the files and store nothing.")
@click.option("--agree", is_flag=True, help="Read sheets of your own as guessed.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    callback=_answers,
    metavar="NAME=ANSWER",
    help='Answer a question about a sheet of your own, such as "blank=zero"; repeat for more.',
)
@click.option(
    "--reading",
    type=click.Path(dir_okay=False, path_type=Path),
    help="A file that says how these sheets are read.",
)
@click.option("--show-reading", is_flag=True, help="Print such a file as guessed; store nothing.")
@accept_option
@click.option(
    "--faults",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the faulty rows to this file (CSV or XLSX), to be mended and loaded again.",
)
@who_option
@store_option
@json_option
def load(
    files: tuple[Path, ...],
    dry_run: bool,
    agree: bool,
    answers: dict[str, str],
    reading: Path | None,
    show_reading: bool,
    accept: str | None,
    faults: Path | None,
    who: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Bring records in from CSV, XLSX or Parquet files or a folder: all of it, or nothing.

    Sheets of your own are read too: it shows how it would read them and asks where it could mean
    two things; what was agreed holds for the next file with the same headings.
    """
    from trials import season
    from trials.records.agreeing import Agreed
    from trials.records.reading_file import read_reading
    from trials.report.pages import load_page, refusal_document
    from trials.report.plain import json_text, plain

    agreed = Agreed(
        given=None if reading is None else read_reading(reading),
        guesses=agree,
        answers=answers,
        accept=accept,
    )
    if faults is not None and faults.absolute() in {file.absolute() for file in files}:
        raise TallybedError(f"{faults} is one of the files to load. Name another for the faults.")
    place = store_path(store)
    if show_reading:
        show(_reading_texts(season.guesses(place, files, agreed)))
        return
    try:
        added = _load(place, files, dry_run, agreed, signed_by(who))
    except RecordsRefused as refused:
        if faults is not None:
            rows = season.write_faults(files, refused.faults, faults)
            say(_how_to_mend(rows, faults, files))
        if as_json:
            show(json_text(plain(refusal_document(refused))))
        raise
    show(json_text(plain(added)) if as_json else load_page(added, dry_run=dry_run))


def _how_to_mend(rows: int, faults: Path, files: tuple[Path, ...]) -> str:
    if not rows:
        return f"Every fault is in {faults}. None stands in a row: mend the files themselves."
    names = " ".join(f'"{name}"' if " " in str(name) else str(name) for name in (*files, faults))
    return f"Mend the rows in {faults}, then: tallybed load {names}"


def _load(
    store: Path, files: tuple[Path, ...], dry_run: bool, agreed: Agreed, signed: Signed
) -> Added:
    from trials import season
    from trials.records.agreeing import as_understood
    from trials.report.reading_page import reading_page

    names = [str(file) for file in files]
    while True:
        try:
            return season.load(store, files, dry_run=dry_run, agreed=agreed, signed=signed)
        except ReadingNeeded as needed:
            pages = [reading_page(guess, as_understood(guess), names) for guess in needed.guesses]
            if not (sys.stdin.isatty() and sys.stderr.isatty()) or len(needed.guesses) > 1:
                raise TallybedError("\n\n".join(pages)) from needed
            say(pages[0])
            agreed = _ask(needed.guesses[0], agreed, names)


def _ask(found: Guess, agreed: Agreed, names: list[str]) -> Agreed:
    """Ask in the terminal what is open, show what that comes to, and whether it is right."""
    from trials.records.agreeing import as_understood, with_answers
    from trials.report.grid import for_terminal
    from trials.report.reading_page import reading_page

    given = dict(agreed.answers)
    while found.questions:
        for question in found.questions:
            kind = click.Choice(question.answers) if question.answers else None
            given[question.key] = click.prompt(for_terminal(question.words), type=kind, err=True)
        found = with_answers(found, given)
        say(reading_page(found, as_understood(found), names))
    if not click.confirm("Is that right?", err=True):
        raise TallybedError("Nothing was stored. Change the reading as shown above.")
    return replace(agreed, guesses=True, answers=given)


def _reading_texts(found: tuple[Guess, ...]) -> str:
    from trials.records.reading_file import reading_text

    if not found:
        raise TallybedError("Every sheet is one of our own: no reading is needed.")
    if len(found) > 1:
        names = ", ".join(guess.cells.file for guess in found)
        raise TallybedError(f"Show one reading at a time; here are: {names}.")
    return reading_text(found[0].reading, found[0].questions)
