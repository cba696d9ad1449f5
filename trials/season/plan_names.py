"""The names in a plan that the store lacks: they are checked like typed rows and stored with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from trials import records
from trials.errors import Fault, RecordsRefused, Remedy, TrialState, Verb
from trials.model.rows import Batch, Known, Sheet
from trials.records.plan.file import WrittenPlan
from trials.season.loading import known_of_nothing
from trials.store import Store
from trials.store.stored_sheets import known_names

VARIETY = "variety"
# The keys of a plan that the columns of the sheets are filled from.
KEYS: Mapping[tuple[Sheet, str], str] = {
    (Sheet.SITES, "site"): "site",
    (Sheet.SITES, "place"): "site",
    (Sheet.SITES, "bed_width_m"): "beds",
    (Sheet.SEASONS, "season"): "season",
    (Sheet.SEASONS, "site"): "site",
    (Sheet.SEASONS, "starts_on"): "calendar.season_starts_on",
    (Sheet.SEASONS, "ends_on"): "calendar.season_ends_on",
    (Sheet.SEASONS, "last_spring_frost"): "calendar.last_spring_frost",
    (Sheet.SEASONS, "first_autumn_frost"): "calendar.first_autumn_frost",
    (Sheet.VARIETIES, "variety"): "factors.levels",
    (Sheet.VARIETIES, "crop"): "crop",
}

Rows = Sequence[Mapping[str, str]]


def new_varieties(kept: Store | None, written: WrittenPlan) -> Batch:
    """The varieties of a plan that the store does not have yet, checked.

    Raises
    ------
    RecordsRefused
        A name cannot be right, such as another spelling of a stored variety; faults carry the
        plan's keys.
    """
    known = _known(kept)
    return _checked({Sheet.VARIETIES: _varieties(known, written)}, known)


def new_names(kept: Store | None, written: WrittenPlan) -> Batch:
    """The same with the plan's season and site, where the store lacks them.

    Raises
    ------
    RecordsRefused
        A name or a day cannot be right; faults carry the plan's keys.
    TrialState
        Neither the store nor the plan has the days of the season.
    """
    known = _known(kept)
    tables = {**_season(known, written), Sheet.VARIETIES: _varieties(known, written)}
    return _checked(tables, known)


def _known(kept: Store | None) -> Known:
    return known_of_nothing() if kept is None else known_names(kept)


def _checked(tables: Mapping[Sheet, Rows], known: Known) -> Batch:
    filled = {sheet: rows for sheet, rows in tables.items() if rows}
    if not filled:
        return Batch({}, (), {})
    try:
        return records.judge_rows(filled, known)
    except RecordsRefused as refused:
        raise RecordsRefused([_by_key(fault) for fault in refused.faults]) from refused


def _by_key(fault: Fault) -> Fault:
    """The fault of a row, by the key of the plan that filled it."""
    key = KEYS.get((Sheet(fault.file.removesuffix(".csv")), fault.column or ""))
    return Fault("the plan", None, key, fault.problem, fault.remedy, called="key")


def _varieties(known: Known, written: WrittenPlan) -> Rows:
    """Each variety that the store lacks, as one of the plan's crop."""
    levels = [name for each in written.plan.factors if each.name == VARIETY for name in each.levels]
    held = set(known.frames[Sheet.VARIETIES][VARIETY])
    return [
        {"variety": name, "crop": written.plan.crop, "colour": "", "habit": ""}
        for name in levels
        if name not in held
    ]


def _season(known: Known, written: WrittenPlan) -> dict[Sheet, Rows]:
    """The season at its site, and the site itself, as far as the store lacks them."""
    asked, timing = written.plan, written.timing
    seasons = known.frames[Sheet.SEASONS]
    if (asked.season, asked.site) in set(zip(seasons["season"], seasons["site"], strict=True)):
        return {}
    if timing.season_starts_on is None or timing.season_ends_on is None:
        raise TrialState(
            f"The store has no season {asked.season} at {asked.site!r}.",
            Remedy(
                "Add its first and last day to the plan",
                Verb.PLAN,
                "PLAN.toml, with season_starts_on and season_ends_on in [calendar], or with "
                "sites.csv and seasons.csv loaded first",
            ),
        )
    days = {
        "starts_on": timing.season_starts_on,
        "ends_on": timing.season_ends_on,
        "last_spring_frost": timing.last_spring_frost,
        "first_autumn_frost": timing.first_autumn_frost,
    }
    season = {"season": str(asked.season), "site": asked.site, **_written(days)}
    tables: dict[Sheet, Rows] = {Sheet.SEASONS: [season]}
    if asked.site not in set(known.frames[Sheet.SITES]["site"]):
        width = f"{asked.beds[0].width_m:.15g}"
        site = {"site": asked.site, "place": asked.site, "bed_width_m": width, "note": ""}
        tables = {Sheet.SITES: [site], **tables}
    return tables


def _written(days: Mapping[str, date | None]) -> dict[str, str]:
    return {name: "" if day is None else day.isoformat() for name, day in days.items()}
