"""What a factor with numeric levels, such as a spacing, does to a measure, in a few sentences."""

from __future__ import annotations

from dataclasses import replace

from trials.report.figures import Figures, decimals_of
from trials.report.tested_words import factor_words
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Trend

ROUNDEST = 3  # significant figures of a place between two levels


def trend_words(comparison: Comparison, factor: str, figures: Figures) -> str:
    """The trend of a measure over a factor's numbers; empty where the factor has none."""
    for trend in comparison.trends:
        if trend.factor == factor:
            return " ".join(_sentences(comparison, trend, figures.apart))
    return ""


def _sentences(comparison: Comparison, trend: Trend, figures: Figures) -> list[str]:
    alpha, measure = comparison.alpha, comparison.measure
    sure = f"{100 * (1 - alpha):g}% limits"
    grown = f"{trend.lowest:g} to {_amount(trend.highest, trend)}"
    most = "lowest" if comparison.better == "lower" else "highest"
    said = []
    if trend.bend.p <= alpha and trend.best is not None:
        limits = (
            f" ({sure} {_place(trend.best_low)} to {_place(trend.best_high)})"
            if trend.best_low is not None and trend.best_high is not None
            else " (its limits cannot be estimated from these plots)"
        )
        said.append(
            f"Over {factor_words(trend.factor)} of {grown}, {measure} is {most} near "
            f"{_amount(float(_place(trend.best)), trend)}{limits}, on a curve through the means."
        )
    elif trend.bend.p <= alpha:
        said.append(
            f"Over {factor_words(trend.factor)} of {grown}, {measure} bends, with no best value in "
            "between: compare the two ends."
        )
    elif trend.straight.p <= alpha:
        fine = replace(
            figures, decimals=decimals_of((trend.slope_high - trend.slope_low) / 4 * figures.factor)
        )
        way = "more" if trend.slope > 0 else "less"
        low, high = sorted((abs(trend.slope_low), abs(trend.slope_high)))
        each = f"each {trend.unit} more" if trend.unit else "each step of 1 more"
        said.append(
            f"With {each} of {factor_words(trend.factor)}, from {grown}, {measure} is "
            f"{fine.amount(abs(trend.slope))} {way} ({sure} {fine.interval(low, high)}), "
            "in a straight line."
        )
    else:
        said.append(
            f"Over {factor_words(trend.factor)} of {grown}, no trend in {measure} is larger than "
            "chance could explain."
        )
    if trend.rest is not None and trend.rest.p <= alpha:
        said.append(
            "But some means differ from any such line by more than chance could explain. Use the "
            "means themselves."
        )
    return said


def _place(value: float) -> str:
    return f"{value:.{ROUNDEST}g}"


def _amount(value: float, trend: Trend) -> str:
    return f"{value:g} {trend.unit}".strip()
