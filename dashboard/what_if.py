"""Sliders that show what other prices and limits would change; they store nothing.

Each is redrawn alone, once it is opened.
"""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from dashboard import data, what_if_data
from dashboard.redrawn import folded, redrawn_alone
from dashboard.settings import units
from dashboard.theme import markup
from trials.decide import Choice, Ordering, Rules
from trials.decide.planted import WinterChoice
from trials.decide.winter_if import WinterIf
from trials.drawing.scales import round_ticks
from trials.model.units import UnitSystem, feet_to_m, m_to_feet
from trials.report.figures import measure_figures
from trials.report.order_page import total_sentence
from trials.report.what_if import (
    NOT_STORED,
    choice_sentence,
    choice_table,
    order_if_table,
    winter_if_sentence,
    winter_if_table,
)
from trials.season import Buying

LEAST_PRICE, MOST_PRICE, USUAL_PRICE = 50, 150, 100  # % of the prices in the records
STEPS = 20  # of a slider over an amount of money


@redrawn_alone
def show_choice_if(choice: Choice) -> None:
    """Other prices of stems and another cost of bed; nothing where the choice is not in money."""
    with folded("What if stems brought more or less, or beds cost more?", "choice_if") as is_open:
        if not is_open:
            return
        basis = what_if_data.money_basis(choice.crop)
        if basis is None:
            st.html(markup.note("This needs prices of stems and costs. Type them on page Records."))
            return
        left, right = st.columns(2, gap="large")
        with left:
            price = _price(f"choice_if_price {choice.crop}")
        with right:
            bed = _money(
                f"Cost of a metre of bed, now {basis.bed_cost:,.2f}",
                f"choice_if_bed {choice.crop}",
                basis.bed_cost,
                3 * max(basis.bed_cost, 1.0),
            )
        then = what_if_data.choose_if(choice.crop, choice.rules, price, bed)
        figures = measure_figures(choice.measure, units())
        st.html(
            markup.total(choice_sentence(choice.standings, then))
            + markup.note(NOT_STORED)
            + markup.table(choice_table(choice.standings, then, figures))
        )


@redrawn_alone
def show_order_if(ordering: Ordering, rules: Rules, how: Buying) -> None:
    """Another length of bed and another budget."""
    with folded("What if you sowed more or less, or had another budget?", "order_if") as is_open:
        if not is_open:
            return
        us = units() is UnitSystem.US
        metres = ordering.sowing.bed_metres
        now = m_to_feet(metres) if us else metres
        most = max(2 * float(ordering.order.cost_in_full), 1.0)  # seed in stock costs nothing
        left, right = st.columns(2, gap="large")
        with left:
            length = st.slider(
                f"Bed per sowing ({'ft' if us else 'm'}), now {now:,.1f}",
                0.0,
                max(round(3 * now, 1), 1.0),
                round(now, 1),
                key=f"order_if_bed {now:.1f} {us}",
            )
        with right:
            budget = _money(
                f"Budget, shipping included ({most:,.2f} sets no limit)",
                f"order_if_budget {most:.2f}",
                most,
                most,
            )
        if not length:
            st.html(markup.note("No bed, no seed. Move the slider to the right."))
            return
        sowing = replace(ordering.sowing, bed_metres=feet_to_m(length) if us else length)
        budgeted = None if budget >= most else budget
        then = data.order(
            ordering.crop,
            rules,
            sowing,
            replace(how, budget=budgeted, currency=ordering.order.currency),
        )
        st.html(
            markup.total(total_sentence(then))
            + markup.note(NOT_STORED)
            + markup.table(order_if_table(ordering, then, units()))
        )


@redrawn_alone
def show_winter_if(found: WinterChoice) -> None:
    """Other prices, another budget, and a floor under the poor seasons."""
    label = "What if prices, the budget or the risk were different?"
    with folded(label, "winter_if") as is_open:
        if not is_open:
            return
        with st.spinner("Calculating …"):
            then = what_if_data.winter_if(found, _winter_asked(found))
        st.html(
            markup.total(winter_if_sentence(found, then))
            + markup.note(NOT_STORED)
            + markup.table(winter_if_table(found, then, units()))
        )


def _winter_asked(found: WinterChoice) -> WinterIf:
    """What the sliders of a winter plan say; one that was not moved keeps the plan's own limit."""
    limits = found.winter.limits
    most = max(2 * found.paid, 1.5 * (limits.budget or 0.0), 1.0)
    best = max(found.plan.expected, found.plan.poor, 1.0)
    has_budget = most if limits.budget is None else limits.budget
    has_floor = max(limits.floor or 0.0, 0.0)
    columns = st.columns(3, gap="large")
    with columns[0]:
        price = _price("winter_if_price")
    with columns[1]:
        label = f"Most to pay for seed and raising ({most:,.2f} sets no limit)"
        budget = _money(label, f"winter_if_budget {most:.2f}", has_budget, most)
    with columns[2]:
        label = "Lowest average net you accept in poor seasons (0 sets no limit)"
        floor = _money(label, f"winter_if_floor {best:.2f}", has_floor, best)
    return WinterIf(
        price,
        limits.budget if budget == has_budget else None if budget >= most else budget,
        limits.floor if floor == has_floor else floor or None,
    )


def _price(key: str) -> float:
    """The factor on the price of a stem."""
    percent = st.slider(
        "Price of a stem, in % of the recorded price",
        LEAST_PRICE,
        MOST_PRICE,
        USUAL_PRICE,
        step=5,
        key=key,
    )
    return float(percent) / 100


def _money(label: str, key: str, now: float, most: float) -> float:
    """An amount from nothing to ``most``, in round steps."""
    step = max(round_ticks(0.0, most, STEPS)[1], 0.01)
    return float(st.slider(label, 0.0, most, min(now, most), step=step, format="%.2f", key=key))
