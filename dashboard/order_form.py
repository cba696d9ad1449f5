"""What page Order asks, for one crop or for several: beds, varieties, prices and seed houses."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.settings import units
from dashboard.theme.text import for_markdown
from trials.decide import Choice
from trials.model.units import UnitSystem, feet_to_m
from trials.report.figures import listed

USUAL_BED_M = 20.0
USUAL_BED_FT = 60.0


def ask_varieties(choice: Choice, label: str) -> tuple[str, ...]:
    """The varieties to sow, by default those to reorder."""
    return tuple(
        st.multiselect(
            label,
            [standing.entry for standing in choice.standings],
            default=list(choice.reordered),
            key=f"varieties of {choice.crop}",
            placeholder="Choose varieties",
        )
    )


def ask_short(short: list[str]) -> bool:
    """Whether chosen varieties that are too short to sell are wanted all the same."""
    return bool(short) and st.checkbox(
        for_markdown(f"Too short to sell, but order all the same: {listed(short, 20)}"),
        key="accept_short",
    )


def ask_metres(label: str, key: str) -> float:
    """A length of bed in metres, asked in the visitor's unit."""
    us = units() is UnitSystem.US
    length = st.number_input(
        f"{label} " + ("(ft)" if us else "(m)"),
        min_value=0.5,
        value=USUAL_BED_FT if us else USUAL_BED_M,
        step=5.0 if us else 1.0,
        format="%.1f",
        key=f"bed_ft{key}" if us else f"bed_m{key}",
        persist_state="session",
    )
    return feet_to_m(length) if us else length


def ask_times() -> int:
    """How often the bed is sown."""
    return int(
        st.number_input(
            "Number of sowings", min_value=1, value=1, key="times", persist_state="session"
        )
    )


def ask_trial_plants() -> int:
    """Plants of each variety that gets another trial."""
    return int(
        st.number_input(
            "Plants of each variety to grow again, for next season's trial",
            min_value=0,
            value=0,
            step=8,
            key="trial_plants",
            persist_state="session",
        )
    )


def ask_budget() -> float | None:
    """The most to spend; None without a limit."""
    return st.number_input(
        "Budget, shipping included",
        min_value=0.0,
        value=None,
        step=10.0,
        placeholder="no limit",
        key="budget",
        persist_state="session",
    )


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
