"""Makes a store with one closed trial of many entries, through the season's own calls."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from trials import season

TRIAL = "aster-2026"
BLOCKS = 3
PLANTS = 12


def write(folder: Path, sheet: str, headings: str, rows: Sequence[Sequence[object]]) -> None:
    with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(headings.split(","))
        writer.writerows(rows)


def made(folder: Path, entries: int) -> Path:
    """The store of a trial of so many varieties in complete blocks, cut on two days."""
    folder.mkdir(parents=True)
    names = [f"Variety {number + 1:03d}" for number in range(entries)]
    ends = "season,site,starts_on,ends_on,last_spring_frost,first_autumn_frost"
    write(folder, "sites", "site,place,bed_width_m,note", [("Field", "x", 1.2, "")])
    write(folder, "seasons", ends, [(2026, "Field", "2026-03-01", "2026-11-30", "", "")])
    write(folder, "varieties", "variety,crop,colour,habit", [(n, "aster", "", "") for n in names])
    write(
        folder,
        "trials",
        "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
        "equivalence_margin,minimum_length_cm",
        [(TRIAL, 2026, "Field", "aster", "Which aster gives the most stems?",
          "variety on plots", names[0], "stems_per_plant", 0.05, "", 40)],
    )  # fmt: skip
    plots: list[Sequence[object]] = []
    stands: list[Sequence[object]] = []
    cuts: list[Sequence[object]] = []
    samples: list[Sequence[object]] = []
    for block in range(1, BLOCKS + 1):
        for place in range(entries):
            variety = (place * 7 + block * 31) % entries if entries % 7 else place
            code = f"P{len(plots) + 1}"
            plots.append(
                (TRIAL, code, block, f"Bed {block}", place + 1, names[variety], PLANTS, 1.2, 1.44,
                 "2026-05-20")
            )  # fmt: skip
            stands.append((code, "2026-07-20", PLANTS - (place + block) % 2))
            chance = (len(plots) * 7919) % 23
            for day in ("2026-07-25", "2026-08-08"):
                for grade in (30, 40, 50):
                    stems = 12 + variety % 17 + 2 * block + chance // 3 + grade // 10
                    cuts.append((code, day, "picked", grade, stems, ""))
            for stem in (1, 2, 3):
                length = 40 + variety % 11 + stem + chance % 5
                samples.append((code, "2026-07-25", stem, length))
    write(folder, "plots", "trial,plot,block,bed,position,variety,plants_set,net_length_m,"
          "net_area_m2,transplanted_on", plots)  # fmt: skip
    write(folder, "stand_counts", "plot,counted_on,living", stands)
    write(folder, "cuts", "plot,cut_on,outcome,grade_cm,stems,cull_reason", cuts)
    write(folder, "stem_samples", "plot,cut_on,stem,length_cm", samples)
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    season.close(store, TRIAL, date(2026, 10, 1), "frost")
    return store
