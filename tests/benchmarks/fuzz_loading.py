"""Loads thousands of spoiled files into a store and counts what became of them.

Run:  python tests/benchmarks/fuzz_loading.py [--files 10000] [--seed 1]

Each file is a right one of some kind (ours, wide, another encoding, a workbook, Parquet, mended
rows) that was spoiled at the level of bytes or of cells, some of them with hostile text. A refusal
must be one of the program's own, name a place, and leave the store's bytes as they were; what is
taken in must read back. Anything else is printed with its seed, and the file is kept.
"""

from __future__ import annotations

import argparse
import csv
import io
import random
import shutil
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl
import pandas as pd

from trials import loading, season
from trials.errors import ReadingNeeded, RecordsRefused, TallybedError
from trials.records.agreeing import Agreed

Rows = list[list[str]]

FARM = {
    "sites.csv": "site,place,bed_width_m\nLow Field,by the brook,1.2\n",
    "seasons.csv": "season,site,starts_on,ends_on\n2026,Low Field,2026-03-25,2026-10-31\n",
    "varieties.csv": "variety,crop\nEmber,zinnia\nFrost Fern,zinnia\n",
    "trials.csv": "trial,season,site,crop,question,factors,check,primary_measure,alpha,margin,"
    "shortest_length_cm\nZ26,2026,Low Field,zinnia,Which?,variety on plots,Ember,stems_per_plant,"
    "0.05,10 %,40\n",
    "plots.csv": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
    "transplanted_on\nZ26,A1,1,North,1,Ember,16,1.2,1.44,2026-05-20\n"
    "Z26,A2,1,North,2,Frost Fern,16,1.2,1.44,2026-05-20\n",
}
SHEETS: dict[str, Rows] = {
    "cuts": [
        ["plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason"],
        ["A1", "2026-07-20", "picked", "40", "12", ""],
        ["A1", "2026-07-20", "picked", "", "2", "short"],
        ["A2", "2026-07-20", "missed", "", "", ""],
        ["A2", "2026-07-27", "picked", "30", "7", ""],
    ],
    "stands": [
        ["plot", "counted_on", "living"],
        ["A1", "2026-06-10", "16"],
        ["A2", "2026-06-10", "14"],
    ],
    "events": [
        ["trial", "plot", "happened_on", "kind", "reason"],
        ["Z26", "A1", "2026-06-12", "note", "deer, perhaps"],
        ["Z26", "", "2026-10-14", "frost", ""],
    ],
    "scores": [["plot", "scored_on", "trait", "value"], ["A1", "2026-08-01", "vase life", "8.5"]],
    "varieties": [["variety", "crop", "colour", "habit"], ["Tallow", "zinnia", "cream", "low"]],
    "by date": [
        ["Plot", "20/7/26", "27/7/26", "Total"],
        ["A1", "12", "x", "12"],
        ["A2", "", "3", "3"],
    ],
    "by grade": [["Tag", "Date", "30 cm", "40 cm", "bent"], ["A1", "20 Jul 2026", "3", "4", "1"]],
    "by plot": [["Day", "A1", "A2"], ["1.8.26", "12", "4"], ["8.8.26", "", "0"]],
    "lengths": [
        ["plot", "date", "length (in)"],
        ["A1", "2026-07-20", '18 1/2"'],
        ["A1", "20.7.26", "12,5"],
    ],
    "mended": [
        ["what to mend", "stands for a row of", "its row there", "plot", "counted_on", "living"],
        ["the day", "stands.csv", "2", "A1", "2026-06-11", "15"],
    ],
}
HOSTILE = (
    *("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("http://x")', "=cmd|' /C calc'!A0"),
    *("<script>alert(1)</script>", "![x](http://x/y.png)", "{{7*7}}", "%s%n", "$(reboot)", "`id`"),
    *("'; DROP TABLE cut; --", '" OR 1=1', "Robert'); DELETE FROM plot;--", "?", "$1"),
    *("../../etc/passwd", "C:\\Windows", "file:///etc/passwd", "\\\\host\\share", "/dev/zero"),
    *("\u202eevil", "\u200b", "\ufeff", "\u0000", "\x1b[31m", "\x07", "e\u0301" * 9, "𝟙𝟚", "١٢"),
    *("NaN", "inf", "-inf", "1e308", "1e999", "0x10", "1_000", "9" * 400, "-0", "0" * 50 + "1"),
    *("2026-02-30", "0000-00-00", "9999-12-31", "01/02/2026", "2026-07-20T25:61", "46206"),
    *("", " ", "\n", "a\nb", '"', '""', ",", ";", "\t", "|", "null", "None", "TRUE", "#REF!"),
    *("x" * 1001, "é" * 1000, "\ufffe", "A1 ", "a1", "Á1", "total", "40+", '12"', "½", "1/0"),
)  # fmt: skip


@dataclass(slots=True)
class Count:
    """What became of the files, and what must not have."""

    became: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def planted(folder: Path) -> Path:
    """A store with one small trial."""
    for name, text in FARM.items():
        (folder / name).write_text(text, "utf-8")
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    return store


def spoiled_cells(rows: Rows, chance: random.Random) -> Rows:
    """A table with one to three things wrong with its cells, rows or columns."""
    rows = [list(row) for row in rows]
    for _ in range(chance.randint(1, 3)):
        row = chance.randrange(len(rows))
        column = chance.randrange(len(rows[row])) if rows[row] else 0
        match chance.randrange(9):
            case 0 | 1 | 2 | 3:
                if rows[row]:
                    rows[row][column] = chance.choice(HOSTILE)
            case 4:
                rows.insert(row, list(rows[row]))
            case 5:
                rows[row] = rows[row][:column]
            case 6:
                rows = [
                    [*r[:column], r[column] if column < len(r) else "", *r[column:]] for r in rows
                ]
            case 7:
                rows = [r[:column] + r[column + 1 :] for r in rows]
            case _:
                other = chance.randrange(len(rows))
                rows[row], rows[other] = rows[other], rows[row]
    return rows


def spoiled_bytes(data: bytes, chance: random.Random) -> bytes:
    """Bytes flipped, cut out, put in, repeated or broken off."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(out) + 1)
        match chance.randrange(6):
            case 0 if at < len(out):
                out[at] ^= 1 << chance.randrange(8)
            case 1:
                del out[at : at + chance.randint(1, 30)]
            case 2:
                out[at:at] = chance.randbytes(chance.randint(1, 8))
            case 3:
                out[at:at] = out[at : at + chance.randint(1, 40)]
            case 4:
                out[at:at] = chance.choice(HOSTILE).encode("utf-8", "surrogatepass")
            case _:
                if chance.random() < 0.3:
                    del out[at:]
    return bytes(out)


def as_text(rows: Rows, chance: random.Random) -> bytes:
    """The table as a text file of some kind."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=chance.choice(",,,;\t|"))
    writer.writerows(rows)
    encoding = chance.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
    return out.getvalue().encode(encoding, "replace")


def as_workbook(rows: Rows, chance: random.Random) -> bytes:
    """The table as a workbook; numbers sometimes as numbers."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for r, row in enumerate(rows, 1):
        for c, text in enumerate(row, 1):
            plain = "".join(x for x in text if x.isprintable())[:30000]
            cell = page.cell(r, c)
            if plain.isascii() and plain.isdigit() and len(plain) < 15 and chance.random() < 0.7:
                cell.value = int(plain)
            elif plain:
                cell.value = plain
                if chance.random() < 0.8:
                    cell.data_type = "s"
    saved = io.BytesIO()
    book.save(saved)
    return saved.getvalue()


def as_parquet(rows: Rows, chance: random.Random) -> bytes:
    """The table as Parquet."""
    width = max(map(len, rows))
    full = [[*row, *[""] * (width - len(row))] for row in rows]
    names = [f"{name}{i}" if name in full[0][:i] else name for i, name in enumerate(full[0])]
    frame = pd.DataFrame(full[1:], columns=[n.encode("utf-8", "replace").decode() for n in names])
    return bytes(frame.to_parquet())


WRITERS: dict[str, Callable[[Rows, random.Random], bytes]] = {
    ".csv": as_text,
    ".xlsx": as_workbook,
    ".parquet": as_parquet,
}


def spoiled_files(seed: int, files: int) -> Iterator[tuple[str, bytes, Agreed]]:
    """Names, contents, and what was agreed about each."""
    chance = random.Random(seed)
    for number in range(files):
        kind = chance.choice(list(SHEETS))
        suffix = chance.choices([".csv", ".xlsx", ".parquet"], [7, 2, 1])[0]
        rows = SHEETS[kind]
        if chance.random() < 0.6:
            rows = spoiled_cells(rows, chance)
        data = WRITERS[suffix](rows, chance)
        if rows is SHEETS[kind] or chance.random() < 0.4:
            data = spoiled_bytes(data, chance)
        answers = {"sheet": "cuts", "blank": "zero", "grade_cm": "40", "dates": "day first"}
        answers |= {"year": "2026", "unit": "cm", "mark x": "missed", "decimal": "comma"}
        agreed = Agreed(
            guesses=chance.random() < 0.5,
            answers=answers if chance.random() < 0.6 else {},
            accept=chance.choice([None, "so it was"]),
        )
        yield f"{number} {kind}{suffix}", data, agreed


def fuzz(files: int, seed: int, folder: Path, keep: Path | None = None) -> Count:
    """Load spoiled files one by one into a store that each finds as the first did."""
    store = planted(folder)
    whole = store.read_bytes()
    known = loading._known(store)
    count = Count()
    held = loading._known
    # What is asked of the store before a file is judged is the same for each: the store is.
    loading._known = lambda place: known  # type: ignore[assignment]
    try:
        for name, data, agreed in spoiled_files(seed, files):
            path = folder / name
            path.write_bytes(data)
            what = _load(store, path, agreed, count)
            count.became[what] += 1
            if what in ("stored", "nothing new"):
                store.write_bytes(whole)
                store.with_name(store.name + ".wal").unlink(missing_ok=True)
            elif store.read_bytes() != whole:
                count.wrong.append(f"{name}: refused, but the store changed")
            if keep is not None and count.wrong and count.wrong[-1].startswith(name):
                shutil.copy(path, keep / name)
            path.unlink()
    finally:
        loading._known = held
    return count


def _load(store: Path, path: Path, agreed: Agreed, count: Count) -> str:
    try:
        added = season.load(store, [path], agreed=agreed)
    except RecordsRefused as refused:
        if not refused.faults or not all(f.file and f.problem and f.remedy for f in refused.faults):
            count.wrong.append(f"{path.name}: a refusal without its place: {refused}")
        return "held" if type(refused).__name__ == "RecordsHeld" else "refused"
    except ReadingNeeded as needed:
        if not all(guess.cells.file in str(needed) for guess in needed.guesses):
            count.wrong.append(f"{path.name}: a question without its place: {needed}")
        return "asked"
    except TallybedError as refused:
        if path.name not in str(refused) and "'" not in str(refused):
            count.wrong.append(f"{path.name}: a refusal without its place: {refused}")
        return "refused"
    except Exception as fault:  # noqa: BLE001 (what is looked for here)
        count.wrong.append(f"{path.name}: {type(fault).__name__}: {fault}")
        return "a fault of ours"
    return "nothing new" if added.nothing_new else "stored"


def main() -> None:
    """Run it and print what became of the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    warnings.simplefilter("error")
    keep = Path(tempfile.gettempdir()) / "fuzz_loading"
    keep.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        count = fuzz(asked.files, asked.seed, Path(folder), keep)
    for what, files in count.became.most_common():
        print(f"{files:7,} {what}")
    print(f"{len(count.wrong):7,} wrong" + ("" if not count.wrong else f", kept in {keep}:"))
    for line in count.wrong[:40]:
        print("  " + line[:300])
    sys.exit(1 if count.wrong else 0)


if __name__ == "__main__":
    main()
