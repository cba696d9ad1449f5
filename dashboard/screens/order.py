"""The seed order: what is sown, what it costs house by house, and the order to take along."""

from __future__ import annotations

import streamlit as st

from dashboard import data, markup
from dashboard.settings import LONGEST_FARM, crop_choice, paper, rules_kept, units
from trials import (
    Choice,
    Ordering,
    Sowing,
    UnitSystem,
    beds_sentence,
    choose_again,
    feet_to_m,
    needs_table,
    order_csv,
    parcel_sentence,
    parcel_table,
    total_sentence,
    unavailable_sentence,
)

USUAL_BED_M = 20.0
USUAL_BED_FT = 60.0


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
        "Bed to sow each time, shared by them " + ("(ft)" if us else "(m)"),
        min_value=0.5,
        value=USUAL_BED_FT if us else USUAL_BED_M,
        step=5.0 if us else 1.0,
        format="%.1f",
        key="bed_ft" if us else "bed_m",
        persist_state="session",
    )
    times = st.number_input(
        "Sown how many times", min_value=1, value=1, key="times", persist_state="session"
    )
    density = st.number_input(
        "Plants in a " + ("foot" if us else "metre") + " of bed",
        min_value=0.1,
        value=None,
        step=0.5,
        placeholder="as in the newest trial",
        key="density_ft" if us else "density_m",
        persist_state="session",
    )
    again = 0
    if choice.tried_again:
        again = st.number_input(
            "Plants of each variety to try again, for next season's trial",
            min_value=0,
            value=0,
            step=8,
            key="trial_plants",
            persist_state="session",
        )
    budget = st.number_input(
        "Budget, carriage included",
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
    unavailable = unavailable_sentence(ordering)
    if unavailable:
        st.html(markup.note(unavailable))
    st.html(
        markup.section("From beds to seed", beds_sentence(ordering, units()))
        + markup.table(needs_table(ordering, units()))
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
    choice = choose_again(data.choose(crop, None), rules)
    left, right = st.columns([2, 3], gap="large")
    with left:
        sowing, budget = ask(choice)
    with right:
        if sowing is None:
            st.html(markup.alert("Choose at least one variety to sow."))
            return
        ordering = data.order(crop, rules, sowing, budget)
        show_order(ordering)


trials = data.trials()
if trials:
    st.html(markup.heading("The cheapest seed order", eyebrow="The order"))
    show(crop_choice(trials))
else:
    st.html(markup.heading("No trial is here yet", eyebrow="The order"))
    st.page_link("screens/season.py", label="Bring records in →")
