"""The command that loads records, and how it agrees on the columns of other people's files."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import (
    accept_option,
    in_a_terminal,
    json_option,
    reference_option,
    say,
    show,
    signed_by,
    store_option,
    store_path,
    who_option,
)
from trials.cli.terminal import progress_bar
from trials.errors import RecordsRefused, TallybedError, quoted

if TYPE_CHECKING:
    from trials.model.rows import Added, Signed
    from trials.records.mapping.agreement import Agreed
    from trials.records.mapping.guess import Guess


STANDARD_INPUT = Path("-")
_BEGINNINGS = {b"PK\x03\x04": ".xlsx", b"PAR1": ".parquet"}  # of a zip archive, and of Parquet


def _answers(
    _ctx: click.Context, _param: click.Parameter, given: tuple[str, ...]
) -> dict[str, str]:
    answers = {}
    for one in given:
        key, mark, answer = one.rpartition("=")
        if not mark or not key.strip() or not answer.strip():
            raise click.BadParameter(f"{one!r} is not an answer. Write it as blank=zero.")
        answers[key.strip()] = answer.strip()
    return answers


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Check the files and store nothing.")
@click.option(
    "--agree", is_flag=True, help="Read files with columns of your own as proposed, without asking."
)
@click.option(
    "--answer",
    "answers",
    multiple=True,
    callback=_answers,
    metavar="NAME=ANSWER",
    help="Answer a question about columns of your own, such as blank=zero; repeat for more.",
)
@click.option(
    "--reading",
    type=click.Path(dir_okay=False, path_type=Path),
    help="TOML file that says how to read columns of your own; see --show-reading.",
)
@click.option(
    "--show-reading", is_flag=True, help="Print that TOML file as proposed, and store nothing."
)
@reference_option("--columns", "columns_page", "Print the columns of every file.")
@accept_option
@click.option(
    "--faults",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the faulty rows to this file (CSV or XLSX), to correct and load again.",
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
    """Load records from CSV, XLSX or Parquet files, or a folder.

    Either every row is stored or none. A single - reads standard input. Files with columns of your
    own work too: you see how they would be read, and are asked where something could mean two
    things. Your answers apply to the next file with the same headings.
    """
    from trials import season
    from trials.records.mapping.agreement import Agreed
    from trials.records.mapping.remembered import read_reading
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
    names = [str(file) for file in files]
    with _with_standard_input(files) as read:
        if show_reading:
            show(_reading_texts(season.guesses(place, read, agreed)))
            return
        try:
            added = _load(place, read, names, dry_run, agreed, signed_by(who))
        except RecordsRefused as refused:
            if faults is not None:
                rows = season.write_faults(read, refused.faults, faults)
                say(_how_to_correct(rows, faults, names))
            if as_json:
                show(json_text(plain(refusal_document(refused))))
            raise
    show(json_text(plain(added)) if as_json else load_page(added, dry_run=dry_run))


@contextmanager
def _with_standard_input(files: tuple[Path, ...]) -> Iterator[tuple[Path, ...]]:
    """The files, with what standard input has in place of a ``-``."""
    if STANDARD_INPUT not in files:
        yield files
        return
    from tempfile import TemporaryDirectory

    from trials.records.files.find import BYTES_AT_MOST

    content = sys.stdin.buffer.read(BYTES_AT_MOST + 1)
    ending = next((end for mark, end in _BEGINNINGS.items() if content.startswith(mark)), ".csv")
    with TemporaryDirectory() as folder:
        typed = Path(folder) / f"standard-input{ending}"
        typed.write_bytes(content)
        yield tuple(typed if file == STANDARD_INPUT else file for file in files)


def _how_to_correct(rows: int, faults: Path, files: Sequence[str]) -> str:
    if not rows:
        return f"Every fault is in {faults}. None is in a single row. Correct the files themselves."
    return f"Correct the rows in {faults}, then: tallybed load {quoted(*files, faults)}"


def _load(
    store: Path,
    files: tuple[Path, ...],
    names: Sequence[str],
    dry_run: bool,
    agreed: Agreed,
    signed: Signed,
) -> Added:
    from trials import season
    from trials.records.mapping.agreement import as_understood
    from trials.records.mapping.guess import ReadingNeeded
    from trials.report.reading_page import reading_page

    while True:
        try:
            with progress_bar("Reading and checking the files"):
                return season.load(store, files, dry_run=dry_run, agreed=agreed, signed=signed)
        except ReadingNeeded as needed:
            pages = [
                reading_page(guess, as_understood(guess), names, agreed.answers)
                for guess in needed.guesses
            ]
            if not in_a_terminal() or len(needed.guesses) > 1:
                raise TallybedError("\n\n".join(pages)) from needed
            say(pages[0])
            agreed = _ask(needed.guesses[0], agreed, names)


def _ask(found: Guess, agreed: Agreed, names: Sequence[str]) -> Agreed:
    """Ask in the terminal what is open, show what that comes to, and whether it is right."""
    from trials.records.mapping.agreement import as_understood, with_answers
    from trials.report.grid import for_terminal
    from trials.report.reading_page import reading_page

    given = dict(agreed.answers)
    while found.questions:
        for question in found.questions:
            kind = click.Choice(question.answers) if question.answers else None
            given[question.key] = click.prompt(for_terminal(question.words), type=kind, err=True)
        found = with_answers(found, given)
        say(reading_page(found, as_understood(found), names, given))
    if not click.confirm("Is this right?", err=True):
        raise TallybedError("Nothing was stored. Change the reading as shown above.")
    return replace(agreed, guesses=True, answers=given)


def _reading_texts(found: tuple[Guess, ...]) -> str:
    from trials.records.mapping.remembered import reading_text

    if not found:
        raise TallybedError("Every file has the columns of Tallybed. No reading is needed.")
    if len(found) > 1:
        names = ", ".join(guess.cells.file for guess in found)
        raise TallybedError(f"Show one reading at a time. Name one of: {names}.")
    return reading_text(found[0].reading, found[0].questions)
