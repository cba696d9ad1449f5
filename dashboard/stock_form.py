"""Seed in stock on a page: what there is of each lot, and the form for a count or a test."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard import winter_data as data
from dashboard.access.visitor import WRITERS, visitor
from dashboard.redrawn import draw_again, folded, redrawn_alone
from dashboard.theme import markup
from trials.errors import RecordsRefused
from trials.report.stock_words import stock_sentences, stock_table
from trials.season import StockEntry, said_of_fields

RECORDED = "Recorded. Every order counts it from now on."
MOST_REPLICATES = 8


def show_stock(season: int) -> None:
    """The lots in stock, and the form where its visitor may write."""
    found = data.seed_in_stock(season)
    st.html(
        markup.section(
            "Seed in stock",
            "Seed you have is sown first, at its own germination. The rest is bought.",
        )
        + (markup.table(stock_table(found)) if found else markup.note("No lot is counted yet."))
        + markup.lines(stock_sentences(found, season))
    )
    if visitor().role in WRITERS:
        show_form()


@redrawn_alone
def show_form() -> None:
    """The form, once it is opened."""
    with folded("Count a lot, or record a germination test", "stock_form") as is_open:
        if is_open:
            _form()


def _form() -> None:
    lots = data.seed_lots()
    if not lots:
        st.html(markup.note("No seed lots are stored. Add a file of seed lots on page Home first."))
        return
    if st.session_state.pop("stock_recorded", False):
        st.html(markup.done(RECORDED))
    names = {lot: f"{lot}, {variety}" for lot, variety in lots}
    with st.form("stock", border=False, clear_on_submit=False):
        lot = st.selectbox("Seed lot", list(names), format_func=names.__getitem__, key="stock_lot")
        day = st.date_input("Day", value=date.today(), format="YYYY-MM-DD", key="stock_day")
        seeds = st.text_input(
            "Seeds left in the lot",
            max_chars=10,
            key="stock_seeds",
            placeholder="400; 0 if none is left; empty if not counted",
        )
        tested = st.text_input(
            "Germination test: germinated / laid out, of each replicate",
            max_chars=100,
            key="stock_tested",
            placeholder="88/100, 84/100",
        )
        asked = st.form_submit_button("Record", type="primary")
    if not asked:
        return
    replicates = _replicates(tested)
    if replicates is None or not (seeds.strip() or replicates):
        st.html(
            markup.alert(
                "Nothing was recorded yet. Give the day, and the seeds left or a germination test. "
                f"Write a test as 88/100, 84/100, with at most {MOST_REPLICATES} replicates."
            )
        )
        return
    try:
        data.record_stock(StockEntry(lot, day, seeds, replicates))
    except RecordsRefused as refused:
        st.html(markup.alert("\n".join(said_of_fields(refused))))
        return
    st.session_state["stock_recorded"] = True
    draw_again()


def _replicates(tested: str) -> tuple[tuple[str, str], ...] | None:
    """The counts of each replicate; None where what was typed is no list of them."""
    if not tested.strip():
        return ()
    pairs = [tuple(part.split("/")) for part in tested.split(",")]
    if len(pairs) > MOST_REPLICATES or any(len(pair) != 2 for pair in pairs):
        return None
    return tuple((pair[0], pair[1]) for pair in pairs)
