"""A plan on a page: the layouts that fit, the one that was chosen, and the season it makes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.layout.possible import headline
from trials.layout.proposals import Proposal, Way
from trials.model import AppliedTo
from trials.planning import Planned
from trials.proposing import Proposed
from trials.report.calendar_page import calendar_text
from trials.report.figures import count
from trials.report.grid import Column, Table, wrapped
from trials.report.plan_words import (
    density_sentence,
    larger_units_sentence,
    metres,
    neighbours_sentence,
    note_words,
    possible_sentences,
    spread_sentence,
    square_metres,
    tells_sentence,
)
from trials.units import UnitSystem, m_to_feet


def proposals_table(
    asked: Proposed, units: UnitSystem = UnitSystem.METRIC, chosen: int | None = None
) -> Table:
    """The layouts that fit, one row each: what each takes and what it can tell."""
    us = units is UnitSystem.US
    columns = (
        Column("no.", right=True),
        Column("layout"),
        Column("plots each", right=True),
        Column("plots", right=True),
        Column("in each", right=True),
        Column("plants", right=True),
        Column("seeds", right=True),
        Column("bed ft" if us else "bed m", right=True),
        Column("h/week", right=True),
        Column("real %", right=True),
        Column("found %", right=True),
    )
    rows = []
    for number, offer in enumerate(asked.offers, start=1):
        plan = offer.plan
        real, found = _tells(asked, offer)
        mark = "→ " if number == chosen else ""
        rows.append(
            (
                f"{mark}{number}",
                _layout_words(offer),
                str(plan.replicates),
                str(offer.plots),
                str(plan.plants_per_plot),
                f"{offer.plants:,}",
                f"{offer.seeds:,}",
                f"{m_to_feet(offer.bed_m) if us else offer.bed_m:.0f}",
                f"{offer.picking_hours_a_week:.1f}",
                real,
                found,
            )
        )
    return Table(columns, tuple(rows))


def proposal_words(number: int, offer: Proposal) -> str:
    """A proposal in one line, to choose it by."""
    plan = offer.plan
    each = count(plan.replicates, "plot")
    plants = count(plan.plants_per_plot, "plant")
    return f"{number}: {_layout_words(offer)}, {each} each of {plants}"


def table_notes(asked: Proposed) -> tuple[str, ...]:
    """What the columns of ``proposals_table`` say."""
    plan, assumed = asked.written.plan, asked.written.assumed
    columns = (
        "* the plan as it is written. plots each: of every treatment, with the plants picked and "
        "counted in each; plants and seeds in all, with guards."
    )
    told = (
        "real %: two varieties that far apart in the trial, in % of the mean, count as different "
        "(one pair). found %: varieties that truly differ by that much are told apart 80 times in "
        f"100 ({asked.family}, risk of a false alarm {plan.alpha * 100:g} %)."
    )
    picking = (
        "h/week: hours of picking and tallying in a week of cutting, at "
        f"{assumed.stems_of(plan.crop):g} stems a plant over {assumed.weeks_of_cutting:g} weeks, "
        f"{assumed.stems_an_hour:g} stems an hour, {assumed.picks_a_week:g} picks a week, "
        f"{assumed.minutes_a_plot:g} min a plot: assumed; change them in [assume]."
    )
    within = [spread_sentence(asked.spread, plan.plants_per_plot)]
    if any(factor.applied_to is not AppliedTo.PLOT for factor in plan.factors):
        within.append(larger_units_sentence(asked.spread.at(plan.plants_per_plot)))
    return (
        columns,
        told,
        picking,
        *within,
        "What smaller blocks gain on uneven ground is not in these figures, only what they cost.",
    )


def proposed_page(
    asked: Proposed, plan_file: Path | str, units: UnitSystem = UnitSystem.METRIC
) -> str:
    """What could be laid out, without laying anything out."""
    parts = [_head(asked), _offers(asked, units, None), *_answers(asked, units)]
    if asked.refused is not None:
        parts.insert(1, f"As written it does not fit\n{wrapped(asked.refused)}")
    parts += [
        calendar_text(asked.dates.tasks, asked.dates.frost, units),
        _notes(asked),
        f"Nothing was stored. Take one: tallybed plan {plan_file} --take NUMBER",
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def plan_page(planned: Planned, *, dry_run: bool, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The layouts that fit, what was laid out, and the differences it will be able to tell."""
    asked, code = planned.proposed, planned.layout.plan.code
    made = "The store was made. " if planned.store_made else ""
    stored = "Nothing was stored." if dry_run else f"{made}Stored. Print it: tallybed sheets {code}"
    told = "\n".join(wrapped(tells_sentence(row)) for row in planned.tells)
    parts = [
        _head(asked),
        _offers(asked, units, planned.number),
        f"Laid out\n{_laid_out(planned, units)}",
        f"What it will be able to tell\n{told}",
        *_answers(asked, units),
        calendar_text(asked.dates.tasks, asked.dates.frost, units),
        _notes(asked),
        stored,
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def sheets_page(files: Sequence[Path]) -> str:
    """Which files were written."""
    return "Written\n" + "\n".join(f"  {path}" for path in files) + "\n"


def _head(asked: Proposed) -> str:
    plan = asked.written.plan
    title = f"{plan.code}: {plan.question}"
    return f"{title}\n{'═' * len(title)}"


def _offers(asked: Proposed, units: UnitSystem, chosen: int | None) -> str:
    notes = "\n".join(wrapped(note) for note in table_notes(asked))
    return f"Layouts that fit\n{proposals_table(asked, units, chosen).text()}\n{notes}"


def _answers(asked: Proposed, units: UnitSystem) -> list[str]:
    if asked.possible is None:
        return []
    said = "\n".join(wrapped(line) for line in possible_sentences(asked.possible, units))
    return [f"What is possible\n{said}"]


def _notes(asked: Proposed) -> str:
    if not asked.notes:
        return ""
    return "Notes\n" + "\n".join(wrapped(note_words(note)) for note in asked.notes)


def _tells(asked: Proposed, offer: Proposal) -> tuple[str, str]:
    row = headline(offer.plan, offer.tells)
    if row is None or not row.found:
        return "–", "–"
    family = row.of(asked.family) or row.found[-1]
    return f"{row.found[0].least_percent:.1f}", f"{family.found_percent:.1f}"


def _layout_words(offer: Proposal) -> str:
    plan = offer.plan
    words = str(plan.kind)
    if plan.block_size is not None:
        words += f" of {plan.block_size}"
    return f"{words} *" if offer.way is Way.AS_WRITTEN else words


def _laid_out(planned: Planned, units: UnitSystem) -> str:
    layout, offer = planned.layout, planned.taken
    plan, plots = layout.plan, layout.plots
    counted = f"{offer.plants_set:,} that are picked and counted"
    lines = [
        ("Layout", f"{plan.kind}, {count(plan.replicates, 'replicate')}"),
        ("Plots", f"{len(plots)}, from {plots[0].code} to {plots[-1].code}"),
        ("Plants", f"{counted}, and {count(offer.guards_set, 'guard plant')}"),
        ("Seeds", f"{offer.seeds:,} to sow"),
        ("Beds", _beds(offer, units)),
        ("Density", density_sentence(plan, units)),
        ("Guards", _guards(planned)),
        ("Neighbours", neighbours_sentence(planned.beside)),
        ("Lot", f"drawn with seed {plan.seed}: the same seed draws the same layout"),
    ]
    if layout.efficiency is not None:
        bound = "" if layout.bound is None else f"; no such blocks exceed {layout.bound:.3f}"
        lines.insert(1, ("Efficiency", f"{layout.efficiency:.3f} of complete blocks{bound}"))
    return "\n".join(
        wrapped(words, indent=" " * 14).replace(" " * 14, f"  {name:<12}", 1)
        for name, words in lines
    )


def _beds(offer: Proposal, units: UnitSystem) -> str:
    """Length of bed, and the ground with the paths where they are known."""
    plan = offer.plan
    words = f"{metres(offer.bed_m, units)} of the {metres(offer.bed_m_there, units)} there are"
    if any(bed.path_m is None for bed in plan.beds):
        return words
    bed = sum(each.length_m * each.width_m for each in plan.beds)
    ground = bed + sum(each.length_m * (each.path_m or 0.0) for each in plan.beds)
    figures = (square_metres(area, units) for area in (bed, ground))
    return "{}; beds of {}, {} with their paths".format(words, *figures)


def _guards(planned: Planned) -> str:
    plan = planned.layout.plan
    if plan.guard_plants == 0:
        return "none"
    each = f"{count(plan.guard_plants, 'plant')} at each end of every row of a plot, not counted"
    spilling = [factor.name for factor in plan.factors if factor.name in plan.spilling]
    if not spilling:
        return each
    return f"{each}; {' and '.join(spilling)} reach over, and {2 * plan.guard_plants} stand between"
