"""A trial's plan as a grower writes it down: one TOML file, judged whole before it is laid out.

The keys, each once::

    trial = "snapdragon-2027"       # the code the trial goes by
    question = "Which sort stands up to July?"
    season = 2027
    site = "home field"
    crop = "snapdragon"
    layout = "complete blocks"      # a kind of layout
    replicates = 4
    primary_measure = "stems_per_plant"
    checks = ["Early white"]        # may be left out; several in augmented blocks only
    plants_per_plot = 18            # picked and counted; guards are not among them
    guards = 1                      # plants at each end of a row; may be left out: 0
    alpha = 0.05                    # may be left out
    margin = "10 %"                 # or "3" in the measure's unit; may be left out
    shortest_length_cm = 40
    grades_cm = [30, 40, 50]
    seed = 20270301                 # any whole number; the same one draws the same layout
    block_size = 6                  # most plots of an incomplete block; may be left out
    sow_on = 2027-02-20             # may be left out
    transplant_on = 2027-04-05      # may be left out

    [[factors]]
    name = "variety"
    levels = ["Early white", "Tall pink"]
    on = "plot"                     # or whole plot, split plot, strip; may be left out

    [[beds]]                        # in the order in which one walks them
    name = "Bed 1"
    length_m = 30
    width_m = 1.2

    [planting]
    rows = 3
    spacing_cm = 20
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast

from trials.errors import FileRefused
from trials.layout.plan import Bed, Planting, TrialPlan
from trials.model import MEASURES, AppliedTo, Factor, Margin
from trials.records.faults import Faults, Wrong, hint, shown
from trials.stats.results import LayoutKind


@dataclass(frozen=True, slots=True)
class _Kind:
    """What a key may hold: a check, and what to write where it fails."""

    holds: Callable[[object], bool]
    remedy: str


@dataclass(frozen=True, slots=True)
class _Key:
    kind: _Kind
    optional: bool = False


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 1e6


def _is_list_of(holds: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(holds(item) for item in value)


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def _margin(text: str) -> Margin | None:
    """The margin written as ``3`` or ``10 %``; None where it is neither."""
    number = text.strip().removesuffix("%").strip()
    try:
        return Margin(float(number), percent=text.strip().endswith("%"))
    except ValueError:
        return None


def _one_of(names: Sequence[str]) -> _Kind:
    return _Kind(lambda value: value in names, f"Write one of: {', '.join(names)}.")


_TEXT = _Kind(_is_text, "Write it in quotes.")
_WHOLE = _Kind(_is_whole, "Write a whole number, such as 4.")
_NUMBER = _Kind(_is_number, "Write a number above 0, such as 1.2.")
_TEXTS = _Kind(_is_list_of(_is_text), 'Write a list of texts, such as ["a", "b"].')
_WHOLES = _Kind(_is_list_of(_is_whole), "Write a list of whole numbers, such as [30, 40].")
_DAY = _Kind(lambda value: type(value) is date, "Write a day without quotes, such as 2027-04-05.")
_TABLES = _Kind(_is_tables, "Write one part under double brackets for each.")
_TABLE = _Kind(lambda value: isinstance(value, dict), "Write a part under its name in brackets.")
_ALPHA = _Kind(
    lambda value: isinstance(value, float) and 0 < value < 0.5, "Write a share, such as 0.05."
)
_MARGIN = _Kind(
    lambda value: isinstance(value, str) and _margin(value) is not None,
    'Write "3" (in the measure\'s unit) or "10 %".',
)

PLAN: Mapping[str, _Key] = {
    "trial": _Key(_TEXT),
    "question": _Key(_TEXT),
    "season": _Key(_WHOLE),
    "site": _Key(_TEXT),
    "crop": _Key(_TEXT),
    "layout": _Key(_one_of([kind.value for kind in LayoutKind])),
    "replicates": _Key(_WHOLE),
    "primary_measure": _Key(_one_of([measure.key for measure in MEASURES])),
    "checks": _Key(_TEXTS, optional=True),
    "plants_per_plot": _Key(_WHOLE),
    "guards": _Key(_WHOLE, optional=True),
    "alpha": _Key(_ALPHA, optional=True),
    "margin": _Key(_MARGIN, optional=True),
    "shortest_length_cm": _Key(_NUMBER),
    "grades_cm": _Key(_WHOLES),
    "seed": _Key(_WHOLE),
    "block_size": _Key(_WHOLE, optional=True),
    "sow_on": _Key(_DAY, optional=True),
    "transplant_on": _Key(_DAY, optional=True),
    "factors": _Key(_TABLES),
    "beds": _Key(_TABLES),
    "planting": _Key(_TABLE),
}
FACTOR: Mapping[str, _Key] = {
    "name": _Key(_TEXT),
    "levels": _Key(_TEXTS),
    "on": _Key(_one_of([unit.value for unit in AppliedTo]), optional=True),
}
BED: Mapping[str, _Key] = {
    "name": _Key(_TEXT),
    "length_m": _Key(_NUMBER),
    "width_m": _Key(_NUMBER),
}
PLANTING: Mapping[str, _Key] = {"rows": _Key(_WHOLE), "spacing_cm": _Key(_NUMBER)}


def read_plan(path: Path) -> TrialPlan:
    """The plan in a TOML file; whether it fits the beds is for the layout to say.

    Raises
    ------
    FileRefused
        The file cannot be read, or is not TOML.
    RecordsRefused
        Some key is missing, unknown or cannot be right. Every fault is listed under the key's
        path, such as ``beds[2].width_m``.
    """
    return plan_of(plan_text(path), path.name)


def plan_text(path: Path) -> str:
    """The text of a plan's file, as it is kept beside the trial."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Name the file of a plan.") from None
    except UnicodeDecodeError:
        raise FileRefused(f"{path} is not UTF-8 text. Save the plan as UTF-8.") from None


def plan_of(text: str, file: str) -> TrialPlan:
    """The plan in a text; ``file`` is what faults call it. See ``read_plan``."""
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise FileRefused(f"{file} is not a plan in TOML: {problem}. Mend that place.") from None
    faults = Faults()
    _judge(found, PLAN, "", file, faults)
    for name, keys in (("factors", FACTOR), ("beds", BED)):
        if _is_tables(found.get(name)):
            for number, item in enumerate(found[name], start=1):
                _judge(item, keys, f"{name}[{number}].", file, faults)
    if isinstance(found.get("planting"), dict):
        _judge(found["planting"], PLANTING, "planting.", file, faults)
    faults.refuse_if_any()
    return _plan(found)


def _judge(
    found: Mapping[str, object], keys: Mapping[str, _Key], above: str, file: str, faults: Faults
) -> None:
    """Note every key of one part that is unknown, wrong or missing."""
    for name, value in found.items():
        if name not in keys:
            missing = [key for key in keys if key not in found]
            remedy = hint(name, missing or keys, "Leave it out.")
            faults.add(file, None, above + name, Wrong("no such key in a plan.", remedy))
        elif not keys[name].kind.holds(value):
            faults.add(file, None, above + name, _wrong(value, keys[name].kind))
    for name, key in keys.items():
        if name not in found and not key.optional:
            faults.add(file, None, above + name, Wrong("is missing.", key.kind.remedy))


def _wrong(value: object, kind: _Kind) -> Wrong:
    names = kind.remedy.removeprefix("Write one of: ").removesuffix(".").split(", ")
    remedy = kind.remedy
    if kind.remedy.startswith("Write one of: ") and isinstance(value, str):
        remedy = hint(value, names, kind.remedy)
    return Wrong(f"{shown(str(value))} cannot be right.", remedy)


def _plan(found: Mapping[str, object]) -> TrialPlan:
    """The plan of a file in which every key has been judged."""
    factors = cast("list[dict[str, object]]", found["factors"])
    beds = cast("list[dict[str, object]]", found["beds"])
    planting = cast("dict[str, object]", found["planting"])
    margin = found.get("margin")
    return TrialPlan(
        code=str(found["trial"]),
        season=cast("int", found["season"]),
        site=str(found["site"]),
        crop=str(found["crop"]),
        question=str(found["question"]),
        kind=LayoutKind(str(found["layout"])),
        factors=tuple(
            Factor(
                str(factor["name"]),
                tuple(cast("list[str]", factor["levels"])),
                AppliedTo(str(factor.get("on", AppliedTo.PLOT))),
            )
            for factor in factors
        ),
        checks=tuple(cast("list[str]", found.get("checks", []))),
        replicates=cast("int", found["replicates"]),
        beds=tuple(
            Bed(str(bed["name"]), _number(bed["length_m"]), _number(bed["width_m"])) for bed in beds
        ),
        planting=Planting(cast("int", planting["rows"]), _number(planting["spacing_cm"])),
        plants_per_plot=cast("int", found["plants_per_plot"]),
        guard_plants=cast("int", found.get("guards", 0)),
        primary_measure=str(found["primary_measure"]),
        alpha=_number(found.get("alpha", 0.05)),
        margin=None if margin is None else _margin(str(margin)),
        shortest_length_cm=_number(found["shortest_length_cm"]),
        grades_cm=tuple(cast("list[int]", found["grades_cm"])),
        seed=cast("int", found["seed"]),
        block_size=cast("int | None", found.get("block_size")),
        sow_on=cast("date | None", found.get("sow_on")),
        transplant_on=cast("date | None", found.get("transplant_on")),
    )


def _number(value: object) -> float:
    return float(cast("float", value))
