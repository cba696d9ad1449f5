"""The winter plan: what the markets want and the beds hold, the plan as pictures, and its files."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard import winter_data as data
from dashboard.access.visitor import visitor
from dashboard.pictures import show_where_any
from dashboard.settings import LONGEST_FARM, paper, units
from dashboard.stock_form import show_stock
from dashboard.theme import markup
from dashboard.waiting import result_of
from dashboard.what_if import show_winter_if
from dashboard.winter_form import asked_wishes
from trials.decide.planted import WinterChoice
from trials.errors import TallybedError
from trials.model.work_safety import ORDERING, SOWING, cautions
from trials.report.order_page import parcel_sentence, parcel_table
from trials.report.pictures.frame import HALF_PX, WIDE_PX
from trials.report.pictures.winter import beds_picture, money_picture, stems_picture
from trials.report.remedies import page_words
from trials.report.winter_page import (
    gap_sentence,
    grounds,
    instead_sentence,
    not_grown_sentences,
    order_sentence,
    vase_sentences,
)
from trials.report.winter_tables import (
    PLUGS_NOTE,
    earned_table,
    in_money,
    markets_table,
    needs_table,
    plantings_table,
)
from trials.season import WinterStart

WISHES, FROM_FILE = "winter_wishes", "winter_from_file"


def ask(start: WinterStart) -> None:
    """The wishes, filled in or brought along."""
    with st.popover("Use a file of an earlier winter plan instead"):
        file = st.file_uploader("Winter plan file", type=["toml"], key="winter_file")
        if st.button("Make the plan from this file") and file is not None:
            st.session_state[WISHES] = data.wishes_text(file.name, file.getvalue())
            st.session_state[FROM_FILE] = "the file"
    text = asked_wishes(start)
    if text is not None:
        st.session_state[WISHES] = text
        st.session_state[FROM_FILE] = "the form"


def show(found: WinterChoice, text: str) -> None:
    """What the plan earns, its pictures and tables, and the files to take along."""
    plan = found.plan
    st.html(
        markup.section(f"The plan for {found.season}")
        + markup.words(
            [
                markup.word("In an average season", in_money(plan.expected, found)),
                markup.word("In the worst fifth of seasons", in_money(plan.poor, found), "unsure"),
                markup.word("The seed order", in_money(float(found.order.total), found)),
            ]
        )
        + markup.note(gap_sentence(found))
    )
    show_files(found, text)
    if not found.plantings:
        st.html(markup.alert("No sowing pays with these prices and limits, so nothing is planted."))
        return
    show_beds(found)
    show_markets(found)
    st.html(markup.section("Money by variety"))
    show_where_any(partial(money_picture, found), WIDE_PX)
    with st.expander("Money by variety as a table"):
        st.html(markup.table(earned_table(found)))
    show_winter_if(found)
    show_order(found)
    st.html(markup.section("Why"))
    with st.expander("The plots and cuts behind each sowing"):
        st.html(markup.lines(grounds(found)))
    for words in not_grown_sentences(found):
        st.html(markup.note(words))


def show_beds(found: WinterChoice) -> None:
    """The sowings in their beds, as a picture and as a table."""
    st.html(markup.section("Beds by week"))
    show_where_any(partial(beds_picture, found, units()), WIDE_PX)
    st.html(
        markup.caption("Sowing list")
        + markup.table(plantings_table(found, units()))
        + (markup.note(PLUGS_NOTE) if any(each.plugs for each in found.plantings) else "")
        + markup.note(" ".join(cautions(*SOWING)))
    )


def show_markets(found: WinterChoice) -> None:
    """Each market's stems by week next to what it wants."""
    st.html(markup.section("Stems by week against demand", "Averages over the simulated seasons."))
    columns = st.columns(2, gap="large")
    for place in range(len(found.winter.outlets)):
        with columns[place % 2]:
            show_where_any(partial(stems_picture, found, place), HALF_PX)
    said = vase_sentences(found)
    st.html(markup.table(markets_table(found)) + (markup.lines(said) if said else ""))


def show_order(found: WinterChoice) -> None:
    """The one seed order for all crops, house by house."""
    currency = found.order.currency or ""
    st.html(
        markup.section("One seed order for all crops", order_sentence(found))
        + "".join(
            markup.caption(parcel.house)
            + markup.table(parcel_table(parcel))
            + markup.note(parcel_sentence(parcel, currency).capitalize() + ".")
            for parcel in found.order.parcels
        )
        + (markup.note(" ".join(cautions(*ORDERING))) if found.order.parcels else "")
        + (markup.note(words) if (words := instead_sentence(found)) else "")
        + markup.caption("From plants to seed")
        + markup.table(needs_table(found))
    )


def show_files(found: WinterChoice, text: str) -> None:
    """The order per house, sowing list and calendar to take along, and the wishes to keep."""
    farm = st.text_input(
        "Name of the farm, for every sheet",
        max_chars=LONGEST_FARM,
        key="farm",
        persist_state="session",
    )
    name = f"winter-{found.season}"
    with st.container(horizontal=True):
        st.download_button(
            "Orders, sowing list and calendar (ZIP)",
            data.winter_files(found, farm or "Winter plan", paper()),
            f"{name}.zip",
            "application/zip",
            on_click="ignore",
            type="primary",
        )
        st.download_button(
            "Calendar (ICS)",
            data.winter_calendar(found),
            f"{name}.ics",
            "text/calendar",
            on_click="ignore",
        )
        st.download_button(
            "Save plan file",
            text,
            f"{name}.toml",
            "application/toml",
            on_click="ignore",
        )


def show_plan() -> None:
    """The plan of the newest wishes, or why there is none."""
    text = st.session_state.get(WISHES)
    if text is None:
        return
    try:
        answer = data.winter.begun(text, st.session_state[FROM_FILE])
        found = result_of(answer, "Calculating the winter plan", forget_wishes)
    except TallybedError as refused:
        st.html(markup.alert(f"{page_words(refused, visitor().role)}\nNo plan was made."))
        return
    if found is not None:
        show(found, text)


def forget_wishes() -> None:
    """Ask for no plan any more; what was filled in stays in the form."""
    st.session_state.pop(WISHES, None)


st.html(markup.heading("What to sow for whom", eyebrow="The winter plan"))
start = data.winter_start()
if start.sowings and start.selling:
    ask(start)
    show_plan()
    show_stock(start.season)
elif start.sowings:
    st.html(
        markup.note(
            "A winter plan needs what your markets pay per stem. Add a file of prices on page Home."
        )
    )
    show_stock(start.season)
else:
    st.html(markup.note("A winter plan needs a closed trial of each crop. Close one on page Home."))
