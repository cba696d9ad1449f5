"""How somebody's own sheet would be read, shown before anything is stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from trials.errors import quoted
from trials.records.faults import shown
from trials.report.grid import Column, Table, wrapped

if TYPE_CHECKING:
    from trials.records.encoded_column import Cells
    from trials.records.mapping.guess import Guess
    from trials.records.mapping.reading import Question, ReadColumn, Reading

_MOST_REMARKS = 10  # each with its words; the rest by its rows
LEFT_OUT = "left out"
_UNITS = {"in": "inches", "ft": "feet", "m2": "m²", "sq ft": "square feet"}


def reading_page(
    found: Guess,
    rows: Cells | None,
    files: Sequence[str],
    given: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """What each column is taken for, the first rows as understood, and what to do next.

    Parameters
    ----------
    found
        The guess.
    rows
        The first rows of the sheet by it; None where its headings do not fit.
    files
        The files as they were named, for the command that goes on from here.
    given
        The answers that were given so far, for the same command.
    """
    kind = found.reading.sheet.value.replace("_", " ")
    parts = [
        f"{found.cells.file} would be read as {kind}:",
        columns_table(found).text(),
        "\n".join(f"  {line}" for line in reading_lines(found)),
    ]
    if rows is not None and len(rows):
        parts += ["The first rows as they would be read:", rows_table(rows).text()]
    once_right = "  then:             tallybed load FILE --reading reading.toml"
    named = quoted(*files)
    if found.questions:
        asked = [question_lines(question) for question in found.questions]
        every = {**given, **{question.key: "..." for question in found.questions}}
        answers = " ".join(f"--answer {quoted(f'{key}={said}')}" for key, said in every.items())
        parts += [
            "Answer first, as the file could mean two things:",
            "\n".join(asked),
            f"Answer with:      tallybed load {named} {answers}",
        ]
    else:
        parts.append(f"If this is right: tallybed load {named} --agree")
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
    from trials.records.mapping.reading import distinct

    rows = []
    for name in distinct(found.cells.heading):
        read = found.reading.column(name)
        rows.append((name, _spread_words(found.reading) if read is None else _words(read)))
    return Table((Column("column"), Column("is")), tuple(rows))


def _words(read: ReadColumn) -> str:
    if read.field is None:
        return LEFT_OUT
    unit = f", from {_UNITS.get(read.unit, read.unit)}" if read.unit is not None else ""
    above = ", a blank repeats the cell above" if read.blank == "as above" else ""
    told = f" where {read.sets[0]} is {read.sets[1]}" if read.sets is not None else ""
    return f"{read.field}{told}{unit}{above}"


def _spread_words(reading: Reading) -> str:
    spread = reading.spread
    if spread is None:
        return LEFT_OUT
    unit = f", in {_UNITS.get(spread.unit, spread.unit)}" if spread.unit is not None else ""
    below = f", and below it the {spread.below}" if spread.below is not None else ""
    return f"{spread.cells}; the heading is the {spread.headings}{below}{unit}"


def reading_lines(found: Guess) -> list[str]:
    """What else the reading says, and what it leaves out, a sentence a line."""
    reading = found.reading
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
        lines.append(f"Days without a year are in {reading.year}.")
    if reading.decimal == "comma":
        lines.append("Numbers have a decimal comma.")
    if reading.blank is not None:
        lines.append(f"A blank count means: {reading.blank}.")
    lines += [f"{mark} instead of a count means: {meaning}." for mark, meaning in reading.marks]
    lines += [f"{kind.capitalize()} are read as: {answer}." for kind, answer in reading.cells]
    lines += [f"{shown(short)} is {name}." for short, name in reading.called]
    lines += [f"{key.capitalize()}: {answer}." for key, answer in reading.once]
    if reading.grades:
        grades = ", ".join(map(str, reading.grades))
        lines.append(
            f"Grades in inches are read as this trial's grades, within half an inch: {grades} cm."
        )
    return [*lines, *_left_out_lines(found)]


def _left_out_lines(found: Guess) -> list[str]:
    """The rows that are no records, a sentence a line."""
    from trials.records.mapping.gaps import is_ditto, is_repeatable
    from trials.records.mapping.reading import distinct
    from trials.records.mapping.totals import rows_of

    cells = found.cells
    rows = rows_of(found.reading, cells, found.plots)
    lines = []
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    if any(any(map(is_ditto, c.used())) and is_repeatable(found.reading, n) for n, c in named):
        lines.append("Ditto marks repeat the cell above them.")
    if cells.repeated:
        lines.append(f"Left out, as the headings are repeated: {_rows(cells.repeated)}.")
    if rows.totals.any():
        lines.append(f"Left out as totals: {_rows(cells.row_numbers[rows.totals].tolist())}.")
    remarks = rows.remarks.nonzero()[0]
    for place in remarks[:_MOST_REMARKS]:
        said = next(text for text in cells.row(int(place)) if text.strip())
        lines.append(f"Left out as a remark: row {cells.row_numbers[place]}, {shown(said)}.")
    if len(remarks) > _MOST_REMARKS:
        rest = cells.row_numbers[remarks[_MOST_REMARKS:]].tolist()
        lines.append(f"Left out as remarks too: {_rows(rest)}.")
    return lines


def _rows(numbers: Sequence[int]) -> str:
    said = ", ".join(map(str, numbers[:10]))
    more = f" and {len(numbers) - 10} more" if len(numbers) > 10 else ""
    return f"row{'s' if len(numbers) > 1 else ''} {said}{more}"


def rows_table(rows: Cells) -> Table:
    """Rows as they were understood, with the row of the source they stand in."""
    columns = (Column("row", right=True), *(Column(name) for name in rows.heading))
    cells = tuple((str(rows.row_numbers[place]), *rows.row(place)) for place in range(len(rows)))
    return Table(columns, cells)
