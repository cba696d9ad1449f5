"""Finds the plot that is meant where it is told by its block and what grows on it, not its code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from trials.batch import Sheet
from trials.model import EventKind
from trials.records.factors import plain_heading
from trials.records.faults import Wrong, hint, shown

if TYPE_CHECKING:
    import pandas as pd

    from trials.batch import Known
    from trials.records.spellings import Cells

# A column of somebody's that tells the plot by one of its labels is taken for this and the label.
BY = "plot by "
_PLACES = frozenset(
    {"block", "incomplete_block", "whole_plot", "split_plot", "row", "column", "bed", "position"}
)
_NO_LABELS = frozenset(
    {"trial", "plot", "lot", "plants_set", "net_length_m", "net_area_m2", "transplanted_on"}
)
_BEFORE_NUMBERS = frozenset(
    {"block", "rep", "replicate", "bed", "row", "column", "plot", "position"}
)


def label_of(field: str | None) -> str | None:
    """The label by which a column tells the plot; None of any other column."""
    return field.removeprefix(BY) if field is not None and field.startswith(BY) else None


def plain_label(text: str) -> str:
    """A label as it is compared: ``Block 1``, ``1.0`` and ``1`` are one."""
    words = text.casefold().split()
    if len(words) > 1 and words[0].rstrip(".") in _BEFORE_NUMBERS and words[1][:1].isdigit():
        words = words[1:]
    label = " ".join(words)
    return label.removesuffix(".0") if label.removesuffix(".0").isdecimal() else label


@dataclass(frozen=True, slots=True)
class KnownPlots:
    """The plots that are known.

    Attributes
    ----------
    codes
        Of every plot.
    labels
        By trial that still takes records, then by plot: its block, place and levels, by their name.
    swapped
        Plots that changed places with another after planting, so that a label could mean either.
    """

    codes: frozenset[str] = frozenset()
    labels: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)
    swapped: frozenset[str] = frozenset()

    @property
    def names(self) -> tuple[str, ...]:
        """What labels there are on any plot."""
        every = (name for plots in self.labels.values() for its in plots.values() for name in its)
        return tuple(dict.fromkeys(every))

    def levels(self, name: str) -> frozenset[str]:
        """The labels of one name, as they are compared."""
        return frozenset(
            plain_label(its[name])
            for plots in self.labels.values()
            for its in plots.values()
            if name in its
        )

    def trials(self, names: Sequence[str], told: Collection[tuple[str, ...]]) -> tuple[str, ...]:
        """The trials of which these labels name most plots; several where that is even."""
        counts: Counter[str] = Counter()
        for trial in self.labels:
            plots = self._by_labels(trial, names)
            hits = [plots.get(tuple(map(plain_label, labels)), ()) for labels in told]
            counts[trial] = sum(len(found) == 1 for found in hits) * (len(hits) + 1)
            counts[trial] += sum(len(found) > 1 for found in hits)
        most = max(counts.values(), default=0)
        return tuple(trial for trial, count in counts.items() if count == most > 0)

    def find(self, trial: str, names: Sequence[str]) -> Finder:
        """What finds plots of a trial by these labels."""
        return Finder(self, trial, tuple(names), self._by_labels(trial, names))

    def _by_labels(self, trial: str, names: Sequence[str]) -> dict[tuple[str, ...], list[str]]:
        found: dict[tuple[str, ...], list[str]] = {}
        for plot, its in self.labels.get(trial, {}).items():
            key = tuple(plain_label(its.get(name, "")) for name in names)
            found.setdefault(key, []).append(plot)
        return found


@dataclass(frozen=True, slots=True)
class Finder:
    """Finds plots of one trial by labels of stated names."""

    known: KnownPlots
    trial: str
    names: tuple[str, ...]
    plots: Mapping[tuple[str, ...], list[str]]

    def plot(self, labels: Sequence[str]) -> str | Wrong:
        """The one plot with these labels, or why it cannot be told."""
        found = self.plots.get(tuple(map(plain_label, labels)), [])
        said = ", ".join(
            f"{name} {shown(label)}" for name, label in zip(self.names, labels, strict=True)
        )
        if not found:
            return Wrong(f"No plot of {self.trial} has {said}.", self._nearest(labels))
        if len(found) > 1:
            return Wrong(
                f"{len(found)} plots of {self.trial} have {said}: {', '.join(found[:6])}.",
                "Write the plot's code, or add a column that tells them apart.",
            )
        if found[0] in self.known.swapped and not set(self.names) <= _PLACES:
            return Wrong(
                f"{said} may be two plots: {found[0]} changed places with another after planting.",
                "Write the plot's code, as on its stake.",
            )
        return found[0]

    def _nearest(self, labels: Sequence[str]) -> str:
        of_trial = self.known.labels.get(self.trial, {}).values()
        for name, label in zip(self.names, labels, strict=True):
            there = {its[name] for its in of_trial if name in its}
            if plain_label(label) not in map(plain_label, there):
                return hint(label, there, f"Write the {name} as in the trial.")
        return "Look which of them is wrong, or write the plot's code."


def plots_of(known: Known, tables: Iterable[Cells] = ()) -> KnownPlots:
    """The plots that the store knows, and those in plain files of plots loaded with the rest."""
    labels: dict[str, dict[str, dict[str, str]]] = {}
    codes: set[str] = set()
    frame = known.frames.get(Sheet.PLOTS)
    rows = [] if frame is None or frame.empty else _records(frame)
    for cells in tables:
        names = [plain_heading(name) for name in cells.heading]
        columns = [column.cells() for column in cells.columns]
        rows += [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]
    for row in rows:
        plot, trial = row.get("plot", "").strip(), row.get("trial", "").strip()
        if not plot:
            continue
        codes.add(plot)
        if trial not in known.closed_trials:
            its = {n: t.strip() for n, t in row.items() if n not in _NO_LABELS and t.strip()}
            labels.setdefault(trial, {}).setdefault(plot, its)
    return KnownPlots(frozenset(codes), labels, _swapped(known.frames.get(Sheet.EVENTS)))


def _records(frame: pd.DataFrame) -> list[dict[str, str]]:
    filled = frame.astype(object).where(frame.notna(), "")
    return [{str(n): str(v) for n, v in row.items()} for row in filled.to_dict("records")]


def _swapped(events: pd.DataFrame | None) -> frozenset[str]:
    if events is None or events.empty or "other_plot" not in events.columns:
        return frozenset()
    swaps = events[events["kind"].isin([EventKind.PLANTS_SWAPPED, EventKind.LABELS_SWAPPED])]
    return frozenset(swaps["plot"].dropna()) | frozenset(swaps["other_plot"].dropna())
