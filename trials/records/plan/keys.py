"""The keys of a trial's plan: what each may hold, in which unit, and the decision it serves."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from trials.layout.power.power import Family
from trials.model.trial import MEASURES, AppliedTo, Margin
from trials.model.units import (
    fahrenheit_to_celsius,
    feet_to_m,
    grade_of_inches,
    inches_to_cm,
)
from trials.records.rules.cells import LONGEST_CELL, judge_cell
from trials.records.rules.forms import Column
from trials.records.rules.forms import Kind as Cell
from trials.stats.results import LayoutKind

# A plan's words are judged as those of the sheets are: its trial must fit beside theirs.
_NAME, _WORDS = Column("", Cell.NAME), Column("", Cell.TEXT)


@dataclass(frozen=True, slots=True)
class Kind:
    """What a key may hold: a check, and what to write where it fails."""

    holds: Callable[[object], bool]
    remedy: str


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what it holds, what it decides, and whether it may be left out.

    A key in US units has the name of its ``metric`` key, of which one or the other is given, and
    the ``conversion`` to it.
    """

    kind: Kind
    decides: str
    optional: bool = False
    metric: str | None = None
    conversion: Callable[[float], float] = float


def _inches(metric: str, holds: Kind | None = None) -> Key:
    """The key in inches that may take the place of one in centimetres."""
    words = f"{metric} in inches."
    return Key(holds or _NUMBER, words, optional=True, metric=metric, conversion=inches_to_cm)


def _feet(metric: str) -> Key:
    """The key in feet that may take the place of one in metres."""
    return Key(_NUMBER, f"{metric} in feet.", optional=True, metric=metric, conversion=feet_to_m)


def _is_text(value: object) -> bool:
    return isinstance(value, str) and isinstance(judge_cell(value, _WORDS), str)


def _is_name(value: object) -> bool:
    return isinstance(value, str) and isinstance(judge_cell(value, _NAME), str)


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 1e6


def _is_list_of(holds: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(holds(item) for item in value)


def is_tables(value: object) -> bool:
    """Whether a value is one part under double brackets or more."""
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def margin_of(text: str) -> Margin | None:
    """The margin written as ``3`` or ``10%``; None where it is neither."""
    number = text.strip().removesuffix("%").strip()
    try:
        return Margin(float(number), percent=text.strip().endswith("%"))
    except ValueError:
        return None


def percent_of(value: object) -> float | None:
    """The per cent written as ``20%`` or as a number; None where it is neither, or not above 0."""
    text = value.strip().removesuffix("%").strip() if isinstance(value, str) else value
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        return None
    try:
        number = float(text)
    except ValueError:
        return None
    return number if 0 < number < 1000 else None


def _one_of(names: Sequence[str]) -> Kind:
    return Kind(lambda value: value in names, f"Write one of: {', '.join(names)}.")


_TEXT = Kind(_is_text, f"Write it in quotes, in at most {LONGEST_CELL:,} characters.")
_CODE = Kind(_is_name, f"Write it in quotes on one line, in at most {LONGEST_CELL:,} characters.")
_WHOLE = Kind(_is_whole, "Write a whole number, such as 4.")
_NUMBER = Kind(_is_number, "Write a number above 0, such as 1.2.")
_NAMES = Kind(_is_list_of(_is_name), 'Write a list of names on one line each, as ["a", "b"].')
_NUMBERS = Kind(_is_list_of(_is_number), "Write a list of numbers, such as [12, 16].")
_WHOLES = Kind(_is_list_of(_is_whole), "Write a list of whole numbers, such as [30, 40].")
_DAY = Kind(lambda value: type(value) is date, "Write a day without quotes, such as 2027-04-05.")
_TABLES = Kind(is_tables, "Write one part under double brackets for each.")
_TABLE = Kind(lambda value: isinstance(value, dict), "Write a part under its name in brackets.")
_YES_NO = Kind(lambda value: isinstance(value, bool), "Write true or false, without quotes.")
_SHARE = Kind(
    lambda value: isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= 1,
    "Write a share, such as 0.8.",
)
_MORE = Kind(
    lambda value: (
        isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 10
    ),
    "Write a share, such as 0.1.",
)
_ALPHA = Kind(
    lambda value: isinstance(value, float) and 0 < value < 0.5, "Write a share, such as 0.05."
)
_CHANCE = Kind(
    lambda value: isinstance(value, float) and 0 < value < 1, "Write a share, such as 0.8."
)
_PERCENT = Kind(lambda value: percent_of(value) is not None, 'Write per cent, such as "20%".')
_MARGIN = Kind(
    lambda value: isinstance(value, str) and margin_of(value) is not None,
    'Write "3" (in the measure\'s unit) or "10%".',
)

PLAN: Mapping[str, Key] = {
    "trial": Key(_CODE, "The trial's code, for commands and labels."),
    "question": Key(_TEXT, "What you want to know, in one sentence."),
    "season": Key(_WHOLE, "The year; plot codes contain it."),
    "site": Key(_CODE, "The field, as in sites.csv; the calendar uses its frost dates."),
    "crop": Key(_CODE, "The crop; its earlier trials, days to bloom and prices are used."),
    "layout": Key(
        _one_of([kind.value for kind in LayoutKind]),
        "How plots are grouped to allow for uneven ground.",
    ),
    "replicates": Key(
        _WHOLE, "Plots of each treatment (blocks); more plots show smaller differences."
    ),
    "primary_measure": Key(
        _one_of([measure.key for measure in MEASURES]), "The measure that decides."
    ),
    "checks": Key(
        _NAMES, "What you grow now; others are compared with it. Several in augmented blocks.", True
    ),
    "plants_per_plot": Key(_WHOLE, "Plants picked and counted in a plot, without guards."),
    "guards": Key(
        _WHOLE, "Plants at each end of every row of a plot, not counted; 0 if left out.", True
    ),
    "alpha": Key(_ALPHA, "Risk of a false alarm that you accept; 0.05 if left out.", True),
    "family": Key(
        _one_of([family.value for family in Family]),
        "The comparisons that share that risk: with the check if there is one, else all pairs.",
        True,
    ),
    "equivalence_margin": Key(
        _MARGIN,
        'Difference that does not matter to you: "3" in the measure\'s unit or "10%".',
        True,
    ),
    "detect": Key(_PERCENT, 'Difference you want to find, in % of the mean, such as "20%".', True),
    "chance": Key(_CHANCE, "Chance you want of finding it; 0.8 if left out.", True),
    "minimum_length_cm": Key(_NUMBER, "Minimum saleable length, cm; shorter varieties drop out."),
    "minimum_length_in": Key(
        _NUMBER,
        "minimum_length_cm in inches; like grades, to the nearest whole centimetre.",
        optional=True,
        metric="minimum_length_cm",
        conversion=grade_of_inches,
    ),
    "grades_cm": Key(
        _WHOLES, "Length grades on the picking sheet: the shortest length of each, cm."
    ),
    "grades_in": Key(
        _NUMBERS,
        "grades_cm in inches.",
        optional=True,
        metric="grades_cm",
        conversion=grade_of_inches,
    ),
    "randomisation_number": Key(
        _WHOLE, "Randomisation number: any whole number; the same one gives the same layout."
    ),
    "block_size": Key(_WHOLE, "Most plots in an incomplete block.", True),
    "sow_on": Key(_DAY, "Day you mean to sow; from the frost if left out.", True),
    "transplant_on": Key(_DAY, "Day you mean to plant out; needed to store the plan.", True),
    "factors": Key(_TABLES, "What is varied, one part each."),
    "beds": Key(_TABLES, "The beds the trial may use, in walking order, one part each."),
    "planting": Key(_TABLE, "How plants are spaced in the bed."),
    "assume": Key(_TABLE, "Assumed figures; all may be left out.", True),
    "calendar": Key(_TABLE, "Days of the crop and the season; all may be left out.", True),
    "happened": Key(_TABLE, "What was done and when; later dates move with it.", True),
    "taken": Key(_TABLE, "The proposal that was taken; `plan --take` writes it.", True),
}
FACTOR: Mapping[str, Key] = {
    "name": Key(_CODE, "variety, pinch, spacing_cm, spacing_in, netting, ..."),
    "levels": Key(_NAMES, "What is compared; spacings as text in cm or inches."),
    "on": Key(
        _one_of([unit.value for unit in AppliedTo]),
        "The unit that gets one level as a whole; plot if left out.",
        True,
    ),
}
BED: Mapping[str, Key] = {
    "name": Key(_CODE, "The bed's name on map and labels."),
    "length_m": Key(_NUMBER, "Its length, m."),
    "length_ft": _feet("length_m"),
    "width_m": Key(_NUMBER, "Its width, m."),
    "width_ft": _feet("width_m"),
    "path_m": Key(_NUMBER, "The path to the next bed, m.", True),
    "path_ft": _feet("path_m"),
}
PLANTING: Mapping[str, Key] = {
    "rows": Key(_WHOLE, "Rows along the bed."),
    "spacing_cm": Key(_NUMBER, "From plant to plant along a row, cm."),
    "spacing_in": _inches("spacing_cm"),
}
ASSUME: Mapping[str, Key] = {
    "cv_percent": Key(
        _NUMBER,
        "Coefficient of variation between plots, in %; else from your closed trials, or 15 "
        "for plots of 18 plants and more for smaller ones.",
        True,
    ),
    "plant_cv_percent": Key(
        _NUMBER, "Coefficient of variation between plants of a plot, in %; else 40.", True
    ),
    "stems_per_plant": Key(_NUMBER, "Stems per plant over the season; else the crop's.", True),
    "stems_per_hour": Key(_NUMBER, "Stems cut and tallied per hour; else 150.", True),
    "minutes_per_plot": Key(_NUMBER, "Minutes to find a plot and write its line; else 1.", True),
    "harvests_per_week": Key(_NUMBER, "Harvests per week; else 2.", True),
    "weeks_of_cutting": Key(_NUMBER, "Weeks of cutting; else 8.", True),
    "germination": Key(_SHARE, "Share that germinates, where no lot was tested; else 0.75.", True),
    "usable": Key(_SHARE, "Share of seedlings fit to plant; else 0.9.", True),
    "overage": Key(_MORE, "Extra seed, as a share; else 0.1.", True),
}
CALENDAR: Mapping[str, Key] = {
    "days_to_bloom": Key(_WHOLE, "Days from sowing to the first cut, unpinched.", True),
    "direct_sown": Key(_YES_NO, "true if sown direct, where it grows.", True),
    "days_in_trays": Key(_WHOLE, "Days from sowing to planting out.", True),
    "germination_c": Key(_NUMBER, "Temperature for germination, °C.", True),
    "germination_f": Key(
        _NUMBER,
        "germination_c in °F.",
        optional=True,
        metric="germination_c",
        conversion=fahrenheit_to_celsius,
    ),
    "days_to_pinch": Key(_WHOLE, "Days from planting out to pinching.", True),
    "pinch_height_cm": Key(_NUMBER, "Height of the plants at pinching, cm.", True),
    "pinch_height_in": _inches("pinch_height_cm"),
    "pinch_leaf_pairs": Key(_WHOLE, "Pairs of leaves at pinching.", True),
    "days_pinching_delays": Key(_WHOLE, "Days by which pinching delays the first cut.", True),
    "days_to_net": Key(_WHOLE, "Days from planting out to netting.", True),
    "net_height_cm": Key(_NUMBER, "Height of the net above the soil, cm.", True),
    "net_height_in": _inches("net_height_cm"),
    "pinched": Key(_YES_NO, "Whether it is pinched; else if a factor is called pinch.", True),
    "netted": Key(_YES_NO, "Whether it is netted; else if a factor is called netting.", True),
    "days_between_flushes": Key(_WHOLE, "Days from one cut to the next.", True),
    "flushes": Key(_WHOLE, "Cuts of a sowing.", True),
    "successions": Key(_WHOLE, "Sowings in the season; else 1.", True),
    "days_between_sowings": Key(_WHOLE, "Days from one sowing to the next.", True),
    "weeks_of_cutting": Key(
        _WHOLE, "Weeks of cutting that the last sowing must still have; else 4.", True
    ),
    "frost_margin_days": Key(_WHOLE, "Days to stay clear of both average frosts; else 0.", True),
    "last_spring_frost": Key(_DAY, "Average last frost; else the site's of that season.", True),
    "first_autumn_frost": Key(_DAY, "Average first frost; else the site's of that season.", True),
    "season_starts_on": Key(_DAY, "First day of a season the store does not have yet.", True),
    "season_ends_on": Key(_DAY, "Last day of a season the store does not have yet.", True),
}
HAPPENED: Mapping[str, Key] = {
    "sown_on": Key(_DAY, "Day it was sown.", True),
    "transplanted_on": Key(_DAY, "Day it was planted out.", True),
    "pinched_on": Key(_DAY, "Day it was pinched.", True),
    "netted_on": Key(_DAY, "Day the net went on.", True),
    "first_cut_on": Key(_DAY, "Day of the first cut.", True),
    "second_cut_on": Key(_DAY, "Day of the second flush.", True),
    "last_cut_on": Key(_DAY, "Day of the last cut: nothing is expected after it.", True),
}
TAKEN: Mapping[str, Key] = {
    "layout": PLAN["layout"],
    "replicates": PLAN["replicates"],
    "plants_per_plot": PLAN["plants_per_plot"],
    "block_size": PLAN["block_size"],
    "whole_plots": Key(_NAMES, "Factors that were moved to whole plots.", True),
}
# Parts that stand once, and parts that are repeated under double brackets.
PARTS: Mapping[str, Mapping[str, Key]] = {
    "planting": PLANTING,
    "assume": ASSUME,
    "calendar": CALENDAR,
    "happened": HAPPENED,
    "taken": TAKEN,
}
REPEATED: Mapping[str, Mapping[str, Key]] = {"factors": FACTOR, "beds": BED}
