"""What rows rest on where no key of the database can see to it, as their rows may be corrected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from trials.model.rows import Sheet
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class LooseEnd:
    """A plot and day of a sheet whose rows lack what they rest on."""

    sheet: Sheet
    plot: str
    day: date | None
    problem: str

    def __str__(self) -> str:
        day = "" if self.day is None else f" on {self.day}"
        return f"Plot {self.plot}{day} {self.problem}."


def loose_ends(cursor: duckdb.DuckDBPyConnection, entry: int | None = None) -> tuple[LooseEnd, ...]:
    """Every loose end, or those among the rows that an entry brought."""
    return tuple(
        LooseEnd(Sheet(sheet), plot, day, problem)
        for sheet, plot, day, problem in rows(cursor, "loose_ends", entry=entry)
    )
