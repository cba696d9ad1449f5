"""What the conduct of a trial does to its comparison: cautions from how the plots were kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trials.model.re_entry import Spray
from trials.stats.results import Caution, TooShort

LATE_STOP = timedelta(days=10)
MOST_CUTS_NAMED = 6


@dataclass(frozen=True, slots=True)
class PlotConduct:
    """How one plot was kept: planting, losses, and the days on which it was picked.

    ``plants_of`` is the plot whose plants it was planted with, ``stake_of`` the one whose stake
    stood in it for a time; None = its own throughout.
    """

    plot: str
    transplanted_on: date | None
    plants_set: int | None
    living: int | None
    lost_reason: str | None
    missed_picks: int
    unrecorded_picks: int
    last_cut: date | None
    plants_of: str | None = None
    stake_of: str | None = None


def conduct_cautions(plots: tuple[PlotConduct, ...]) -> tuple[Caution, ...]:
    """Cautions about swaps, lost plots, missed picks, planting dates, stands and early stops.

    Each names its plots. Nothing is corrected: a reader decides what to leave out.
    """
    found = (
        _plants_swapped(plots),
        _labels_swapped(plots),
        _lost(plots),
        _missed(plots),
        _blank(plots),
        _planting_dates(plots),
        _thin_stands(plots),
        _early_stops(plots),
    )
    return tuple(caution for caution in found if caution is not None)


def re_entry_cautions(cuts: Sequence[tuple[str, date, Spray]]) -> tuple[Caution, ...]:
    """A caution on cuts made while a spray's re-entry time kept people out of the plot."""
    if not cuts:
        return ()
    told = "; ".join(
        f"{plot} on {cut_on} ({spray.product}, closed until {spray.until_words})"
        for plot, cut_on, spray in cuts[:MOST_CUTS_NAMED]
    )
    more = f"; and {len(cuts) - MOST_CUTS_NAMED} more" if len(cuts) > MOST_CUTS_NAMED else ""
    text = (
        f"Cut before the re-entry time of a spray had passed: {told}{more}. The stems are "
        "counted. Ask your adviser whether you must report it."
    )
    return (Caution("cut-before-re-entry", text, tuple(dict.fromkeys(cut[0] for cut in cuts))),)


def too_short_cautions(short: tuple[TooShort, ...]) -> tuple[Caution, ...]:
    """One caution that names every level whose stems are mostly too short to sell."""
    if not short:
        return ()
    named = ", ".join(f"{each.level} ({100 * each.share:.0f}%)" for each in short)
    text = (
        "Too short to sell, so not compared with the best (in brackets: the share of "
        f"saleable length): {named}. Fewer than half of their graded stems reach the minimum "
        "saleable length."
    )
    return (Caution("too-short", text),)


def _plants_swapped(plots: tuple[PlotConduct, ...]) -> Caution | None:
    swapped = {plot.plot: plot.plants_of for plot in plots if plot.plants_of is not None}
    if not swapped:
        return None
    text = (
        f"These plots got each other's plants: {_pairs(swapped)}. Each is counted as what "
        "grew in it, not as planned."
    )
    planted = {plot.plot: plot.plants_set for plot in plots}
    if any(planted.get(plot) != planted.get(other) for plot, other in swapped.items()):
        text += " The plants set and the bed length are as recorded for each plot."
    return Caution("plants-swapped", text, tuple(swapped))


def _labels_swapped(plots: tuple[PlotConduct, ...]) -> Caution | None:
    swapped = {plot.plot: plot.stake_of for plot in plots if plot.stake_of is not None}
    if not swapped:
        return None
    return Caution(
        "labels-swapped",
        f"For a time the stakes of these plots stood in each other's plots: {_pairs(swapped)}. "
        "Records from that time count for the plot itself, not for the code on the stake.",
        tuple(swapped),
    )


def _pairs(swapped: Mapping[str, str]) -> str:
    pairs = dict.fromkeys(tuple(sorted(pair)) for pair in swapped.items())
    return "; ".join(" and ".join(pair) for pair in pairs)


def _lost(plots: tuple[PlotConduct, ...]) -> Caution | None:
    lost = [plot for plot in plots if plot.lost_reason is not None]
    if not lost:
        return None
    reasons = ", ".join(f"{plot.plot}: {plot.lost_reason}" for plot in lost)
    return Caution(
        "lost-plots",
        f"Lost plots are left out, not counted as zero ({reasons}).",
        tuple(plot.plot for plot in lost),
    )


def _missed(plots: tuple[PlotConduct, ...]) -> Caution | None:
    missed = tuple(plot.plot for plot in plots if plot.missed_picks and plot.lost_reason is None)
    if not missed:
        return None
    return Caution(
        "missed-picks",
        "Some harvests were missed, so these plots gave more than is counted. Compare again "
        "without them to see whether a verdict changes.",
        missed,
    )


def _blank(plots: tuple[PlotConduct, ...]) -> Caution | None:
    blank = tuple(plot.plot for plot in plots if plot.unrecorded_picks and plot.lost_reason is None)
    if not blank:
        return None
    return Caution(
        "unrecorded-picks",
        "On some days these plots have no record, neither 0 nor missed, so they may have given "
        "more than is counted. Compare again without them to see whether a verdict changes.",
        blank,
    )


def _planting_dates(plots: tuple[PlotConduct, ...]) -> Caution | None:
    days = Counter(plot.transplanted_on for plot in plots if plot.transplanted_on is not None)
    if len(days) < 2:
        return None
    usual = days.most_common(1)[0][0]
    odd = tuple(plot.plot for plot in plots if plot.transplanted_on not in (None, usual))
    return Caution(
        "planting-dates",
        f"Not all plots were planted on {usual:%Y-%m-%d}. A later planting can look like a "
        "poorer variety.",
        odd,
    )


def _thin_stands(plots: tuple[PlotConduct, ...]) -> Caution | None:
    """Plots that kept under three quarters of the stand that the other plots kept."""
    kept = {
        plot.plot: plot.living / plot.plants_set
        for plot in plots
        if plot.living is not None and plot.plants_set
    }
    if not kept:
        return None
    usual = _median(kept)
    thin = tuple(plot for plot, share in kept.items() if share < 0.75 * usual)
    if not thin:
        return None
    return Caution(
        "thin-stands",
        "These plots lost many more plants than the others. Figures per plant favour them, "
        "because plants with more room yield more.",
        thin,
    )


def _median(shares: Mapping[str, float]) -> float:
    ordered = sorted(shares.values())
    return ordered[len(ordered) // 2]


def _early_stops(plots: tuple[PlotConduct, ...]) -> Caution | None:
    last = {
        plot.plot: plot.last_cut
        for plot in plots
        if plot.last_cut is not None and plot.lost_reason is None
    }
    if not last:
        return None
    latest = max(last.values())
    early = tuple(plot for plot, day in last.items() if latest - day > LATE_STOP)
    if not early:
        return None
    return Caution(
        "early-stops",
        f"Harvests went on to {latest:%Y-%m-%d}, but these plots have no record in the last "
        f"{LATE_STOP.days} days: they stopped flowering, or somebody forgot them.",
        early,
    )
