"""What a visitor set for all pages: units, the crop, and the rules of the choice."""

from __future__ import annotations

import os

import streamlit as st

from dashboard import data
from dashboard.access.visitor import WRITERS, visitor
from trials.decide import Choice, Rules
from trials.model.trial import Trial
from trials.model.units import PaperSize, UnitSystem

UNITS = {"metric": UnitSystem.METRIC, "US": UnitSystem.US}
_NAMES = {system: name for name, system in UNITS.items()}
UNITS_KEY = "units"
LEAST_SEASONS_MOST = 5
LONGEST_FARM = 100  # what the head of a printed sheet holds


def units() -> UnitSystem:
    """The units of all figures: as chosen here, else as whoever started the pages or the farm."""
    if st.session_state.get(UNITS_KEY) not in UNITS:
        st.session_state[UNITS_KEY] = _NAMES[units_at_first()]
    return UNITS[st.session_state[UNITS_KEY]]


def units_at_first() -> UnitSystem:
    """The units before anybody chooses others: of whoever started the pages, else the farm's."""
    started_with = os.environ.get("TALLYBED_UNITS")
    return UnitSystem(started_with) if started_with else data.farm_units()


def _keep_units() -> None:
    """A grower's choice is the farm's, so that it outlives this page; others choose for now.

    A page that begins again before its foot is drawn may report that nothing is chosen.
    """
    chosen = st.session_state.get(UNITS_KEY)
    if chosen in UNITS and visitor().role in WRITERS:
        data.set_farm_units(UNITS[chosen])


def paper() -> PaperSize:
    """The sheets in the printer where those units are used."""
    return PaperSize.LETTER if units() is UnitSystem.US else PaperSize.A4


def units_control() -> None:
    """The choice of units, at the foot of every page."""
    units()
    with st.container(key="foot", horizontal=True, vertical_alignment="center"):
        st.html('<p class="tb-note">Units</p>', width="content")
        st.segmented_control(
            "Units",
            list(UNITS),
            key=UNITS_KEY,
            on_change=_keep_units,
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
        "Lowest chance of stems long enough to sell",
        usual.tall_chance,
        100,
        "A variety below it is dropped, however good its flowers.",
    )
    drop = usual.drop_chance_best
    metres, ahead = usual.bed_metres, usual.seasons_ahead
    if choice.trial_cost is None:
        drop = _share(
            "rule_drop",
            "Lowest chance of being the best to grow a variety again",
            drop,
            50,
            "A variety below it that is not reordered is dropped.",
        )
    else:
        metres = st.number_input(
            "Metres of bed you grow of this crop per season",
            min_value=1.0,
            value=metres,
            step=5.0,
            key="rule_metres",
            help="The more you grow after it, the more another trial is worth.",
            persist_state="session",
        )
        ahead = st.slider(
            "Seasons you would grow what another trial finds",
            1,
            10,
            ahead,
            key="rule_ahead",
            persist_state="session",
        )
    tie = usual.tie_share
    if choice.outlook.terms.margin is None:
        tie = _share(
            "rule_tie",
            "Difference from the leader that counts as a tie",
            tie,
            30,
            "As a share of the measure's usual size.",
        )
    seasons = st.slider(
        "Seasons to grow a variety before it is reordered",
        1,
        LEAST_SEASONS_MOST,
        usual.least_seasons,
        key="rule_seasons",
        persist_state="session",
    )
    return Rules(
        tall_chance=tall,
        tie_share=tie,
        drop_chance_best=drop,
        bed_metres=float(metres),
        seasons_ahead=int(ahead),
        least_seasons=int(seasons),
    )


def rules_kept() -> Rules:
    """The rules as they were last set, on pages that do not show them."""
    usual = Rules()

    def share(key: str, default: float) -> float:
        return float(st.session_state.get(key, 100 * default)) / 100

    return Rules(
        tall_chance=share("rule_tall", usual.tall_chance),
        tie_share=share("rule_tie", usual.tie_share),
        drop_chance_best=share("rule_drop", usual.drop_chance_best),
        bed_metres=float(st.session_state.get("rule_metres", usual.bed_metres)),
        seasons_ahead=int(st.session_state.get("rule_ahead", usual.seasons_ahead)),
        least_seasons=int(st.session_state.get("rule_seasons", usual.least_seasons)),
    )
