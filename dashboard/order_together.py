"""Several crops in one seed order: shipping and minimum orders are met by all of them together."""

from __future__ import annotations

from collections.abc import Sequence

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
from dashboard.order_view import show_downloads, show_parcels, show_shelf
from dashboard.settings import rules_kept, units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.decide import JointOrdering, Sowing
from trials.report.order_page import (
    beds_sentence,
    left_out_sentence,
    lists_sentence,
    needs_table,
    short_sentence,
    together_sentence,
    total_sentence,
    unavailable_sentence,
)
from trials.season import Buying, choose_again


def show_together(crops: Sequence[str]) -> None:
    """The whole page for several crops, each with its bed and its varieties."""
    rules = rules_kept()
    left, right = st.columns([2, 3], gap="large")
    with left:
        wanted = st.multiselect(
            "Crops in the order",
            crops,
            default=list(crops),
            key="crops",
            placeholder="Choose crops",
        )
        choices = [choose_again(data.choose(crop, None), rules) for crop in wanted]
        times = ask_times()
        beds: list[tuple[str, float, tuple[str, ...]]] = []
        for choice in choices:
            with st.container(border=True):
                st.html(markup.caption(choice.crop))
                varieties = ask_varieties(choice, f"Varieties of {for_markdown(choice.crop)}")
                metres = ask_metres("Bed per sowing, shared by them", f" of {choice.crop}")
            beds.append((choice.crop, metres, varieties))
        again = ask_trial_plants() if any(choice.grown_again for choice in choices) else 0
        budget = ask_budget()
        prices, currency = ask_prices()
        without, plugs = ask_buying()
        chosen = {name for _, _, varieties in beds for name in varieties}
        short = [name for choice in choices for name in choice.too_short if name in chosen]
        accept_short = ask_short(short)
    plans = tuple(
        (crop, Sowing(metres, times, varieties, trial_plants=again))
        for crop, metres, varieties in beds
        if varieties
    )
    how = Buying(
        budget,
        currency=currency,
        prices=prices,
        without_houses=without,
        accept_short=accept_short,
        plugs=plugs,
    )
    with right:
        if not plans:
            st.html(markup.alert("Choose at least one crop, and a variety of it to sow."))
            return
        show_joint(data.order_together(plans, rules, how))


def show_joint(joint: JointOrdering) -> None:
    """The one order with what it saves, then each crop's way from beds to seed."""
    order, first = joint.order, joint.crops[0]
    season = max(each.next_season for each in joint.crops)
    st.html(markup.total(total_sentence(first)))
    if words := together_sentence(joint):
        st.html(markup.note(words))
    if order.parcels:
        show_downloads(joint, season)
    show_parcels(order)
    said = [lists_sentence(first), left_out_sentence(first)]
    said += [say(each) for each in joint.crops for say in (short_sentence, unavailable_sentence)]
    for words in said:
        if words:
            st.html(markup.note(words))
    for each in joint.crops:
        st.html(
            markup.section(f"From beds to seed: {each.crop}", beds_sentence(each, units()))
            + markup.table(needs_table(each, units()))
        )
    show_shelf([lot for each in joint.crops for lot in each.shelf], season)
