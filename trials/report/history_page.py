"""The history as words: who changed what, when and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

from trials.model.trial import Cell, Change, Entry
from trials.report.figures import count, listed
from trials.report.grid import Column, Table, wrapped

MOST_CHANGES_LISTED = 12
MOST_ROWS_OF_A_TABLE = 60
NOTHING_CHANGED = "Every row is already stored with these values. Nothing was changed."
NOTHING_OVERWRITTEN = "The history keeps the earlier rows."

RECORD_WORDS: Mapping[str, tuple[str, str]] = {
    "closing": ("closing", "closings"),
    "cost": ("cost", "costs"),
    "crop_figure": ("crop figure", "crop figures"),
    "currency": ("currency", "currencies"),
    "cut": ("picking day", "picking days"),
    "cut_line": ("stem count", "stem counts"),
    "event": ("event", "events"),
    "germination_test": ("germination test", "germination tests"),
    "market_price": ("market price", "market prices"),
    "photo": ("photo", "photos"),
    "planting": ("planting", "plantings"),
    "score": ("score", "scores"),
    "seed_price": ("seed price", "seed prices"),
    "seed_stock": ("count of seed in stock", "counts of seed in stock"),
    "stand_count": ("stand count", "stand counts"),
    "stem_sample": ("measured stem", "measured stems"),
}
_UNSAID = {"digest", "recorded_at"}
_UNITS = ("cm", "m", "m2", "hours")


def history_page(entries: Sequence[Entry], of: str | None = None) -> str:
    """The entries, oldest first, each with what it changed."""
    if not entries:
        return (
            f"Nothing has been recorded for {of} yet.\n"
            if of
            else "Nothing has been recorded yet.\n"
        )
    return "\n\n".join(entry_words(entry) for entry in entries) + "\n"


def changed_page(entry: Entry | None) -> str:
    """What a correction, a withdrawal or an undoing did."""
    if entry is None:
        return f"{NOTHING_CHANGED}\n"
    back = f"Undo it with: tallybed undo {entry.number}"
    return f"{entry_words(entry)}\n\n{NOTHING_OVERWRITTEN} {back}\n"


def changed_sentence(entry: Entry | None) -> str:
    """That a correction, a withdrawal or an undoing is done, where the history is in sight."""
    if entry is None:
        return NOTHING_CHANGED
    return f"Done: change {entry.number}, {_what(entry)}. {NOTHING_OVERWRITTEN}"


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
    lines = [wrapped("  ".join(entry_head(entry)), indent="")]
    if entry.why is not None:
        lines.append(wrapped(f"Why: {entry.why}", indent="   "))
    lines += [wrapped(line, indent="   ") for line in entry_lines(entry)]
    if entry.changes:
        lines += [
            wrapped(change_words(each), "   ") for each in entry.changes[:MOST_CHANGES_LISTED]
        ]
        if len(entry.changes) > MOST_CHANGES_LISTED:
            lines.append(f"   … and {len(entry.changes) - MOST_CHANGES_LISTED:,} more.")
    return "\n".join(lines)


def entry_head(entry: Entry) -> tuple[str, str, str]:
    """An entry's number, its time, and what it was, by whom."""
    words = _what(entry)
    if entry.who is not None:
        words += f", by {entry.who}"
    if entry.origin is not None:
        words += f", change {entry.origin_number} of the package of {entry.origin}"
    if entry.undone_by is not None:
        words += f" (undone by change {entry.undone_by})"
    return str(entry.number), local_time(entry.recorded_at), words


def entry_about(entry: Entry) -> str:
    """Of which plots, trials, items or crops an entry's listed rows are; '' where none is."""
    named = []
    for change in entry.changes:
        place = dict(change.place)
        if change.record == "photo":
            place |= dict(change.after or change.before or ())
        keys = ("plot", "trial", "item", "crop", "variety")
        named.append(next((place[key] for key in keys if place.get(key)), None))
    return listed(list(dict.fromkeys(str(name) for name in named if name is not None)), 3)


def entry_lines(entry: Entry) -> list[str]:
    """From which files an entry was made, its flagged cuts, and how many rows if it lists none."""
    lines = [f"From {listed(entry.files)}."] if entry.files else []
    lines += [
        f"Flagged: {cut.plot} was cut on {cut.cut_on}, before the re-entry time after a spray with "
        f"{cut.product} had passed ({cut.until})."
        for cut in entry.early_cuts
    ]
    if entry.rows and not entry.changes:
        lines.append(f"{rows_words(entry)}.")
    return lines


def changes_table(entry: Entry) -> Table:
    """The rows of an entry: what was held before it, and what since."""
    return Table(
        (Column("record"), Column("where"), Column("before"), Column("after")),
        tuple(
            (RECORD_WORDS[change.record][0], _places(change), *_was_and_is(change))
            for change in entry.changes[:MOST_ROWS_OF_A_TABLE]
        ),
    )


def changes_left_out(entry: Entry) -> str:
    """How many rows the table of an entry leaves out; '' where it has all."""
    left = len(entry.changes) - MOST_ROWS_OF_A_TABLE
    return f"… and {left:,} more rows; tallybed history --json has them all." if left > 0 else ""


def undo_words(entry: Entry) -> str:
    """What comes of taking an entry back."""
    said = (
        f"Undo change {entry.number}? Its rows are removed, and the rows before them are restored"
    )
    if entry.undoes is not None:
        said += f", so change {entry.undoes} counts again"
    if any(kind == "closing" for kind, _, _ in entry.rows):
        opens = "closed" if entry.undoes is not None else "open"
        said += f", and the trial is {opens} again"
    return f"{said}. The change stays in the history, with who undid it."


def rows_words(entry: Entry) -> str:
    """How many rows of each kind an entry brought and took out."""
    came = [count(came, *RECORD_WORDS[kind]) for kind, came, _ in entry.rows if came]
    gone = [count(gone, *RECORD_WORDS[kind]) for kind, _, gone in entry.rows if gone]
    said = [f"Added {listed(came)}"] if came else []
    if gone:
        said.append(f"{'r' if came else 'R'}emoved {listed(gone)}")
    return "; ".join(said)


def change_words(change: Change) -> str:
    """One row: 'stems of Z1, 2025-07-10, grade 40 cm: stems 6 → 9'."""
    kind, place = RECORD_WORDS[change.record][0], _places(change)
    if change.before is None:
        return f"+ {kind}, {place}: {_figures(change.after)}".rstrip(": ")
    if change.after is None:
        return f"− {kind}, {place}: {_figures(change.before)}".rstrip(": ")
    said = ", ".join(
        _named(name, f"{_said(old)} → {_said(new)}") for name, old, new in _differing(change)
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
        return f", records as of change {as_known_at}"
    return f", records as of {as_known_at.astimezone():%Y-%m-%d %H:%M}"


def as_known_document(as_known_at: datetime | int | None) -> str | int | None:
    """Of which time the records are, for programs: an entry, a time in UTC, or null for now."""
    if isinstance(as_known_at, datetime):
        return f"{as_known_at.astimezone(UTC).replace(tzinfo=None).isoformat()}Z"
    return as_known_at


def _what(entry: Entry) -> str:
    return entry.what if entry.undoes is None else f"{entry.what} of change {entry.undoes}"


def _differing(change: Change) -> list[tuple[str, Cell, Cell]]:
    """The figures that are others since: name, before, after."""
    was = dict(change.before or ())
    return [
        (name, was.get(name), cell)
        for name, cell in change.after or ()
        if was.get(name) != cell and name not in _UNSAID
    ]


def _was_and_is(change: Change) -> tuple[str, str]:
    if change.before is None:
        return "not recorded", _figures(change.after) or "recorded"
    if change.after is None:
        return _figures(change.before) or "recorded", "removed"
    differing = _differing(change)
    return (
        ", ".join(_named(name, _said(old)) for name, old, _ in differing),
        ", ".join(_named(name, _said(new)) for name, _, new in differing),
    )


def _places(change: Change) -> str:
    return ", ".join(_place(name, cell) for name, cell in change.place if cell is not None)


def _place(name: str, cell: Cell) -> str:
    plain = {"plot", "trial", "cut_on", "counted_on", "scored_on", "happened_on", "cull_reason"}
    plain |= {"crop", "figure", "house", "item", "kind", "reason", "trait"}
    if name in plain:
        return str(cell)
    if name == "sha256":  # as much of it as names a photo
        return str(cell)[:12]
    return _named(name, _said(cell))


def _named(column: str, said: str) -> str:
    """A column's name as words with what it holds: 'grade 40 cm' for 40 in grade_cm."""
    name, _, unit = column.rpartition("_")
    if name and unit in _UNITS:
        return f"{_words(name)} {said} {unit}"
    return f"{_words(column)} {said}"


def _words(name: str) -> str:
    return name.replace("re_entry", "re-entry").replace("_", " ")


def _figures(pairs: tuple[tuple[str, Cell], ...] | None) -> str:
    return ", ".join(
        _named(name, _said(cell))
        for name, cell in pairs or ()
        if cell is not None and name not in _UNSAID
    )


def _said(cell: Cell) -> str:
    if cell is None:
        return "nothing"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:.12g}" if isinstance(cell, float) else str(cell)
