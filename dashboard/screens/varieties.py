"""Varieties: the list of all, and everything about one: trials, seed, prices and photos."""

from __future__ import annotations

import streamlit as st

from dashboard import data, photo_form, variety_data
from dashboard.access.visitor import said
from dashboard.settings import units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.errors import TallybedError, UnknownName
from trials.model.variety import VarietyInList
from trials.report.figures import count, measure_figures
from trials.report.variety_page import (
    SORTS,
    VarietyRecords,
    description_lines,
    list_facts,
    listed_varieties,
    lots_table,
    not_compared_lines,
    prices_table,
    standing_sentence,
    trials_table,
)

LONGEST_SEARCH = 60
SHOWN_AT_ONCE = 30
NAME_PX = 260
HEIGHT_AND_VASE_LIFE = (
    "Height and vase life come from the records: Stem samples, and Scores and vase life, on page "
    "Records."
)


def show_list(every: tuple[VarietyInList, ...]) -> None:
    """The varieties that fit the search, sorted, each with the way to its page."""
    st.html(markup.heading("Varieties", eyebrow="What you grow and have grown"))
    if not every:
        st.html(markup.note("No varieties yet. They come with your first plan, or page Records."))
        return
    left, right = st.columns([2, 1], vertical_alignment="bottom")
    with left:
        text = st.text_input(
            "Search by name, crop, colour or habit",
            max_chars=LONGEST_SEARCH,
            key="variety_search",
            placeholder="for example: cosmos white",
        )
    with right:
        sort = st.selectbox("Sort by", list(SORTS), key="variety_sort")
    found = listed_varieties(every, text, sort)
    if not found:
        st.html(markup.note("No variety is described like that."))
    for number, each in enumerate(found[:SHOWN_AT_ONCE]):
        with st.container(
            key=f"variety_row_{number}", horizontal=True, vertical_alignment="center"
        ):
            st.page_link(
                "screens/varieties.py",
                label=for_markdown(each.variety),
                query_params={"variety": each.variety},
                width=NAME_PX,
            )
            st.html(markup.facts(list_facts(each, units())))
    left_out = len(found) - SHOWN_AT_ONCE
    if left_out > 0:
        more = count(left_out, "more variety", "more varieties")
        st.html(markup.note(f"{more}. Search to see them."))


def show_one(name: str) -> None:
    """Everything about a variety."""
    found = variety_data.variety(name)
    listed = found.listed
    st.page_link("screens/varieties.py", label="← All varieties", query_params={})
    st.html(
        markup.heading(
            listed.variety,
            eyebrow=f"Variety · {listed.crop}",
        )
        + markup.lines(description_lines(listed, units()))
        + markup.note(HEIGHT_AND_VASE_LIFE)
    )
    results = st.container()  # they take longest, so the rest is shown first
    st.html(markup.section("Photos"))
    photo_form.show_photos(found.photos)
    photo_form.show_form(listed.variety)
    photo_form.show_withdrawing(found.photos)
    show_seed(found)
    with results:
        show_trials(found)
        show_verdict(found)


def show_verdict(found: VarietyRecords) -> None:
    """What page Choose says of it."""
    try:
        choice = data.choose(found.listed.crop, None)
    except TallybedError as refusal:
        st.html(markup.section("Next season") + markup.note(said(refusal)))
        return
    figures = measure_figures(choice.measure, units())
    sentence = standing_sentence(choice, found.listed.variety, figures)
    st.html(
        markup.section("Next season")
        + markup.note(sentence or "No closed trial has compared it, so there is no verdict yet.")
    )
    st.page_link(
        "screens/choose.py",
        label=f"All standings of {for_markdown(found.listed.crop)} →",
        query_params={"crop": found.listed.crop},
    )


def show_trials(found: VarietyRecords) -> None:
    """Its trials over the years, with what each comparison says."""
    st.html(markup.section("Trials over the years"))
    in_trials = variety_data.variety_in_trials(found.listed.variety)
    if not in_trials:
        st.html(markup.note("It was in no trial yet."))
        return
    st.html(
        markup.table(trials_table(found, in_trials, units()))
        + markup.lines(not_compared_lines(in_trials))
    )
    with st.container(key="trials_of_variety", horizontal=True):
        for each in in_trials:
            if each.comparison is not None:
                st.page_link(
                    "screens/compare.py",
                    label=f"Compare {for_markdown(each.trial.code)} →",
                    query_params={"trial": each.trial.code},
                )


def show_seed(found: VarietyRecords) -> None:
    """Its seed lots with their germination, and what each house asks."""
    st.html(
        markup.section("Seed lots and germination")
        + (
            markup.table(lots_table(found.lots))
            if found.lots
            else markup.note("No seed lot is stored. Add one on page Records.")
        )
        + markup.section("Prices by seed house")
        + (
            markup.table(prices_table(found))
            if found.offers
            else markup.note("No price is stored. Add a price list on page Records.")
        )
    )


every = variety_data.varieties()
asked = st.query_params.get("variety")
if asked is None:
    show_list(every)
elif asked not in [each.variety for each in every]:
    st.html(markup.alert(str(UnknownName("variety", asked, [each.variety for each in every]))))
    show_list(every)
else:
    show_one(asked)
