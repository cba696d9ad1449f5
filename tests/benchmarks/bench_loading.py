"""Times a load of cut records with everything judged, beside DuckDB's bare COPY of the same file.

Run:  python tests/benchmarks/bench_loading.py [--rows 1000000]

The bare COPY casts six columns into a table without a key, a check or a reference. The load reads
every cell as text, judges it, judges the rows against each other and against the trial, and stores
them under their keys with the entry of the history that brought them. Each runs in a process of
its own, so that the largest memory is its own.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

PLOTS, GRADES = 2000, (30, 40, 50, 60)
BARE = (
    "CREATE TABLE cuts (plot VARCHAR, cut_on DATE, outcome VARCHAR, grade_cm INTEGER, "
    "stems INTEGER, cull_reason VARCHAR)"
)


def write_farm(folder: Path) -> None:
    """One trial of many plots, and what it rests on."""
    files = {
        "sites.csv": "site,place,bed_width_m\nField,east,1.2\n",
        "seasons.csv": "season,site,starts_on,ends_on\n2026,Field,2026-03-01,2026-11-30\n",
        "varieties.csv": "variety,crop\n" + "".join(f"V{i},zinnia\n" for i in range(20)),
        "trials.csv": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
        "equivalence_margin,minimum_length_cm\n"
        "T,2026,Field,zinnia,Which?,variety on plots,V0,stems_per_plant,0.05,"
        "10 %,40\n",
        "plots.csv": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
        "transplanted_on\n"
        + "".join(
            f"T,P{i:04d},{i // 20 + 1},B{i // 20},{i % 20 + 1},V{i % 20},40,3,3.6,2026-05-01\n"
            for i in range(PLOTS)
        ),
    }
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")


def write_cuts(path: Path, rows: int) -> None:
    """Cuts of every plot day by day, four grades and one reason for culling each."""
    with path.open("w", encoding="utf-8") as file:
        file.write("plot,cut_on,outcome,grade_cm,stems,cull_reason\n")
        written = 0
        day = date(2026, 6, 1)
        while True:
            for i in range(PLOTS):
                lines = [f"{g},{(i * 7 + day.day + g) % 9}," for g in GRADES]
                lines.append(f",{(i + day.day) % 4},short")
                for line in lines:
                    if written == rows:
                        return
                    file.write(f"P{i:04d},{day},picked,{line}\n")
                    written += 1
            day += timedelta(1)


def bare_copy(folder: Path, cuts: Path) -> float:
    """Seconds of DuckDB's own COPY, with opening and closing the file."""
    import duckdb

    begun = time.perf_counter()
    connection = duckdb.connect(folder / "bare.duckdb")
    connection.execute(BARE)
    connection.execute(f"COPY cuts FROM '{cuts}' (HEADER)")
    connection.close()
    return time.perf_counter() - begun


def load(folder: Path, cuts: Path) -> float:
    """Seconds of a load into a store that holds the trial."""
    from trials import season

    store = folder / f"{cuts.stem}.tallybed"
    season.load(store, [folder / "farm"])
    begun = time.perf_counter()
    season.load(store, [cuts])
    return time.perf_counter() - begun


def command(folder: Path, cuts: Path) -> float:
    """Seconds of the command, from its start to its end."""
    from trials import season

    store = folder / "command.tallybed"
    season.load(store, [folder / "farm"])
    begun = time.perf_counter()
    words = ("-m", "trials.cli", "load", str(cuts), "--store", str(store))
    subprocess.run([sys.executable, *words], check=True, capture_output=True)
    return time.perf_counter() - begun


WAYS = {"copy": bare_copy, "load": load, "command": command}


def timed(way: str, folder: Path, cuts: Path) -> tuple[float, float]:
    """Seconds and the largest memory (MB) of one way, in a process of its own."""
    words = (__file__, "--way", way, "--folder", str(folder), "--cuts", str(cuts))
    said = subprocess.run([sys.executable, *words], check=True, capture_output=True, text=True)
    seconds, memory = said.stdout.split()
    return float(seconds), float(memory)


def main() -> None:
    """Run each way and print how they compare."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--way", choices=list(WAYS))
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--cuts", type=Path)
    asked = parser.parse_args()
    if asked.way:
        seconds = WAYS[asked.way](asked.folder, asked.cuts)
        print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "farm").mkdir()
        write_farm(folder / "farm")
        many, few = folder / "many.csv", folder / "few.csv"
        write_cuts(many, asked.rows)
        write_cuts(few, 300)
        copied, _ = timed("copy", folder, many)
        loaded, memory = timed("load", folder, many)
        print(f"{asked.rows:,} cut records: bare COPY {copied:.2f} s, load {loaded:.2f} s")
        print(f"factor {loaded / copied:.1f}, largest memory {memory:,.0f} MB")
        print(f"300 cut records: load {timed('load', folder, few)[0]:.2f} s", end=", ")
        print(f"as a command with its start {timed('command', folder, few)[0]:.2f} s")


if __name__ == "__main__":
    main()
