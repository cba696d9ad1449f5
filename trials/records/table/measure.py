"""Says what a table's measure is: a figure, a count, a count per plant, or a share of a number."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Wrong
from trials.records.rules.one_level import tidy
from trials.records.table.columns import TableColumns
from trials.stats.checks.zero_counts import SHARE
from trials.stats.design.table import Floats

# Whole numbers under a heading with one of these words are measured, not counted.
_MEASURED = frozenset(
    {
        *("cm", "mm", "m", "in", "inch", "inches", "ft", "kg", "g", "lb", "oz"),
        *("day", "days", "date", "hours", "height", "length", "width", "diameter", "weight"),
        *("yield", "score", "rating", "rank", "grade", "percent", "percentage", "pct"),
        *("temperature", "price", "cost", "income", "value"),
    }
)
_PERCENT = frozenset({"percent", "percentage", "pct"})
_WORDS = re.compile(r"[^\W\d_]+")
# A share may be rounded to two decimals, or to whole per cent.
_ROUNDED = 0.00501


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The measure of a table's rows.

    Attributes
    ----------
    y
        The measure (n,), NaN where it was not recorded.
    numbers
        What ``y`` was counted on or of (n,): plants, the number that it is a share of, or 1 for
        a plain count; None where nothing was counted.
    """

    name: str
    unit: str
    y: Floats
    numbers: Floats | None


def measured(
    cells: Cells, columns: TableColumns, found: Mapping[str, Floats], faults: Faults
) -> Measured:
    """The measure that the columns name, its numbers as ``found``; ``faults`` has what is wrong."""
    y = found[columns.measure]
    if columns.of is not None:
        return _share(cells, columns, columns.of, found, faults)
    if columns.plants is not None:
        plants = found[columns.plants]
        _fault(
            cells,
            columns.plants,
            plants <= 0,
            Wrong(
                "A plot without plants has no stems per plant.",
                "Write the number of living plants, or leave the cell empty where nobody counted.",
            ),
            faults,
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            return Measured(f"{columns.measure} per {columns.plants}", "", y / plants, plants)
    counted = np.ones(len(y)) if _is_a_count(columns.measure, y) else None
    return Measured(columns.measure, "", y, counted)


def _words(heading: str) -> set[str]:
    return set(_WORDS.findall(tidy(heading).replace("_", " ").casefold()))


def _is_a_count(heading: str, y: Floats) -> bool:
    known = y[np.isfinite(y)]
    whole = bool(known.size and (known == np.round(known)).all() and known.min() >= 0)
    return whole and known.max() > 1 and not _words(heading) & _MEASURED and "%" not in heading


def _share(
    cells: Cells,
    columns: TableColumns,
    of: str,
    found: Mapping[str, Floats],
    faults: Faults,
) -> Measured:
    measure, y, numbers = columns.measure, found[columns.measure], found[of].copy()
    if columns.plants is not None:
        wrong = Wrong(
            "The measure is divided by --plants or is a share of --of, not both.",
            "Leave one of them out.",
        )
        faults.add(cells.file, cells.heading_row, of, wrong)
    _fault(
        cells,
        of,
        (numbers < 0) | (np.isfinite(numbers) & (numbers != np.round(numbers))),
        Wrong("The total of a share must be a whole number.", "Write how many there were in all."),
        faults,
    )
    percent = bool(_words(measure) & _PERCENT) or "%" in measure
    shares = y / 100 if percent else y
    with np.errstate(invalid="ignore"):
        if percent or (np.nanmax(y, initial=0) <= 1 and (y != np.round(y))[np.isfinite(y)].any()):
            name, counts = measure, np.round(shares * numbers)
            rounded = np.abs(counts - shares * numbers) <= _ROUNDED * numbers
            _fault(
                cells,
                measure,
                np.isfinite(shares * numbers) & ~rounded,
                Wrong(
                    f"This share of the number in {of} does not make a whole number.",
                    "Write how many there were instead of the share.",
                ),
                faults,
            )
        else:
            name, counts = f"{measure} of {of}", y
            _fault(
                cells,
                measure,
                np.isfinite(y) & (y != np.round(y)),
                Wrong("This is neither a share nor a whole number.", "Write how many there were."),
                faults,
            )
        wrong = Wrong(
            f"This is more than the total in {of}.",
            "Correct the wrong one.",
        )
        _fault(cells, measure, (counts < 0) | (counts > numbers), wrong, faults)
        numbers[numbers == 0] = np.nan  # a share of nothing was not recorded
        return Measured(name, SHARE, counts / numbers, numbers)


def _fault(
    cells: Cells, column: str, rows: NDArray[np.bool_], wrong: Wrong, faults: Faults
) -> None:
    for number in cells.row_numbers[rows].tolist():
        faults.add(cells.file, number, column, wrong)
