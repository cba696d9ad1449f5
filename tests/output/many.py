"""Many entries at once, and the Python face."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pandas as pd

import trials
from tests.output.registry import METRIC, US, choosing_once, drawn, output
from trials.drawing.picture import Picture
from trials.report.figures import figures_of
from trials.report.pictures.bed_map import Showing, bed_map_picture
from trials.report.pictures.best import best_picture
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.grades import grades_picture
from trials.report.pictures.interaction import interaction_picture
from trials.report.pictures.means import means_picture
from trials.report.pictures.response import response_picture
from trials.report.pictures.seasons import seasons_picture
from trials.report.pictures.weeks import so_far_picture, weeks_picture
from trials.report.plain import json_text
from trials.stats.length_grades import GradeShare
from trials.stats.season_views import PlotSeen, SeasonMean, WeekStems


@output
def pictures_of_many(store: Path) -> str:
    """Thirty entries by two treatments, eight seasons and twenty weeks, by a rule."""
    del store
    rows = [
        {
            "variety": f"Sort {v:02}", "pinched": pinched, "block": str(block),
            "stems": 20 + 0.4 * v + (3 - 0.3 * v) * (pinched == "yes") + 7 * v * block % 5,
        }
        for v in range(30) for pinched in ("no", "yes") for block in range(1, 4)
    ]  # fmt: skip
    found = trials.compare(
        pd.DataFrame(rows), measure="stems", treatments=["variety", "pinched"], block="block",
        check="Sort 07",
    ).comparison  # fmt: skip
    figures = figures_of(found, METRIC)
    names = [f"Sort {v:02}" for v in range(30)]
    monday = date(2026, 6, 1)
    weeks = [
        WeekStems(name, monday + timedelta(7 * week), (v + 3 * week) % 7 / 2)
        for v, name in enumerate(names[:12]) for week in range(20)
    ]  # fmt: skip
    seasons = [
        SeasonMean(2019 + n, f"trial-{2019 + n}", name, 10 + (v * n) % 9, 8.0, 21.5)
        for v, name in enumerate(names) for n in range(8) if (v + n) % 5
    ]  # fmt: skip
    grades = [
        GradeShare(name, grade, (v + grade / 10) % 6, 0.2 + (v % 3) / 10)
        for v, name in enumerate(names) for grade in (30.0, 40.0, 50.0, 60.0)
    ]  # fmt: skip
    seen = [
        PlotSeen(f"P{n:03}", f"Bed {n // 30 + 1}", n % 30 + 1, str(n // 30), (names[n % 30],),
                 None if n % 17 == 0 else 10.0 + n % 13, None if n % 17 == 0 else n % 13 - 6.0)
        for n in range(120)
    ]  # fmt: skip
    bent = trials.compare(
        pd.DataFrame(
            {"spacing": cm, "block": str(b), "stems": 30 - (cm - 22) ** 2 / 9 + (b * cm) % 3 / 4}
            for cm in (10, 15, 20, 25, 30) for b in range(1, 5)
        ),
        measure="stems", treatments=["spacing"], block="block",
    ).comparison  # fmt: skip
    large = [replace(plot, value=plot.value and 1000 * plot.value) for plot in seen]
    drawings: list[Picture | None] = []
    for width in (WIDE_PX, NARROW_PX):
        drawings += [
            means_picture(found, "variety", figures, width),
            best_picture(found, "variety", figures, width),
            interaction_picture(found, "variety:pinched", figures, width),
            weeks_picture(weeks, "variety", names[:12], width),
            so_far_picture(weeks, "variety", names[:12], width),
            seasons_picture(seasons, "stems", "variety", figures, width),
            grades_picture(grades, 40.0, METRIC, "variety", names, width),
            grades_picture(grades, 40.0, US, "variety", names, width, as_shares=True),
            bed_map_picture(seen, "stems", figures, Showing.VALUE, width),
            bed_map_picture(seen, "stems", figures, Showing.APART, width),
            bed_map_picture(large, "stems", figures, Showing.VALUE, width),
            response_picture(bent, "spacing", figures_of(bent, METRIC), width),
        ]
    return drawn(drawings)


@output
@choosing_once()
def from_python(store: Path) -> str:
    farm = trials.Farm(store)
    found = farm.compare("cosmos-2025", "stem_length_cm", second_opinions=False)
    tables = (found.means, found.pairs, found.with_best, found.tests, farm.trials())
    return "\n".join(
        [
            found.summary(),
            json_text(found.to_dict()),
            found._repr_html_(),
            *(table.to_csv() for table in tables),
            repr(farm),
            repr(farm.choose("plume celosia", "stems_per_plant").standings),
        ]
    )


@output
def seasons_of_a_table(store: Path) -> str:
    """Four seasons of one table, and two treatments of which one has steps, by a rule."""
    del store
    rows = [
        {
            "variety": f"Sort {v}", "year": 2021 + n, "block": str(b),
            "stems": 20.0 + 2 * v - (v * n) % 4 + (3 * b + v * n) % 5 / 2,
        }
        for v in range(6) for n in range(4) for b in range(1, 4) if n < 3 or v < 5
    ]  # fmt: skip
    over = trials.compare(
        pd.DataFrame(rows), measure="stems", treatments=["variety"], block="block", season="year",
        check="Sort 2",
    )  # fmt: skip
    steps = [
        {
            "spacing": cm, "sown": sown, "block": str(b),
            "stems": 30 - cm * (0.5 if sown == "May" else 0.2) + (b * cm) % 4 / 3,
        }
        for cm in (10, 20, 30, 40) for sown in ("April", "May") for b in range(1, 5)
    ]  # fmt: skip
    both = trials.compare(
        pd.DataFrame(steps), measure="stems", treatments=["spacing", "sown"], block="block",
    )  # fmt: skip
    return "\n".join(
        [
            *(found.summary() for found in (over, both)),
            *(found._repr_html_() for found in (over, both)),
            json_text(over.to_dict()),
        ]
    )
