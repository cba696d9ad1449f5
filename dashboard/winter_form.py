"""The form of a winter plan: beds, sowings, markets and limits, as the text of a file of wishes.

Lengths are asked in the visitor's units and written in metres. What is left empty is left out of
the text; whether the rest can be right is judged where files of wishes are read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.forms.folded_grid import folded_grid
from dashboard.settings import units
from dashboard.theme import markup
from trials.model.units import UnitSystem, feet_to_m
from trials.season import WinterStart, wishes_text_of

if TYPE_CHECKING:
    from streamlit.elements.lib.column_types import ColumnConfig

USUAL_BED_M, USUAL_BED_FT = 20.0, 60.0
USUAL_HOURS_PER_M, USUAL_STEMS_PER_HOUR, USUAL_MOST = 0.3, 200.0, 100.0
LEAST_M, LEAST_FT = 2.0, 6.0
SENT_BY = "Make the winter plan"


def asked_wishes(start: WinterStart) -> str | None:
    """The text of the wishes once the form was sent; None before."""
    with st.form("winter", border=False):
        values = {
            **_season(start),
            "bed": _beds(start),
            "sowing": _sowings(start),
            "market": _markets(start),
            **_limits(start),
        }
        sent = st.form_submit_button(SENT_BY, type="primary")
    return wishes_text_of(values) if sent else None


def _season(start: WinterStart) -> Mapping[str, object]:
    left, right = st.columns(2)
    with left:
        season = st.number_input(
            "Season to plan (year)",
            min_value=1950,
            max_value=2199,
            value=start.season,
            key="winter_season",
            persist_state="session",
        )
    with right:
        site = st.selectbox(
            "Field or tunnel whose frosts end the season", start.sites, key="winter_site"
        )
    return {"season": int(season), "site": site}


def _beds(start: WinterStart) -> list[Mapping[str, object]]:
    unit = "ft" if _us() else "m"
    st.html(markup.caption("Beds", f"Lengths in {unit}; weeks of the year, both included."))
    first, last = start.free_weeks
    rows = _edited(
        f"winter_beds_{unit}",
        ("bed", "length", "from_week", "to_week"),
        [("Bed 1", USUAL_BED_FT if _us() else USUAL_BED_M, first, last)],
        {
            "bed": st.column_config.TextColumn("bed", required=True),
            "length": st.column_config.NumberColumn(f"length {unit}", min_value=0.1),
            **_weeks("free from week", "to week"),
        },
        "Change the beds",
    )
    return [
        {
            "name": _tidy(row["bed"]),
            "metres": _in_metres(_figure(row["length"])),
            "from_week": _whole(row["from_week"]),
            "to_week": _whole(row["to_week"]),
        }
        for row in rows
    ]


def _sowings(start: WinterStart) -> list[Mapping[str, object]]:
    each = "foot" if _us() else "metre"
    st.html(
        markup.caption(
            "Sowings that you could make",
            "One row for each crop and planting day; the plan takes those that pay. Hours are your "
            f"work per {each} of bed until the first cut.",
        )
    )
    hours = USUAL_HOURS_PER_M * (feet_to_m(1) if _us() else 1.0)
    rows = _edited(
        f"winter_sowings_{each}",
        ("crop", "planted", "hours", "speed"),
        [(crop, day, hours, USUAL_STEMS_PER_HOUR) for crop, day in start.sowings],
        {
            "crop": st.column_config.SelectboxColumn(
                "crop", options=[crop for crop, _ in start.sowings], required=True
            ),
            "planted": st.column_config.DateColumn("plant out on", format="YYYY-MM-DD"),
            "hours": st.column_config.NumberColumn(f"hours per {each}", min_value=0.0),
            "speed": st.column_config.NumberColumn("stems cut per hour", min_value=1.0),
        },
        "Change the sowings",
    )
    return [
        {
            "crop": row["crop"],
            "plant_out": [day] if (day := _day(row["planted"])) else None,
            "hours_per_metre": _per_metre(_figure(row["hours"])),
            "stems_per_hour": _figure(row["speed"]),
        }
        for row in rows
    ]


def _markets(start: WinterStart) -> list[Mapping[str, object]]:
    st.html(
        markup.caption(
            "What the markets want",
            "Stems per week: the least you promise and the most they take. Colours and uses "
            "separated by commas; none means all. Uses are words of a variety's habit. Days in the "
            "vase: the least that is asked; a variety without a test is then not sold there.",
        )
    )
    rows = _edited(
        "winter_markets",
        ("market", "crop", "colours", "from_week", "to_week", "least", "most", "uses", "vase"),
        [
            (each.market, each.crop, "", each.from_week, each.to_week, 0.0, USUAL_MOST, "", None)
            for each in start.selling
        ],
        {
            "market": st.column_config.SelectboxColumn(
                "market",
                options=list(dict.fromkeys(each.market for each in start.selling)),
                required=True,
            ),
            "crop": st.column_config.SelectboxColumn(
                "crop", options=list(dict.fromkeys(each.crop for each in start.selling))
            ),
            "colours": st.column_config.TextColumn("colours"),
            **_weeks("from week", "to week"),
            "least": st.column_config.NumberColumn("least stems", min_value=0.0),
            "most": st.column_config.NumberColumn("most stems", min_value=0.0),
            "uses": st.column_config.TextColumn("uses"),
            "vase": st.column_config.NumberColumn("days in the vase", min_value=0.5),
        },
        "Change what the markets want",
    )
    return [
        {
            "market": _tidy(row["market"]),
            "crops": [row["crop"]] if _tidy(row["crop"]) else None,
            "colours": _names(row["colours"]) or None,
            "from_week": _whole(row["from_week"]),
            "to_week": _whole(row["to_week"]),
            "at_least": _figure(row["least"]),
            "at_most": _figure(row["most"]),
            "uses": _names(row["uses"]) or None,
            "least_vase_life": _figure(row["vase"]),
        }
        for row in rows
    ]


def _limits(start: WinterStart) -> Mapping[str, object]:
    unit = "ft" if _us() else "m"
    st.html(markup.caption("Limits", "An empty field sets no limit."))
    budget = _amount("Most to pay for seed and raising", "budget")
    # Most growers need none of these; they are drawn once somebody opens them.
    with st.popover("Hours of work, poor seasons, shares, varieties to leave out"):
        hours = _amount("Hours of work available per week", "hours")
        floor = st.number_input(
            "Lowest average net you accept in poor seasons",
            value=None,
            key="winter_floor",
            persist_state="session",
            help="The mean of the worst fifth of the seasons. It may be below 0.",
        )
        least = st.number_input(
            f"Shortest sowing ({unit})",
            min_value=0.1,
            value=LEAST_FT if _us() else LEAST_M,
            key=f"winter_least_{unit}",
            persist_state="session",
        )
        share = st.number_input(
            "Largest share of a crop's bed for one variety (%)",
            min_value=1.0,
            max_value=100.0,
            value=None,
            key="winter_share",
            persist_state="session",
        )
        without = st.multiselect(
            "Varieties to leave out", start.varieties, key="winter_without", placeholder="none"
        )
        houses = st.multiselect(
            "Seed houses to order nothing from",
            start.houses,
            key="winter_houses",
            placeholder="none",
        )
        plugs: list[str] = []
        if start.plugs:
            plugs = st.multiselect(
                "Varieties to buy as plugs (young plants)",
                start.plugs,
                key="winter_plugs",
                placeholder="none",
            )
    return {
        "least_metres": _in_metres(least),
        "budget": budget,
        "hours_per_week": hours,
        "poor_season_net": floor,
        "largest_share": None if share is None else share / 100,
        "leave_out": list(without) or None,
        "without_houses": list(houses) or None,
        "plugs": list(plugs) or None,
        "wanted": _wanted(start) or None,
    }


def _wanted(start: WinterStart) -> Mapping[str, float]:
    """The least metres of each variety that is wanted whatever it earns."""
    unit = "ft" if _us() else "m"
    st.html(
        markup.caption(
            "Varieties you want", f"The least length of each over all sowings, in {unit}."
        )
    )
    rows = _edited(
        f"winter_wanted_{unit}",
        ("variety", "length"),
        [],
        {
            "variety": st.column_config.SelectboxColumn("variety", options=list(start.varieties)),
            "length": st.column_config.NumberColumn(f"length {unit}", min_value=0.1),
        },
        "Name varieties you want",
    )
    return {
        name: metres
        for row in rows
        if (name := _tidy(row["variety"])) and (metres := _in_metres(_figure(row["length"])))
    }


def _amount(label: str, key: str) -> float | None:
    return st.number_input(
        label, min_value=0.0, value=None, key=f"winter_{key}", persist_state="session"
    )


def _edited(
    key: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[object]],
    config: Mapping[str, ColumnConfig],
    button: str,
) -> list[Mapping[str, object]]:
    """The rows of a table that can be changed, those without any cell left out."""
    import pandas as pd

    frame = pd.DataFrame(list(rows), columns=list(columns))
    edited = folded_grid(frame, config, key, button, SENT_BY)
    return [
        {str(name): cell for name, cell in row.items()}
        for row in edited.to_dict("records")
        if any(map(_given, row.values()))
    ]


def _weeks(first: str, last: str) -> Mapping[str, ColumnConfig]:
    return {
        name: st.column_config.NumberColumn(words, min_value=1, max_value=53, step=1)
        for name, words in (("from_week", first), ("to_week", last))
    }


def _given(cell: object) -> bool:
    return cell is not None and cell == cell and cell != ""  # noqa: PLR0124 - an empty cell may be NaN


def _figure(cell: object) -> float | None:
    return float(cell) if _given(cell) and isinstance(cell, int | float) else None


def _whole(cell: object) -> int | None:
    figure = _figure(cell)
    return None if figure is None else int(figure)


def _tidy(cell: object) -> str | None:
    return " ".join(cell.split()) or None if isinstance(cell, str) else None


def _names(cell: object) -> list[str]:
    return [name for part in str(cell).split(",") if (name := _tidy(part))] if _given(cell) else []


def _day(cell: object) -> date | None:
    return date.fromisoformat(str(cell)[:10]) if _given(cell) and isinstance(cell, date) else None


def _us() -> bool:
    return units() is UnitSystem.US


def _in_metres(length: float | None) -> float | None:
    return feet_to_m(length) if length is not None and _us() else length


def _per_metre(per_length: float | None) -> float | None:
    return per_length / feet_to_m(1) if per_length is not None and _us() else per_length
