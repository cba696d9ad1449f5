"""Figures of a trial's plots on one day, in a grid with a row for each plot: counts and scores."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.data import plot_codes, stored
from dashboard.forms.saving import save, show_outcome, token_of
from dashboard.settings import units
from dashboard.theme import markup
from trials.model.rows import Sheet
from trials.report.record_forms import Field, TypedRows, fields_of_sheet, is_blank, typed_text

if TYPE_CHECKING:
    import pandas as pd

STEMS_MEASURED = 10
TRAITS = ("vase life, days", "stem strength, 1 to 5", "colour, 1 to 5")
EMPTY_IS_NOT_RECORDED = "Leave a plot empty if you did not look. Type 0 only for none found."


def show_stand_counts(trial: str) -> None:
    """The living plants of each plot on a day."""
    st.html(markup.note(EMPTY_IS_NOT_RECORDED))
    form = f"stand counts of {trial}"
    show_outcome(form)
    with st.form(f"{form} {token_of(form)}", border=False):
        on = _day("Day of counting")
        living = _field(Sheet.STAND_COUNTS, "living")
        grid = _grid(trial, form, [living])
        asked = st.form_submit_button("Store the counts", type="primary")
    if asked and _has_day(on):
        save(form, {Sheet.STAND_COUNTS: _rows(grid, living, {"counted_on": str(on)})})


def show_scores(trial: str) -> None:
    """One score for each plot on a day: vase life, strength, anything that is a number."""
    st.html(
        markup.note(
            "One thing is scored at a time. A vase-life test is a score too: the mean days of "
            "the stems from a plot. " + EMPTY_IS_NOT_RECORDED
        )
    )
    form = f"scores of {trial}"
    show_outcome(form)
    known = [str(trait) for trait in stored(Sheet.SCORES)["trait"].drop_duplicates()]
    with st.form(f"{form} {token_of(form)}", border=False):
        trait = st.selectbox(
            "What is scored",
            list(dict.fromkeys([*known, *TRAITS])),
            index=None,
            accept_new_options=True,
            placeholder="choose or type",
        )
        on = _day("Day of scoring")
        value = _field(Sheet.SCORES, "value")
        grid = _grid(trial, form, [value])
        asked = st.form_submit_button("Store the scores", type="primary")
    if asked and not (trait or "").strip():
        st.html(markup.alert("Nothing was stored. Still needed: what is scored."))
    elif asked and _has_day(on):
        save(form, {Sheet.SCORES: _rows(grid, value, {"scored_on": str(on), "trait": trait or ""})})


def show_stem_samples(trial: str) -> None:
    """Lengths of up to ten stems of each plot on a harvest day."""
    st.html(markup.note("Measure stems taken at random from the day's harvest, short ones too."))
    form = f"stem samples of {trial}"
    show_outcome(form)
    length = _field(Sheet.STEM_SAMPLES, "length_cm")
    stems = [str(number) for number in range(1, STEMS_MEASURED + 1)]
    with st.form(f"{form} {token_of(form)}", border=False):
        on = _day("Day of harvest")
        grid = _grid(trial, form, [length], stems)
        asked = st.form_submit_button("Store the lengths", type="primary")
    if asked and _has_day(on) and on is not None:
        save(form, {Sheet.STEM_SAMPLES: _lengths(grid, length, stems, on)})


def _day(label: str) -> date | None:
    return st.date_input(label, value=None, format="YYYY-MM-DD")


def _has_day(on: date | None) -> bool:
    if on is None:
        st.html(markup.alert("Nothing was stored. Still needed: the day."))
    return on is not None


def _field(sheet: Sheet, name: str) -> Field:
    return next(field for field in fields_of_sheet(sheet, units()) if field.name == name)


def _grid(trial: str, form: str, fields: Iterable[Field], each: Iterable[str] = ()) -> pd.DataFrame:
    """A row for each plot of the trial; ``each`` are the headings of several figures of a field."""
    import pandas as pd

    codes = list(plot_codes(trial))
    (field,) = fields
    headings = list(each) or [field.name]
    labels = {name: f"Stem {name}, {field.label.rpartition(', ')[2]}" for name in each}
    number = "Int64" if field.name == "living" else "Float64"
    empty = {name: pd.Series([None] * len(codes), dtype=number) for name in headings}
    return st.data_editor(
        pd.DataFrame({"plot": codes, **empty}),
        hide_index=True,
        disabled=["plot"],
        width="stretch",
        placeholder="",
        key=f"grid {form} {units().value} {token_of(form)}",
        column_config={
            "plot": st.column_config.TextColumn("Plot", pinned=True),
            **{
                name: st.column_config.NumberColumn(
                    labels.get(name, field.label),
                    min_value=field.least,
                    max_value=field.most,
                    step=1 if number == "Int64" else None,
                )
                for name in headings
            },
        },
    )


def _rows(grid: pd.DataFrame, field: Field, same: Mapping[str, str]) -> TypedRows:
    filled = [row for row in grid.to_dict("records") if not is_blank(row[field.name])]
    rows = tuple(
        {"plot": str(row["plot"]), **same, field.name: typed_text(field, row[field.name], units())}
        for row in filled
    )
    return TypedRows(rows, tuple(f"plot {row['plot']}" for row in rows))


def _lengths(grid: pd.DataFrame, field: Field, stems: list[str], on: date) -> TypedRows:
    """The stems of a plot and day are numbered on from those that are stored."""
    held = stored(Sheet.STEM_SAMPLES)
    last = held[held["cut_on"] == on].groupby("plot")["stem"].max().to_dict()
    rows, places = [], []
    for row in grid.to_dict("records"):
        plot = str(row["plot"])
        filled = [(stem, row[stem]) for stem in stems if not is_blank(row[stem])]
        for number, (stem, value) in enumerate(filled, 1 + int(last.get(plot, 0))):
            text = typed_text(field, value, units())
            rows.append({"plot": plot, "cut_on": str(on), "stem": str(number), field.name: text})
            places.append(f"plot {plot}, stem {stem}")
    return TypedRows(tuple(rows), tuple(places))
