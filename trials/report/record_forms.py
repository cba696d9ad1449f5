"""The fields of records as a page's form asks for them, and what is wrong with what was typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from trials.errors import SHOWN_AT_MOST, RecordsRefused
from trials.model.rows import Sheet
from trials.model.trial import Role
from trials.model.units import UnitSystem, cm_to_inches, feet_to_m, inches_to_cm, m_to_feet
from trials.records.rules.forms import FORMS, Column, Kind, Need, Range
from trials.report import grid
from trials.report.file_reference import NOTES
from trials.report.remedies import remedy_words

if TYPE_CHECKING:
    import pandas as pd


class FieldKind(StrEnum):
    """What is typed or chosen in a field."""

    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    DAY = "day"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form, in the reader's units.

    Attributes
    ----------
    name
        The column of the sheet that it fills.
    least, most
        The smallest and largest number it takes, in the reader's unit; None: no such end.
    refers_to
        The sheet whose stored names may be chosen.
    usual
        The text that an empty field stands for; '' where empty means not recorded.
    """

    name: str
    label: str
    kind: FieldKind
    needed: bool
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    help: str = ""
    refers_to: Sheet | None = None
    usual: str = ""


@dataclass(frozen=True, slots=True)
class TypedRows:
    """The rows that were typed for one sheet, as texts, and where each was typed."""

    rows: tuple[Mapping[str, str], ...]
    places: tuple[str, ...]


_KINDS: Mapping[Kind, FieldKind] = {
    Kind.WHOLE: FieldKind.WHOLE,
    Kind.NUMBER: FieldKind.NUMBER,
    Kind.DATE: FieldKind.DAY,
    Kind.CHOICE: FieldKind.CHOICE,
}

# A column's words where its name in the file would not do on a page.
LABELS: Mapping[str, str] = {
    "site": "Field or tunnel",
    "place": "Where it is",
    "bed_width_m": "Width of a bed",
    "starts_on": "First day of the season",
    "ends_on": "Last day of the season",
    "last_spring_frost": "Average last frost",
    "first_autumn_frost": "Average first frost",
    "own": "Your own currency?",
    "rate": "Worth in your own currency",
    "market": "Market",
    "grade_cm": "Grade from, cm",
    "from_week": "From week",
    "to_week": "To week",
    "stem_price": "Price of a stem",
    "cost": "Kind of cost",
    "house": "Seed house",
    "shipping": "Shipping",
    "free_shipping_from": "Free shipping from",
    "minimum_order": "Smallest order",
    "item": "Catalogue number",
    "seeds": "Seeds in a packet",
    "from_packs": "Price from packets",
    "available": "Available?",
    "grams": "Grams in a packet",
    "seeds_per_gram": "Seeds per gram",
    "price_year": "Year of the list",
    "sold_as": "Sold as",
    "seed_saving": "Saving its seed",
    "lot": "Lot number",
    "packed_for": "Packed for season",
    "germination": "Germination, 0 to 1",
    "plot": "Plot",
    "counted_on": "Day of counting",
    "living": "Living plants",
    "tested_on": "Day of the test",
    "germinated": "Seeds that germinated",
    "cut_on": "Day of harvest",
    "stem": "Stem",
    "length_cm": "Length",
    "scored_on": "Day of scoring",
    "trait": "What is scored",
    "value": "Value",
    "happened_on": "Day",
    "other_plot": "The other plot",
    "reason": "Why, or a note",
    "season": "Season (year)",
}
_OF_ONE_SHEET: Mapping[tuple[Sheet, str], str] = {
    (Sheet.SEED_STOCK, "seeds"): "Seeds left",
    (Sheet.GERMINATION_TESTS, "seeds"): "Seeds laid out",
}
SHEET_WORDS: Mapping[Sheet, str] = {
    Sheet.SITES: "Fields and tunnels",
    Sheet.SEASONS: "Seasons and frosts",
    Sheet.VARIETIES: "Varieties",
    Sheet.CROPS: "Your own figures for crops",
    Sheet.CURRENCIES: "Currencies",
    Sheet.PRICES: "Prices of stems",
    Sheet.COSTS: "Costs",
    Sheet.SEED_HOUSES: "Seed houses",
    Sheet.SEED_ITEMS: "Price lists of seed",
    Sheet.SEED_LOTS: "Seed lots",
    Sheet.SEED_STOCK: "Seed in stock",
    Sheet.GERMINATION_TESTS: "Germination tests",
    Sheet.STAND_COUNTS: "Stand counts",
    Sheet.CUTS: "Harvests",
    Sheet.STEM_SAMPLES: "Stem samples",
    Sheet.EVENTS: "Events",
    Sheet.SCORES: "Scores",
    Sheet.TRIALS: "Trials",
    Sheet.PLOTS: "Plots",
}
_USUAL: Mapping[tuple[Sheet, str], str] = {
    (Sheet.SEED_ITEMS, "from_packs"): "1",
    (Sheet.SEED_ITEMS, "available"): "yes",
    (Sheet.SEED_HOUSES, "minimum_order"): "0",
}
# How empty cells of a frame's columns read.
_NOTHING = frozenset({"None", "nan", "NaT", "<NA>"})


def fields_of_sheet(sheet: Sheet, units: UnitSystem) -> tuple[Field, ...]:
    """The fields of a sheet's columns, in their order."""
    return tuple(_field(sheet, column, units) for column in FORMS[sheet].columns)


def label_of(sheet: Sheet, name: str, units: UnitSystem) -> str:
    """The words of a sheet's column, with its unit."""
    words = _OF_ONE_SHEET.get((sheet, name)) or LABELS.get(
        name, name.replace("_", " ").capitalize()
    )
    unit = _unit(name, units)
    return f"{words}, {unit}" if unit else words


def typed_text(field: Field, value: object, units: UnitSystem) -> str:
    """What was typed into a field as the text of a cell, in metric units; '' where it is empty."""
    if is_blank(value):
        return field.usual
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{_to_metric(field.name, float(value), units):.15g}"
    return value.isoformat()[:10] if isinstance(value, date) else str(value).strip()


def is_blank(value: object) -> bool:
    """Whether nothing was typed into a field."""
    return not value.strip() if isinstance(value, str) else str(value) in _NOTHING


def typed_sentences(
    refused: RecordsRefused, typed: Mapping[Sheet, TypedRows], units: UnitSystem, role: Role
) -> list[str]:
    """What is wrong with the rows of a form, each in the words of its field and its place."""
    said = []
    for fault in refused.faults[:SHOWN_AT_MOST]:
        sheet = Sheet(fault.file.removesuffix(".csv"))
        rows = typed.get(sheet)
        place = "" if rows is None or fault.row is None else rows.places[fault.row - 2]
        label = label_of(sheet, fault.column, units) if fault.column else ""
        where = ", ".join(part for part in (SHEET_WORDS[sheet], place, label) if part)
        said.append(f"{where}: {fault.problem} {remedy_words(fault.by or fault.remedy, role)}")
    more = len(refused.faults) - SHOWN_AT_MOST
    return [*dict.fromkeys(said), *([f"… and {more:,} more."] if more > 0 else [])]


def stored_table(sheet: Sheet, rows: pd.DataFrame, units: UnitSystem, most: int) -> grid.Table:
    """The newest rows of a sheet that are stored, at most so many, as its form would show them."""
    fields = [field for field in fields_of_sheet(sheet, units) if field.name in rows.columns]
    columns = tuple(
        grid.Column(field.label, field.kind in (FieldKind.WHOLE, FieldKind.NUMBER))
        for field in fields
    )
    shown = rows.iloc[-most:].iloc[::-1]
    cells = zip(*(shown[field.name] for field in fields), strict=True)
    return grid.Table(
        columns,
        tuple(
            tuple(_shown(field, cell, units) for field, cell in zip(fields, row, strict=True))
            for row in cells
        ),
    )


def template_csv(sheet: Sheet) -> str:
    """An empty file of a sheet: its row of headings."""
    return ",".join(FORMS[sheet].names) + "\n"


def _field(sheet: Sheet, column: Column, units: UnitSystem) -> Field:
    least, most = _ends(column.name, column.range, units)
    return Field(
        name=column.name,
        label=label_of(sheet, column.name, units),
        kind=_KINDS.get(column.kind, FieldKind.TEXT),
        needed=column.need is Need.FILLED and (sheet, column.name) not in _USUAL,
        choices=tuple(str(choice) for choice in column.choices),
        least=least,
        most=most,
        help=_help(sheet, column.name),
        refers_to=column.sheet,
        usual=_USUAL.get((sheet, column.name), ""),
    )


def _help(sheet: Sheet, name: str) -> str:
    note = NOTES.get((sheet, name), "")
    usual = _USUAL.get((sheet, name))
    parts = [note, *([f"empty: {usual}"] if usual else [])]
    return "; ".join(part for part in parts if part)


def _ends(name: str, within: Range | None, units: UnitSystem) -> tuple[float | None, float | None]:
    if within is None:
        return None, None
    return _from_metric(name, within.low, units), _from_metric(name, within.high, units)


def _unit(name: str, units: UnitSystem) -> str:
    us = units is UnitSystem.US
    return {"bed_width_m": "ft" if us else "m", "length_cm": "in" if us else "cm"}.get(name, "")


def _to_metric(name: str, value: float, units: UnitSystem) -> float:
    match _unit(name, units):
        case "ft":
            return feet_to_m(value)
        case "in":
            return inches_to_cm(value)
        case _:
            return value


def _from_metric(name: str, value: float, units: UnitSystem) -> float:
    match _unit(name, units):
        case "ft":
            return m_to_feet(value)
        case "in":
            return cm_to_inches(value)
        case _:
            return value


def _shown(field: Field, cell: Any, units: UnitSystem) -> str:
    if is_blank(cell):
        return ""
    if isinstance(cell, str):
        return cell
    if field.kind in (FieldKind.WHOLE, FieldKind.NUMBER):
        return f"{_from_metric(field.name, float(cell), units):.6g}"
    return str(cell)


def in_sheets(typed: Mapping[Sheet, TypedRows]) -> dict[Sheet, Sequence[Mapping[str, str]]]:
    """The rows by sheet, as the season takes them; sheets without rows are left out."""
    return {sheet: rows.rows for sheet, rows in typed.items() if rows.rows}
