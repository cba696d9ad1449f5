"""What a plan can tell, what it rests on and what is possible instead, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from trials.layout.field.beds import density, spacings_cm
from trials.layout.field.neighbours import Neighbours
from trials.layout.plan import Bed, Planting, TrialPlan
from trials.layout.power.detectable import Detectable, ReplicatesNeeded
from trials.layout.power.plot_size_variation import SizedSpread
from trials.layout.power.sample_size import OnTheBeds, Possible
from trials.layout.power.variation import Spread, SpreadSource
from trials.model.crop_facts import Fact
from trials.model.units import SQ_M_PER_SQ_FOOT, UnitSystem, cm_to_inches, m_to_feet
from trials.records.plan.proposed import Note, NoteKind
from trials.report.figures import count, listed

NOTE_WORDS: Mapping[NoteKind, Callable[[str], str]] = {
    NoteKind.NO_STORE: lambda names: "There is no store yet. Storing the plan makes one.",
    NoteKind.NEW_SEASON: lambda names: f"This season and site will be added to the store: {names}.",
    NoteKind.OF_OTHER_CROPS: lambda names: f"The store lists these under another crop: {names}.",
    NoteKind.PASSED_OVER: lambda names: (
        f"These closed trials do not show how much plots vary in this measure: {names}."
    ),
    NoteKind.FROST_OF_OTHER_YEAR: lambda names: (
        f"The calendar uses the site's frost dates of {names}, as this season has none yet."
    ),
    NoteKind.NOT_DIRECT_SOWN: lambda names: (
        f"{names} is usually raised in trays, not sown direct. Check your seed packet."
    ),
}


# Figures of a crop, by their key in [calendar], as a page's reader calls them.
FIGURE_WORDS: Mapping[str, str] = {
    Fact.DAYS_TO_BLOOM: "days to bloom",
    Fact.DIRECT_SOWN: "whether it is sown direct",
    Fact.DAYS_IN_TRAYS: "days in trays",
    Fact.GERMINATION_C: "germination temperature",
    Fact.DAYS_TO_PINCH: "days to pinching",
    Fact.PINCH_HEIGHT_CM: "height at pinching",
    Fact.PINCH_LEAF_PAIRS: "leaf pairs at pinching",
    Fact.DAYS_PINCHING_DELAYS: "days that pinching delays the first cut",
    Fact.DAYS_TO_NET: "days to netting",
    Fact.NET_HEIGHT_CM: "height of the net",
    Fact.DAYS_BETWEEN_FLUSHES: "days between flushes",
    Fact.FLUSHES: "number of flushes",
    Fact.DAYS_BETWEEN_SOWINGS: "days between sowings",
    "weeks_of_cutting": "weeks of cutting that the last sowing must still have",
}


def note_words(note: Note, *, on_page: bool = False) -> str:
    """A note as a sentence; a page's reader gets no keys or files, but the page to go to."""
    match note.kind:
        case NoteKind.UNKNOWN_VARIETIES:
            new, are = ("variety", "It is") if len(note.names) == 1 else ("varieties", "They are")
            spelling = f"{are} stored with the plan. Check the spelling first."
            return f"New {new}: {listed(note.names)}. {spelling}"
        case NoteKind.NO_FROST:
            how = (
                "Enter its average frosts in the plan, or on page Records."
                if on_page
                else "Give last_spring_frost and first_autumn_frost in [calendar], or load them "
                "in seasons.csv."
            )
            return f"No calendar: no frost dates are known for {listed(note.names)}. {how}"
        case NoteKind.NO_CROP_FIGURES:
            crop, *keys = note.names
            what = _figures(keys, on_page=on_page)
            return f"No calendar without {what} of {crop}. {_where(on_page=on_page)}"
        case NoteKind.CROP_FIGURES_LEFT_OUT:
            crop, *keys = note.names
            what = _figures(keys, on_page=on_page)
            return (
                f"Not known for {crop}, so left out of the calendar: {what}. "
                f"{_where(on_page=on_page)}"
            )
        case NoteKind.SEASON_TOO_SHORT:
            crop, first, weeks, ends, last = note.names
            return (
                f"The season is too short for {crop} sown on {first}: less than {weeks} weeks of "
                f"cutting are left before {ends}. Sow by {last}, or grow it under cover."
            )
        case NoteKind.FEWER_SOWINGS:
            asked, planned, weeks, ends, last, *keys = note.names
            fit = "fits" if planned == "1" else "fit"
            lower = [f"the {FIGURE_WORDS[key]}" for key in keys] if on_page else keys
            return (
                f"You asked for {asked} sowings; {planned} {fit}. A sowing after {last} leaves "
                f"less than {weeks} weeks of cutting before {ends}. For more, lower "
                f"{' or '.join(lower)}{'' if on_page else ' in [calendar]'}."
            )
        case NoteKind.NO_SOWING_FITS:
            asked, ends = note.names
            none = "" if asked == "1" else f"None of the {asked} sowings you asked for fits. "
            return f"{none}No cut is expected before {ends}, when cutting ends."
        case _:
            return NOTE_WORDS[note.kind](listed(note.names))


def _figures(keys: Sequence[str], *, on_page: bool) -> str:
    return listed([FIGURE_WORDS[key] for key in keys] if on_page else list(keys))


def _where(*, on_page: bool) -> str:
    """Where figures of a crop are found, and where they are entered."""
    if on_page:
        return "See the seed packet, and enter them on page Records."
    return "See the seed packet and give them in [calendar] of the plan, or load them in crops.csv."


def metres(length_m: float, units: UnitSystem) -> str:
    """A length of bed in the reader's units."""
    return f"{m_to_feet(length_m):.0f} ft" if units is UnitSystem.US else f"{length_m:.1f} m"


def square_metres(area_m2: float, units: UnitSystem) -> str:
    """An area in the reader's units."""
    if units is UnitSystem.US:
        return f"{area_m2 / SQ_M_PER_SQ_FOOT:,.0f} sq ft"
    return f"{area_m2:,.0f} m²"


def times_in_100(chance: float) -> str:
    """A chance as so many times in 100; never 0 or 100 for what is only nearly so."""
    times = round(chance * 100)
    if times < 1:
        return "less than once in 100 times"
    return f"{min(times, 99)} times in 100"


def spread_sentence(spread: SizedSpread, plants: int) -> str:
    """How much plots differ, and by whose figures."""
    cv = spread.at(plants).cv_percent
    head = (
        f"Plots of {count(plants, 'plant')} treated alike are expected to differ by {cv:.0f}% "
        f"(coefficient of variation), {_whose(spread)}."
    )
    if spread.law is not None:
        return f"{head} How that changes with plot size was fitted to your trials."
    return (
        f"{head} Assumed: single plants differ by {spread.within_cv_percent:.0f}%, and plots by "
        f"another {spread.between_cv_percent:.0f}% whatever their size. Smaller plots therefore "
        "differ more."
    )


def _whose(spread: SizedSpread) -> str:
    """By whose figures plots differ, and for which size of plot those were given."""
    given = f"{spread.spread.cv_percent:.0f}% for plots of {spread.plants:.0f} plants"
    match spread.spread.source:
        case SpreadSource.OWN_TRIALS:
            codes = listed([trial.trial for trial in spread.trials])
            whose = f"from {count(len(spread.trials), 'closed trial')} of your own ({codes})"
            return whose if spread.law is not None else f"{whose}: {given}"
        case SpreadSource.STATED:
            return f"from the plan: {given}"
        case SpreadSource.ASSUMED:
            return f"from a usual figure, as no trial of this crop is closed yet: {given}"


def larger_units_sentence(spread: Spread) -> str:
    """How much whole plots differ beyond what their plots make of it, and by whose figures."""
    cv = spread.larger_units_cv_percent
    if spread.whole_plot_cv_percent is None:
        whose = "assumed: half as much as plots"
    else:
        whose = f"{spread.whole_plot_source}"
    return f"Whole plots and strips differ by a further {cv:.1f}% ({whose})."


def density_sentence(plan: TrialPlan, units: UnitSystem) -> str:
    """Plants to length of bed and to ground: as they stand, and as the spacing's formula says."""
    said = [
        _density_at(replace(plan.planting, spacing_cm=spacing_cm), plan.beds, units)
        for spacing_cm in spacings_cm(plan) or [plan.planting.spacing_cm]
    ]
    return "; ".join(said)


def _density_at(planting: Planting, beds: Sequence[Bed], units: UnitSystem) -> str:
    us = units is UnitSystem.US
    each = [density(planting, width_m) for width_m in {bed.width_m for bed in beds}]
    areas = sorted(it.per_sq_foot_of_bed if us else it.per_m2_of_bed for it in each)
    area = " to ".join(dict.fromkeys(f"{figure:.2f}" for figure in (areas[0], areas[-1])))
    if us:
        along, formula = each[0].per_foot_of_bed, each[0].per_sq_foot_by_formula
        apart = f"{cm_to_inches(planting.spacing_cm):.4g}"
        how = f"144 / ({apart} × {apart} in)"
    else:
        along, formula = each[0].per_m_of_bed, each[0].per_m2_by_formula
        how = f"10,000 / ({planting.spacing_cm:g} × {planting.spacing_cm:g} cm)"
    metre, square = ("foot", "square foot") if us else ("metre", "square metre")
    return (
        f"{along:.2f} plants per {metre} of bed, {area} per {square}. The spacing formula, {how}, "
        f"leaves out the bed's edges and gives {formula:.2f}"
    )


def neighbours_sentence(beside: Neighbours) -> str:
    """What was reached in keeping like from like."""
    parts = [f"along the beds {_alike(beside.alike_along, beside.along)}"]
    if beside.across:
        parts.append(f"across the paths {_alike(beside.alike_across, beside.across)}")
    least = beside.fewest_possible
    alike = "" if least is None else f" (at best {least})"
    most = count(beside.most_meetings, "time")
    return f"{', '.join(parts)}; two varieties are neighbours at most {most}{alike}"


def _alike(alike: int, pairs: int) -> str:
    verb = "have" if alike > 1 else "has"
    return f"{alike or 'none'} of {count(pairs, 'neighbouring pair')} {verb} the same entry"


def tells_sentence(row: Detectable) -> str:
    """What one kind of difference can be told from."""
    between = row.difference.comparing
    if row.difference.within:
        between += f" within {', '.join(row.difference.within)}"
    between += f" ({row.difference.between})"
    if not row.found:
        return f"{between}: no test is possible, as too few plots are left to estimate error from."
    figures = "; ".join(f"{each.found_percent:.1f}% ({each.family})" for each in row.found)
    return (
        f"{between}: least significant difference {row.found[0].least_percent:.1f}% of the mean "
        f"(one pair chosen beforehand). Difference found {row.chance * 100:.0f} times in 100: "
        f"{figures}."
    )


def possible_sentences(answer: Possible, units: UnitSystem) -> tuple[str, ...]:
    """What a wanted difference takes, against what the beds can give."""
    needs, wanted = answer.needs, answer.needs.wanted
    want = f"{wanted.difference_percent:g}%"
    head = (
        f"You want to find a difference of {want} ({wanted.family}), {times_in_100(wanted.chance)}."
    )
    said = [head]
    plots = count(needs.replicates, "plot")
    if needs.found_percent is None or needs.chance is None:
        said.append(f"With {plots} each, as planned, no difference can be tested.")
    else:
        said.append(
            f"With {plots} each, as planned, a difference of {want} is found "
            f"{times_in_100(needs.chance)}. Only differences of {needs.found_percent:.1f}% or more "
            "are found as often as you want."
        )
    if answer.joint_chance is not None:
        said.append(
            f"The F-test of all entries together finds two entries that far apart "
            f"{times_in_100(answer.joint_chance)}."
        )
    if needs.needed is None or answer.bed_m_needed is None:
        said.append(f"Even {needs.most} plots each would not find {want}.")
    elif needs.needed > needs.replicates:
        fits = "They fit." if answer.fits else "They do not fit."
        said.append(
            f"{want} needs {count(needs.needed, 'plot')} each{_which_find(needs)}, "
            f"{metres(answer.bed_m_needed, units)} of bed. Your beds have "
            f"{metres(answer.bed_m_there, units)}. {fits}"
        )
    else:
        said.append(f"That is enough: {count(needs.needed, 'plot')} each would do.")
        return tuple(said)
    if answer.most_here is not None and not answer.fits:
        said.append(f"The beds have room for at most {_on_beds(answer.most_here)}.")
    if answer.best_here is not None:
        said.append(
            f"More plots or more plants per plot? The same beds have room for "
            f"{_on_beds(answer.best_here)}. More plots show more than more plants per plot."
            if answer.most_here is not None
            and answer.best_here.plants_per_plot < answer.most_here.plants_per_plot
            else "More plots or more plants per plot? The same beds have room for "
            f"{_on_beds(answer.best_here)}."
        )
    elif answer.weighing:
        said.append("No other size of plot shows more on the same beds.")
    return tuple(said)


def _which_find(needs: ReplicatesNeeded) -> str:
    least = needs.needed_finds_percent
    return "" if least is None else f" (enough for {least:.1f}%)"


def _on_beds(here: OnTheBeds) -> str:
    what = f"{here.replicates} plots each of {count(here.plants_per_plot, 'plant')}"
    if here.found_percent is None:
        return f"{what}, too few for a test"
    return f"{what}, which find a difference of {here.found_percent:.1f}%"
