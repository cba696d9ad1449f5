"""What the conduct of a trial does to its comparison: cautions from how the plots were kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from trials.stats.results import Caution

LATE_STOP = timedelta(days=10)


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


def _plants_swapped(plots: tuple[PlotConduct, ...]) -> Caution | None:
    swapped = {plot.plot: plot.plants_of for plot in plots if plot.plants_of is not None}
    if not swapped:
        return None
    text = (
        f"These plots got each other's plants: {_pairs(swapped)}. Each counts for what stood in "
        "it, not for what was planned."
    )
    planted = {plot.plot: plot.plants_set for plot in plots}
    if any(planted.get(plot) != planted.get(other) for plot, other in swapped.items()):
        text += " How many plants were set, and on how much bed, is taken as recorded of each plot."
    return Caution("plants-swapped", text, tuple(swapped))


def _labels_swapped(plots: tuple[PlotConduct, ...]) -> Caution | None:
    swapped = {plot.plot: plot.stake_of for plot in plots if plot.stake_of is not None}
    if not swapped:
        return None
    return Caution(
        "labels-swapped",
        f"For a time the stakes of these plots stood in each other's plots: {_pairs(swapped)}. "
        "What was recorded then counts for the plot it was seen in, not for the code on the stake.",
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
        "Some picks were missed, so the season totals of these plots are short of what they bore. "
        "Compare again without them to see whether a verdict turns.",
        missed,
    )


def _blank(plots: tuple[PlotConduct, ...]) -> Caution | None:
    blank = tuple(plot.plot for plot in plots if plot.unrecorded_picks and plot.lost_reason is None)
    if not blank:
        return None
    return Caution(
        "unrecorded-picks",
        "On some picking days these plots have no record, neither a zero nor a missed pick, so "
        "nobody knows whether their season totals are whole. Compare again without them to see "
        "whether a verdict turns.",
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
        f"Not all plots were planted on {usual:%Y-%m-%d}; a later planting can look like a "
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
        "These plots lost many more plants than the others; figures per plant flatter them, "
        "because plants with room bear more.",
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
        f"Picking went on to {latest:%Y-%m-%d}, but these plots have no record in its last "
        f"{LATE_STOP.days} days: either they had stopped flowering or somebody forgot them.",
        early,
    )
