"""What a visitor set for all pages: units, the crop, and the rules of the choice."""

from __future__ import annotations

import os

import streamlit as st

from trials import Choice, PaperSize, Rules, Trial, UnitSystem

UNITS = {"metric": UnitSystem.METRIC, "US": UnitSystem.US}
UNITS_KEY = "units"
LEAST_SEASONS_MOST = 5
LONGEST_FARM = 100  # what the head of a printed sheet holds


def units() -> UnitSystem:
    """The units of all figures: as chosen, or as the one who started the pages likes them."""
    started_with = "US" if os.environ.get("TALLYBED_UNITS") == "us" else "metric"
    return UNITS[st.session_state.setdefault(UNITS_KEY, started_with)]


def paper() -> PaperSize:
    """The sheets in the printer where those units are used."""
    return PaperSize.LETTER if units() is UnitSystem.US else PaperSize.A4


def units_control() -> None:
    """The choice of units, at the foot of every page."""
    units()
    with st.container(key="foot", horizontal=True, vertical_alignment="center"):
        st.html('<p class="tb-note">Figures in</p>', width="content")
        st.segmented_control(
            "Units",
            list(UNITS),
            key=UNITS_KEY,
            required=True,
            label_visibility="collapsed",
            persist_state="session",
        )


def crop_choice(trials: tuple[Trial, ...]) -> str:
    """The crop to choose for, newest trial first."""
    crops = list(dict.fromkeys(trial.crop for trial in trials))
    return st.selectbox("Crop", crops, key="crop", bind="query-params")


def _share(key: str, label: str, default: float, most: int, help_text: str) -> float:
    percent = st.slider(
        label,
        0,
        most,
        round(100 * default),
        step=1,
        format="%d %%",
        key=key,
        help=help_text,
        persist_state="session",
    )
    return float(percent) / 100


def rules_controls(choice: Choice) -> Rules:
    """The rules of the choice, to be changed by hand."""
    usual = Rules()
    tall = _share(
        "rule_tall",
        "Chance of stems long enough to sell that a variety must have",
        usual.tall_chance,
        100,
        "Below it a variety is dropped, whatever its flowers.",
    )
    shortfall = _share(
        "rule_reorder",
        "What a reordered variety may give up beside the best",
        usual.reorder_shortfall_share,
        50,
        "On average, as a share of the leader's mean.",
    )
    drop = _share(
        "rule_drop",
        "Chance of being the best below which a variety is dropped",
        usual.drop_chance_best,
        50,
        "Between this and reordering lies 'try again'.",
    )
    tie = usual.tie_shortfall_share
    if choice.outlook.terms.margin is None:
        tie = _share(
            "rule_tie",
            "Difference from the leader that counts as a tie",
            tie,
            30,
            "As a share of the leader's mean.",
        )
    seasons = st.slider(
        "Seasons grown before a variety is relied on",
        1,
        LEAST_SEASONS_MOST,
        usual.least_seasons,
        key="rule_seasons",
        persist_state="session",
    )
    return Rules(
        tall_chance=tall,
        reorder_shortfall_share=shortfall,
        drop_chance_best=drop,
        tie_shortfall_share=tie,
        least_seasons=int(seasons),
    )


def rules_kept() -> Rules:
    """The rules as they were last set, on pages that do not show them."""
    usual = Rules()

    def share(key: str, default: float) -> float:
        return float(st.session_state.get(key, 100 * default)) / 100

    return Rules(
        tall_chance=share("rule_tall", usual.tall_chance),
        reorder_shortfall_share=share("rule_reorder", usual.reorder_shortfall_share),
        drop_chance_best=share("rule_drop", usual.drop_chance_best),
        tie_shortfall_share=share("rule_tie", usual.tie_shortfall_share),
        least_seasons=int(st.session_state.get("rule_seasons", usual.least_seasons)),
    )
