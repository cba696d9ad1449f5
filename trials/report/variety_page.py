"""A variety as words and tables: its place in the list, its trials, its seed and its prices."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from trials.model.photo import StoredPhoto
from trials.model.seed_lot import SeedLot
from trials.model.trial import SeedItem, Trial
from trials.model.units import UnitSystem, cm_to_inches
from trials.model.variety import Measured, VarietyInList
from trials.report.choice_page import reason_words
from trials.report.comparison_tables import means_table
from trials.report.figures import Figures, count, figures_of, per_cent
from trials.report.grid import Column, Table

if TYPE_CHECKING:
    from trials.decide import Choice
    from trials.stats.results import Comparison

NOT_RECORDED = "not recorded"
VARIETY = "variety"


@dataclass(frozen=True, slots=True)
class InTrial:
    """A variety's trial, with the comparison of its main measure.

    ``comparison`` is None where none can be made, and ``why_not`` says why.
    """

    trial: Trial
    comparison: Comparison | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class VarietyRecords:
    """What the store has about a variety, except what its trials found.

    ``measured`` has the newest season first. ``offers`` are the packets and price breaks of each
    house's newest list; ``currencies`` are the houses' own.
    """

    listed: VarietyInList
    measured: tuple[Measured, ...]
    lots: tuple[SeedLot, ...]
    offers: tuple[SeedItem, ...]
    currencies: Mapping[str, str]
    photos: tuple[StoredPhoto, ...]


# What the list can be sorted by; what is not recorded comes last.
SORTS: Mapping[str, Callable[[VarietyInList], tuple[object, ...]]] = MappingProxyType(
    {
        "Name": lambda each: (each.variety.casefold(),),
        "Crop": lambda each: (each.crop.casefold(), each.variety.casefold()),
        "Newest trial": lambda each: (-(each.newest_season or 0), each.variety.casefold()),
        "Tallest": lambda each: _largest_first(each.height_cm, each),
        "Longest vase life": lambda each: _largest_first(each.vase_life_days, each),
    }
)


def _largest_first(value: float | None, each: VarietyInList) -> tuple[object, ...]:
    return value is None, -(value or 0.0), each.variety.casefold()


def listed_varieties(
    found: Iterable[VarietyInList], text: str, sort: str
) -> tuple[VarietyInList, ...]:
    """The varieties whose name, crop, colour or habit contains every word of a text, in order."""
    words = text.casefold().split()
    fitting = [
        each for each in found if all(word in _description(each).casefold() for word in words)
    ]
    return tuple(sorted(fitting, key=SORTS[sort]))


def _description(each: VarietyInList) -> str:
    return " ".join(part for part in (each.variety, each.crop, each.colour, each.habit) if part)


def list_facts(each: VarietyInList, system: UnitSystem) -> list[str]:
    """What the list says of a variety behind its name."""
    grown = f"{count(len(each.trials), 'trial')}, newest {each.newest_season}"
    facts = [
        each.crop,
        each.colour or "",
        each.habit or "",
        grown if each.trials else "no trial yet",
        f"{height_words(each.height_cm, system)} tall" if each.height_cm is not None else "",
        f"{days_words(each.vase_life_days)} in the vase" if each.vase_life_days is not None else "",
        count(each.photos, "photo") if each.photos else "",
    ]
    return [fact for fact in facts if fact]


def height_words(height_cm: float | None, system: UnitSystem) -> str:
    """A height in the reader's unit."""
    if height_cm is None:
        return NOT_RECORDED
    return f"{cm_to_inches(height_cm):.0f} in" if system is UnitSystem.US else f"{height_cm:.0f} cm"


def days_words(days: float | None) -> str:
    """A vase life in days."""
    return NOT_RECORDED if days is None else f"{days:.1f} days"


def description_lines(each: VarietyInList, system: UnitSystem) -> list[str]:
    """What the variety is like, a line for each fact."""
    return [
        f"Colour: {each.colour or NOT_RECORDED}",
        f"Habit: {each.habit or NOT_RECORDED}",
        f"Height (mean stem length): {height_words(each.height_cm, system)}",
        f"Vase life: {days_words(each.vase_life_days)}",
    ]


def trials_table(
    records: VarietyRecords, in_trials: Sequence[InTrial], system: UnitSystem
) -> Table:
    """One row per trial, the newest first: the main measure and what the comparison says."""
    measured = {each.trial: each for each in records.measured}
    headings = ("trial", "season", "main measure", "mean", "interval", "could be best")
    return Table(
        (
            *(Column(heading, right=heading == "mean") for heading in headings),
            Column("difference from the check"),
            Column("height"),
            Column("vase life"),
        ),
        tuple(
            (
                *_trial_row(each, records.listed.variety, system),
                *_measured_cells(measured.get(each.trial.code), system),
            )
            for each in in_trials
        ),
    )


def _measured_cells(measured: Measured | None, system: UnitSystem) -> tuple[str, str]:
    if measured is None:
        return "–", "–"
    height, vase_life = measured.height_cm, measured.vase_life_days
    return (
        "–" if height is None else height_words(height, system),
        "–" if vase_life is None else days_words(vase_life),
    )


def _trial_row(each: InTrial, variety: str, system: UnitSystem) -> tuple[str, ...]:
    trial, comparison = each.trial, each.comparison
    code = trial.code if trial.closed_on else f"{trial.code} (still open)"
    head = (code, str(trial.season))
    if comparison is None:
        return (*head, "", "–", "–", "–", "–")
    figures = figures_of(comparison, system)
    cells = _cells_of(comparison, variety, figures)
    mean = cells.get("mean", "–")
    check = next((text for name, text in cells.items() if name.startswith("difference")), "–")
    if check not in {"–", "the check"}:
        check = f"{comparison.check}: {check}"
    return (
        *head,
        comparison.measure,
        mean if mean == "–" else f"{mean} {figures.unit}",
        next((text for name, text in cells.items() if name.endswith("interval")), "–"),
        cells.get("could be best", "–"),
        check,
    )


def _cells_of(comparison: Comparison, variety: str, figures: Figures) -> dict[str, str]:
    """The row of a variety in the table of means, by its headings."""
    table = means_table(comparison, VARIETY, figures)
    headings = [column.heading for column in table.columns]
    for row in table.rows:
        if row[0] == variety:
            return dict(zip(headings, row, strict=True))
    return {}


def not_compared_lines(in_trials: Iterable[InTrial]) -> list[str]:
    """Why a trial of the variety has no figures."""
    return [f"{each.trial.code}: {each.why_not}" for each in in_trials if each.why_not]


def standing_sentence(choice: Choice, variety: str, figures: Figures) -> str:
    """The verdict on a variety for next season; '' where no closed trial compared it."""
    for standing in choice.standings:
        if standing.entry == variety:
            reasons = " ".join(reason_words(reason, figures) for reason in standing.reasons)
            return (
                f"For {choice.next_season}, by {figures.named(choice.measure.label)}: "
                f"{standing.verdict.value}, number {standing.rank} of "
                f"{len(choice.standings)}. {reasons}"
            )
    return ""


def lots_table(lots: Sequence[SeedLot]) -> Table:
    """One row per seed lot, the newest first."""
    ordered = sorted(lots, key=lambda lot: (-lot.packed_for, lot.lot))
    return Table(
        (
            Column("seed lot"),
            Column("packed for", right=True),
            Column("germination on the packet", right=True),
            Column("newest test", right=True),
            Column("seeds in stock", right=True),
        ),
        tuple(
            (
                lot.lot,
                str(lot.packed_for),
                per_cent(lot.germination),
                _tested(lot),
                "not counted" if lot.seeds is None else f"{lot.seeds:,}",
            )
            for lot in ordered
        ),
    )


def _tested(lot: SeedLot) -> str:
    laid_out = sum(of for _, of in lot.test)
    if not laid_out:
        return "not tested"
    return f"{per_cent(sum(germinated for germinated, _ in lot.test) / laid_out)} of {laid_out:,}"


def prices_table(records: VarietyRecords) -> Table:
    """One row per packet and price break, by seed house."""
    ordered = sorted(
        records.offers, key=lambda item: (item.house, item.seeds, item.item, item.from_packs)
    )
    return Table(
        (
            Column("seed house"),
            Column("catalogue number"),
            Column("seeds in a packet", right=True),
            Column("from packets", right=True),
            Column("price", right=True),
            Column("list of", right=True),
            Column("available"),
        ),
        tuple(
            (
                item.house,
                item.item,
                f"{item.seeds:,}",
                str(item.from_packs),
                f"{item.price:,.2f} {records.currencies.get(item.house, '')}".strip(),
                "" if item.price_year is None else str(item.price_year),
                "yes" if item.available else "sold out",
            )
            for item in ordered
        ),
    )
