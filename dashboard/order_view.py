"""A seed order on a page: what it costs house by house, the stock, and the files to take along."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from dashboard import data
from dashboard.settings import LONGEST_FARM, paper
from dashboard.theme import markup
from trials.decide import JointOrdering, OnHand, Ordering, SeedOrder
from trials.model.work_safety import ORDERING, cautions
from trials.report.order_csv import order_csv
from trials.report.order_page import parcel_sentence, parcel_table
from trials.report.stock_words import stock_sentences, stock_table


def show_parcels(order: SeedOrder) -> None:
    """What is ordered at each house, with its shipping."""
    for parcel in order.parcels:
        st.html(
            markup.section(parcel.house)
            + markup.table(parcel_table(parcel))
            + markup.note(_sentence(parcel_sentence(parcel, order.currency or "")))
        )
    if order.parcels:
        st.html(markup.note(" ".join(cautions(*ORDERING))))


def show_shelf(lots: Sequence[OnHand], season: int) -> None:
    """The seed in stock that the order counts on; nothing where there is none."""
    if lots:
        st.html(
            markup.caption("Seed in stock")
            + markup.table(stock_table(lots))
            + markup.lines(stock_sentences(lots, season))
        )


def show_downloads(ordering: Ordering | JointOrdering, season: int) -> None:
    """The order to take along."""
    name = f"seed-order-{season}"
    farm = st.text_input(
        "Name of the farm, for the printed order",
        max_chars=LONGEST_FARM,
        key="farm",
        persist_state="session",
    )
    with st.container(horizontal=True):
        st.download_button(
            "Order to print (PDF)",
            data.order_pdf(ordering, farm or "Seed order", paper()),
            f"{name}.pdf",
            "application/pdf",
            on_click="ignore",
            type="primary",
        )
        st.download_button(
            "Order for a spreadsheet (CSV)",
            order_csv(ordering.order),
            f"{name}.csv",
            "text/csv",
            on_click="ignore",
        )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
