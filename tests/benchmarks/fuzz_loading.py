"""Loads thousands of spoiled files into a store and counts what became of them.

Run:  python tests/benchmarks/fuzz_loading.py [--files 10000] [--seed 1]

The files are what ``tests/strategies.py`` lets hypothesis make: right ones of every kind, and
those kept in ``tests/reference/spoiled``, changed in their cells or damaged in their bytes. A
refusal must be one of the program's own, name a place, and leave the store's bytes as they were; of
what is taken every value must stand in the files. Anything else is shrunk by hypothesis to the
least files that show it, printed, and those files are kept.
"""

from __future__ import annotations

import argparse
import io
import shutil
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.strategies import FARM, SHEETS, Spoiled, spoiled
from tests.tracing import Traces, new_rows
from trials import records, season
from trials.errors import RecordsHeld, RecordsRefused, TallybedError
from trials.model.rows import Batch, Known, Sheet
from trials.records import judge_sheets
from trials.records.mapping.agreement import Agreed
from trials.records.mapping.guess import ReadingNeeded
from trials.records.rules.forms import Form
from trials.season import loading
from trials.store import Store

SPOILED = Path(__file__).parent.parent / "reference" / "spoiled"
# Words that a reading or a rule brings in, so that they need stand in no file.
OURS = frozenset({"picked", "missed", "yes", "no"})
PIECE = 500
LOOKED_AT = 10


class Wrong(AssertionError):
    """A load that did what none may."""


@dataclass(slots=True)
class Count:
    """What became of the files, and what must not have."""

    became: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    least: list[str] = field(default_factory=list)


class Ground:
    """A store that each load finds as the first did: empty, or with the small farm in it."""

    def __init__(self, folder: Path, *, fresh: bool) -> None:
        self.folder = folder
        self.store = folder / "farm.tallybed"
        if fresh:
            Store.create(self.store)
        else:
            for name, text in FARM.items():
                (folder / name).write_text(text, "utf-8")
            season.load(self.store, [folder])
            for name in FARM:
                (folder / name).unlink()
        self.whole = self.store.read_bytes()
        self.known: Known = Store.open(self.store).known()
        self.names = frozenset(
            value
            for frame in self.known.frames.values()
            for column in frame.columns
            for value in frame[column].tolist()
            if isinstance(value, str)
        )

    def again(self) -> None:
        """Put the store back to what it was."""
        self.store.write_bytes(self.whole)
        self.store.with_name(self.store.name + ".wal").unlink(missing_ok=True)

    def changed(self) -> bool:
        """Whether anything of the store is not as it was."""
        wal = self.store.with_name(self.store.name + ".wal")
        return wal.exists() or self.store.read_bytes() != self.whole


def planted(folder: Path) -> Path:
    """A store with one small trial."""
    return Ground(folder, fresh=False).store


def corpus() -> tuple[tuple[str, bytes], ...]:
    """Files to begin from: each kind of table as text and as a workbook, and those kept."""
    found = []
    for kind, rows in SHEETS.items():
        found.append((f"{kind}.csv", "\n".join(";".join(row) for row in rows).encode()))
        book = openpyxl.Workbook()
        for row in rows:
            book.worksheets[0].append(row)
        saved = io.BytesIO()
        book.save(saved)
        found.append((f"{kind}.xlsx", saved.getvalue()))
    return (*found, *kept_files())


def kept_files() -> tuple[tuple[str, bytes], ...]:
    """Files that were once taken wrongly, or are hard to take rightly."""
    paths = sorted(path for path in SPOILED.iterdir() if path.suffix != ".md")
    return tuple((path.name, path.read_bytes()) for path in paths)


class Fuzz:
    """Loads files and holds what comes of it against what may."""

    def __init__(self, folder: Path) -> None:
        self.grounds = {}
        for name in ("fresh", "planted"):
            (folder / name).mkdir()
            self.grounds[name] = Ground(folder / name, fresh=name == "fresh")
        self.last: list[Path] = []
        self._opened = loading._opened
        # What is asked of the store before a file is judged is the same for each: the store is.
        opened = {
            ground.store: (Store.open(ground.store), ground.known)
            for ground in self.grounds.values()
        }
        loading._opened = opened.__getitem__  # type: ignore[assignment]
        self.batches: list[Batch] = []
        self.stored = 0
        self._judge = records.judge

        def judge(*asked: Any) -> Batch:
            self.batches[:] = [self._judge(*asked)]
            return self.batches[0]

        records.judge = judge  # type: ignore[assignment]
        self._settle = vars(judge_sheets)["settle"]
        settled: dict[tuple[int, Sheet], pd.DataFrame] = {}

        def settle(frame: pd.DataFrame | None, form: Form) -> pd.DataFrame:
            key = (id(frame), form.sheet)  # the frames of the grounds live as long as this
            if key not in settled:
                settled[key] = self._settle(frame, form)
            return settled[key]

        vars(judge_sheets)["settle"] = settle

    def close(self) -> None:
        """Let loading ask the store again."""
        loading._opened = self._opened
        records.judge = self._judge
        vars(judge_sheets)["settle"] = self._settle

    def judge(self, one: Spoiled) -> str:
        """What became of the files; raises ``Wrong`` where that may not be."""
        ground = self.grounds["fresh" if one.fresh else "planted"]
        for path in self.last:
            path.unlink(missing_ok=True)
        self.last = [ground.folder / name for name, _ in one.files]
        for path, (_, data) in zip(self.last, one.files, strict=True):
            path.write_bytes(data)
        agreed = Agreed(guesses=one.guesses, answers=dict(one.answers), accept=one.accept)
        try:
            added = season.load(ground.store, self.last, agreed=agreed)
        except TallybedError as refused:
            if ground.changed():
                ground.again()
                raise Wrong("refused, but the store changed") from refused
            if not self._says_where(refused):
                raise Wrong(f"a refusal without its place: {refused}") from refused
            if isinstance(refused, ReadingNeeded):
                return "asked"
            return "held" if isinstance(refused, RecordsHeld) else "refused"
        if added.nothing_new:
            ground.again()
            return "nothing new"
        try:
            self._taken_from_the_files(one, ground)
        finally:
            ground.again()
        return "stored"

    def _says_where(self, refused: TallybedError) -> bool:
        text = str(refused)
        if isinstance(refused, RecordsRefused):
            faults = list(refused.faults)
            names = [path.name for path in self.last]
            return bool(faults) and all(
                fault.problem and fault.remedy and any(fault.file.startswith(n) for n in names)
                for fault in faults
            )
        if isinstance(refused, ReadingNeeded):
            return all(guess.cells.file in text for guess in refused.guesses)
        return any(path.name in text for path in self.last) or "'" in text

    def _taken_from_the_files(self, one: Spoiled, ground: Ground) -> None:
        # What was handed to the store; every so often, what it gives back.
        fresh = self.batches[-1].frames
        if self.stored % LOOKED_AT == 0:
            fresh = new_rows(ground.known.frames, Store.open(ground.store).known().frames)
        self.stored += 1
        traces = Traces(one.files, dict(one.answers))
        beside = set(fresh[Sheet.TRIALS]["factors"]) if Sheet.TRIALS in fresh else set()
        untraced = traces.untraced(fresh, OURS | ground.names | beside)
        if untraced:
            raise Wrong("; ".join(untraced))


def run(
    files: int,
    start: int,
    folder: Path,
    keep: Path | None = None,
    kept: Sequence[tuple[str, bytes]] | None = None,
    *,
    derandomized: bool = False,
) -> Count:
    """Load files until that many were loaded; hypothesis shrinks what goes wrong."""
    fuzz, count = Fuzz(folder), Count()
    made = spoiled(corpus() if kept is None else kept)

    def each(one: Spoiled) -> None:
        try:
            count.became[fuzz.judge(one)] += 1
        except Wrong as wrong:
            count.became["wrong"] += 1
            count.wrong[str(wrong).split(":")[0]] += 1
            raise
        except Exception:
            count.became["a fault of ours"] += 1
            count.wrong["traceback"] += 1
            raise

    piece = 0
    try:
        while count.became.total() < files:
            most = min(PIECE, files - count.became.total())
            if derandomized:
                search = settings(_quick(most), derandomize=True)(given(made)(each))
            else:
                search = seed(start * 1_000_003 + piece)(_quick(most)(given(made)(each)))
            piece += 1
            try:
                search()
            except Exception as fault:  # noqa: BLE001 (what is looked for here)
                number = len(count.least) + 1
                count.least.append(f"{number}: {type(fault).__name__}: {fault}")
                for path in fuzz.last if keep is not None else ():
                    shutil.copy(path, (keep or folder) / f"{start} {number} {path.name}")
            if derandomized:
                break
    finally:
        fuzz.close()
    return count


def _quick(examples: int) -> settings:
    return settings(
        max_examples=examples,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate, Phase.shrink),
        report_multiple_bugs=False,
        print_blob=False,
    )


def main() -> None:
    """Run it and print what became of the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    warnings.simplefilter("error")
    keep = Path(tempfile.gettempdir()) / "fuzz_loading"
    keep.mkdir(exist_ok=True)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        count = run(asked.files, asked.seed, Path(folder), keep)
    print(f"{count.became.total():7,} loads in {time.monotonic() - began:,.0f} s")
    for what, files in count.became.most_common():
        print(f"{files:7,} {what}")
    for what in (
        "traceback",
        "refused, but the store changed",
        "a refusal without its place",
    ):
        print(f"{count.wrong.pop(what, 0):7,} {what}")
    print(f"{count.wrong.total():7,} stored what is not in the files")
    for line in count.least:
        print(f"  kept in {keep}: {line[:600]}")
    sys.exit(1 if count.least else 0)


if __name__ == "__main__":
    main()
