"""A season of one's own: planned, recorded, corrected, closed."""

from __future__ import annotations

import re
import shutil
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from tests.output.registry import US, output, said, with_a_plan
from tests.output.reports import report
from trials import TallybedError, season
from trials.layout.next_steps import next_steps
from trials.model.rows import Signed
from trials.report.next_words import step_sentence
from trials.season import Tally, TallyEntry
from trials.store import Store

OUT, CUT = date(2026, 4, 6), date(2026, 6, 10)
DAYS = [datetime(2026, month, 11, 12, tzinfo=UTC) for month in (1, 4, 5, 6, 7, 9, 11)]


@output
def planned_trial(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = with_a_plan(store, folder)
        parts = [
            said(own, "trials"),
            said(own, "calendar", "aster-2026"),
            said(own, "calendar", "aster-2026", "--units", "us"),
            said(own, "planted", "aster-2026", "--on", "2026-04-06"),
            said(own, "compare", "aster-2026"),
            *corrected(own, Path(folder)),
            said(own, "compare", "aster-2026", "--measure", "stems_per_metre"),
            report(own, "aster-2026", US),
            said(own, "trials"),
            said(own, "close", "aster-2026", "--on", "2026-10-01", "--reason", "frost"),
        ]
    return "\n".join(parts).replace(folder, "")


def corrected(own: Path, folder: Path) -> list[str]:
    """What is said while a day's stems are recorded, corrected, withdrawn and brought back."""
    days = ["plot,cut_on,outcome,grade_cm,stems,cull_reason"]
    for number, plot in enumerate(Store.open(own).plots("aster-2026")["plot"]):
        days.append(f"{plot},2026-06-10,picked,40,{20 + 7 * number % 11},")
    living = ["plot,counted_on,living"]
    living += [f"{row.partition(',')[0]},2026-05-20,17" for row in days[1:]]
    sheets = {"cuts": days, "stand_counts": living, "recount": [days[0], days[1][:-3] + "9,"]}
    for name, rows in sheets.items():
        (folder / f"{name}.csv").write_text("\n".join(rows), "utf-8")
    signed = ("--who", "Ida", "--why", "counted again")
    again = str(folder / "recount.csv")
    plot = days[1].partition(",")[0]
    return [
        # Without a name the computer's own is stored, which is another on every computer.
        said(own, "load", str(folder / "cuts.csv"), str(folder / "stand_counts.csv"), *signed[:2]),
        said(own, "correct", again, *signed),
        said(own, "withdraw", again, *signed),
        said(own, "undo", *signed),
        said(own, "history", plot),
        said(own, "history", "--json", "--last", "2"),
    ]


WRONG = {
    "cuts.csv": "plot,cut_on,outcome,grade_cm,stems,cull_reason\nC4222,2024-08-40,picked,40,3,\n"
    "C9999,2024-08-01,picked,40,-3,\n",
    "varieties.csv": "variety,crop,colour,habit\nWrenlach,cosmos,white,tall\n",
    "stand_counts.csv": "Plot;Counted on;Living\nC4222;2024-07-01;eleven\n",
    "trials.csv": "trial,season\nx,2031\n",
}


@output
def faults_and_refusals(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = Path(shutil.copy(store, folder))
        parts = []
        for name, text in WRONG.items():
            path = Path(folder) / name
            path.write_text(text, "utf-8")
            parts.append(said(own, "load", str(path)))
        parts += [
            said(own, "compare", "cosmos-2024", "--as-of", "1"),
            said(own, "people", "list"),
            said(own, "units", "us"),
            said(own, "choose", "roses"),
            said(own, "compare", "cosmos-2062"),
        ]
    return "\n".join(parts).replace(folder, "")


def tallied(own: Path) -> list[str]:
    """What the crew's phone and the page of trials say through a season."""
    plots = Store.open(own).plots("aster-2026")["plot"].tolist()
    finn = ("Finn", "at the bed")
    entries = (
        TallyEntry(plots[0], CUT, Tally.COUNTED, ((40, "12"), (50, "7")), (("blown", "2"),)),
        TallyEntry(plots[0], CUT, Tally.COUNTED, ((40, "13"),)),
        TallyEntry(plots[1], CUT, Tally.NOTHING, lengths=("41", "38,5"), lengths_in=("17",)),
        TallyEntry(plots[2], CUT, Tally.NOT_PICKED),
        TallyEntry(plots[3], CUT, Tally.LOST, words="hail"),
        TallyEntry(plots[4], CUT, Tally.NOTE, words="leaves yellow"),
        TallyEntry(plots[5], CUT, Tally.COUNTED, ((40, "-3"), (50, "seven"))),
        TallyEntry(plots[6], CUT, Tally.COUNTED, ((40, "900"),)),
        TallyEntry(plots[7], CUT, Tally.COUNTED),
        TallyEntry("Z99", CUT, Tally.NOTHING),
    )
    parts = []
    for number, entry in enumerate(entries):
        try:
            recorded = season.tally(own, entry, Signed(*finn, token=str(number)))
            parts.append(repr(recorded))
        except TallybedError as refusal:
            parts.append(str(refusal))
    again = season.tally(own, entries[0], Signed(*finn, token="0"))
    spray = season.SprayEntry("aster-2026", CUT, "soap", "12,5", "08:30", (plots[1], plots[8]))
    sprayed = season.record_spray(own, spray, Signed(*finn, token="spray"))
    seen = max(entry.number for entry in season.history(own))
    right = replace(entries[0], stems=((40, "13"), (50, "7")))
    corrected_tally = season.correct_tally(own, right, Signed(*finn, token="right"), seen)
    parts += [repr(again), repr(sprayed), repr(corrected_tally)]
    parts += map(repr, season.walk(own, CUT))
    seen_of = [repr(season.plot_on_day(own, "aster-2026", plot, CUT)) for plot in plots[:5]]
    parts += [re.sub(r"datetime\.datetime\([^)]*\)", "WHEN", text) for text in seen_of]
    parts.append(repr(season.grades_and_reasons(own, "aster-2026")))
    return parts


def next_steps_through(own: Path) -> list[str]:
    """What the trial needs next, by what is recorded now, on each of some days."""
    parts, told = [], season.trials_now(own, CUT)["aster-2026"]
    for day in DAYS:
        parts.append(f"{day:%Y-%m-%d}")
        parts += [step_sentence(step) for step in next_steps(told, day)]
    return parts


@output
def season_at_the_bed(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = with_a_plan(store, folder)
        parts = next_steps_through(own)
        season.planted(own, "aster-2026", OUT, signed=Signed("Ida"))
        parts += [*next_steps_through(own), *tallied(own), *next_steps_through(own)]
        parts += [said(own, "history"), said(own, "trials")]
        parts += [repr(season.winter_start(store))]
    return "\n".join(parts)
