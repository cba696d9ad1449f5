"""What checking a store, copying it and putting it back say when they are done."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import quoted
from trials.report.figures import count
from trials.report.grid import Column, Table

if TYPE_CHECKING:
    from trials.store import Backup, KeptCopy, Restored, Wholeness


def check_page(found: Wholeness) -> str:
    """How the store was read, what was found, and what to do if it is not whole."""
    lines = [
        f"Store    {found.store}",
        f"Rows     {found.rows:,} in {count(len(found.tables), 'table')}, every cell read",
        f"Keys     {found.keys}, each row found again by every key of its table",
        "Rules    each row stored again in an empty store, under all rules of its table",
        f"Version  {len(found.migrations)} migrations, all known to this program",
        f"File     {_blocks_words(found.blocks)}",
        *([f"Photos   {_photos_words(found)}"] if found.photos else []),
    ]
    return "\n".join([*lines, "", *_verdict_lines(found)]) + "\n"


def _blocks_words(blocks: int | None) -> str:
    if blocks is None:
        return "not read block by block: its format is unknown to this program"
    return f"{count(blocks, 'file block')}, each compared with its checksum"


def _photos_words(found: Wholeness) -> str:
    return f"{count(found.photos, 'file')}, each compared with its digest"


def _verdict_lines(found: Wholeness) -> list[str]:
    if found.whole:
        return ["The store is undamaged."]
    problems = [
        f"  {finding.table or finding.part.value}: {finding.problem}" for finding in found.findings
    ]
    return ["The store is DAMAGED:", *problems, "", *_remedy_lines(found)]


def _remedy_lines(found: Wholeness) -> list[str]:
    if found.only_photos:
        return [
            "Every record is undamaged. Only these photos are missing or changed.",
            "Copy their files from the folder photos of a backup, then verify the store again.",
        ]
    if found.readable:
        return [
            "Every row can still be read. Make a new store from them before you add anything:",
            f"  tallybed backup --store {quoted(found.store)}",
            f"  tallybed restore BACKUP --to {quoted(found.store)}",
        ]
    return [
        "Restore the newest backup made before the damage (the file there now is renamed):",
        f"  tallybed restore BACKUP --to {quoted(found.store)}",
    ]


def backup_page(made: Backup) -> str:
    """Where the copy is and how to use it."""
    back = f"tallybed restore {quoted(made.folder)} --to STORE"
    photos = f"Photos   {count(len(made.photos), 'file')}\n" if made.photos else ""
    if made.photos_missing:
        photos += f"WARNING  {missing_photos_sentence(made)}\n"
    return (
        f"Copied   {made.rows:,} rows in {count(len(made.tables), 'table')}, read again and "
        f"found equal\n{photos}To       {made.folder}\nRestore  {back}\nStore a copy on another "
        "disk too. You can read it without this program.\n"
    )


def missing_photos_sentence(made: Backup) -> str:
    """Which photos a backup lacks because the store had lost them; '' where it lacks none."""
    if not made.photos_missing:
        return ""
    files = count(len(made.photos_missing), "photo")
    return f"{files} could not be backed up: the file is missing or changed. Verify the store."


def check_lines(found: Wholeness) -> list[str]:
    """The same for a page: how the store was read, and what was found."""
    if found.whole:
        return [
            f"Every cell of {found.rows:,} rows in {count(len(found.tables), 'table')} was read.",
            f"Each row was found again by {count(found.keys, 'key')} and checked by the rules.",
            f"The file: {_blocks_words(found.blocks)}.",
            *([f"The photos: {_photos_words(found)}."] if found.photos else []),
        ]
    return [f"{each.table or each.part.value}: {each.problem}" for each in found.findings]


def what_to_do_lines(found: Wholeness) -> list[str]:
    """What a grower does about a store that is not whole, with the commands."""
    return [line.strip() for line in _remedy_lines(found)]


def copies_table(copies: Sequence[KeptCopy], looked_through: Collection[Path] = ()) -> Table:
    """The copies beside a store: when each was made and why, and whether it was verified.

    ``looked_through`` are the folders that were read once more just now.
    """
    return Table(
        (
            Column("made"),
            Column("why"),
            Column("rows", right=True),
            Column("verified"),
            Column("folder"),
        ),
        tuple(_copy_row(copy, copy.folder in looked_through) for copy in copies),
    )


def _copy_row(copy: KeptCopy, looked_through: bool) -> tuple[str, ...]:
    if copy.backup is None:
        return ("unknown", "", "", f"DAMAGED: {copy.problem}", copy.folder.name)
    verified = "when it was made: every row read again"
    if copy.problem is not None:
        verified = f"DAMAGED: {copy.problem}"
    elif looked_through:
        verified = "just now: every row read and found equal"
    made_at = datetime.fromisoformat(copy.backup.made_at)
    why = COPY_REASONS[copy.backup.reason]
    return (
        f"{made_at:%Y-%m-%d %H:%M}", why, f"{copy.backup.rows:,}", verified, copy.folder.name
    )  # fmt: skip


COPY_REASONS: Mapping[str, str] = {
    "asked for": "you asked for it",
    "closing": "a trial was closed",
    "upgrade": "before the program updated the store",
}


def restored_lines(done: Restored) -> list[str]:
    """The same for a page: what was restored, and where the store before it is kept."""
    made_at = datetime.fromisoformat(done.backup.made_at)
    rows = count(done.backup.rows, "row")
    lines = [f"The backup of {made_at:%Y-%m-%d %H:%M} is restored: {rows}, read and found equal."]
    if done.kept_aside is not None:
        lines.append(f"The store that was there is kept as {done.kept_aside}.")
    return lines


def restored_page(done: Restored) -> str:
    """What was put back, that it is equal, and where the store before it went."""
    made_at = datetime.fromisoformat(done.backup.made_at)
    held = f"{done.backup.rows:,} rows in {count(len(done.backup.tables), 'table')}"
    lines = [
        f"Restored {held}, read again and found equal",
        f"From     {done.backup.folder}, made {made_at:%Y-%m-%d %H:%M}",
        f"To       {done.store}",
    ]
    if done.backup.photos:
        lines.append(f"Photos   {count(len(done.backup.photos), 'file')}")
    if done.kept_aside is not None:
        lines.append(f"Before   the earlier store is now {done.kept_aside}")
    return "\n".join(lines) + "\n"
