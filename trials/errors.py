"""What the program refuses to do, drawn as a tree.

TallybedError                       every refusal: exit code 2, or a message on the page
├── StoreRefused                    the store cannot be used
│   ├── StoreMissing                there is no store at that place
│   ├── NotAStore                   the file is something else
│   ├── StoreTooNew                 a newer program made it
│   ├── StoreDamaged                the file is broken or was edited by hand
│   └── StoreBusy                   another program holds it
├── RecordsRefused                  cells that cannot be right; carries every fault
│   ├── RecordsHeld                 cells that are unlikely; a yes with a reason takes them
│   └── TableRefused                the same of a table that was only to be compared
├── TableUnclear                    what a row of a table is, or its season, is left open
├── ReadingNeeded                   how somebody's own sheet is read is not agreed (records)
├── UnknownName                     no trial, plot, measure or level of that name
├── PlanRefused                     the trial as planned does not fit; says what would
├── TrialState                      the trial is not at the point where this can be done
│   └── RecordedMeanwhile           the plot and day to tally are recorded already (model)
├── HistoryRefused                  the history cannot give or take back what was asked
│   └── ChangedMeanwhile            somebody else changed the same records first
├── ComparisonRefused               no honest comparison can be made of this table
│   └── NotConverged                no stable estimate of the variances was reached
├── OrderImpossible                 no mix of packets meets what was asked
├── FileRefused                     a file cannot be read or written
├── PrintRefused                    what was asked for cannot be printed so that it can be read
├── PortTaken                       the pages cannot be served where they were asked for
├── NotAllowed                      this person's role does not cover it
└── SignInRefused                   wrong name or passphrase, or too many tries

Anything else that escapes is a fault of ours and keeps its traceback.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

# Of a long list of faults a screen or a terminal shows the first.
SHOWN_AT_MOST = 100


class Verb(StrEnum):
    """What can be done about a refusal, by the command line's verb; pages have places for it."""

    LOAD = "load"
    CORRECT = "correct"
    UNDO = "undo"
    HISTORY = "history"
    CLOSE = "close"
    PLANTED = "planted"
    PLAN = "plan"
    ORDER = "order"
    BACKUP = "backup"
    PHOTO = "photo"
    RESTORE = "restore"
    INVITE = "people invite"


def quoted(*words: object) -> str:
    """Words of a command as this computer's terminal takes them, whatever is in them."""
    text = [str(word) for word in words]
    if os.name != "nt":
        return shlex.join(text)
    import subprocess

    return subprocess.list2cmdline(text)


@dataclass(frozen=True, slots=True)
class Remedy:
    """What to do about a refusal, for a terminal and for a page alike.

    Attributes
    ----------
    do
        What to do, as the beginning of a sentence: 'Close it first'.
    verb
        By which verb; ``report.remedies`` knows the page.
    about
        What is typed behind the verb; names in it are ``quoted``.
    """

    do: str
    verb: Verb
    about: str = ""

    def __str__(self) -> str:
        return f"{self.do}: tallybed {self.verb} {self.about}".rstrip()


class TallybedError(Exception):
    """A refusal the caller can mend; its text says what is wrong, where, and what to do.

    Where that is done by a verb, ``remedy`` says it apart from the ``text``: whoever looks at a
    page has no terminal.
    """

    def __init__(self, text: str, remedy: Remedy | None = None) -> None:
        self.text, self.remedy = text, remedy
        super().__init__(text if remedy is None else f"{text} {remedy}")


class StoreRefused(TallybedError):
    """The store cannot be used as it is."""


class StoreMissing(StoreRefused):
    """There is no store at the named place."""


class NotAStore(StoreRefused):
    """The file is not a store of this program."""


class StoreTooNew(StoreRefused):
    """The store was made by a newer version of the program."""


class StoreDamaged(StoreRefused):
    """The store's file is broken, or its history of migrations was altered."""


class StoreBusy(StoreRefused):
    """Another process holds the store and did not let go in time."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One cell, row or file that cannot be right.

    ``row`` counts as a spreadsheet does: the heading is row 1. ``row`` and ``column`` are None
    where the fault concerns the whole file (or the whole row). ``called`` is the word for what
    ``column`` names: a plan's file has keys. Where a verb mends it, ``by`` says so for pages too.
    """

    file: str
    row: int | None
    column: str | None
    problem: str
    remedy: str
    called: str = "column"
    by: Remedy | None = None

    @property
    def where(self) -> str:
        """The row and column, as words before what is wrong; empty of a whole file."""
        place = [] if self.row is None else [f"row {self.row}"]
        if self.column is not None:
            place.append(f"{self.called} {self.column}")
        return f"{', '.join(place)}: " if place else ""

    def __str__(self) -> str:
        where = self.where
        return f"{self.file}{', ' if where else ': '}{where}{self.problem} {self.remedy}"


class RecordsRefused(TallybedError):
    """Records that cannot be right; ``faults`` has every one found and nothing was stored.

    The text names the first of them; all may be many more than anybody reads.
    """

    what = "fault"
    consequence = "nothing was stored"

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = faults if isinstance(faults, Sequence) else tuple(faults)
        count = len(self.faults)
        head = f"{count:,} {self.what}{'s' if count != 1 else ''} found; {self.consequence}."
        lines = [head, *(f"  {fault}" for fault in self.faults[:SHOWN_AT_MOST])]
        if count > SHOWN_AT_MOST:
            lines.append(f"  {self.beyond}")
        super().__init__("\n".join(lines))

    @property
    def beyond(self) -> str:
        """How many more there are than are shown, and where they are to be had."""
        more = len(self.faults) - SHOWN_AT_MOST
        return (
            f"… and {more:,} more. Load them with --faults faults.xlsx: that writes all of "
            "them to a file, where you can correct them."
        )


class RecordsHeld(RecordsRefused):
    """Records beyond what is likely, held until somebody answers for them; nothing was stored."""

    what = "unlikely record"
    consequence = (
        "nothing was stored. If all of it is true, load it again with the reason, such as "
        '--accept "measured twice"'
    )


class TableRefused(RecordsRefused):
    """A table that cannot be compared as it is; ``faults`` lists every one found."""

    consequence = "nothing was compared"

    @property
    def beyond(self) -> str:
        """How many more there are than are shown."""
        return f"… and {len(self.faults) - SHOWN_AT_MOST:,} more."


@dataclass(frozen=True, slots=True)
class Unclear:
    """A question about the columns of a table.

    Attributes
    ----------
    part
        The part of the table that the answer fills, such as ``season`` or ``rows_are``.
    column
        The column that may play it.
    words
        The question.
    answers
        What may be answered; empty where only a change to the table answers it.
    """

    part: str
    column: str | None
    words: str
    answers: tuple[str, ...] = ()

    @property
    def remedy(self) -> str:
        """The options that answer it."""
        option = f"--{self.part.replace('_', '-')}"
        if self.column is None:
            return " or ".join(f"{option} {answer}" for answer in self.answers)
        name = f'"{self.column}"' if " " in self.column else self.column
        return f"{option} {name} (yes) or --ignore {name} (no)"

    def __str__(self) -> str:
        return f"{self.words} Add {self.remedy}." if self.answers else self.words


class TableUnclear(TallybedError):
    """A table whose rows may not be plots, or not of one season; ``questions`` has each."""

    def __init__(self, file: str, questions: Iterable[Unclear]) -> None:
        self.questions = tuple(questions)
        lines = [f"{file}: nothing was compared, as the named columns leave this open."]
        super().__init__("\n".join([*lines, *(f"  {each}" for each in self.questions)]))


_MOST_NAMED = 20  # more names are a wall on a phone, and none of them is looked for


class UnknownName(TallybedError):
    """A name that nothing answers to; the message names the nearest that exists."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        from difflib import get_close_matches  # half of this module's import, for a refusal

        near = get_close_matches(name, self.known, n=1)
        if near:
            hint = f"Did you mean {near[0]!r}?"
        elif len(self.known) > _MOST_NAMED:
            hint = f"There are {len(self.known):,}, such as {', '.join(self.known[:3])}."
        elif self.known:
            hint = f"There are: {', '.join(self.known)}."
        else:
            hint = f"There is no {kind} yet."
        super().__init__(f"No {kind} is called {name!r}. {hint}")


class PlanRefused(TallybedError):
    """A trial cannot be laid out as planned; the text says what does not fit and what would."""


class TrialState(TallybedError):
    """The trial is not at the point of its season where this can be done."""


class HistoryRefused(TallybedError):
    """The history cannot give, take back or put right what was asked; nothing was changed."""


class ChangedMeanwhile(HistoryRefused):
    """Somebody else changed the same records since they were looked at; nothing was changed."""


class ComparisonRefused(TallybedError):
    """No honest comparison can be made of this table; the text says why and what would mend it."""


class NotConverged(ComparisonRefused):
    """The search for the variances of the larger units came to no stable answer."""


class OrderImpossible(TallybedError):
    """No mix of packets meets what was asked."""


class FileRefused(TallybedError):
    """A file cannot be read or written where it was asked for."""


class PrintRefused(TallybedError):
    """What was asked for cannot be printed on that paper so that it can be read."""


class PortTaken(TallybedError):
    """The pages cannot be served at that port of this machine."""


class NotAllowed(TallybedError):
    """The person who asks may not do this; the text says who may."""


class SignInRefused(TallybedError):
    """Nobody is signed in: a name, passphrase or invitation that is not good, or too many tries."""
