"""Tallybed's front door: all that the command line, the dashboard and users may import.

Names are fetched from their rooms when first used, so that importing this costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.decide import Choice, Ordering, Rules, SeedOrder, Sowing, Standing
    from trials.errors import TallybedError
    from trials.model import MEASURES, Measure, Trial, TrialStage
    from trials.report.choice_page import reason_words, rules_lines, swing_sentence
    from trials.report.comparison_page import comparison_page, solid_line
    from trials.report.document import comparison_document
    from trials.report.figures import Figures, UnitSystem, figures_of, measure_figures
    from trials.report.order_csv import order_csv
    from trials.report.order_page import beds_sentence, money, total_sentence
    from trials.report.pages import STAGE_NEEDS, completeness_lines
    from trials.report.words import PlainWords, level_words, plain_words
    from trials.season import (
        Asked,
        choose,
        close,
        compare,
        compare_table,
        completeness,
        culls,
        grades,
        load,
        order,
        plots,
        trials,
        write_order_csv,
        write_order_pdf,
    )
    from trials.stats.results import Comparison

_ROOMS = {
    "trials.decide": ("Choice", "Ordering", "Rules", "SeedOrder", "Sowing", "Standing"),
    "trials.errors": ("TallybedError",),
    "trials.model": ("MEASURES", "Measure", "Trial", "TrialStage"),
    "trials.report.choice_page": ("reason_words", "rules_lines", "swing_sentence"),
    "trials.report.comparison_page": ("comparison_page", "solid_line"),
    "trials.report.document": ("comparison_document",),
    "trials.report.figures": ("Figures", "UnitSystem", "figures_of", "measure_figures"),
    "trials.report.order_csv": ("order_csv",),
    "trials.report.order_page": ("beds_sentence", "money", "total_sentence"),
    "trials.report.pages": ("STAGE_NEEDS", "completeness_lines"),
    "trials.report.words": ("PlainWords", "level_words", "plain_words"),
    "trials.season": (
        "Asked",
        "choose",
        "close",
        "compare",
        "compare_table",
        "completeness",
        "culls",
        "grades",
        "load",
        "order",
        "plots",
        "trials",
        "write_order_csv",
        "write_order_pdf",
    ),
    "trials.stats.results": ("Comparison",),
}
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names}

__all__ = [
    "MEASURES",
    "STAGE_NEEDS",
    "Asked",
    "Choice",
    "Comparison",
    "Figures",
    "Measure",
    "Ordering",
    "PlainWords",
    "Rules",
    "SeedOrder",
    "Sowing",
    "Standing",
    "TallybedError",
    "Trial",
    "TrialStage",
    "UnitSystem",
    "beds_sentence",
    "choose",
    "close",
    "compare",
    "compare_table",
    "comparison_document",
    "comparison_page",
    "completeness",
    "completeness_lines",
    "culls",
    "figures_of",
    "grades",
    "level_words",
    "load",
    "measure_figures",
    "money",
    "order",
    "order_csv",
    "plain_words",
    "plots",
    "reason_words",
    "rules_lines",
    "solid_line",
    "swing_sentence",
    "total_sentence",
    "trials",
    "write_order_csv",
    "write_order_pdf",
]


def __getattr__(name: str) -> object:
    room = _ROOM_OF.get(name)
    if room is None:
        raise AttributeError(f"trials has no {name!r}")
    return getattr(import_module(room), name)
