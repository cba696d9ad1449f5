"""What a reader must know before believing a comparison, from its layout and its figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from trials.stats.design.experimental_units import grouped
from trials.stats.design.plots import Plots
from trials.stats.design.structure import Structure
from trials.stats.design.sub_samples import most_gained
from trials.stats.design.table import Codes, Floats, Scale
from trials.stats.results import Caution, Comparison, Method, Pair

FEWEST_UNITS = 3
MANY_ENTRIES = 8
MOST_NAMED = 4
MENTIONED_FROM = 1.1  # judgement: below it weights could gain a quarter of a per cent
MATTERS_FROM = 1.5  # judgement: equal weights then cost a mean at most 4% of its precision


def cautions_of(plots: Plots, structure: Structure, found: Comparison) -> tuple[Caution, ...]:
    """All cautions of a comparison, those on the layout first."""
    return (*plots.cautions, *(each for rule in _RULES for each in rule(plots, structure, found)))


def _not_replicated(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    for item in found.layout.not_replicated:
        yield Caution("not-replicated", f"{item.reason} {item.remedy}")
    names = {item.factor for item in found.layout.not_replicated}
    across = [test.term for test in found.tests if names & set(test.term.split(":"))]
    if across:
        yield Caution(
            "single-units-interact",
            f"The test of {' and '.join(across)} only shows whether these plots respond "
            f"differently. {' and '.join(sorted(names))} was not replicated, so it need not be "
            "the cause.",
        )


def _confounded(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    for names in found.layout.confounded:
        first, second = names[0], names[1]
        whole = (first, second) in found.tested.always_together
        together = "always went together" if whole else "fall into groups of levels that never met"
        yield Caution(
            "confounded",
            f"{first} and {second} {together}, so their effects cannot be separated. Next "
            "season grow every level of one with every level of the other.",
        )


def _empty_cells(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    if found.layout.confounded or structure.cells.every_combination:
        return
    empty = [" with ".join(level for _, level in levels) for levels in found.tested.empty]
    missing = [term.name for term in structure.terms if not term.whole]
    untested = [name for name in missing if name in found.tested.untested]
    partial = [name for name in missing if name not in found.tested.untested]
    text = f"No plot has a figure for {_some(empty)}."
    if untested:
        text += f" So there is no joint test of {', '.join(untested)}."
    if partial:
        text += f" The test of {', '.join(partial)} covers only the combinations that have figures."
    yield Caution("empty-cells", text)


def _some(names: list[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names) if more <= 0 else f"{', '.join(names[:MOST_NAMED])} and {more} more"


def _missing(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    table = plots.table
    if structure.rows.size < table.y.size:
        gone = np.setdiff1d(np.arange(table.y.size), structure.rows)
        names = tuple(table.plot_names[row] for row in gone)
        one = len(names) == 1
        yield Caution(
            "missing-plots",
            f"{len(names)} of {table.y.size} plots {'has' if one else 'have'} no figure and "
            f"{'is' if one else 'are'} left out; the means are adjusted for "
            f"{'it' if one else 'them'}.",
            names,
        )
        lost = [
            f"{level} ({treatment.name})"
            for treatment, kept in zip(table.treatments, structure.cells.levels, strict=True)
            for level in (
                treatment.labels.levels[code] for code in np.unique(treatment.labels.codes)
            )
            if level not in kept
        ]
        if lost:
            yield Caution("no-figures", f"No plot of {', '.join(lost)} has a figure.")


def _few_units(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    bare = {item.factor for item in found.layout.not_replicated}
    measured = found.scale == Scale.IDENTITY  # elsewhere a difference has not the measure's unit
    for factor in found.layout.factors:
        few = [
            level
            for level, units in zip(factor.levels, factor.units_per_level, strict=True)
            if units < FEWEST_UNITS
        ]
        if not few or factor.name in bare:
            continue
        pairs = [
            pair
            for pair in found.all_pairs
            if pair.term == factor.name and {pair.a[0][1], pair.b[0][1]} & set(few)
        ]
        which = "Each level" if len(few) == len(factor.levels) else _named(few)
        width = (
            f" Here such a difference is uncertain by {_reach(pairs, found)}."
            if pairs and measured
            else ""
        )
        yield Caution(
            "few-units",
            f"{which} of {factor.name} has fewer than {FEWEST_UNITS} {factor.unit}s, so the "
            f"intervals are wide.{width}",
        )


def _named(levels: list[str]) -> str:
    return f"Each of {len(levels)} levels" if len(levels) > MOST_NAMED else ", ".join(levels)


def _reach(pairs: list[Pair], found: Comparison) -> str:
    reach = float(np.median([(pair.high - pair.low) / 2 for pair in pairs]))
    share = f" ({100 * reach / found.grand_mean:.0f}% of the mean)" if found.grand_mean > 0 else ""
    return f"±{reach:.3g} {found.unit}".rstrip() + share


def _unequal(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    for factor in found.layout.factors:
        units = factor.units_per_level
        if max(units) > min(units) > 0 and found.tests:
            yield Caution(
                "unequal-replication",
                f"The levels of {factor.name} have {min(units)} to {max(units)} "
                f"{factor.unit}s each, so each comparison has its own error.",
            )


def _unequal_samples(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    if plots.samples is None:
        return
    used = structure.rows
    counts = plots.samples.counts[used]
    fewest, most = int(counts.min()), int(counts.max())
    if fewest == most:
        return
    text = (
        f"Plots have {fewest} to {most} samples, averaged to one value per plot. Every plot counts "
        "the same, however few its samples."
    )
    variances = _variances_of(plots, used, found)
    if variances is not None:
        times = float(variances.max() / variances.min())
        if times < MENTIONED_FROM:
            return
        text += (
            " Going by the samples within plots, the value of a plot with the fewest varies "
            f"{times:.2g} times as much as one with the most. Weighting the plots "
            "would reduce the variance of a mean by at most "
            f"{100 * most_gained(variances):.2g}%."
        )
        uneven = _levels_less_sure(plots, used, variances)
        if uneven:
            text += (
                f" It matters for {_listed(uneven)}, with fewer samples than the rest: their means "
                "are less certain than the interval says."
            )
        elif times < MATTERS_FROM:
            text += " This hardly matters here."
    names = tuple(plots.table.plot_names[row] for row in used[counts == fewest])
    yield Caution("unequal-samples", f"{text} Those with the fewest are named here.", names)


def _variances_of(plots: Plots, used: Codes, found: Comparison) -> Floats | None:
    """How much each plot's value varies; None where the comparison cannot tell."""
    residual = [part.variance for part in found.components if part.source == "residual"]
    measured = found.scale == Scale.IDENTITY  # samples are averaged before the scale is changed
    if plots.samples is None or not residual or not measured or plots.samples.row_variance == 0:
        return None
    return plots.samples.variances(residual[0], used)


def _levels_less_sure(plots: Plots, used: Codes, variances: Floats) -> list[str]:
    """Levels whose plots' values vary clearly more than those of the level with the surest."""
    names: list[str] = []
    for treatment in plots.table.treatments:
        codes = treatment.labels.codes[used]
        mean = {code: float(variances[codes == code].mean()) for code in np.unique(codes)}
        surest = min(mean.values())
        names += [
            treatment.labels.levels[code]
            for code, variance in mean.items()
            if variance >= MATTERS_FROM * surest
        ]
    return names


def _listed(names: list[str]) -> str:
    return _named(names).lower() if len(names) > MOST_NAMED else ", ".join(names)


def _blocks(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    efficiency = found.relative_efficiency
    if efficiency is not None and efficiency < 1:
        yield Caution(
            "blocks-did-not-help",
            "Plots within a block differed as much as plots across the field (relative efficiency "
            f"{efficiency:.2f}). They stay in the comparison, as plots were randomised within "
            "them. Next season, lay the blocks so that soil and light change from block to block.",
        )


def _variances(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    held = {grouping.source for grouping in structure.random if grouping.floored}
    for part in found.components:
        if part.source == "residual" or part.variance > 0:
            continue
        code = "negative-variance" if part.variance < 0 else "variance-at-zero"
        if "×" in part.source:
            code = "no-swing-seen"
            text = (
                f"No {part.source} variation was found beyond chance variation between plots; its "
                f"variance is estimated at {part.variance:.3g}. That does not show that there is "
                "none."
            )
        else:
            units = _units(part.source)
            text = f"{units.capitalize()} differed no more than the plots inside them"
            if part.variance < 0:
                text += (
                    f": their own variance is estimated at \u2212{-part.variance:.3g}. Comparisons "
                    f"between {units} still rest on how {units} differed."
                )
            elif part.source in held:
                text += ": their own variance is estimated as 0."
            else:
                text += (
                    ": their own variance is set to 0. Comparisons "
                    f"between {units} may have too large an error, and miss a real difference."
                )
        yield Caution(code, text)
    if found.method is Method.REML_STRATA:
        yield Caution(
            "errors-by-strata",
            "The layout is not complete and its larger units hardly differ. The means come from a "
            "mixed model (REML); their errors come from mean squares of larger units and of "
            "plots, as in a complete layout.",
        )


def _units(source: str) -> str:
    first, of, rest = source.partition(" of ")
    return f"{first}s{of}{rest}"


def _shares(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    y = plots.table.y[structure.rows]
    if found.unit != "share" or not np.any((y <= 0) | (y >= 1)):
        return
    edge = structure.rows[(y <= 0) | (y >= 1)]
    yield Caution(
        "share-near-bounds",
        "Some plots have a share of 0 or 1. Near its bounds a share varies less than elsewhere, so "
        "the intervals there are too wide and may go below 0% or above 100%.",
        tuple(plots.table.plot_names[row] for row in edge),
    )


def _none_found(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    sure = f"{100 * (1 - found.alpha):g}% bound"
    for item in found.none_found:
        name = ", ".join(level for _, level in item.levels)
        share = found.unit == "share"
        if share:
            which = "all" if item.every else "none"
            head = f"{found.measure[:1].upper()}{found.measure[1:]} of {name}"
            seen = f"{head}: {which} of the {item.number:,.0f} counted. "
        else:
            seen = f"None were counted for {name} on {_exposed(item.number, found.unit)}. "
        way = "as low as" if item.every else "up to"
        text = seen + (
            f"The true figure may still be {way} {_amount(item.bound, found.unit)} ({sure}, "
            "if they occur independently)."
        )
        if item.dispersion is not None and item.dispersion > 1:
            text += (
                f" But the other plots vary {item.dispersion:.1f} times as much as independent "
                f"counts. Allowing for that, it may be {way} {_amount(item.allowing, found.unit)}."
            )
        yield Caution(
            "none-found" if not item.every else "all-found",
            f"{text} Its interval in the table of means comes from how the other plots vary.",
        )


def _exposed(number: float, unit: str) -> str:
    per = unit.partition("/")[2]
    return f"{number:g} {'plants' if per.startswith('plant') else per or 'in all'}"


def _amount(value: float, unit: str) -> str:
    return f"{100 * value:.2g}%" if unit == "share" else f"{value:.2g} {unit}".rstrip()


def _no_spread(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    y = plots.table.y[structure.rows]
    if np.ptp(y) == 0:
        yield Caution(
            "no-spread",
            f"Every plot has the same figure, {y[0]:g} {found.unit}".rstrip()
            + ", so there is no variation to compare. Check that the figures were recorded.",
        )


def _not_separable(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    for factor in found.layout.factors:
        pairs = [pair for pair in found.all_pairs if pair.term == factor.name]
        if len(factor.levels) >= MANY_ENTRIES and pairs:
            if any(pair.p_adjusted <= found.alpha for pair in pairs):
                continue
            yield Caution(
                "not-separable",
                f"None of the {len(factor.levels)} levels of {factor.name} differs clearly "
                "from any other. Check whether high and low plots lie together in the field, "
                "and choose by price, length or colour.",
            )


def _absent(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    """Places of a complete-block layout that no row stands for."""
    ground = plots.ground
    if found.layout.kind.value != "complete blocks" or plots.table.block is None:
        return
    cells = grouped("treatment", *(t.labels.codes for t in plots.table.treatments))
    block = ground.block
    if block is None or ground.trial is not None:
        return
    held = np.zeros((block.count, cells.count), dtype=bool)
    held[block.codes, cells.codes] = True
    if held.all():
        return
    labels = plots.table.block
    names = []
    for b, c in np.argwhere(~held):
        row = int(np.flatnonzero(block.codes == b)[0])
        like = int(np.flatnonzero(cells.codes == c)[0])
        entry = ", ".join(t.labels.levels[t.labels.codes[like]] for t in plots.table.treatments)
        names.append(f"{entry} in {labels.name} {labels.levels[labels.codes[row]]}")
    yield Caution(
        "absent-plots",
        f"There is no row for {'; '.join(names)}. The means are adjusted for that.",
    )


def _season(plots: Plots, structure: Structure, found: Comparison) -> Iterator[Caution]:
    season = plots.table.season
    if season is not None and np.ptp(season.codes) == 0:
        yield Caution(
            "one-season",
            "This is one season. It cannot show how much the differences change from season "
            "to season.",
        )


_RULES: tuple[Callable[[Plots, Structure, Comparison], Iterator[Caution]], ...] = (
    _not_replicated,
    _confounded,
    _empty_cells,
    _missing,
    _absent,
    _few_units,
    _unequal,
    _unequal_samples,
    _blocks,
    _variances,
    _shares,
    _none_found,
    _no_spread,
    _not_separable,
    _season,
)
