"""The seed order: what is sown, what it costs house by house, and the order to take along."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.order_form import (
    ask_budget,
    ask_buying,
    ask_metres,
    ask_prices,
    ask_short,
    ask_times,
    ask_trial_plants,
    ask_varieties,
)
from dashboard.order_together import show_together
from dashboard.order_view import show_downloads, show_parcels, show_shelf
from dashboard.settings import crop_choice, rules_kept, units
from dashboard.theme import markup
from dashboard.waiting import result_of
from dashboard.what_if import show_order_if
from trials.decide import Choice, Ordering, Sowing
from trials.model.trial import TrialStage
from trials.model.units import UnitSystem, feet_to_m
from trials.report.order_page import (
    beds_sentence,
    left_out_sentence,
    needs_table,
    short_sentence,
    total_sentence,
    unavailable_sentence,
)
from trials.season import Buying, choose_again

ONE, SEVERAL = "One crop", "Several crops in one order"


def ask(choice: Choice) -> tuple[Sowing | None, float | None]:
    """What is to be sown, and the budget; no sowing while nothing is chosen."""
    varieties = ask_varieties(choice, "Varieties to sow")
    metres = ask_metres("Bed per sowing, shared by them", "")
    times = ask_times()
    us = units() is UnitSystem.US
    density = st.number_input(
        "Plants per " + ("foot" if us else "metre") + " of bed",
        min_value=0.1,
        value=None,
        step=0.5,
        placeholder="as in the newest trial",
        key="density_ft" if us else "density_m",
        persist_state="session",
    )
    again = ask_trial_plants() if choice.grown_again else 0
    budget = ask_budget()
    if not varieties:
        return None, budget
    sowing = Sowing(
        bed_metres=metres,
        successions=times,
        varieties=varieties,
        plants_per_metre=density / feet_to_m(1.0) if us and density else density,
        trial_plants=again,
    )
    return sowing, budget


def show_order(ordering: Ordering) -> None:
    """From beds to seed, house by house, and the total."""
    st.html(markup.total(total_sentence(ordering)))
    if ordering.order.parcels:
        show_downloads(ordering, ordering.next_season)
    show_parcels(ordering.order)
    for said in (short_sentence, left_out_sentence, unavailable_sentence):
        if words := said(ordering):
            st.html(markup.note(words))
    st.html(
        markup.section("From beds to seed", beds_sentence(ordering, units()))
        + markup.table(needs_table(ordering, units()))
    )
    show_shelf(ordering.shelf, ordering.next_season)


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
        chosen = () if sowing is None else sowing.varieties
        accept_short = ask_short([name for name in chosen if name in choice.too_short])
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


def ask_which(closed: list[str]) -> str:
    """Whether one crop is ordered or several; only one where no other has a closed trial."""
    if len(closed) < 2:
        return ONE
    return st.segmented_control(
        "What to order for",
        [ONE, SEVERAL],
        default=ONE,
        required=True,
        key="order_for",
        persist_state="session",
        help="Several crops share shipping and minimum orders, so one order costs less.",
    )


trials = data.trials()
if trials:
    st.html(markup.heading("The cheapest seed order", eyebrow="The order"))
    closed = list(dict.fromkeys(t.crop for t in trials if t.stage is TrialStage.CLOSED))
    if ask_which(closed) == SEVERAL:
        show_together(closed)
    else:
        show(crop_choice(trials))
else:
    st.html(markup.heading("No trials yet", eyebrow="The order"))
    st.page_link("screens/home.py", label="Add records →")
