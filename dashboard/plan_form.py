"""The form of a plan: what is asked of the grower, and the plan's text by the keys of its file.

Lengths are asked and written in the visitor's units. What is left empty
is left out of the text; whether the rest can be right is judged where plans are read.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import isnan
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.data import stored
from dashboard.forms.folded_grid import folded_grid
from dashboard.settings import units
from dashboard.theme import markup
from trials.model.rows import Sheet
from trials.model.trial import MEASURES, AppliedTo, Trial
from trials.model.units import UnitSystem
from trials.season import plan_text_of
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    import pandas as pd

SENT_BY = "Show the layouts that fit"

# The keys of a plan by the labels of their fields, for what cannot be right.
FIELDS = {
    "trial": "Code of the trial",
    "question": "What do you want to know?",
    "season": "Season (year)",
    "site": "Field or tunnel",
    "crop": "Crop",
    "equivalence_margin": "Difference that does not matter to you",
    "checks": "The one you grow now (the check)",
    "levels": "Its levels, one per line",
    "name": "Another factor",
    "layout": "Layout",
    "replicates": "Plots per variety",
    "block_size": "Most plots in a small block",
    "plants_per_plot": "Plants to pick and count per plot",
    "guards": "Guard plants at each end of a row",
    "randomisation_number": "Randomisation number",
    "grades_cm": "Length grades",
    "grades_in": "Length grades",
    "detect": "Difference you want to find",
    "beds": "The beds the trial may use",
    "rows": "Rows along the bed",
    "sow_on": "Day you mean to sow",
    "transplant_on": "Day you mean to plant out",
}

GRADES_CM = tuple(range(20, 100, 10))
USUAL_GRADES_CM = [30, 40, 50, 60]
SECOND_FACTORS = ("pinch", "netting")
GRADES_IN = tuple(range(8, 42, 2))
USUAL_GRADES_IN = [12, 16, 20, 24]
YEARS = (1950, 2199)
LAYOUTS = [str(kind) for kind in LayoutKind if kind is not LayoutKind.SIDE_BY_SIDE]
GROUND = [str(unit) for unit in AppliedTo]


def asked_plan(trials: tuple[Trial, ...]) -> str | None:
    """The text of the plan once the form was sent; None before."""
    with st.form("plan", border=False):
        values = {**_question(trials), **_entries(), **_plots(), **_ground(), **_days()}
        sent = st.form_submit_button(SENT_BY, type="primary")
    return plan_text_of(values) if sent else None


def _text(label: str, key: str, placeholder: str = "") -> str | None:
    """What was typed; None where nothing was."""
    typed = st.text_input(
        label, key=f"plan_{key}", placeholder=placeholder, persist_state="session"
    )
    return _tidy(typed)


def _whole(label: str, key: str, usual: int, least: int = 0) -> int:
    return int(
        st.number_input(
            label, min_value=least, value=usual, key=f"plan_{key}", persist_state="session"
        )
    )


def _day(label: str, key: str) -> date | None:
    return st.date_input(
        label, value=None, format="YYYY-MM-DD", key=f"plan_{key}", persist_state="session"
    )


def _lines(label: str, key: str, placeholder: str) -> list[str]:
    typed = st.text_area(label, key=f"plan_{key}", placeholder=placeholder, persist_state="session")
    return [name for line in typed.splitlines() if (name := _tidy(line)) is not None]


def _tidy(typed: str | None) -> str | None:
    """A name on one line, with single spaces; None where nothing was typed."""
    return " ".join((typed or "").split()) or None


def _question(trials: tuple[Trial, ...]) -> Mapping[str, object]:
    """What is to be found out, where and when."""
    st.html(markup.caption("The question"))
    question = _text(FIELDS["question"], "question", "in one sentence")
    left, middle, right = st.columns(3)
    with left:
        code = _text(FIELDS["trial"], "trial", "for example: aster-2027")
        season = st.number_input(
            FIELDS["season"],
            min_value=YEARS[0],
            max_value=YEARS[1],
            value=date.today().year + (date.today().month > 8),
            key="plan_season",
            persist_state="session",
        )
    with middle:
        crops = [*dict.fromkeys([*(t.crop for t in trials), *stored(Sheet.VARIETIES)["crop"]])]
        crop = st.selectbox(
            FIELDS["crop"],
            crops,
            index=None,
            accept_new_options=True,
            placeholder="choose or type",
            key="plan_crop",
        )
        sites = [*dict.fromkeys([*(t.site for t in trials), *stored(Sheet.SITES)["site"]])]
        site = st.selectbox(
            FIELDS["site"],
            sites,
            index=None,
            accept_new_options=True,
            placeholder="choose or type",
            key="plan_site",
        )
    with right:
        labels = {measure.key: measure.label for measure in MEASURES}
        measure = st.selectbox(
            "The measure that decides",
            list(labels),
            format_func=labels.__getitem__,
            key="plan_measure",
        )
        margin = _text(FIELDS["equivalence_margin"], "equivalence_margin", "for example: 10%, or 3")
    return {
        "trial": code,
        "question": question,
        "season": int(season),
        "site": _tidy(site),
        "crop": _tidy(crop),
        "primary_measure": measure,
        "equivalence_margin": margin,
    }


def _entries() -> Mapping[str, object]:
    """What is compared, and a second thing that is varied if there is one."""
    st.html(markup.caption("What is compared"))
    left, right = st.columns(2)
    with left:
        entries = _lines("Varieties to compare, one per line", "entries", "one per line")
    with right:
        checks = _lines(FIELDS["checks"], "checks", "one; several in augmented blocks")
    # Most first trials compare varieties alone; the fields are drawn once somebody opens them.
    with st.popover("Compare something else too: pinching, netting, spacing"):
        chosen = st.selectbox(
            FIELDS["name"],
            (*SECOND_FACTORS, "spacing_in" if units() is UnitSystem.US else "spacing_cm"),
            index=None,
            accept_new_options=True,
            placeholder="nothing",
            key="plan_second",
        )
        second = _tidy(chosen)
        levels = _lines(FIELDS["levels"], "levels", "for example: pinched / not pinched")
        on = st.selectbox(
            "Given to each",
            GROUND,
            key="plan_on",
            help="A whole plot is a bed section that gets one level as a whole.",
        )
    factors: list[Mapping[str, object]] = []
    if second:
        factors.append({"name": second, "levels": levels, "on": on})
    crossing = AppliedTo.STRIP if second and on == AppliedTo.STRIP else AppliedTo.PLOT
    factors.append({"name": "variety", "levels": entries, "on": str(crossing)})
    return {"factors": factors, "checks": checks or None}


def _plots() -> Mapping[str, object]:
    """How many plots of how many plants, and what they should tell."""
    us = units() is UnitSystem.US
    usual = f"Complete blocks and stems from {'16 in' if us else '40 cm'}, unless you change that."
    st.html(markup.caption("The plots", usual))
    left, middle, right = st.columns(3)
    with left:
        replicates = _whole(FIELDS["replicates"], "replicates", 4, least=1)
    with middle:
        plants = _whole(FIELDS["plants_per_plot"], "plants", 16, least=1)
    with right:
        detect = _text(FIELDS["detect"], "detect", "for example: 20%")
    # What is usual already stands there; the fields are drawn once somebody opens them.
    with st.popover("Layout, guard plants, stem lengths, randomisation number"):
        layout = st.selectbox(
            FIELDS["layout"],
            LAYOUTS,
            index=LAYOUTS.index(LayoutKind.COMPLETE_BLOCKS),
            key="plan_layout",
        )
        shortest = st.number_input(
            "Minimum saleable length " + ("(in)" if us else "(cm)"),
            min_value=1.0,
            value=16.0 if us else 40.0,
            format="%.1f",
            key="plan_shortest_in" if us else "plan_shortest_cm",
            persist_state="session",
        )
        block = st.number_input(
            FIELDS["block_size"],
            min_value=2,
            value=None,
            placeholder="for incomplete blocks",
            key="plan_block",
            persist_state="session",
        )
        guards = _whole(FIELDS["guards"], "guards", 1)
        grades = st.multiselect(
            FIELDS["grades_cm"] + ", from " + ("(in)" if us else "(cm)"),
            GRADES_IN if us else GRADES_CM,
            default=USUAL_GRADES_IN if us else USUAL_GRADES_CM,
            key="plan_grades_in" if us else "plan_grades_cm",
        )
        number = _whole(
            FIELDS["randomisation_number"], "randomisation_number", int(f"{date.today():%Y%m%d}")
        )
    return {
        "layout": layout,
        "replicates": replicates,
        "block_size": None if block is None else int(block),
        "plants_per_plot": plants,
        "guards": guards,
        "randomisation_number": number,
        "minimum_length_in" if us else "minimum_length_cm": shortest,
        "grades_in" if us else "grades_cm": sorted(grades),
        "detect": detect,
    }


def _ground() -> Mapping[str, object]:
    """The beds in walking order, and how plants stand in them."""
    us = units() is UnitSystem.US
    unit = "ft" if us else "m"
    apart = "9 in" if us else "23 cm"
    usual = f"Plants stand in 4 rows, {apart} apart, unless you change that."
    st.html(markup.caption(FIELDS["beds"], f"In walking order, in {unit}. {usual}"))
    config = {
        "bed": st.column_config.TextColumn("bed", required=True),
        "length": st.column_config.NumberColumn(f"length {unit}", min_value=0.1),
        "width": st.column_config.NumberColumn(f"width {unit}", min_value=0.1),
        "path": st.column_config.NumberColumn(f"path to the next {unit}", min_value=0.1),
    }
    beds = folded_grid(_no_beds(us), config, f"plan_beds_{unit}", "Change the beds", SENT_BY)
    with st.popover("Rows and spacing of the plants"):
        rows = _whole(FIELDS["rows"], "rows", 4, least=1)
        spacing = st.number_input(
            "Plant spacing along a row " + ("(in)" if us else "(cm)"),
            min_value=1.0,
            value=9.0 if us else 23.0,
            format="%.1f",
            key="plan_spacing_in" if us else "plan_spacing_cm",
            persist_state="session",
        )
    return {
        "beds": _beds(beds, us),
        "planting": {"rows": rows, "spacing_in" if us else "spacing_cm": spacing},
    }


def _no_beds(us: bool) -> pd.DataFrame:
    import pandas as pd

    usual = (100.0, 4.0, 2.0) if us else (30.0, 1.2, 0.5)
    return pd.DataFrame([("Bed 1", *usual)], columns=["bed", "length", "width", "path"])


def _beds(edited: pd.DataFrame, us: bool) -> list[Mapping[str, object]]:
    def given(figure: float) -> float | None:
        return None if isnan(figure) else float(figure)  # an empty cell is not a number

    unit = "ft" if us else "m"
    return [
        {
            "name": _tidy(row["bed"]),
            f"length_{unit}": given(row["length"]),
            f"width_{unit}": given(row["width"]),
            f"path_{unit}": given(row["path"]),
        }
        for row in edited.to_dict("records")
    ]


def _days() -> Mapping[str, object]:
    """The days of the crop; those of the farm only where the store does not know them."""
    st.html(markup.caption("The days"))
    left, right = st.columns(2)
    with left:
        sow = _day(FIELDS["sow_on"], "sow_on")
    with right:
        out = _day(FIELDS["transplant_on"], "transplant_on")
    words = "If not in your records: days to bloom, frosts, start and end of the season"
    is_first = stored(Sheet.SEASONS).empty  # the store has no frosts and no season's ends
    with st.expander(words, expanded=True) if is_first else st.popover(words):
        bloom = st.number_input(
            "Days from sowing to the first cut",
            min_value=20,
            value=None,
            placeholder="usual for the crop, if known",
            key="plan_bloom",
            persist_state="session",
        )
        trays = st.number_input(
            "Days in trays",
            min_value=1,
            value=None,
            placeholder="usual for the crop, if known",
            key="plan_trays",
            persist_state="session",
        )
        calendar = {
            "days_to_bloom": None if bloom is None else int(bloom),
            "days_in_trays": None if trays is None else int(trays),
            "last_spring_frost": _day("Average last frost", "last_frost"),
            "first_autumn_frost": _day("Average first frost", "first_frost"),
            "season_starts_on": _day("First day of the season", "starts_on"),
            "season_ends_on": _day("Last day of the season", "ends_on"),
        }
    known = {key: value for key, value in calendar.items() if value is not None}
    return {"sow_on": sow, "transplant_on": out, "calendar": known}
