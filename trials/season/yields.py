"""What sowings gave in the records: the curve of every plot, and the weeks that later ones have."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trials import decide
from trials.layout.crops import figures_of
from trials.model.crop_facts import Fact
from trials.model.units import level_with_unit
from trials.season.proposing import own_figures
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

VARIETY = "variety"
USUAL_DAYS_BETWEEN_SOWINGS = 21  # common practice, where the crop has no figure of its own


def plot_curves(
    kept: Store, trials_used: Sequence[str], shortest_cm: float | None = None
) -> tuple[tuple[decide.PlotCurve, ...], tuple[int, ...]]:
    """The curve of every plot with living plants, and the grades (cm) of their last axis."""
    tables = {code: kept.stems_by_week(code, shortest_cm) for code in trials_used}
    grades = sorted({int(grade) for table in tables.values() for grade in table["grade_cm"]})
    weeks = 1 + max(
        (int(table["week"].max()) for table in tables.values() if len(table)), default=0
    )
    found = []
    for code, table in tables.items():
        season = kept.trial(code).season
        plots = kept.yields(code, shortest_cm)
        factors = [f.name for f in kept.trial(code).factors if f.name != VARIETY]
        picked = kept.cuts(code).query("outcome == 'picked'").groupby("plot").size()
        stems = dict(iter(table.groupby("plot")))
        for row in plots.to_dict("records"):
            if row["marketable_stems"] is None or not row["living"] > 0:
                continue
            by_week = np.zeros((weeks, len(grades)))
            if row["plot"] in stems:
                _fill(by_week, stems[row["plot"]], grades)
            planted = row["transplanted_on"]
            found.append(
                decide.PlotCurve(
                    plot=row["plot"],
                    trial=code,
                    season=season,
                    variety=row[VARIETY],
                    treatment=" ".join(level_with_unit(name, str(row[name])) for name in factors),
                    stems=by_week / row["living"],
                    days=row["days_to_first_cut"] if row["days_to_first_cut"] > 0 else None,
                    planted=None if planted is None else planted.timetuple().tm_yday,
                    cuts=int(picked.get(row["plot"], 0)),
                    per_metre=row["plants_set"] / row["net_length_m"],
                    alive=min(row["living"] / row["plants_set"], 1.0),
                )
            )
    return tuple(found), tuple(grades)


def _fill(by_week: NDArray[np.float64], rows: pd.DataFrame, grades: Sequence[int]) -> None:
    places = {grade: place for place, grade in enumerate(grades)}
    for week, grade, stems in rows[["week", "grade_cm", "stems"]].itertuples(index=False):
        by_week[week, places[grade]] = stems


def shares_of_sowings(
    kept: Store, trials_used: Sequence[str], successions: int
) -> tuple[decide.SowingShare, ...]:
    """The share of a whole season's stems that each of several sowings gives.

    The first gives what the trials' plots gave, a later one what plots planted as late gave next to
    the first in the same season. Where there are none it is assumed to start as many days later as
    it is sown and to end when the trials ended, so that it loses the last weeks.
    """
    plots, _ = plot_curves(kept, trials_used)
    crop = kept.trial(trials_used[0]).crop
    every = figures_of(crop, own_figures(kept)).get(Fact.DAYS_BETWEEN_SOWINGS)
    days = USUAL_DAYS_BETWEEN_SOWINGS if every is None else every.low
    length = max((_weeks(plot) for plot in plots), default=0)

    def share(number: int) -> decide.SowingShare:
        recorded = decide.share_of_later(plots, number, days) if number else None
        within = decide.share_within(plots, max(length - number * days / 7, 0.0))
        return recorded or decide.SowingShare(within)

    return tuple(share(number) for number in range(successions))


def _weeks(plot: decide.PlotCurve) -> int:
    cut = np.flatnonzero(plot.stems.sum(axis=1))
    return int(cut[-1]) + 1 if len(cut) else 0
