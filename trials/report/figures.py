"""How numbers are written: the reader's units, sensible decimals, p-values that never lie."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trials.model.units import CM_PER_INCH, M_PER_FOOT, UnitSystem

if TYPE_CHECKING:
    from trials.model.trial import Margin, Measure
    from trials.stats.results import Comparison

MINUS = "\u2212"


@dataclass(frozen=True, slots=True)
class Figures:
    """One measure's way of being written: ``factor`` turns stored values into ``unit``."""

    unit: str
    factor: float = 1.0
    decimals: int = 1

    def named(self, measure: str) -> str:
        """The measure's name: what is stored per metre may be shown per foot."""
        return measure.replace("per metre", "per foot") if self.unit.endswith("/ft") else measure

    def number(self, value: float | None) -> str:
        """The value without its unit; a dash where there is none."""
        if value is None:
            return "–"
        text = f"{value * self.factor:,.{self.decimals}f}"
        if float(text.replace(",", "")) == 0:
            text = text.lstrip("-")
        return text.replace("-", MINUS)

    def signed(self, value: float) -> str:
        """The value with its sign, as differences are written."""
        text = self.number(value)
        return text if text.startswith(MINUS) else f"+{text}"

    def amount(self, value: float) -> str:
        """The value with its unit, as in a sentence."""
        number = self.number(value)
        return f"{number} {self.unit}".strip() if self.unit != "%" else f"{number}%"

    @property
    def apart(self) -> Figures:
        """The same for differences: two shares lie percentage points apart, never per cent."""
        return replace(self, unit="percentage points") if self.unit == "%" else self

    def limit(self, value: float, neutral: float = 0.0) -> str:
        """A limit that leaves out ``neutral``, in as many digits as it takes to show that."""
        for decimals in range(self.decimals, self.decimals + 6):
            figures = replace(self, decimals=decimals)
            if figures.number(value) != figures.number(neutral):
                return figures.amount(value)
        return self.amount(value)

    def interval(self, low: float | None, high: float | None) -> str:
        """Two limits as 'low to high'."""
        if low is None or high is None:
            return "–"
        return f"{self.number(low)} to {self.number(high)}"


_US = {
    "cm": ("in", 1 / CM_PER_INCH),
    "stems/m": ("stems/ft", M_PER_FOOT),
    "stems/m²": ("stems/sq ft", M_PER_FOOT**2),
    "m": ("ft", 1 / M_PER_FOOT),
}


def _in_us(unit: str) -> tuple[str, float]:
    """The US unit and the factor that leads to it; whatever is per metre becomes per foot."""
    per_foot = (f"{unit[:-2]}/ft", M_PER_FOOT) if unit.endswith("/m") else (unit, 1.0)
    return _US.get(unit, per_foot)


def figures_of(comparison: Comparison, system: UnitSystem = UnitSystem.METRIC) -> Figures:
    """The way a comparison's figures are written: decimals follow the size of its errors."""
    from trials.stats.design.table import Scale  # brings numpy along

    unit, factor = comparison.unit, 1.0
    if unit == "share":
        unit, factor = "%", 100.0
    elif system is UnitSystem.US:
        unit, factor = _in_us(unit)
    if comparison.scale == Scale.IDENTITY:
        errors = [pair.se for pair in comparison.all_pairs if pair.se > 0]
        errors = errors or [mean.se for mean in comparison.means if mean.se]
    else:  # errors are the scale's; in the measure's unit there are limits only
        limits = [(mean.low, mean.high) for mean in comparison.means]
        errors = [
            (high - low) / 4
            for low, high in limits
            if low is not None and high is not None and high > low
        ]
    if errors:
        return Figures(unit, factor, decimals_of(min(errors) * factor))
    scale = abs(comparison.grand_mean) * factor
    return Figures(unit, factor, decimals_of(scale / 20) if scale else 1)


def named_in(comparison: Comparison, system: UnitSystem) -> Comparison:
    """The comparison with its measure named as its figures are shown, see ``Figures.named``."""
    if system is UnitSystem.METRIC:
        return comparison
    shown = Figures(*_in_us(comparison.unit))
    return replace(comparison, measure=shown.named(comparison.measure))


def measure_figures(measure: Measure, system: UnitSystem = UnitSystem.METRIC) -> Figures:
    """The way a measure is written where no errors are at hand: its own decimals."""
    if measure.unit == "share":
        return Figures("%", 100.0, max(measure.decimals - 2, 0))
    if system is UnitSystem.US:
        return Figures(*_in_us(measure.unit), measure.decimals)
    return Figures(measure.unit, 1.0, measure.decimals)


_UNITS = "|".join(re.escape(unit) for unit in sorted(_US, reverse=True))
_AMOUNT = re.compile(rf"(\d+(?:\.\d+)?) ({_UNITS})(?![\w/²])")


def amounts_in(text: str, system: UnitSystem) -> str:
    """A sentence with its metric amounts in the reader's units, to two digits at least."""
    if system is UnitSystem.METRIC:
        return text

    def written(found: re.Match[str]) -> str:
        unit, factor = _US[found[2]]
        return f"{float(found[1]) * factor:.{max(2, len(found[1].replace('.', '')))}g} {unit}"

    return _AMOUNT.sub(written, text)


def margin_words(margin: Margin, measure: Measure, system: UnitSystem) -> str:
    """A difference that does not matter, in the reader's units."""
    if margin.percent:
        return f"{margin.value:g}%"
    if measure.unit == "share":
        return f"{100 * margin.value:g} percentage points"
    return amounts_in(f"{margin.value:g} {measure.unit}", system)


def decimals_of(error: float) -> int:
    """Decimals that keep one to two meaningful digits of an error of this size."""
    return min(max(0, math.ceil(-math.log10(error) + 0.3)), 6)


def p_value(p: float, *limits: float) -> str:
    """A p-value in as many digits as it takes not to round across any of ``limits`` (or to 0)."""
    if p < 0.001:
        return "p < 0.001"
    for decimals in range(3, 9):
        rounded = round(p, decimals)
        if all((p < limit) == (rounded < limit) for limit in (*limits, 0.05)):
            return f"p = {rounded:.{decimals}f}"
    return f"p = {p:.8f}"


def per_cent(share: float, decimals: int = 0) -> str:
    """A share of one as per cent; never 0% or 100% for what is only nearly so."""
    value = share * 100
    text = f"{value:.{decimals}f}"
    step = 10**-decimals
    if float(text) == 0 and share > 0:
        return f"under {step:g}%"
    if float(text) == 100 and share < 1:
        return f"over {100 - step:g}%"
    return f"{text}%"


def chance(share: float | None) -> str:
    """A simulated chance: never certain, because the draws are many but not endless."""
    if share is None:
        return "–"
    return per_cent(min(max(share, 1e-9), 1 - 1e-9))


def count(number: int, noun: str, plural: str | None = None) -> str:
    """'1 plot', '3 plots'."""
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"


def pairs_of(number: int, every: int) -> str:
    """How many of all pairs: '3 of the 6 pairs', 'all 6 pairs', 'both pairs', 'the one pair'."""
    if number < every:
        return f"{number} of the {count(every, 'pair')}"
    return {1: "the one pair", 2: "both pairs"}.get(every, f"all {every:,} pairs")


def capital(text: str) -> str:
    """The text as a sentence begins."""
    return text[:1].upper() + text[1:]


def listed(names: tuple[str, ...] | list[str], most: int = 8) -> str:
    """'a, b and c'; long lists end in how many more there are."""
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
