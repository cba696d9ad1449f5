"""Rows typed into a form go the way of a file's rows: checked, all or nothing, once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from trials import season
from trials.errors import RecordsHeld, RecordsRefused
from trials.model.rows import Sheet, Signed
from trials.model.trial import Role
from trials.model.units import UnitSystem
from trials.records.rules.forms import FORMS
from trials.report.record_forms import (
    SHEET_WORDS,
    FieldKind,
    TypedRows,
    fields_of_sheet,
    stored_table,
    template_csv,
    typed_sentences,
    typed_text,
)

TRIAL, PLOT = "cosmos-2026", "C6222"
SIGNED = Signed("Ann", token="one")
METRIC = UnitSystem.METRIC


@pytest.fixture
def store(farm_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(farm_store, tmp_path))


@pytest.fixture
def plot(store: Path) -> str:
    return str(season.plots(store, TRIAL)["plot"][0])


def score(plot: str, value: str, day: str = "2026-08-20") -> dict[str, str]:
    return {"plot": plot, "scored_on": day, "trait": "vase life, days", "value": value}


def test_what_was_typed_is_stored_once_for_its_token(store: Path, plot: str) -> None:
    tables = {Sheet.SCORES: [score(plot, "8.5")]}
    assert not season.enter(store, tables, SIGNED).nothing_new
    assert season.enter(store, tables, SIGNED).nothing_new
    stored = season.stored(store, Sheet.SCORES)
    (row,) = stored[(stored["plot"] == plot) & (stored["trait"] == "vase life, days")].to_dict(
        "records"
    )
    assert row["value"] == 8.5
    assert season.history(store)[-1].who == "Ann"


def test_one_wrong_row_keeps_all_of_them_out(store: Path, plot: str) -> None:
    before = len(season.history(store))
    tables = {Sheet.SCORES: [score(plot, "8.5"), score("nowhere", "much", "20.8.2026 or so")]}
    with pytest.raises(RecordsRefused) as refused:
        season.enter(store, tables, SIGNED)
    assert {(fault.row, fault.column) for fault in refused.value.faults} == {
        (3, "plot"),
        (3, "value"),
        (3, "scored_on"),
    }
    assert len(season.history(store)) == before


def test_a_character_that_cannot_be_seen_is_refused_in_its_field(store: Path, plot: str) -> None:
    with pytest.raises(RecordsRefused, match="an invisible character"):
        season.enter(store, {Sheet.SCORES: [score(plot, "8\x00")]}, SIGNED)


def test_the_unlikely_needs_a_reason(store: Path, plot: str) -> None:
    many = {Sheet.STAND_COUNTS: [{"plot": plot, "counted_on": "2026-08-20", "living": "999"}]}
    with pytest.raises(RecordsHeld):
        season.enter(store, many, SIGNED)
    assert not season.enter(store, many, SIGNED, accept="two plots were one").nothing_new


def test_a_fault_is_said_by_its_field_and_place(store: Path) -> None:
    rows = ({"site": "New", "place": "", "bed_width_m": "99", "note": ""},)
    typed = {Sheet.SITES: TypedRows(rows, ("row 4",))}
    with pytest.raises(RecordsRefused) as refused:
        season.enter(store, {Sheet.SITES: rows}, SIGNED)
    said = typed_sentences(refused.value, typed, METRIC, Role.GROWER)
    assert any(
        s.startswith("Fields and tunnels, row 4, Where it is: The cell is emp") for s in said
    )
    assert any(s.startswith("Fields and tunnels, row 4, Width of a bed, m: ") for s in said)


def test_lengths_are_typed_in_the_readers_unit_and_stored_in_cm() -> None:
    (length,) = [
        f for f in fields_of_sheet(Sheet.STEM_SAMPLES, UnitSystem.US) if f.name == "length_cm"
    ]
    assert length.label == "Length, in"
    assert length.most == pytest.approx(400 / 2.54)
    assert float(typed_text(length, 20.0, UnitSystem.US)) == pytest.approx(50.8, abs=1e-12)
    (width,) = [f for f in fields_of_sheet(Sheet.SITES, UnitSystem.US) if f.name == "bed_width_m"]
    assert typed_text(width, 4, UnitSystem.US) == "1.2192"
    assert typed_text(width, None, UnitSystem.US) == ""


def test_an_empty_cell_is_not_recorded_unless_the_form_says_what_it_stands_for() -> None:
    fields = {field.name: field for field in fields_of_sheet(Sheet.SEED_ITEMS, METRIC)}
    assert typed_text(fields["from_packs"], None, METRIC) == "1"
    assert typed_text(fields["price"], float("nan"), METRIC) == ""
    assert fields["from_packs"].needed is False
    assert fields["price"].needed is True
    assert typed_text(fields["price"], 0, METRIC) == "0"


@pytest.mark.parametrize("sheet", Sheet)
def test_every_column_has_a_field_and_every_sheet_its_words(sheet: Sheet) -> None:
    fields = fields_of_sheet(sheet, METRIC)
    assert [field.name for field in fields] == [column.name for column in FORMS[sheet].columns]
    assert len({field.label for field in fields}) == len(fields)
    assert all(field.choices for field in fields if field.kind is FieldKind.CHOICE)
    assert SHEET_WORDS[sheet]


@pytest.mark.slow
@pytest.mark.parametrize("sheet", [each for each in Sheet if each is not Sheet.PLOTS])
def test_what_is_stored_is_shown_in_the_words_of_its_form(farm_store: Path, sheet: Sheet) -> None:
    rows = season.stored(farm_store, sheet)
    table = stored_table(sheet, rows, METRIC, 5)
    assert len(table.rows) == min(len(rows), 5)
    assert len(table.columns) == len(fields_of_sheet(sheet, METRIC))
    if len(rows):
        assert table.rows[0][0] == str(rows.iloc[-1].iloc[0])


@pytest.mark.parametrize("sheet", Sheet)
def test_a_blank_file_has_the_headings_of_its_sheet_and_no_row(sheet: Sheet) -> None:
    (headings,) = template_csv(sheet).splitlines()
    assert tuple(headings.split(",")) == FORMS[sheet].names
