"""A trial's plan as a grower writes it down: one TOML file, judged whole before it is laid out.

``plan_keys`` lists the keys, what each holds and what it decides; ``data/plan-example.toml`` is a
plan, and the README's section on plans explains it. A key that ends in ``_in``, ``_ft`` or ``_f``
takes the place of its metric one and is converted exactly: 1 in = 2.54 cm, 1 ft = 0.3048 m.
"""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar, cast

from trials.errors import FileRefused
from trials.layout.calendar import Happened, TaskKind
from trials.layout.plan import Bed, Planting, TrialPlan
from trials.layout.power.assumptions import Assumptions
from trials.layout.power.power import Family
from trials.layout.season_dates import Timing
from trials.model.former_names import MEASURES, PLAN_KEYS
from trials.model.trial import AppliedTo, Factor
from trials.records.faults import Faults, Wrong, hint, nearest, shown
from trials.records.plan.keys import (
    PARTS,
    PLAN,
    REPEATED,
    Key,
    Kind,
    is_tables,
    margin_of,
    percent_of,
)
from trials.records.rules.cells import unseen
from trials.stats.results import LayoutKind

_HAPPENED = {
    "sown_on": TaskKind.SOW,
    "transplanted_on": TaskKind.TRANSPLANT,
    "pinched_on": TaskKind.PINCH,
    "netted_on": TaskKind.NET,
    "first_cut_on": TaskKind.FIRST_CUT,
    "second_cut_on": TaskKind.NEXT_FLUSH,
    "last_cut_on": TaskKind.LAST_CUT,
}
Filled = TypeVar("Filled", Assumptions, Timing)


@dataclass(frozen=True, slots=True)
class WrittenPlan:
    """All that a plan's file says: the plan, with what was ``taken`` of the proposals in it.

    ``detect_percent`` is a difference the grower wants to find with ``chance``; None where none
    was named. ``family`` None follows from the check.
    """

    plan: TrialPlan
    detect_percent: float | None = None
    chance: float = 0.80
    family: Family | None = None
    assumed: Assumptions = field(default_factory=Assumptions)
    timing: Timing = field(default_factory=Timing)
    happened: Happened = field(default_factory=lambda: MappingProxyType({}))
    has_taken: bool = False


def plan_text(path: Path) -> str:
    """The text of a plan's file, as it is kept beside the trial."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Name the file of a plan.") from None
    except UnicodeDecodeError:
        raise FileRefused(f"{path} is not UTF-8 text. Save the plan as UTF-8.") from None


def stored_plan(text: str, file: str) -> WrittenPlan:
    """All that a stored plan says; its keys may have the names of an earlier version."""
    return _written(_with_todays_keys(_table(text, file)), file)


def written_plan(text: str, file: str) -> WrittenPlan:
    """All that a plan's text says; whether it fits the beds is for the layout to say.

    ``file`` is what faults call it.

    Raises
    ------
    FileRefused
        It is not TOML.
    RecordsRefused
        Some key is missing, unknown or cannot be right. Every fault is listed under the key's
        path, such as ``beds[2].width_m``.
    """
    return _written(_table(text, file), file)


def _table(text: str, file: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise FileRefused(f"{file} is not valid TOML: {problem}. Correct it there.") from None


def _with_todays_keys(found: dict[str, object]) -> dict[str, object]:
    measure = found.get("primary_measure")
    if isinstance(measure, str):
        found["primary_measure"] = MEASURES.get(measure, measure)
    for name, former in PLAN_KEYS.items():
        part = found.get(name) if name else found
        if isinstance(part, dict):
            for then in [key for key in part if key in former]:
                part[former[then]] = part.pop(then)
    return found


def _written(found: dict[str, object], file: str) -> WrittenPlan:
    faults = Faults("key")
    parts = list(_parts(found))
    for part, keys, above in parts:
        _judge(part, keys, above, file, faults)
    faults.refuse_if_any()
    for part, keys, _ in parts:
        part |= {name: _as_cells(value) for name, value in part.items()}
        _in_metric(part, keys)
    happened = cast("dict[str, date]", found.get("happened", {}))
    return WrittenPlan(
        _with_taken(_plan(found), cast("dict[str, object]", found.get("taken", {}))),
        percent_of(found.get("detect")),
        _number(found.get("chance", 0.80)),
        Family(str(found["family"])) if "family" in found else None,
        _filled(Assumptions(), found.get("assume")),
        _filled(Timing(), found.get("calendar")),
        {_HAPPENED[name]: day for name, day in happened.items()},
        "taken" in found,
    )


def _parts(
    found: dict[str, object],
) -> Iterator[tuple[dict[str, object], Mapping[str, Key], str]]:
    """Each part of the file, the keys it may have, and what comes before them in a fault."""
    yield found, PLAN, ""
    for name, keys in REPEATED.items():
        if is_tables(found.get(name)):
            for number, item in enumerate(cast("list[dict[str, object]]", found[name]), start=1):
                yield item, keys, f"{name}[{number}]."
    for name, keys in PARTS.items():
        part = found.get(name)
        if isinstance(part, dict):
            yield part, keys, f"{name}."


def _as_cells(value: object) -> object:
    """Texts as cells of the records are stored: a plan's names and theirs must be the same."""
    if isinstance(value, list):
        return [_as_cells(each) for each in value]
    if not isinstance(value, str):
        return value
    plain = unicodedata.normalize("NFC", value).strip()
    return plain if len(plain.splitlines()) > 1 else " ".join(plain.split())


def _in_metric(part: dict[str, object], keys: Mapping[str, Key]) -> None:
    """Put what is given in US units under its metric key; every key has been judged."""
    for name in [each for each in part if keys[each].metric is not None]:
        key, value = keys[name], part.pop(name)
        if isinstance(value, list):
            part[cast("str", key.metric)] = [key.conversion(each) for each in value]
        else:
            part[cast("str", key.metric)] = key.conversion(_number(value))


def _judge(
    found: Mapping[str, object], keys: Mapping[str, Key], above: str, file: str, faults: Faults
) -> None:
    """Note every key of one part that is unknown, wrong or missing."""
    for name, value in found.items():
        if name not in keys:
            faults.add(
                file, None, above + name, Wrong("no such key here.", _nearest_key(name, above))
            )
        elif not keys[name].kind.holds(value):
            faults.add(file, None, above + name, _wrong(value, keys[name].kind))
        elif (metric := keys[name].metric) in found:
            faults.add(
                file,
                None,
                above + name,
                Wrong(f"is given as {metric} too.", "Leave one of them out."),
            )
    in_us = {keys[name].metric for name in found if name in keys}
    for name, key in keys.items():
        if name not in found and name not in in_us and not key.optional:
            faults.add(file, None, above + name, Wrong("is missing.", key.kind.remedy))


def _nearest_key(name: str, above: str) -> str:
    """The key that was meant: of this part, or of another one that it strayed from."""
    part = above.partition("[")[0].rstrip(".")
    if name in PLAN_KEYS.get(part, {}):
        return f"It is now called {PLAN_KEYS[part][name]}."
    here = {**PARTS, **REPEATED, "": PLAN}[part]
    metric = [key for key in here if here[key].metric is None]
    near = nearest(name, metric) or nearest(name, here)
    if near is not None:
        return f"Did you mean {shown(near)}?"
    for other, keys in {"": PLAN, **PARTS, **REPEATED}.items():
        if other != part and name in keys:
            where = f"in the part [{other}]" if other else "at the top, above every part"
            return f"It belongs {where}."
    return hint(name, here, "Leave it out.")


def _wrong(value: object, kind: Kind) -> Wrong:
    for text in [value] if isinstance(value, str) else value if isinstance(value, list) else []:
        code = unseen(text) if isinstance(text, str) else None
        if code is not None:
            return Wrong(
                f"{shown(text)} has an invisible character (code {code}).",
                "Type it again.",
            )
    names = kind.remedy.removeprefix("Write one of: ").removesuffix(".").split(", ")
    remedy = kind.remedy
    if kind.remedy.startswith("Write one of: ") and isinstance(value, str):
        remedy = hint(value, names, kind.remedy)
    return Wrong(f"{shown(str(value))} is not valid here.", remedy)


def _plan(found: Mapping[str, object]) -> TrialPlan:
    """The plan of a file in which every key has been judged."""
    factors = cast("list[dict[str, object]]", found["factors"])
    beds = cast("list[dict[str, object]]", found["beds"])
    planting = cast("dict[str, object]", found["planting"])
    margin = found.get("equivalence_margin")
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
            Bed(
                str(bed["name"]),
                _number(bed["length_m"]),
                _number(bed["width_m"]),
                _number(bed["path_m"]) if "path_m" in bed else None,
            )
            for bed in beds
        ),
        planting=Planting(cast("int", planting["rows"]), _number(planting["spacing_cm"])),
        plants_per_plot=cast("int", found["plants_per_plot"]),
        guard_plants=cast("int", found.get("guards", 0)),
        primary_measure=str(found["primary_measure"]),
        alpha=_number(found.get("alpha", 0.05)),
        margin=None if margin is None else margin_of(str(margin)),
        minimum_length_cm=_number(found["minimum_length_cm"]),
        grades_cm=tuple(cast("list[int]", found["grades_cm"])),
        seed=cast("int", found["randomisation_number"]),
        block_size=cast("int | None", found.get("block_size")),
        sow_on=cast("date | None", found.get("sow_on")),
        transplant_on=cast("date | None", found.get("transplant_on")),
    )


def _with_taken(plan: TrialPlan, taken: Mapping[str, object]) -> TrialPlan:
    """The plan as one of its proposals changed it."""
    if not taken:
        return plan
    moved = cast("list[str]", taken.get("whole_plots", []))
    return replace(
        plan,
        kind=LayoutKind(str(taken["layout"])),
        replicates=cast("int", taken["replicates"]),
        plants_per_plot=cast("int", taken["plants_per_plot"]),
        block_size=cast("int | None", taken.get("block_size")),
        factors=tuple(
            replace(factor, applied_to=AppliedTo.WHOLE_PLOT) if factor.name in moved else factor
            for factor in plan.factors
        ),
    )


def _filled(usual: Filled, found: object) -> Filled:
    """The usual figures with those of a part of the file in their place."""
    given = cast("dict[str, object]", found or {})
    kept = {each.name for each in fields(usual)}
    changes = {name: value for name, value in given.items() if name in kept}
    return replace(usual, **changes)  # type: ignore[arg-type]


def _number(value: object) -> float:
    return float(cast("float", value))
