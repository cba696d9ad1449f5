"""What is found wrong, where, and how it is told."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, overload

from trials.errors import Fault, RecordsHeld, RecordsRefused, Remedy

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers: TypeAlias = NDArray[np.int64]

# The words of this module are wanted where nothing may load numpy: each function loads its own.
_SHOWN_CHARACTERS = 60
_OR_ACCEPT = "If it is true, give a reason once the faults are corrected."


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with a cell and what to do, before it is said where the cell stands."""

    problem: str
    remedy: str
    by: Remedy | None = None

    @classmethod
    def mended_by(cls, problem: str, remedy: Remedy) -> Wrong:
        """What is mended by a verb, or on a page."""
        return cls(problem, f"{remedy}.", remedy)


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


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Rows of files: the names of the files, and for each row which of them it is in, and where."""

    files: tuple[str, ...]
    file: NDArray[np.signedinteger[Any]]
    row: NDArray[np.signedinteger[Any]]

    @classmethod
    def of(cls, file: str, rows: Sequence[int]) -> Places:
        """Rows of one file."""
        import numpy as np

        return cls((file,), np.zeros(len(rows), np.int64), np.array(rows, np.int64))

    def __len__(self) -> int:
        return len(self.row)


class _Faults(Protocol):
    """Faults of one kind, each worded when it is asked for."""

    @property
    def places(self) -> Places: ...

    def fault(self, i: int) -> Fault: ...


@dataclass(frozen=True, slots=True)
class _Single:
    """Faults that were worded when they were found."""

    found: tuple[Fault, ...]

    @property
    def places(self) -> Places:
        """Where they stand; 0 is no row."""
        import numpy as np

        files = tuple(dict.fromkeys(fault.file for fault in self.found))
        number = {file: place for place, file in enumerate(files)}
        rows = np.array([fault.row or 0 for fault in self.found], np.int64)
        return Places(files, np.array([number[f.file] for f in self.found], np.int64), rows)

    def fault(self, i: int) -> Fault:
        return self.found[i]


@dataclass(frozen=True, slots=True, eq=False)
class _Many:
    """The same fault in many rows, as little of each kept as is needed to word it."""

    places: Places
    column: str | Callable[[int], str | None] | None
    say: Callable[[int], Wrong]
    called: str

    def fault(self, i: int) -> Fault:
        heading = self.column(i) if callable(self.column) else self.column
        file = self.places.files[int(self.places.file[i])]
        return _fault(file, int(self.places.row[i]), heading, self.say(i), self.called)


@dataclass(frozen=True, slots=True, eq=False)
class Listed(Sequence[Fault]):
    """Every fault in order; each is put into words when it is looked at, and not kept.

    ``kinds`` are where the words come from, ``which`` and ``item`` say of each fault which of
    these it is of and where in it; those from ``also`` on are unlikely beside others that are
    wrong.
    """

    kinds: tuple[_Faults, ...]
    which: Numbers
    item: Numbers
    also: int

    def __len__(self) -> int:
        return len(self.which)

    @overload
    def __getitem__(self, at: int) -> Fault: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Fault, ...]: ...
    def __getitem__(self, at: int | slice) -> Fault | tuple[Fault, ...]:
        if isinstance(at, slice):
            return tuple(self._fault(i) for i in range(*at.indices(len(self))))
        if not -len(self) <= at < len(self):
            raise IndexError(at)
        return self._fault(at % len(self))

    def _fault(self, i: int) -> Fault:
        fault = self.kinds[int(self.which[i])].fault(int(self.item[i]))
        return fault if i < self.also else replace(fault, remedy=f"{fault.remedy} {_OR_ACCEPT}")


class Faults:
    """Collects faults, every one, and lists them in the order of the files and rows.

    What is only unlikely is collected apart from what cannot be right.
    """

    def __init__(self, called: str = "column") -> None:
        self._called = called
        self._place: dict[str, int] = {}
        self._single: list[Fault] = []
        self._wrong: list[_Many] = []
        self._unlikely: list[_Many] = []

    def __len__(self) -> int:
        return len(self._single) + sum(len(many.places) for many in self._wrong)

    def order(self, files: Iterable[str]) -> None:
        """List faults in this order of their files; a file that is not named comes first."""
        self._place = {file: place for place, file in enumerate(files)}

    def add(self, file: str, row: int | None, column: str | None, wrong: Wrong) -> None:
        """Note one fault."""
        self._single.append(_fault(file, row, column, wrong, self._called))

    def add_rows(
        self,
        places: Places,
        column: str | Callable[[int], str | None] | None,
        say: Callable[[int], Wrong],
        *,
        unlikely: bool = False,
    ) -> None:
        """Note one fault a row; ``column`` and ``say`` are asked when its words are wanted."""
        noted = self._unlikely if unlikely else self._wrong
        noted.append(_Many(places, column, say, self._called))

    def forget(self, file: str, rows: Collection[int]) -> None:
        """Take back what was found in rows of a file in whose place others came."""
        self._single = [f for f in self._single if f.file != file or f.row not in rows]
        self._wrong = [_elsewhere(many, file, rows) for many in self._wrong]

    def refuse_if_any(self, *, accept: bool = False) -> Sequence[Fault]:
        """Refuse the records if anything was found wrong, or is unlikely and not accepted.

        Returns what is unlikely and accepted.
        """
        unlikely = self._in_order(self._unlikely)
        if len(self):
            wrong = self._in_order([_Single(tuple(self._single)), *self._wrong])
            raise RecordsRefused(_joined(wrong, unlikely))
        if len(unlikely) and not accept:
            raise RecordsHeld(unlikely)
        return unlikely

    def _in_order(self, kinds: Sequence[_Faults]) -> Listed:
        import numpy as np

        places = [kind.places for kind in kinds]
        lengths = [len(its) for its in places]
        which = np.repeat(np.arange(len(kinds)), lengths)
        none = [np.zeros(0, np.int64)]
        item = np.concatenate([*none, *(np.arange(length) for length in lengths)])
        file = np.concatenate([*none, *(self._places_of(its.files)[its.file] for its in places)])
        row = np.concatenate([*none, *(its.row for its in places)])
        order = np.lexsort((row, file))
        return Listed(tuple(kinds), which[order], item[order], len(order))

    def _places_of(self, files: Sequence[str]) -> Numbers:
        import numpy as np

        return np.array([self._place.get(file, -1) for file in files], np.int64)


def _joined(wrong: Listed, unlikely: Listed) -> Listed:
    import numpy as np

    which = np.concatenate([wrong.which, unlikely.which + len(wrong.kinds)])
    item = np.concatenate([wrong.item, unlikely.item])
    return Listed((*wrong.kinds, *unlikely.kinds), which, item, len(wrong))


def _elsewhere(many: _Many, file: str, rows: Collection[int]) -> _Many:
    """Those of the faults that do not stand in these rows of the file."""
    import numpy as np

    places = many.places
    if file not in places.files:
        return many
    there = (places.file == places.files.index(file)) & np.isin(places.row, list(rows))
    left = np.flatnonzero(~there)
    column, say = many.column, many.say
    return _Many(
        Places(places.files, places.file[left], places.row[left]),
        (lambda i: column(int(left[i]))) if callable(column) else column,
        lambda i: say(int(left[i])),
        many.called,
    )


def _fault(
    file: str, row: int | None, column: str | None, wrong: Wrong, called: str = "column"
) -> Fault:
    heading = None if column is None else shown(column)[1:-1]
    return Fault(file, row, heading, wrong.problem, wrong.remedy, called, wrong.by)
