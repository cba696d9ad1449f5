"""The standings of a crop: what to reorder, grow again or drop, and by which rules."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard import data
from dashboard.pictures import show_where_any
from dashboard.settings import crop_choice, rules_controls, units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.waiting import result_of
from dashboard.what_if import show_choice_if
from trials.decide import Choice, Standing
from trials.model.trial import Trial
from trials.report.choice_page import (
    basis_sentence,
    growing_sentence,
    practice_sentence,
    practice_table,
    reason_words,
    rules_lines,
    vase_words,
)
from trials.report.figures import Figures, chance, measure_figures, per_cent
from trials.report.pictures.choice import chance_picture, loss_picture, tall_picture
from trials.report.pictures.frame import HALF_PX
from trials.season import choose_again

PAIR_CHIPS = (
    ("more", ""),
    ("less", ""),
    ("the same for your purpose", "open"),
    ("cannot tell yet", "quiet"),
)
VERDICT_CHIPS = {"reorder": "", "grow again": "open", "drop": "quiet"}


def standing_row(standing: Standing, choice: Choice, figures: Figures) -> str:
    """One variety's place in words."""
    chips = [markup.chip(standing.verdict.value, VERDICT_CHIPS[standing.verdict.value])]
    if standing.tied_with_best:
        chips.append(markup.chip("tied with the best", "open"))
    if standing.chance_best is None:
        chips.append(markup.chip("too short to sell", "clay"))
    name = f"{standing.entry} (the check)" if standing.entry == choice.check else standing.entry
    span = figures.interval(standing.low, standing.high)
    facts = [f"Next season {figures.amount(standing.mean)} ({span})"]
    if standing.chance_best is not None:
        facts += [
            f"best: {chance(standing.chance_best)}",
            f"expected loss {figures.number(standing.expected_shortfall)}",
        ]
    facts.append(f"long enough: {chance(standing.chance_tall)}")
    if choice.vase_life:
        lasted = [vase_words(one) for one in choice.vase_life if one.variety == standing.entry]
        facts.append(f"in the vase: {lasted[0] if lasted else 'not recorded'}")
    if standing.chance_beats_check is not None:
        facts.append(f"beats {choice.check}: {chance(standing.chance_beats_check)}")
    reasons = " ".join(reason_words(reason, figures) for reason in standing.reasons)
    return markup.standing(standing.rank, name, chips, facts, reasons)


def show_pictures(choice: Choice, figures: Figures) -> None:
    """Chances and expected losses."""
    places = st.columns(2, gap="large")
    draws = (partial(chance_picture, choice), partial(loss_picture, choice, figures))
    for place, draw in zip(places, draws, strict=True):
        with place:
            show_where_any(draw, HALF_PX)


def show_practices(choice: Choice) -> None:
    """What pinching, netting or spacing did, and what it earns on the varieties to reorder."""
    if choice.growing:
        figures = measure_figures(choice.measure, units())
        st.html(
            markup.section("How to grow the varieties to reorder")
            + markup.lines([growing_sentence(row, figures) for row in choice.growing])
        )
    for practice in choice.practices:
        st.html(markup.section(f"{practice.factor.capitalize()}: how to grow it"))
        if practice.findings:
            st.html(markup.table(practice_table(practice, units()), PAIR_CHIPS))
        st.html(markup.note(practice_sentence(practice)))
        st.page_link(
            "screens/compare.py",
            label=f"See {for_markdown(practice.trial)} →",
            query_params={"trial": practice.trial},
        )


def show(trials: tuple[Trial, ...]) -> None:
    """The whole page for one crop."""
    left, right = st.columns([3, 1], vertical_alignment="bottom")
    with left:
        crop = crop_choice(trials)
    first = result_of(data.choose.begun(crop, None), f"Calculating the standings of {crop}")
    if first is None:
        return
    figures = measure_figures(first.measure, units())
    with right, st.popover("Change the rules", width="stretch"):
        rules = rules_controls(first)
    choice = choose_again(first, rules)
    st.html(markup.note(basis_sentence(choice, figures)))
    show_pictures(choice, figures)
    coverage = per_cent(choice.outlook.terms.coverage)
    st.html(
        markup.section(
            "The standings",
            f"In brackets: the range next season falls in {coverage} of the time. "
            "Open a variety to see why.",
        )
        + markup.rows(standing_row(s, choice, figures) for s in choice.standings)
    )
    show_choice_if(choice)
    st.page_link("screens/order.py", label="Order seed for these →", query_params={"crop": crop})
    with (
        st.expander("Photos, seed and earlier trials of each variety"),
        st.container(key="standing_varieties", horizontal=True, gap="small"),
    ):
        for standing in choice.standings:
            st.page_link(
                "screens/varieties.py",
                label=for_markdown(standing.entry),
                query_params={"variety": standing.entry},
            )
    left, right = st.columns(2, gap="large")
    with left:
        show_where_any(partial(tall_picture, choice), HALF_PX)
    with right:
        st.html(
            markup.caption("The rules, in order")
            + markup.lines(rules_lines(choice.rules, figures, choice))
        )
    show_practices(choice)


trials = data.trials()
if trials:
    st.html(markup.heading("What to grow next season", eyebrow="The standings"))
    show(trials)
else:
    st.html(markup.heading("No trials yet", eyebrow="The standings"))
    st.page_link("screens/home.py", label="Add records →")
