"""What is found wrong, where, and how it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from trials.errors import Fault, RecordsHeld, RecordsRefused

LISTED_AT_MOST = 200
_SHOWN_CHARACTERS = 60
_OR_ACCEPT = "If it is true, say so with a reason once the faults are mended."


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with a cell and what to do, before it is said where the cell stands."""

    problem: str
    remedy: str


def shown(text: str) -> str:
    """Text from a cell as it may stand in a message: in quotes, on one line, not too long."""
    cut = text if len(text) <= _SHOWN_CHARACTERS else text[:_SHOWN_CHARACTERS] + "…"
    return "'" + "".join(c if c.isprintable() else repr(c)[1:-1] for c in cut) + "'"


def nearest(name: str, names: Iterable[str]) -> str | None:
    """The valid name most like the one given, or None where none is alike."""
    plain = {other.casefold(): other for other in names}
    text = name.casefold()
    # Two characters changed about are the commonest slip of all.
    swapped = [other for other in plain if sorted(other) == sorted(text)]
    near = get_close_matches(text, swapped, n=1) or get_close_matches(text, plain, n=1)
    return plain[near[0]] if near else None


def hint(name: str, names: Iterable[str], otherwise: str) -> str:
    """A remedy that offers the nearest valid name, or the few that there are."""
    valid = sorted(names)
    near = nearest(name, valid)
    if near is not None:
        return f"Did you mean {shown(near)}?"
    if 0 < len(valid) <= 8:
        return f"Known here: {', '.join(valid)}. {otherwise}"
    return otherwise


@dataclass(slots=True)
class _List:
    """Faults of one weight: those kept, and how many there are beside them."""

    found: list[Fault] = field(default_factory=list)
    unlisted: int = 0

    def __len__(self) -> int:
        return len(self.found) + self.unlisted


class Faults:
    """Collects faults in the order of the files and rows, and keeps no more than are listed.

    What is only unlikely is collected apart from what cannot be right.
    """

    def __init__(self, called: str = "column") -> None:
        self._called = called
        self._place: dict[str, int] = {}
        self._wrong = _List()
        self._unlikely = _List()

    def __len__(self) -> int:
        return len(self._wrong)

    def order(self, files: Iterable[str]) -> None:
        """List faults in this order of their files; a file that is not named comes first."""
        self._place = {file: place for place, file in enumerate(files)}

    def add(self, file: str, row: int | None, column: str | None, wrong: Wrong) -> None:
        """Note one fault."""
        self._wrong.found.append(_fault(file, row, column, wrong, self._called))

    def add_rows(
        self,
        places: Sequence[tuple[str, int]],
        column: str | Callable[[int], str | None] | None,
        say: Callable[[int], Wrong],
        more: int = 0,
        *,
        unlikely: bool = False,
    ) -> None:
        """Note one fault a row; ``say`` is asked for the words of the rows that are listed.

        ``places`` are in the order of the files, so those past the limit would not be listed
        whatever else is found; ``more`` such rows may be left out of them.
        """
        noted = self._unlikely if unlikely else self._wrong
        for i, (file, row) in enumerate(places[:LISTED_AT_MOST]):
            heading = column(i) if callable(column) else column
            noted.found.append(_fault(file, row, heading, say(i), self._called))
        noted.unlisted += max(0, len(places) - LISTED_AT_MOST) + more

    def refuse_if_any(self, *, accept: bool = False) -> tuple[Fault, ...]:
        """Refuse the records if anything was found wrong, or is unlikely and not accepted.

        Returns what is unlikely and accepted.
        """
        unlikely = self._listed(self._unlikely)
        if self._wrong.found:
            also = [
                Fault(f.file, f.row, f.column, f.problem, f"{f.remedy} {_OR_ACCEPT}")
                for f in unlikely
            ]
            raise RecordsRefused([*self._listed(self._wrong), *also])
        if unlikely and not accept:
            raise RecordsHeld(unlikely)
        return tuple(unlikely)

    def _listed(self, noted: _List) -> list[Fault]:
        ordered = sorted(
            noted.found, key=lambda fault: (self._place.get(fault.file, -1), fault.row or 0)
        )
        listed = ordered[:LISTED_AT_MOST]
        more = len(ordered) - len(listed) + noted.unlisted
        if more:
            what = "unlikely record" if noted is self._unlikely else "fault"
            listed.append(
                Fault(
                    ordered[LISTED_AT_MOST - 1].file,
                    None,
                    None,
                    f"{more:,} more {what}{'s' if more > 1 else ''} found after these.",
                    "Mend the ones listed, then load the files again.",
                )
            )
        return listed


def _fault(
    file: str, row: int | None, column: str | None, wrong: Wrong, called: str = "column"
) -> Fault:
    heading = None if column is None else shown(column)[1:-1]
    return Fault(file, row, heading, wrong.problem, wrong.remedy, called)
