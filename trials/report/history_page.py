"""The history as words: who changed what, when and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

from trials.model import Cell, Change, Entry
from trials.report.figures import count, listed
from trials.report.grid import wrapped

MOST_CHANGES_LISTED = 12

RECORD_WORDS: Mapping[str, tuple[str, str]] = {
    "closing": ("closing", "closings"),
    "cut": ("picking day", "picking days"),
    "cut_line": ("row of stems", "rows of stems"),
    "event": ("event", "events"),
    "planting": ("planting", "plantings"),
    "score": ("score", "scores"),
    "seed_price": ("seed price", "seed prices"),
    "stand_count": ("stand count", "stand counts"),
    "stem_sample": ("measured stem", "measured stems"),
}
_UNSAID = {"digest", "recorded_at"}


def history_page(entries: Sequence[Entry], of: str | None = None) -> str:
    """The entries, oldest first, each with what it changed."""
    if not entries:
        return f"Nothing was recorded of {of} yet.\n" if of else "Nothing was recorded yet.\n"
    return "\n\n".join(entry_words(entry) for entry in entries) + "\n"


def changed_page(entry: Entry | None) -> str:
    """What a correction, a withdrawal or an undoing did."""
    if entry is None:
        return "Every row is held as it stands there. Nothing was changed.\n"
    back = f"Take it back with: tallybed undo {entry.number}"
    return (
        f"{entry_words(entry)}\n\nNothing was overwritten: what was held before is kept. {back}\n"
    )


def history_document(entries: Sequence[Entry]) -> list[dict[str, Any]]:
    """The entries for programs: cells by their names, times in UTC."""
    return [entry_document(entry) for entry in entries]


def entry_document(entry: Entry) -> dict[str, Any]:
    """One entry for programs."""
    return {
        **{field.name: getattr(entry, field.name) for field in fields(entry)},
        "recorded_at": f"{entry.recorded_at.isoformat()}Z",
        "rows": {kind: {"brought": came, "superseded": gone} for kind, came, gone in entry.rows},
        "changes": [
            {
                "record": change.record,
                "place": dict(change.place),
                "before": None if change.before is None else dict(change.before),
                "after": None if change.after is None else dict(change.after),
            }
            for change in entry.changes
        ],
    }


def entry_words(entry: Entry) -> str:
    """One entry: its head, its reason, and its rows."""
    undoes = "" if entry.undoes is None else f" of entry {entry.undoes}"
    head = f"{entry.number}  {local_time(entry.recorded_at)}  {entry.what}{undoes}"
    if entry.who is not None:
        head += f", by {entry.who}"
    if entry.undone_by is not None:
        head += f" (taken back by entry {entry.undone_by})"
    lines = [wrapped(head, indent="")]
    if entry.why is not None:
        lines.append(wrapped(f"Why: {entry.why}", indent="   "))
    if entry.files:
        lines.append(wrapped(f"From {listed(entry.files)}.", indent="   "))
    if entry.changes:
        lines += [
            wrapped(change_words(each), "   ") for each in entry.changes[:MOST_CHANGES_LISTED]
        ]
        if len(entry.changes) > MOST_CHANGES_LISTED:
            lines.append(f"   … and {len(entry.changes) - MOST_CHANGES_LISTED:,} more.")
    elif entry.rows:
        lines.append(wrapped(f"{rows_words(entry)}.", indent="   "))
    return "\n".join(lines)


def rows_words(entry: Entry) -> str:
    """How many rows of each kind an entry brought and took out."""
    came = [count(came, *RECORD_WORDS[kind]) for kind, came, _ in entry.rows if came]
    gone = [count(gone, *RECORD_WORDS[kind]) for kind, _, gone in entry.rows if gone]
    said = [f"Brought {listed(came)}"] if came else []
    if gone:
        said.append(f"{'t' if came else 'T'}ook out {listed(gone)}")
    return "; ".join(said)


def change_words(change: Change) -> str:
    """One row: 'stems of Z1, 2025-07-10, grade_cm 40: 6 -> 9'."""
    kind = RECORD_WORDS[change.record][0]
    place = ", ".join(_place(name, cell) for name, cell in change.place if cell is not None)
    if change.before is None:
        return f"+ {kind}, {place}: {_figures(change.after)}".rstrip(": ")
    if change.after is None:
        return f"− {kind}, {place}: {_figures(change.before)}".rstrip(": ")
    was = dict(change.before)
    differing = [
        (name, was.get(name), cell) for name, cell in change.after if was.get(name) != cell
    ]
    said = ", ".join(
        f"{name} {_said(old)} → {_said(new)}" for name, old, new in differing if name not in _UNSAID
    )
    return f"  {kind}, {place}: {said}"


def local_time(recorded_at: datetime) -> str:
    """A time of the history (UTC) on this computer's clock."""
    return f"{recorded_at.replace(tzinfo=UTC).astimezone():%Y-%m-%d %H:%M}"


def as_known_words(as_known_at: datetime | int | None) -> str:
    """To be set behind a title: of which time the records are; nothing where it is now."""
    if as_known_at is None:
        return ""
    if isinstance(as_known_at, int):
        return f", as known at entry {as_known_at}"
    return f", as known on {as_known_at.astimezone():%Y-%m-%d %H:%M}"


def _place(name: str, cell: Cell) -> str:
    plain = {"plot", "trial", "cut_on", "counted_on", "scored_on", "happened_on", "cull_reason"}
    plain |= {"house", "item", "kind", "reason", "trait"}
    if name in plain:
        return str(cell)
    return f"{name} {_said(cell)}"


def _figures(pairs: tuple[tuple[str, Cell], ...] | None) -> str:
    return ", ".join(
        f"{name} {_said(cell)}"
        for name, cell in pairs or ()
        if cell is not None and name not in _UNSAID
    )


def _said(cell: Cell) -> str:
    if cell is None:
        return "nothing"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:.12g}" if isinstance(cell, float) else str(cell)
