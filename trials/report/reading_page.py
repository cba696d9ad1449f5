"""How somebody's own sheet would be read, shown before anything is stored."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trials.report.grid import Column, Table, wrapped

if TYPE_CHECKING:
    from trials.records.reading import ReadColumn, Reading
    from trials.records.reading_guess import Guess
    from trials.records.reading_questions import Question
    from trials.records.spellings import Cells

LEFT_OUT = "left out"
_UNITS = {"in": "inches", "ft": "feet", "m2": "m²", "sq ft": "square feet"}


def reading_page(found: Guess, rows: Cells | None, files: Sequence[str]) -> str:
    """What each column is taken for, the first rows as understood, and what to do next.

    Parameters
    ----------
    found
        The guess.
    rows
        The first rows of the sheet by it; None where its headings do not fit.
    files
        The files as they were named, for the command that goes on from here.
    """
    kind = found.reading.sheet.value.replace("_", " ")
    parts = [
        f"{found.cells.file} is not one of our own sheets. It would be read as {kind}:",
        columns_table(found).text(),
        "\n".join(f"  {line}" for line in reading_lines(found.reading)),
    ]
    if rows is not None and len(rows):
        parts += ["The first rows, as understood:", rows_table(rows).text()]
    once_right = "  and, once right:  tallybed load FILE --reading reading.toml"
    named = " ".join(f'"{file}"' if " " in file else file for file in files)
    if found.questions:
        asked = [question_lines(question) for question in found.questions]
        answers = " ".join(f'--answer "{q.key}=..."' for q in found.questions)
        parts += [
            "To be answered first, because it could mean two things:",
            "\n".join(asked),
            f"Answer with:      tallybed load {named} {answers}",
        ]
    else:
        parts.append(f"If that is right: tallybed load {named} --agree")
    parts += [
        f"To change it:     tallybed load {named} --show-reading > reading.toml\n{once_right}",
        "Nothing is stored yet.",
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def question_lines(question: Question) -> str:
    """One question, with its name and the answers there are."""
    answers = f" Answer: {', '.join(question.answers)}." if question.answers else ""
    return wrapped(f"{question.key}: {question.words}{answers}")


def columns_table(found: Guess) -> Table:
    """What each heading of the source is taken for."""
    from trials.records.reading import distinct

    rows = []
    for name in distinct(found.cells.heading):
        read = found.reading.column(name)
        rows.append((name, _spread_words(found.reading) if read is None else _words(read)))
    return Table((Column("column"), Column("is")), tuple(rows))


def _words(read: ReadColumn) -> str:
    if read.field is None:
        return LEFT_OUT
    unit = f", from {_UNITS.get(read.unit, read.unit)}" if read.unit is not None else ""
    above = ", a blank as above" if read.blank == "as above" else ""
    told = f" where {read.sets[0]} is {read.sets[1]}" if read.sets is not None else ""
    return f"{read.field}{told}{unit}{above}"


def _spread_words(reading: Reading) -> str:
    spread = reading.spread
    if spread is None:
        return LEFT_OUT
    unit = f", in {_UNITS.get(spread.unit, spread.unit)}" if spread.unit is not None else ""
    return f"{spread.cells}; the heading is the {spread.headings}{unit}"


def reading_lines(reading: Reading) -> list[str]:
    """What else the reading says, a sentence a line."""
    lines = [
        f"Every row has {name} {says}.".replace(" plot by ", " a plot with ")
        for name, says in reading.always
    ]
    if reading.trial is not None:
        lines.append(f"The plots are those of {reading.trial}.")
    if reading.spread is not None:
        lines.append(
            f"The heading of each other column is the {reading.spread.headings}, and the cells "
            f"under it are {reading.spread.cells}."
        )
    if reading.dates is not None:
        lines.append(f"Days are written with the {reading.dates}.")
    if reading.year is not None:
        lines.append(f"Days without a year are of {reading.year}.")
    if reading.decimal == "comma":
        lines.append("A comma stands before a fraction.")
    if reading.blank is not None:
        lines.append(f"A blank count says: {reading.blank}.")
    lines += [f"{mark} in place of a count says: {meaning}." for mark, meaning in reading.marks]
    if reading.no_records:
        words = ", ".join(reading.no_records)
        lines.append(f"Rows that begin with {words} are totals and are left out.")
    return lines


def rows_table(rows: Cells) -> Table:
    """Rows as they were understood, with the row of the source they stand in."""
    columns = (Column("row", right=True), *(Column(name) for name in rows.heading))
    cells = tuple((str(rows.row_numbers[place]), *rows.row(place)) for place in range(len(rows)))
    return Table(columns, cells)
