"""Rules of what is laid out: seasons, trials, and plots with the levels they were given."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from trials.model.columns import Mask
from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.reference_data import TrialFacts, World, records
from trials.records.rules.validation import Judged


def mask_of(flags: Iterable[bool]) -> Mask:
    """Truths, one a record, as a mask."""
    return np.array(list(flags), dtype=bool)


def trials_of(judged: Judged, world: World) -> list[TrialFacts | None]:
    """The trial of each row, as its column ``trial`` names it; None where it is not known."""
    return [world.trials.get(code) for code in judged.cells("trial")]


def season_runs_forward(judged: Judged, world: World, faults: Faults) -> None:
    """A season ends after it starts, and its frosts come in their order."""
    for first, last in (("starts_on", "ends_on"), ("last_spring_frost", "first_autumn_frost")):
        backward = mask_of(
            a is not None and b is not None and not a < b
            for a, b in records(judged.frame, first, last)
        )
        wrong = Wrong(f"This day is not after {first}.", f"Correct {first} or {last}.")
        judged.fault(faults, backward, last, wrong)


def season_is_known(judged: Judged, world: World, faults: Faults) -> None:
    """A trial lies in a season of its site."""
    if Sheet.SEASONS in world.unsure:
        return
    sites = world.names(Sheet.SITES)
    known = set(records(world.frames[Sheet.SEASONS], "season", "site"))
    missing = mask_of(
        season is not None and site in sites and (season, site) not in known
        for season, site in records(judged.frame, "season", "site")
    )

    def words(record: int) -> Wrong:
        site = judged.cell(record, "site")
        years = sorted(year for year, where in known if where == site and year is not None)
        there = f"Its seasons are: {', '.join(map(str, years))}. " if years else ""
        return Wrong(
            f"{site} has no season {judged.cell(record, 'season')}.",
            f"{there}Add the season to seasons.csv, with its first and last day.",
        )

    judged.fault(faults, missing, "season", words)


def trial_is_open(judged: Judged, world: World, faults: Faults) -> None:
    """A closed trial takes no more records."""
    trials = trials_of(judged, world)
    closed = mask_of(trial is not None and trial.closed for trial in trials)
    judged.fault(faults, closed, "trial", lambda record: is_closed(judged.cell(record, "trial")))


def is_closed(trial: str) -> Wrong:
    """The words for a record of a closed trial."""
    return Wrong(
        f"The trial {shown(trial)} is closed and takes no more records.",
        "Leave this row out. To change a stored record, correct it.",
    )


def places_are_taken_once(judged: Judged, world: World, faults: Faults) -> None:
    """Two plots of a trial do not lie on the same ground."""
    first: dict[tuple[str, str, int], str] = {}
    for trial, bed, position, plot in records(
        world.frames[Sheet.PLOTS], "trial", "bed", "position", "plot"
    ):
        first.setdefault((trial, bed, position), plot)
    here = list(records(judged.frame, "trial", "bed", "position", "plot"))
    taken = mask_of(
        None not in (trial, bed, position, plot) and first[trial, bed, position] != plot
        for trial, bed, position, plot in here
    )

    def words(record: int) -> Wrong:
        trial, bed, position, _ = here[record]
        return Wrong(
            f"Plot {shown(str(first[trial, bed, position]))} is at position {position} of bed "
            f"{shown(bed)} already.",
            "Correct the bed or the position.",
        )

    judged.fault(faults, taken, "position", words)


def rows_have_columns(judged: Judged, world: World, faults: Faults) -> None:
    """A plot that lies in a row lies in a column, and the other way round."""
    for there, lacking in (("row", "column"), ("column", "row")):
        half = judged.frame[there].notna() & judged.frame[lacking].isna()
        judged.fault(
            faults,
            half.to_numpy(dtype=bool) & judged.clear(there, lacking),
            lacking,
            Wrong(
                f"The plot has a {there} but no {lacking}.",
                "Give both for every plot of the trial, or neither.",
            ),
        )
