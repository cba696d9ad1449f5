"""Finds the plot that is meant where it is told by its block and what grows on it, not its code."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from trials.model.rows import Sheet
from trials.model.trial import EventKind
from trials.records.faults import Wrong, hint, shown
from trials.records.mapping.plot_codes import SPELLED_ALIKE, by_number, spelled_alike
from trials.records.rules.factors import plain_heading

if TYPE_CHECKING:
    import pandas as pd

    from trials.model.rows import Known
    from trials.records.encoded_column import Cells

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


_NUMERALS = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii")
_ROMAN = {numeral: str(number) for number, numeral in enumerate(_NUMERALS, 1)}
_NUMBERED = re.compile(r"[a-z]{1,6}\.?[ -]?([0-9]{1,3})")


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
    grades
        By trial: the length grades in cm by which its stems are graded so far.
    """

    codes: frozenset[str] = frozenset()
    labels: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)
    swapped: frozenset[str] = frozenset()
    grades: Mapping[str, frozenset[int]] = field(default_factory=dict)

    @property
    def of_trial(self) -> Mapping[str, frozenset[str]]:
        """The codes of each trial that still takes records."""
        return {trial: frozenset(its) for trial, its in self.labels.items()}

    def code(self, text: str, agreed: str | None) -> str:
        """The code of the plot that a text means, by what is agreed; else the text as it is."""
        text = text.strip()
        if agreed is None or text in self.codes:
            return text
        alike = spelled_alike(text, self.codes)
        if alike is None and agreed != SPELLED_ALIKE:
            alike = by_number(text, self.of_trial.get(agreed, frozenset()))
        return text if alike is None else alike

    def otherwise(self, texts: Iterable[str]) -> tuple[str, ...]:
        """Those of some texts that are no plot's code, but may be one written in another way."""
        return tuple(
            text.strip()
            for text in texts
            if text.strip()
            and text.strip() not in self.codes
            and (
                spelled_alike(text, self.codes)
                or any(by_number(text, codes) for codes in self.of_trial.values())
            )
        )

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

    def plain(self, name: str) -> Callable[[str], str]:
        """What compares labels of one name: ``II`` and ``rep2`` are block 2 where there is one."""
        levels = self.levels(name)

        def compared(text: str) -> str:
            plain = plain_label(text)
            if plain in levels or name not in _PLACES:
                return plain
            first, _, rest = plain.partition(" ")
            if rest and first.rstrip(".") in _BEFORE_NUMBERS:
                plain = rest
            found = _NUMBERED.fullmatch(plain)
            other = _ROMAN.get(plain.rstrip(".")) if found is None else found[1].lstrip("0")
            return other if other in levels else plain

        return compared

    def short_for(self, name: str, text: str) -> tuple[str, ...]:
        """The levels of a name that a text is short for; none of a level as it is."""
        every = {
            its[name] for plots in self.labels.values() for its in plots.values() if name in its
        }
        if name in _PLACES or self.plain(name)(text) in self.levels(name):
            return ()
        return tuple(sorted(level for level in every if _is_short(text, level)))

    def trials(self, names: Sequence[str], told: Collection[tuple[str, ...]]) -> tuple[str, ...]:
        """The trials of which these labels name most plots; several where that is even."""
        counts: Counter[str] = Counter()
        plain = [self.plain(name) for name in names]
        for trial in self.labels:
            plots = self._by_labels(trial, names)
            hits = [
                plots.get(tuple(to(label) for to, label in zip(plain, labels, strict=True)), ())
                for labels in told
            ]
            counts[trial] = sum(len(found) == 1 for found in hits) * (len(hits) + 1)
            counts[trial] += sum(len(found) > 1 for found in hits)
        most = max(counts.values(), default=0)
        return tuple(trial for trial, count in counts.items() if count == most > 0)

    def find(self, trial: str, names: Sequence[str]) -> Finder:
        """What finds plots of a trial by these labels."""
        plain = tuple(self.plain(name) for name in names)
        return Finder(self, trial, tuple(names), self._by_labels(trial, names), plain)

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
    plain: tuple[Callable[[str], str], ...]

    def plot(self, labels: Sequence[str]) -> str | Wrong:
        """The one plot with these labels, or why it cannot be told."""
        key = tuple(to(label) for to, label in zip(self.plain, labels, strict=True))
        found = self.plots.get(key, [])
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
                f"{said} may be two plots: {found[0]} was swapped with another after planting.",
                "Write the plot's code, as on its stake.",
            )
        return found[0]

    def _nearest(self, labels: Sequence[str]) -> str:
        of_trial = self.known.labels.get(self.trial, {}).values()
        for name, label, to in zip(self.names, labels, self.plain, strict=True):
            there = {its[name] for its in of_trial if name in its}
            if to(label) not in map(plain_label, there):
                return hint(label, there, f"Write the {name} as in the trial.")
        return "Check which of them is wrong, or write the plot's code."


def _is_short(text: str, level: str) -> bool:
    """Whether a text is the beginning of each word of a level, or their first letters."""
    short = re.findall(r"[^\W_]+", text.casefold())
    words = re.findall(r"[^\W_]+", level.casefold())
    if not short or len("".join(short)) < 2 or len(short) > len(words):
        return False
    initials = "".join(word[0] for word in words)
    begins = all(word.startswith(part) for part, word in zip(short, words, strict=False))
    return begins or (len(short) == 1 and len(words) > 1 and short[0] == initials)


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
    swapped = _swapped(known.frames.get(Sheet.EVENTS))
    return KnownPlots(frozenset(codes), labels, swapped, _grades(known, labels))


def _grades(
    known: Known, labels: Mapping[str, Mapping[str, Mapping[str, str]]]
) -> dict[str, frozenset[int]]:
    """The grades of each trial's cuts, and the shortest length that its plan says is saleable."""
    cuts, trials = known.frames.get(Sheet.CUTS), known.frames.get(Sheet.TRIALS)
    found: dict[str, set[int]] = {}
    if trials is not None and "minimum_length_cm" in trials.columns:
        for trial, cm in zip(trials["trial"], trials["minimum_length_cm"], strict=True):
            found.setdefault(str(trial), set()).update({int(cm)} if cm > 0 else set())
    if cuts is not None and not cuts.empty:
        trial_of = {plot: trial for trial, plots in labels.items() for plot in plots}
        pairs = cuts[["plot", "grade_cm"]].dropna().drop_duplicates()
        for plot, cm in zip(pairs["plot"], pairs["grade_cm"], strict=True):
            if plot in trial_of:
                found.setdefault(trial_of[plot], set()).add(int(cm))
    return {trial: frozenset(grades) for trial, grades in found.items()}


def codes_of(known: Known, tables: Iterable[Cells]) -> frozenset[str]:
    """The codes of the plots that the store knows, and of those in plain files of plots."""
    frame = known.frames.get(Sheet.PLOTS)
    found = set() if frame is None or frame.empty else set(frame["plot"])
    for cells in tables:
        names = [plain_heading(name) for name in cells.heading]
        found |= {text.strip() for text in cells.columns[names.index("plot")].used()}
    return frozenset(found)


def _records(frame: pd.DataFrame) -> list[dict[str, str]]:
    filled = frame.astype(object).where(frame.notna(), "")
    return [{str(n): str(v) for n, v in row.items()} for row in filled.to_dict("records")]


def _swapped(events: pd.DataFrame | None) -> frozenset[str]:
    if events is None or events.empty or "other_plot" not in events.columns:
        return frozenset()
    swaps = events[events["kind"].isin([EventKind.PLANTS_SWAPPED, EventKind.LABELS_SWAPPED])]
    return frozenset(swaps["plot"].dropna()) | frozenset(swaps["other_plot"].dropna())
