"""Page Records: what is typed into its grids and forms is checked and stored, once."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import pytest
from streamlit.proto.WidgetStates_pb2 import WidgetState
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import ElementTree

from dashboard.forms.forms import FARM, TRIAL
from dashboard.forms.plot_figures import STEMS_MEASURED
from trials import season
from trials.model.rows import Sheet

Show = Callable[..., AppTest]
PLOT = "P37"  # of the open trial


def words(page: AppTest) -> str:
    assert not page.exception, [each.message for each in page.exception]
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def tap(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label == label).click().run()


def form(page: AppTest, name: str) -> AppTest:
    widget(page, "record").select(name).run()
    assert not page.exception, [each.message for each in page.exception]
    return page


@pytest.fixture
def type_rows(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """From the next run on a grid has these cells, as a browser sends them."""
    sent: dict[str, str] = {}
    states_of = ElementTree.get_widget_states

    def with_cells(tree: ElementTree) -> Any:
        states = states_of(tree)
        states.widgets.extend(WidgetState(id=at, string_value=cells) for at, cells in sent.items())
        return states

    monkeypatch.setattr(ElementTree, "get_widget_states", with_cells)

    def typed(page: AppTest, rows: Mapping[int, Mapping[str, object]], grid: int = 0) -> None:
        edits = {"edited_rows": rows, "added_rows": [], "deleted_rows": []}
        sent.clear()
        sent[page.get("dataframe")[grid].proto.id] = json.dumps(edits)

    return typed


def stored(farm: Any, sheet: Sheet, *columns: str) -> list[Sequence[object]]:
    rows = season.stored(farm.store, sheet)
    return [tuple(row) for row in rows[list(columns)].itertuples(index=False)]


@pytest.mark.slow
def test_every_form_opens(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "records")
    for name in (*FARM, *TRIAL):
        form(page, name)
        assert "stored" in " ".join(each.label for each in page.expander)


@pytest.mark.slow
def test_a_field_and_its_season_are_stored_together(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    page = form(show(hostile_farm.store, "records"), "Fields, seasons and frosts")
    type_rows(page, {0: {"site": "Low tunnel", "place": "by the well", "bed_width_m": 1.2}})
    said = words(tap(page, "Check and store"))
    assert "Everything is stored." in said
    assert ("Low tunnel", "by the well", 1.2) in stored(
        hostile_farm, Sheet.SITES, "site", "place", "bed_width_m"
    )
    type_rows(
        page,
        {1: {"season": 2027, "site": "Low tunnel", "starts_on": "2027-03-01",
             "ends_on": "2027-10-31", "first_autumn_frost": "2027-10-10"}},
        grid=1,
    )  # fmt: skip
    assert "Everything is stored." in words(tap(page, "Check and store"))
    assert (2027, "Low tunnel", date(2027, 10, 10)) in stored(
        hostile_farm, Sheet.SEASONS, "season", "site", "first_autumn_frost"
    )


def test_what_is_wrong_is_said_by_row_and_field_and_stays_in_the_grid(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    page = form(show(hostile_farm.store, "records"), "Fields, seasons and frosts")
    type_rows(page, {1: {"site": "Low tunnel"}})
    said = words(tap(page, "Check and store"))
    assert "Nothing was stored. Correct this and try again:" in said
    assert "Fields and tunnels, row 2, Where it is: The cell is empty." in said
    assert "Fields and tunnels, row 2, Width of a bed, m: The cell is empty." in said
    assert len(stored(hostile_farm, Sheet.SITES, "site")) == 1


def test_an_empty_form_stores_nothing(hostile_farm: Any, show: Show) -> None:
    page = form(show(hostile_farm.store, "records"), "Varieties")
    before = len(season.history(hostile_farm.store))
    assert "Nothing is filled in yet." in words(tap(page, "Check and store"))
    assert len(season.history(hostile_farm.store)) == before


def test_plots_that_were_not_counted_stay_without_a_count(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    page = form(show(hostile_farm.store, "records"), "Stand counts")
    type_rows(page, {0: {"living": 0}, 2: {"living": 11}})
    assert "Still needed: the day" in words(tap(page, "Store the counts"))
    page.date_input[0].set_value(date(2026, 8, 20))
    assert "Everything is stored." in words(tap(page, "Store the counts"))
    rows = season.stored(hostile_farm.store, Sheet.STAND_COUNTS)
    counted = rows[rows["counted_on"] == date(2026, 8, 20)]
    assert dict(zip(counted["plot"], counted["living"], strict=True)) == {PLOT: 0, "P39": 11}


@pytest.mark.slow
def test_an_unlikely_count_waits_for_its_reason(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    page = form(show(hostile_farm.store, "records"), "Stand counts")
    page.date_input[0].set_value(date(2026, 8, 20))
    type_rows(page, {0: {"living": 99}})
    said = words(tap(page, "Store the counts"))
    assert "Some of it is unlikely. Nothing was stored." in said
    assert f"Stand counts, plot {PLOT}, Living plants: " in said
    why = next(field for field in page.text_input if field.label.startswith("If all of it is true"))
    why.set_value("two plots were one")
    assert "Everything is stored." in words(tap(page, "Store it with this reason"))
    assert (PLOT, 99) in stored(hostile_farm, Sheet.STAND_COUNTS, "plot", "living")


@pytest.mark.slow
def test_measured_stems_are_numbered_on(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    """The plot has three measured stems of that day already."""
    page = form(show(hostile_farm.store, "records"), "Stem samples")
    page.date_input[0].set_value(date(2026, 7, 25))
    type_rows(page, {0: {"1": 51.5, str(STEMS_MEASURED): 60}})
    assert "Everything is stored." in words(tap(page, "Store the lengths"))
    rows = season.stored(hostile_farm.store, Sheet.STEM_SAMPLES)
    mine = rows[(rows["plot"] == PLOT) & (rows["cut_on"] == date(2026, 7, 25))]
    assert dict(zip(mine["stem"], mine["length_cm"], strict=True))[4] == 51.5
    assert sorted(mine["stem"]) == [1, 2, 3, 4, 5]


@pytest.mark.slow
def test_a_score_needs_its_trait(
    hostile_farm: Any, show: Show, type_rows: Callable[..., None]
) -> None:
    page = form(show(hostile_farm.store, "records"), "Scores and vase life")
    page.date_input[0].set_value(date(2026, 8, 20))
    type_rows(page, {1: {"value": 8.5}})
    assert "Still needed: what is scored" in words(tap(page, "Store the scores"))
    trait = next(box for box in page.selectbox if box.label == "What is scored")
    trait.select("vase life, days")
    assert "Everything is stored." in words(tap(page, "Store the scores"))
    assert ("P38", "vase life, days", 8.5) in stored(
        hostile_farm, Sheet.SCORES, "plot", "trait", "value"
    )


EVENT_FORM = "Events: frost, spray, loss, swap, note"


@pytest.mark.slow
def test_events_are_stored_for_the_trial_and_for_plots(hostile_farm: Any, show: Show) -> None:
    page = form(show(hostile_farm.store, "records"), EVENT_FORM)
    page.date_input[0].set_value(date(2026, 10, 2))
    assert "Everything is stored." in words(tap(page, "Store the event"))
    kind = next(box for box in page.selectbox if box.label == "What happened")
    kind.select("lost").run()
    page.date_input[0].set_value(date(2026, 8, 20))
    assert "Still needed: the plots, why." in words(tap(page, "Store the event"))
    page.multiselect[0].set_value([PLOT, "P38"])
    next(f for f in page.text_input if f.label == "Why, or a note").set_value("voles")
    assert "Everything is stored." in words(tap(page, "Store the event"))
    events = stored(hostile_farm, Sheet.EVENTS, "plot", "kind", "reason")
    assert {(None, "frost", None), (PLOT, "lost", "voles"), ("P38", "lost", "voles")} <= set(events)


@pytest.mark.slow
def test_a_swap_names_both_plots(hostile_farm: Any, show: Show) -> None:
    page = form(show(hostile_farm.store, "records"), EVENT_FORM)
    next(b for b in page.selectbox if b.label == "What happened").select("labels swapped").run()
    page.date_input[0].set_value(date(2026, 8, 20))
    assert "Still needed: the plots, the other plot, why." in words(tap(page, "Store the event"))
    for label, plot in (("One plot", PLOT), ("The other plot", "P38")):
        next(box for box in page.selectbox if box.label == label).select(plot)
    next(f for f in page.text_input if f.label == "Why, or a note").set_value("stakes mixed up")
    assert "Everything is stored." in words(tap(page, "Store the event"))
    assert (PLOT, "P38", "labels swapped") in stored(
        hostile_farm, Sheet.EVENTS, "plot", "other_plot", "kind"
    )


def test_a_spray_has_the_form_with_the_re_entry_time(hostile_farm: Any, show: Show) -> None:
    page = form(show(hostile_farm.store, "records"), EVENT_FORM)
    next(b for b in page.selectbox if b.label == "What happened").select("sprayed").run()
    labels = [field.label for field in page.text_input]
    assert "Re-entry time on the label, in hours" in labels


def test_a_blank_file_is_offered_for_each_sheet(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "records")
    widget(page, "template").select(Sheet.STAND_COUNTS).run()
    assert not page.exception
    (button,) = page.get("download_button")
    assert button.proto.label == "Download stand_counts.csv"
