"""The seed order: what is sown, what it costs house by house, and the order to take along."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.settings import LONGEST_FARM, crop_choice, paper, rules_kept, units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.waiting import result_of
from dashboard.what_if import show_order_if
from trials.decide import Choice, Ordering, Sowing
from trials.model.units import UnitSystem, feet_to_m
from trials.model.work_safety import ORDERING, cautions
from trials.report.figures import listed
from trials.report.order_csv import order_csv
from trials.report.order_page import (
    beds_sentence,
    left_out_sentence,
    needs_table,
    parcel_sentence,
    parcel_table,
    short_sentence,
    total_sentence,
    unavailable_sentence,
)
from trials.report.stock_words import stock_sentences, stock_table
from trials.season import Buying, choose_again

USUAL_BED_M = 20.0
USUAL_BED_FT = 60.0


def ask_short(choice: Choice, sowing: Sowing) -> bool:
    """Whether chosen varieties that are too short to sell are wanted all the same."""
    short = [name for name in sowing.varieties if name in choice.too_short]
    return bool(short) and st.checkbox(
        for_markdown(f"Too short to sell, but order all the same: {listed(short, 20)}"),
        key="accept_short",
    )


def ask(choice: Choice) -> tuple[Sowing | None, float | None]:
    """What is to be sown, and the budget; no sowing while nothing is chosen."""
    known = [standing.entry for standing in choice.standings]
    varieties = st.multiselect(
        "Varieties to sow",
        known,
        default=list(choice.reordered),
        key=f"varieties of {choice.crop}",
        placeholder="Choose varieties",
    )
    us = units() is UnitSystem.US
    foot_m = feet_to_m(1.0)
    length = st.number_input(
        "Bed per sowing, shared by them " + ("(ft)" if us else "(m)"),
        min_value=0.5,
        value=USUAL_BED_FT if us else USUAL_BED_M,
        step=5.0 if us else 1.0,
        format="%.1f",
        key="bed_ft" if us else "bed_m",
        persist_state="session",
    )
    times = st.number_input(
        "Number of sowings", min_value=1, value=1, key="times", persist_state="session"
    )
    density = st.number_input(
        "Plants per " + ("foot" if us else "metre") + " of bed",
        min_value=0.1,
        value=None,
        step=0.5,
        placeholder="as in the newest trial",
        key="density_ft" if us else "density_m",
        persist_state="session",
    )
    again = 0
    if choice.grown_again:
        again = st.number_input(
            "Plants of each variety to grow again, for next season's trial",
            min_value=0,
            value=0,
            step=8,
            key="trial_plants",
            persist_state="session",
        )
    budget = st.number_input(
        "Budget, shipping included",
        min_value=0.0,
        value=None,
        step=10.0,
        placeholder="no limit",
        key="budget",
        persist_state="session",
    )
    if not varieties:
        return None, budget
    sowing = Sowing(
        bed_metres=feet_to_m(length) if us else length,
        successions=int(times),
        varieties=tuple(varieties),
        plants_per_metre=density / foot_m if us and density else density,
        trial_plants=int(again),
    )
    return sowing, budget


def ask_prices() -> tuple[int | None, str | None]:
    """The newest year of price lists and the currency to order in; None as it comes.

    Nothing is asked where the store has no choice.
    """
    lists = data.price_lists()
    years = sorted({year for year, _ in lists}, reverse=True)
    currencies = sorted({currency for _, currency in lists})
    year = currency = None
    if len(years) > 1:
        year = st.selectbox(
            "Price lists up to the year", years, index=None, placeholder="each house's newest"
        )
    if len(currencies) > 1:
        currency = st.selectbox(
            "Order in",
            currencies,
            index=None,
            placeholder="the currency in which most varieties can be had",
        )
    return year, currency


def ask_buying() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The seed houses to order nothing from, and the varieties to buy as plugs.

    Nothing is asked where the store has no choice.
    """
    without = st.multiselect(
        "Seed houses to order nothing from",
        data.seed_houses(),
        key="without_houses",
        placeholder="none",
    )
    plugs: list[str] = []
    if sold := data.plugs_sold():
        plugs = st.multiselect(
            "Varieties to buy as plugs (young plants)",
            sold,
            key="as_plugs",
            placeholder="none",
            help="A variety that is sold only as plugs needs no naming.",
        )
    return tuple(without), tuple(plugs)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def show_order(ordering: Ordering) -> None:
    """From beds to seed, house by house, and the total."""
    order = ordering.order
    currency = order.currency or ""
    st.html(markup.total(total_sentence(ordering)))
    if order.parcels:
        show_downloads(ordering)
    for parcel in order.parcels:
        st.html(
            markup.section(parcel.house)
            + markup.table(parcel_table(parcel))
            + markup.note(_sentence(parcel_sentence(parcel, currency)))
        )
    if order.parcels:
        st.html(markup.note(" ".join(cautions(*ORDERING))))
    for said in (short_sentence, left_out_sentence, unavailable_sentence):
        if words := said(ordering):
            st.html(markup.note(words))
    st.html(
        markup.section("From beds to seed", beds_sentence(ordering, units()))
        + markup.table(needs_table(ordering, units()))
    )
    if ordering.shelf:
        st.html(
            markup.caption("Seed in stock")
            + markup.table(stock_table(ordering.shelf))
            + markup.lines(stock_sentences(ordering.shelf, ordering.next_season))
        )


def show_downloads(ordering: Ordering) -> None:
    """The order to take along."""
    name = f"seed-order-{ordering.next_season}"
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


def show(crop: str) -> None:
    """The whole page for one crop."""
    rules = rules_kept()
    standings = result_of(data.choose.begun(crop, None), f"Calculating the standings of {crop}")
    if standings is None:
        return
    choice = choose_again(standings, rules)
    left, right = st.columns([2, 3], gap="large")
    with left:
        sowing, budget = ask(choice)
        prices, currency = ask_prices()
        without, plugs = ask_buying()
        accept_short = sowing is not None and ask_short(choice, sowing)
    with right:
        if sowing is None:
            st.html(markup.alert("Choose at least one variety to sow."))
            return
        how = Buying(
            budget,
            currency=currency,
            prices=prices,
            without_houses=without,
            accept_short=accept_short,
            plugs=plugs,
        )
        ordering = result_of(
            data.order.begun(crop, rules, sowing, how), "Calculating the cheapest order"
        )
        if ordering is None:
            return
        show_order(ordering)
        show_order_if(ordering, rules, how)


trials = data.trials()
if trials:
    st.html(markup.heading("The cheapest seed order", eyebrow="The order"))
    show(crop_choice(trials))
else:
    st.html(markup.heading("No trials yet", eyebrow="The order"))
    st.page_link("screens/home.py", label="Add records →")
