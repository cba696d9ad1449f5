"""A plan on a page: the layouts that fit, the one that was chosen, and the season it makes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.decide import Rules
from trials.errors import quoted
from trials.layout.power.sample_size import headline
from trials.layout.proposals import MANY_ENTRIES, Proposal, Way
from trials.model.trial import AppliedTo
from trials.model.units import UnitSystem, m_to_feet
from trials.records.plan.proposed import Planned, Proposed
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
from trials.stats.results import LayoutKind

ASSUMED_GAIN = (
    "gain %: how much more than the check the variety chosen after the trial is expected to yield, "
    "in % of the mean. Assumed: entries differ as much as entries usually do."
)


def proposals_table(
    asked: Proposed, units: UnitSystem = UnitSystem.METRIC, chosen: int | None = None
) -> Table:
    """The layouts that fit, one row each: what each takes and how precise it is."""
    us = units is UnitSystem.US
    columns = (
        Column("no.", right=True),
        Column("layout"),
        Column("plots each", right=True),
        Column("plots", right=True),
        Column("plants/plot", right=True),
        Column("plants", right=True),
        Column("seeds", right=True),
        Column("bed ft" if us else "bed m", right=True),
        Column("h/week", right=True),
        Column("LSD %", right=True),
        Column("detectable %", right=True),
        Column("gain %", right=True),
        *(Column(heading, right=True) for heading in _money_headings(asked)),
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
                f"{offer.picking_hours_per_week:.1f}",
                real,
                found,
                *_gain_cells(asked, number),
            )
        )
    return Table(columns, tuple(rows))


def _money_headings(asked: Proposed) -> tuple[str, ...]:
    if not _in_money(asked):
        return ()
    return f"earns {asked.currency}".rstrip(), f"costs {asked.currency}".rstrip()


def _in_money(asked: Proposed) -> bool:
    return any(gain.pays is not None for gain in asked.gains)


def _gain_cells(asked: Proposed, number: int) -> tuple[str, ...]:
    if not asked.gains:
        return ("–",)
    gain = asked.gains[number - 1]
    share = f"{100 * gain.share:.1f}"
    if not _in_money(asked):
        return (share,)
    return (share, *("–" if m is None else f"{m:,.0f}" for m in (gain.earns, gain.costs)))


def decision_sentences(asked: Proposed) -> tuple[str, ...]:
    """What each layout is expected to earn by the choice after it, and which pays best."""
    if not asked.gains:
        return ()
    rules = Rules()
    said = [ASSUMED_GAIN]
    pays = [(gain.pays, i) for i, gain in enumerate(asked.gains, start=1) if gain.pays is not None]
    if pays:
        most, number = max(pays)
        much = f"{most:,.0f} {asked.currency}".rstrip()
        over = f"{rules.bed_metres:g} m of the crop per season for {rules.seasons_ahead} seasons"
        said.append(
            f"For your money: no trial. Each of these layouts costs more than it is expected to "
            f"earn over {over}."
            if most <= 0
            else f"For your money: layout {number}. It is expected to earn about {much} more "
            f"than it costs, over {over}. You sell its stems as usual, so the trial costs the "
            "tallying and one packet of each new entry that has a price."
        )
    else:
        said.append("Add prices and costs (tallying, picking) to see what each layout earns.")
    entries = len(asked.offers[0].entries)
    if entries >= MANY_ENTRIES:
        chances = [100 * gain.best_kept for gain in asked.gains]
        said.append(
            f"Chance that the best of the {entries} entries ranks in the top quarter: "
            f"{min(chances):.0f}% to {max(chances):.0f}%, depending on the layout."
        )
    return tuple(said)


def proposal_words(number: int, offer: Proposal) -> str:
    """A proposal in one line, to choose it by."""
    plan = offer.plan
    each = count(plan.replicates, "plot")
    plants = count(plan.plants_per_plot, "plant")
    return f"{number}: {_layout_words(offer)}, {each} each of {plants}"


def table_notes(asked: Proposed, *, on_page: bool = False) -> tuple[str, ...]:
    """What the columns of ``proposals_table`` mean; a page's reader gets no keys."""
    plan, assumed = asked.written.plan, asked.written.assumed
    written = any(offer.way is Way.AS_WRITTEN for offer in asked.offers)
    augmented = plan.kind is LayoutKind.AUGMENTED_BLOCKS
    each = "each check; every new entry has one plot" if augmented else "every treatment"
    columns = ("*: the plan as you wrote it. " if written else "") + (
        f"plots each: plots of {each}. plants/plot: plants picked and counted in a plot. "
        "plants, seeds: totals, guard plants included."
    )
    told = (
        "LSD %: least significant difference, in % of the mean. Two varieties further apart than "
        "this in the trial count as different (one pair chosen beforehand). detectable %: the true "
        f"difference that the trial finds 80 times in 100 ({asked.family}, {plan.alpha * 100:g}% "
        "risk of a false alarm)."
    )
    picking = (
        "h/week: hours of picking and tallying per week of cutting. Assumed: "
        f"{assumed.stems_of(plan.crop):g} stems per plant over {assumed.weeks_of_cutting:g} "
        f"weeks, {assumed.stems_per_hour:g} stems per hour, {assumed.harvests_per_week:g} harvests "
        f"per week, {assumed.minutes_per_plot:g} min per plot."
        f"{'' if on_page else ' Change them in [assume].'}"
    )
    within = [spread_sentence(asked.spread, plan.plants_per_plot)]
    if any(factor.applied_to is not AppliedTo.PLOT for factor in plan.factors):
        within.append(larger_units_sentence(asked.spread.at(plan.plants_per_plot)))
    return (
        columns,
        told,
        picking,
        *within,
        *decision_sentences(asked),
        "On uneven ground smaller blocks gain precision. These figures show only their cost.",
    )


def proposed_page(
    asked: Proposed, plan_file: Path | str, units: UnitSystem = UnitSystem.METRIC
) -> str:
    """What could be laid out, without laying anything out."""
    parts = [_head(asked), _offers(asked, units, None), *_answers(asked, units)]
    if asked.refused is not None:
        parts.insert(1, f"The plan as written does not fit\n{wrapped(asked.refused)}")
    parts += [
        calendar_text(asked.dates, units),
        _notes(asked),
        f"Nothing was stored. Take one: tallybed plan {quoted(plan_file)} --take NUMBER",
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def plan_page(planned: Planned, *, dry_run: bool, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The layouts that fit, what was laid out, and the differences it can detect."""
    asked, code = planned.proposed, planned.layout.plan.code
    made = "A new store was made. " if planned.store_made else ""
    print_it = f"{made}Stored. Print it: tallybed sheets {quoted(code)}"
    stored = "Nothing was stored." if dry_run else print_it
    told = "\n".join(wrapped(tells_sentence(row)) for row in planned.tells)
    parts = [
        _head(asked),
        _offers(asked, units, planned.number),
        f"Laid out\n{_laid_out(planned, units)}",
        f"Precision\n{told}",
        *_answers(asked, units),
        calendar_text(asked.dates, units),
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
    return [f"Sample size\n{said}"]


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
    counted = f"{offer.plants_set:,} to pick and count"
    lines = [
        ("Layout", f"{plan.kind}, {count(plan.replicates, 'replicate')}"),
        ("Plots", f"{len(plots)}, from {plots[0].code} to {plots[-1].code}"),
        ("Plants", f"{counted}, and {count(offer.guards_set, 'guard plant')}"),
        ("Seeds", f"{offer.seeds:,} to sow"),
        ("Beds", _beds(offer, units)),
        ("Density", density_sentence(plan, units)),
        ("Guards", _guards(planned)),
        ("Neighbours", neighbours_sentence(planned.beside)),
        ("Randomised", f"with number {plan.seed}; the same number gives the same layout"),
    ]
    if layout.efficiency is not None:
        bound = "" if layout.bound is None else f"; at most {layout.bound:.3f} is possible"
        lines.insert(1, ("Efficiency", f"{layout.efficiency:.3f} of complete blocks{bound}"))
    return "\n".join(
        wrapped(words, indent=" " * 14).replace(" " * 14, f"  {name:<12}", 1)
        for name, words in lines
    )


def _beds(offer: Proposal, units: UnitSystem) -> str:
    """Length of bed, and the ground with the paths where they are known."""
    plan = offer.plan
    words = f"{metres(offer.bed_m, units)} of {metres(offer.bed_m_there, units)}"
    if any(bed.path_m is None for bed in plan.beds):
        return words
    bed = sum(each.length_m * each.width_m for each in plan.beds)
    ground = bed + sum(each.length_m * (each.path_m or 0.0) for each in plan.beds)
    figures = (square_metres(area, units) for area in (bed, ground))
    return "{}; all beds {}, {} with paths".format(words, *figures)


def _guards(planned: Planned) -> str:
    plan = planned.layout.plan
    if plan.guard_plants == 0:
        return "none"
    each = f"{count(plan.guard_plants, 'plant')} at each end of every row of a plot, not counted"
    spilling = [factor.name for factor in plan.factors if factor.name in plan.spilling]
    if not spilling:
        return each
    return (
        f"{each}; {' and '.join(spilling)} affects neighbouring plots, which are "
        f"{2 * plan.guard_plants} guard plants apart"
    )
