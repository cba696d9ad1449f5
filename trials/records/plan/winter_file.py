"""The file of wishes for a winter plan (TOML), read and checked key by key."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from trials.errors import FileRefused
from trials.model.winter import FreeBed, MarketWish, SowingWish, WinterWishes
from trials.records.plan.text import toml_of
from trials.records.plan.toml_text import quoted

_WEEK = (1, 53)


@dataclass(frozen=True, slots=True)
class _Key:
    holds: Callable[[object], bool]
    words: str
    required: bool = False


def _number(low: float, high: float = 1e7, *, above: bool = False) -> Callable[[object], bool]:
    def holds(value: object) -> bool:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return number and (low < value if above else low <= value) and value <= high  # type: ignore[operator]

    return holds


def _whole(low: int, high: int) -> Callable[[object], bool]:
    return lambda value: type(value) is int and low <= value <= high


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(_text(each) for each in value)


def _text(value: object) -> bool:
    return isinstance(value, str) and value.strip() == value != ""


def _days(value: object) -> bool:
    return (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(day, date) and not isinstance(day, datetime) for day in value)
    )


_METRES = _Key(_number(0, above=True), "metres above 0, such as 24.0")
_SHARE = _Key(_number(0, 1, above=True), "a share above 0 and up to 1, such as 0.5")
_AMOUNT = _Key(_number(0), "an amount of 0 or more, such as 450.0")
_WEEK_KEY = _Key(_whole(*_WEEK), "a week of the year from 1 to 53", required=True)
_NAME = _Key(_text, "a name in quotes", required=True)
_NAMES = _Key(_texts, 'a list of names, such as ["white", "crimson"]')

_TOP: Mapping[str, _Key] = {
    "season": _Key(_whole(1950, 2199), "a year, such as 2027", required=True),
    "site": _NAME,
    "least_metres": _METRES,
    "budget": _AMOUNT,
    "hours_per_week": _AMOUNT,
    "poor_season_net": _Key(_number(-1e7), "an amount, such as 500.0"),
    "largest_share": _SHARE,
    "leave_out": _NAMES,
    "plugs": _NAMES,
    "without_houses": _NAMES,
    "draws": _Key(_whole(20, 2000), "a whole number from 20 to 2000"),
    "wanted": _Key(lambda value: isinstance(value, dict), "a part [wanted]"),
    "bed": _Key(lambda value: isinstance(value, list), "parts [[bed]]", required=True),
    "sowing": _Key(lambda value: isinstance(value, list), "parts [[sowing]]", required=True),
    "market": _Key(lambda value: isinstance(value, list), "parts [[market]]", required=True),
}
_LISTS = ("leave_out", "plugs", "without_houses")
_PARTS: Mapping[str, Mapping[str, _Key]] = {
    "bed": {
        "name": _NAME,
        "metres": _Key(_METRES.holds, _METRES.words, required=True),
        "from_week": _WEEK_KEY,
        "to_week": _WEEK_KEY,
    },
    "sowing": {
        "crop": _NAME,
        "plant_out": _Key(_days, "a list of days, such as [2027-05-20]", required=True),
        "plants_per_metre": _Key(_number(0, 1000, above=True), "plants in a metre of bed"),
        "hours_per_metre": _AMOUNT,
        "stems_per_hour": _Key(_number(0, above=True), "stems above 0, such as 250"),
    },
    "market": {
        "market": _NAME,
        "crops": _Key(_texts, 'a list of crops, such as ["cosmos"]', required=True),
        "colours": _NAMES,
        "uses": _NAMES,
        "least_vase_life": _Key(_number(0, 100, above=True), "days in the vase, such as 7"),
        "from_week": _WEEK_KEY,
        "to_week": _WEEK_KEY,
        "at_least": _Key(_number(0), "stems per week, 0 or more"),
        "at_most": _Key(_number(0), "stems per week, 0 or more", required=True),
        "missing_costs": _AMOUNT,
    },
}


def winter_wishes(path: Path) -> WinterWishes:
    """The wishes in a file.

    Raises
    ------
    FileRefused
        The file cannot be read, or a key is unknown, missing or holds something else.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Name a file of wishes.") from None
    except UnicodeDecodeError as problem:
        raise FileRefused(f"{path} is not a TOML file: {problem}. Correct it there.") from None
    return wishes_of(text, str(path))


def wishes_of(text: str, path: str) -> WinterWishes:
    """The wishes in the text of a file; ``path`` is what a refusal calls it.

    Raises
    ------
    FileRefused
        A key is unknown, missing or holds something else.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise FileRefused(f"{path} is not a TOML file: {problem}. Correct it there.") from None
    _check(found, _TOP, path)
    for part, keys in _PARTS.items():
        for number, row in enumerate(found[part], start=1):
            where = f"{path}, [[{part}]] number {number}"
            if not isinstance(row, dict):
                raise FileRefused(f"{where} is not a part. Begin it with [[{part}]].")
            _check(row, keys, where)
            if "from_week" in row and row["from_week"] > row["to_week"]:
                raise FileRefused(f"{where}: from_week comes after to_week. Swap them.")
            if row.get("at_least", 0) > row.get("at_most", 0):
                raise FileRefused(f"{where}: at_least is more than at_most. Lower it.")
    for variety, metres in found.get("wanted", {}).items():
        if not _METRES.holds(metres):
            raise FileRefused(f"{path}, [wanted]: {variety} needs {_METRES.words}.")
    rest = {name: found[name] for name in _TOP if name in found and name not in _PARTS}
    return WinterWishes(
        **{**rest, **{name: tuple(found.get(name, ())) for name in _LISTS}},
        beds=tuple(FreeBed(**row) for row in found["bed"]),
        sowings=tuple(
            SowingWish(**{**row, "plant_out": tuple(sorted(set(row["plant_out"])))})
            for row in found["sowing"]
        ),
        markets=tuple(
            MarketWish(
                **{
                    **row,
                    "crops": tuple(row["crops"]),
                    "colours": tuple(row.get("colours", ())),
                    "uses": tuple(row.get("uses", ())),
                }
            )
            for row in found["market"]
        ),
    )


def wishes_text_of(values: Mapping[str, object]) -> str:
    """The text of a file of wishes from its values, by the keys of the file.

    For a form: ``bed``, ``sowing`` and ``market`` are lists of mappings, ``wanted`` is a mapping.
    None is left out, as a key that was not filled in.
    """
    wanted = values.get("wanted")
    named = (
        {quoted(str(name)): metres for name, metres in wanted.items()}
        if isinstance(wanted, Mapping)
        else None
    )
    return toml_of({**values, "wanted": named}, {*_PARTS, "wanted"})


def _check(found: Mapping[str, object], keys: Mapping[str, _Key], where: str) -> None:
    for name, value in found.items():
        if name not in keys:
            near = difflib.get_close_matches(name, keys, 1)
            hint = f"Did you mean {near[0]}?" if near else f"Keys are {', '.join(keys)}."
            raise FileRefused(f"{where}: there is no key {name!r}. {hint}")
        if not keys[name].holds(value):
            raise FileRefused(f"{where}: {name} needs {keys[name].words}, not {value!r}.")
    for name, key in keys.items():
        if key.required and not found.get(name):
            raise FileRefused(f"{where}: {name} is missing. It needs {key.words}.")
