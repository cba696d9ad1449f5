"""What a package says of its files: fields with meaning, unit and rule, keys and references.

The meanings are the comments of the store's tables and columns, the rules those of the sheets:
nothing is said here a second time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from trials.model.rows import Sheet
from trials.package.histories import CHANGE_COLUMNS, CHANGES, DOUBT_COLUMNS
from trials.package.histories import CLOSING_COLUMNS as CLOSED
from trials.package.terms import FACTOR_TERM, TERMS
from trials.records.rules.forms import FORMS, Column, Form, Kind, Need
from trials.store.history.export import KINDS

Meanings = Mapping[tuple[str, str], str]

# The tables of the store whose columns a sheet has, the one that names its rows first.
_TABLES: Mapping[Sheet, tuple[str, ...]] = {
    Sheet.SITES: ("site",),
    Sheet.SEASONS: ("season",),
    Sheet.VARIETIES: ("variety",),
    Sheet.SEED_HOUSES: ("seed_house",),
    Sheet.SEED_ITEMS: ("seed_price", "seed_item"),
    Sheet.SEED_LOTS: ("seed_lot",),
    Sheet.TRIALS: ("trial",),
    Sheet.PLOTS: ("plot", "planting", "whole_plot", "plot_place"),
    Sheet.STAND_COUNTS: ("stand_count",),
    Sheet.CUTS: ("cut",),
    Sheet.STEM_SAMPLES: ("stem_sample",),
    Sheet.EVENTS: ("event",),
    Sheet.SCORES: ("score",),
}
# The store holds a picking day as one row; the sheet has a row for each of its stems.
_OF_CUTS: Mapping[str, str] = {
    "": "Stems of a picking day; one row per plot, day and length grade or reason for culling.",
    "grade_cm": "Marketable stems: the shortest length of their grade (cm); empty for culls.",
    "cull_reason": "Culled stems: why; empty for marketable ones. Both empty: picked and nothing "
    "marketable (0).",
    "stems": "Number of stems; empty on a missed day.",
}
# Columns of the store that have another name in a sheet.
_CALLED: Mapping[str, str] = {"check": "check_level", "row": "row_label", "column": "column_label"}

_TYPES: Mapping[Kind, str] = {
    Kind.NAME: "string",
    Kind.TEXT: "string",
    Kind.WHOLE: "integer",
    Kind.NUMBER: "number",
    Kind.DATE: "date",
    Kind.CHOICE: "string",
    Kind.FACTORS: "string",
    Kind.MARGIN: "string",
}
_UNITS: Mapping[str, str] = {"_cm": "cm", "_m": "m", "_m2": "m²"}


def described(sheet: Sheet, columns: Sequence[str], there: Iterable[Sheet], meant: Meanings) -> Any:
    """The title and the schema of a sheet's file, as Data Package has them.

    ``there`` are the sheets of the package: a reference needs its target.
    """
    form, present = FORMS[sheet], {each for each in there if each is not sheet}
    fields = [_field(form, name, meant) for name in columns]
    schema: dict[str, Any] = {"fields": fields}
    filled = {column.name for column in form.columns if column.need is Need.FILLED}
    if filled.issuperset(form.key):
        schema["primaryKey"] = list(form.key)
    references = [
        {"fields": [name], "reference": {"resource": target.value, "fields": [*FORMS[target].key]}}
        for name, target in ((name, form.column(name).sheet) for name in columns)
        if target is not None and target in present and len(FORMS[target].key) == 1
    ]
    if references:
        schema["foreignKeys"] = references
    return {"description": _rows_meant(sheet, meant), "schema": schema}


def described_table(table: str, columns: Mapping[str, str], meant: Meanings) -> Any:
    """The same of a table of the store that is no sheet; ``columns`` gives their types."""
    fields = [
        _plain_field(name, kind, meant[table, name], filled=True) for name, kind in columns.items()
    ]
    key = next(iter(columns))
    reference = {
        "fields": [key],
        "reference": {"resource": Sheet.TRIALS.value, "fields": [key]},
    }
    schema = {"fields": fields, "primaryKey": [key], "foreignKeys": [reference]}
    return {"description": meant[table, ""], "schema": schema}


def described_changes(meant: Meanings) -> Any:
    """The same of the changes in the history."""
    called = {"change": "number"}
    empty = {"who", "why", "undoes"}
    fields = [
        _plain_field(name, kind, meant["entry", called.get(name, name)], filled=name not in empty)
        for name, kind in CHANGE_COLUMNS.items()
    ]
    return {
        "description": meant["entry", ""],
        "schema": {"fields": fields, "primaryKey": ["change"]},
    }


def described_doubts(meant: Meanings) -> Any:
    """The same of unlikely records that somebody confirmed."""
    called = {"change": "entry"}
    fields = [
        _plain_field(
            name, kind, meant["accepted", called.get(name, name)], filled=name != "column_name"
        )
        for name, kind in DOUBT_COLUMNS.items()
    ]
    schema = {"fields": fields, "foreignKeys": [_to_change("change")]}
    return {"description": meant["accepted", ""], "schema": schema}


def described_history(kind: str, meant: Meanings) -> Any:
    """The same of every row of a kind that was ever held."""
    held, sheet = KINDS[kind], KINDS[kind].sheet
    if sheet is None:
        fields = [
            _plain_field(name, of, meant["closing", name], filled=name != "digest")
            for name, of in CLOSED.items()
        ]
        about = meant["closing", ""]
    else:
        fields = [_field(FORMS[sheet], name, meant) for name in held.columns]
        about = _rows_meant(sheet, meant)
    came, went = meant["closing", "entry"], meant["seed_price_was", "superseded_by"]
    fields.append(_plain_field("change", "integer", came, filled=True))
    fields.append(
        _plain_field("superseded_by", "integer", f"{went} Empty = not superseded.", filled=False)
    )
    references = [_to_change("change"), _to_change("superseded_by")]
    target = Sheet.PLOTS if "plot" in held.columns else None
    if target is not None:
        references.append(_reference("plot", target))
    text = (
        f"Every row that was ever stored. The records as of change N are the rows whose change is "
        f"at most N and that no change up to N has superseded. Each row is: {about}"
    )
    return {"description": text, "schema": {"fields": fields, "foreignKeys": references}}


def _to_change(name: str) -> Any:
    return {"fields": [name], "reference": {"resource": CHANGES, "fields": ["change"]}}


def _reference(name: str, target: Sheet) -> Any:
    return {
        "fields": [name],
        "reference": {"resource": target.value, "fields": [*FORMS[target].key]},
    }


def _rows_meant(sheet: Sheet, meant: Meanings) -> str:
    return _OF_CUTS[""] if sheet is Sheet.CUTS else meant[_TABLES[sheet][0], ""]


def _plain_field(name: str, kind: str, meaning: str, *, filled: bool) -> dict[str, Any]:
    field: dict[str, Any] = {"name": name, "type": kind, "description": meaning}
    if filled:
        field["constraints"] = {"required": True}
    return field


def _field(form: Form, name: str, meant: Meanings) -> dict[str, Any]:
    column = form.column(name)
    field: dict[str, Any] = {
        "name": name,
        "type": _TYPES[column.kind],
        "description": _meaning(form, name, meant),
    }
    unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), None)
    if unit is not None:
        field["unit"] = unit
    term = TERMS.get((form.sheet, name), None if name in form.names else FACTOR_TERM)
    if term is not None:
        field["miappe"] = term
    constraints = _constraints(column)
    if constraints:
        field["constraints"] = constraints
    return field


def _meaning(form: Form, name: str, meant: Meanings) -> str:
    if name not in form.names:
        return meant["level", "level"]
    if name == "factors":
        return meant["factor", ""]
    if form.sheet is Sheet.CUTS and name in _OF_CUTS:
        return _OF_CUTS[name]
    called = _CALLED.get(name, name)
    return next(meant[table, called] for table in _TABLES[form.sheet] if (table, called) in meant)


def _constraints(column: Column) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if column.need is Need.FILLED:
        found["required"] = True
    if column.choices:
        found["enum"] = [str(choice) for choice in column.choices]
    if column.range is not None:  # an end that is itself left out cannot be said
        if not column.range.above:
            found["minimum"] = column.range.low
        if not column.range.below:
            found["maximum"] = column.range.high
    return found
