"""Each screen run as Streamlit runs it: what it shows, what it refuses, what it records."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from trials import season
from trials.decide import Sowing
from trials.errors import TrialState
from trials.model.rows import Signed
from trials.report.answer import answer_words
from trials.report.choice_page import reason_words
from trials.report.comparison_tables import means_table
from trials.report.figures import figures_of, measure_figures
from trials.report.order_page import parcel_sentence, together_sentence, total_sentence
from trials.report.pages import completeness_lines
from trials.report.words import plain_words

Show = Callable[..., AppTest]
FROST = date(2026, 10, 1)


def bodies(page: AppTest) -> str:
    """All our own HTML of the page."""
    assert not page.exception
    return "\n".join(element.proto.body for element in page.get("html"))


def words(page: AppTest) -> str:
    """What the page says, without its tags."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies(page))))


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def table_rows(page: AppTest, first_heading: str) -> list[list[str]]:
    """The cells of the table that begins with that heading."""
    for table in re.findall(r"<table.*?</table>", bodies(page), flags=re.DOTALL):
        headings = [html.unescape(h) for h in re.findall(r"<th .*?>(.*?)</th>", table)]
        if headings[0] == first_heading:
            return [
                [html.unescape(re.sub(r"<[^>]+>", "", c)) for c in re.findall(r"<td.*?</td>", row)]
                for row in re.findall(r"<tr>(.*?)</tr>", table.partition("<tbody>")[2])
            ]
    raise AssertionError(f"no table begins with {first_heading!r}")


def labelled(fields: Any, label: str) -> Any:
    """The one field whose label starts so."""
    (found,) = [field for field in fields if field.label.startswith(label)]
    return found


def ended_on(page: AppTest) -> Any:
    return labelled(page.date_input, "The season ended on")


def close_button(page: AppTest) -> Any:
    return labelled(page.button, "Close ")


def closing_form(page: AppTest) -> AppTest:
    """The closing form of the one open trial, filled in whole."""
    ended_on(page).set_value(FROST)
    labelled(page.text_input, "What ended it").set_value("first frost")
    labelled(page.checkbox, "I have seen").check()
    return page


# ------------------------------------------------------------------------------ the season


def test_the_newest_season_is_shown_with_what_each_trial_needs(
    demo_store: Path, show: Show
) -> None:
    page = show(demo_store)
    said = words(page)
    assert "Which cosmos to reorder, and does pinching pay?" in said
    assert "Which cosmos give the most stems we can sell?" not in said, "that is of 2024"
    assert said.count("compare it") == 4


def test_another_season_can_be_chosen(demo_store: Path, show: Show) -> None:
    page = show(demo_store)
    widget(page, "season").set_value(2024).run()
    assert "Which cosmos give the most stems we can sell?" in words(page)


def test_the_card_says_what_the_records_lack(demo_store: Path, show: Show) -> None:
    found = completeness_lines(season.completeness(demo_store, "cosmos-2026"))
    said = words(show(demo_store))
    assert all(line in said for line in found)


@pytest.mark.slow
def test_a_trial_is_not_closed_until_everything_is_filled_in(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store)
    ended_on(page).set_value(FROST)
    close_button(page).click().run()
    assert "Still needed: what ended it, the tick" in words(page)
    assert season.closing(hostile_farm.store, hostile_farm.open_trial) is None


@pytest.mark.slow
def test_a_trial_is_closed_once_and_its_card_says_so(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store)
    close_button(closing_form(page)).click().run()
    closed = season.closing(hostile_farm.store, hostile_farm.open_trial)
    assert closed is not None
    assert (closed.closed_on, closed.reason) == (FROST, "first frost")
    assert "Closed. Its records are fixed now." in words(page)
    assert "The season ended on" not in {field.label for field in page.date_input}


@pytest.mark.slow
def test_a_second_visitor_learns_that_the_trial_is_closed(hostile_farm: Any, show: Show) -> None:
    page = closing_form(show(hostile_farm.store))
    season.close(hostile_farm.store, hostile_farm.open_trial, FROST, "another said so")
    close_button(page).click().run()
    assert "another said so" in words(page)
    with pytest.raises(TrialState):
        season.close(hostile_farm.store, hostile_farm.open_trial, FROST, "again")


@pytest.mark.slow
def test_a_day_before_the_last_cut_is_refused_with_the_remedy(
    hostile_farm: Any, show: Show
) -> None:
    page = closing_form(show(hostile_farm.store))
    ended_on(page).set_value(date(2026, 7, 1))
    close_button(page).click().run()
    assert "its last cut is on 2026-07-25" in words(page)
    assert season.closing(hostile_farm.store, hostile_farm.open_trial) is None


def upload(page: AppTest, path: Path) -> AppTest:
    page.file_uploader[0].set_value([(path.name, path.read_bytes(), "text/csv")])
    button = next(b for b in page.button if b.label == "Check and add files")
    return button.click().run()


@pytest.mark.slow
def test_records_are_brought_in(hostile_farm: Any, show: Show) -> None:
    rows = [("New", "aster", "", "")]
    path = hostile_farm.write("varieties", "variety,crop,colour,habit", rows)
    page = upload(show(hostile_farm.store), path)
    assert "Everything is stored." in words(page)
    assert ["varieties", "1", "0"] in table_rows(page, "records")
    again = next(b for b in page.button if b.label == "Check and add files")
    again.click().run()
    assert "Everything is stored." in words(page), "a second tap is told what the first one did"


@pytest.mark.slow
def test_what_was_taken_back_is_brought_in_again_by_the_same_upload(
    hostile_farm: Any, show: Show
) -> None:
    def tap(page: AppTest) -> AppTest:
        label = "Check and add files"
        return next(b for b in page.button if b.label == label).click().run()

    def loads() -> list[int]:
        return [entry.number for entry in season.history(hostile_farm.store)][before:]

    before = len(season.history(hostile_farm.store))
    count = [("P37", "2026-08-01", 11)]
    path = hostile_farm.write("stand_counts", "plot,counted_on,living", count)
    page = upload(show(hostile_farm.store), path)
    for _ in range(2):
        assert len(loads()) == 1
        assert ["stand counts", "1", "0"] in table_rows(page, "records")
        tap(page)
    season.undo(hostile_farm.store, loads()[-1], Signed("Ann", "another day"))
    for _ in range(2):
        tap(page)
        assert ["stand counts", "1", "0"] in table_rows(page, "records")
        assert len(loads()) == 3, "brought, taken back, and brought once more"
    other = Signed("Ann", "no, that day")
    season.undo(hostile_farm.store, loads()[-1], other)
    season.load(hostile_farm.store, [path])
    tap(page)
    assert "Nothing new: every row was already stored." in words(page)


@pytest.mark.slow
def test_faulty_records_are_listed_with_their_place_and_nothing_is_stored(
    hostile_farm: Any, show: Show
) -> None:
    rows = [("P99Z", "2026-07-25", "picked", 40, 3, ""), ("P40", "when?", "picked", 40, 3, "")]
    headings = "plot,cut_on,outcome,grade_cm,stems,cull_reason"
    page = upload(show(hostile_farm.store), hostile_farm.write("cuts", headings, rows))
    found = table_rows(page, "file")
    assert [row[:3] for row in found] == [["cuts.csv", "2", "plot"], ["cuts.csv", "3", "cut_on"]]
    assert all(row[3] and row[4] for row in found)


def test_an_empty_store_says_how_to_begin(tmp_path: Path, show: Show) -> None:
    store = tmp_path / "farm.tallybed"
    sites = tmp_path / "sites.csv"
    sites.write_text("site,place,bed_width_m,note\nTop,Hill,1.2,\n", encoding="utf-8")
    season.load(store, [sites])
    for screen in ("home", "compare", "choose", "order"):
        assert "No trials yet" in words(show(store, screen))


# ------------------------------------------------------------------------------- the trial


@pytest.mark.slow
def test_a_closed_trial_says_what_its_figures_rest_on(demo_store: Path, show: Show) -> None:
    said = words(show(demo_store, "compare"))
    found = season.records_digest(demo_store, "cosmos-2026")
    assert found.changed_after_closing is False
    assert f"digest of the records (SHA-256): {found.digest}" in said


@pytest.mark.slow
def test_the_trial_shows_the_figures_of_the_comparison(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    found = season.compare_trial(demo_store, "cosmos-2026")
    figures = figures_of(found)
    expected = means_table(found, "variety", figures)
    assert table_rows(page, "variety")[0] == list(expected.rows[0])
    said = words(page)
    sentences = plain_words(found)
    assert all(s in said for s in (sentences.differs, sentences.not_told, sentences.not_answered))
    assert answer_words(found, "variety", figures).sentence in said
    assert said.index("leads with") < said.index("What differs") < said.index("Every variety")


def test_pairs_are_filtered_by_verdict_and_by_entry(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    assert {row[-1] for row in table_rows(page, "pairs of variety")} == {"more"}
    widget(page, "pair_verdict of cosmos-2026 variety").set_value("all").run()
    widget(page, "pair_entry of cosmos-2026 variety").select("Wrenlatch").run()
    rows = table_rows(page, "pairs of variety")
    assert len(rows) == 11
    assert all("Wrenlatch" in row[0] for row in rows)


def test_another_factor_can_be_looked_at(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    widget(page, "factor of cosmos-2026").set_value("pinch").run()
    assert len(table_rows(page, "pinch")) == 2


@pytest.mark.slow
def test_lengths_are_in_the_readers_unit(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    widget(page, "measure of cosmos-2026").select("stem_length_cm").run()
    metric = float(table_rows(page, "variety")[0][2])
    page.session_state["units"] = "US"  # for this visit: the store is shared
    page.run()
    assert float(table_rows(page, "variety")[0][2]) == pytest.approx(metric / 2.54, abs=0.06)


@pytest.mark.slow
def test_plots_with_missed_picks_can_be_left_out(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    page.toggle[0].set_value(True).run()
    plots = season.plots(demo_store, "cosmos-2026")
    left = int(((plots["missed_picks"] == 0) & plots["stems_per_plant"].notna()).sum())
    assert f"{left} plots" in words(page)


def test_without_replication_the_reason_comes_first_and_no_interval(
    demo_store: Path, show: Show
) -> None:
    page = show(demo_store, "compare", trial="cosmos-bed-2026")
    said = words(page)
    assert said.index("Why pinch cannot be tested here") < said.index("Stems per plant by pinch")
    assert "What would answer it" in said
    assert len(table_rows(page, "pinch")[0]) == 3, "level, plots, mean"
    assert "one plot of each cannot show whether that is more than chance" in said


@pytest.mark.slow
def test_a_choice_for_one_trial_does_not_hold_in_the_next(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    page.toggle[0].set_value(True).run()
    widget(page, "measure of cosmos-2026").select("stem_length_cm").run()
    widget(page, "trial").select("cosmos-2025").run()
    assert page.toggle[0].value is False
    assert "Stems per plant by variety" in words(page)
    widget(page, "trial").select("cosmos-2026").run()
    assert page.toggle[0].value is True, "that trial's own choice is as it was"


@pytest.mark.slow
def test_an_unknown_trial_in_the_address_is_said(demo_store: Path, show: Show) -> None:
    said = words(show(demo_store, "compare", trial="cosmo-2026"))
    assert "No trial is called 'cosmo-2026'. Did you mean 'cosmos-2026'?" in said
    assert "Shown is cosmos-2026." in said
    assert "No trial is called" not in words(show(demo_store, "compare", trial="cosmos-2025"))


def test_every_picture_can_be_chosen_and_saved(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "compare")
    key = "picture of cosmos-2026 variety"
    labels = list(widget(page, key).options)
    assert len(labels) >= 9
    for label in labels:
        widget(page, key).set_value(widget(page, key).options[labels.index(label)]).run()
        assert bodies(page).count("tb-picture wide") == 2, label
        assert [b.proto.label for b in page.get("download_button")][:6] == [
            "Save PNG",
            "Save SVG",
            "Save CSV",
        ] * 2


@pytest.mark.slow
@pytest.mark.parametrize("screen", ["home", "compare", "choose", "order"])
def test_names_from_the_records_are_never_markup(
    hostile_farm: Any, show: Show, screen: str
) -> None:
    season.close(hostile_farm.store, hostile_farm.open_trial, FROST, "![f](http://e/f.png)")
    page = show(hostile_farm.store, screen)
    names = (*hostile_farm.varieties, hostile_farm.closed_trial, hostile_farm.crop)
    assert not re.search(r"<(img|script|b|i|a)\b(?! class=\"(sign|tb-picture))", bodies(page))
    for kind in ("markdown", "caption", "error", "warning", "info", "success", "toast"):
        shown: list[Any] = list(page.get(kind))
        for element in shown:
            assert not any(name in element.value for name in names)
    for button in (*page.button, *page.get("expander"), *page.get("page_link")):
        label = button.proto.label
        assert not any(name in label for name in names)


# --------------------------------------------------------------------------- the standings


@pytest.mark.slow
def test_the_standings_give_every_verdict_with_its_reasons(demo_store: Path, show: Show) -> None:
    said = words(show(demo_store, "choose"))
    choice = season.choose(demo_store, "cosmos")
    figures = measure_figures(choice.measure)
    for standing in choice.standings:
        assert f"{standing.entry} " in said
        for reason in standing.reasons:
            assert reason_words(reason, figures) in said
    assert said.count("too short to sell") >= 3


@pytest.mark.slow
def test_a_changed_rule_takes_effect_at_once(demo_store: Path, show: Show) -> None:
    """Dwarfs stay too short by the stems that were graded; whom the chance alone kept out, not."""
    page = show(demo_store, "choose")
    wanted = r"at least 80(?: |\u00a0)?% is wanted"
    before = bodies(page)
    widget(page, "rule_tall").set_value(0).run()
    assert bodies(page) != before
    assert not re.search(wanted, bodies(page))


def test_an_open_trial_is_refused_with_the_way_to_close_it(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "choose")
    assert "is still open" in words(page)
    ways = [link.proto.label for link in page.get("page_link")]
    assert any(way.startswith("See what each") for way in ways)


# ------------------------------------------------------------------------------- the order


@pytest.mark.slow
def test_the_order_covers_the_varieties_to_reorder(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "order")
    choice = season.choose(demo_store, "cosmos")
    assert page.multiselect[0].value == list(choice.reordered)
    ordering = season.order(demo_store, choice, Sowing(bed_metres=20, varieties=choice.reordered))
    assert total_sentence(ordering).splitlines()[0] in words(page)
    assert [b.proto.label for b in page.get("download_button")] == [
        "Order to print (PDF)",
        "Order for a spreadsheet (CSV)",
    ]


@pytest.mark.slow
def test_a_budget_that_does_not_reach_says_what_is_left_out(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "order")
    widget(page, "budget").set_value(15.0).run()
    assert "seeds not ordered, because the budget is too small" in words(page)


@pytest.mark.slow
def test_the_order_takes_a_year_of_prices_and_a_currency(
    demo_store: Path, tmp_path: Path, show: Show
) -> None:
    store = tmp_path / "farm.tallybed"
    shutil.copy(demo_store, store)
    houses, items = tmp_path / "seed_houses.csv", tmp_path / "seed_items.csv"
    terms = "house,currency,shipping,free_shipping_from,minimum_order\n"
    houses.write_text(f"{terms}Thistlemere Seeds,USD,4.00,,0.00\n")
    choice = season.choose(store, "cosmos")
    heading = "house,item,variety,seeds,price,from_packs,available,price_year\n"
    rows = [f"Thistlemere Seeds,{name},{name},50,2.00,1,yes,2031" for name in choice.reordered]
    items.write_text(heading + "\n".join(rows) + "\n")
    season.load(store, [houses, items])
    page = show(store, "order")
    sowing = Sowing(bed_metres=20, varieties=choice.reordered)
    boxes = {box.label: box for box in page.selectbox}
    boxes["Order in"].set_value("USD").run()
    asked = season.order(store, choice, sowing, currency="USD")
    assert total_sentence(asked).splitlines()[0] in words(page)
    assert "Thistlemere Seeds" in words(page)
    boxes = {box.label: box for box in page.selectbox}
    boxes["Order in"].set_value(None)
    boxes["Price lists up to the year"].set_value(2026).run()
    before = season.order(store, choice, sowing, prices=2026)
    assert total_sentence(before).splitlines()[0] in words(page)


@pytest.mark.slow
def test_several_crops_are_ordered_together_and_say_what_it_saves(
    demo_store: Path, show: Show
) -> None:
    page = show(demo_store, "order")
    page.session_state["order_for"] = "Several crops in one order"
    page.run()
    crops = page.multiselect[0].value
    assert set(crops) == {"cosmos", "plume celosia", "zinnia"}
    widget(page, "bed_m of zinnia").set_value(8.0).run()
    choices = [season.choose(demo_store, crop) for crop in crops]
    metres = {"zinnia": 8.0}
    joint = season.order_together(
        demo_store,
        [
            season.CropPlan(each, Sowing(metres.get(each.crop, 20.0), varieties=each.reordered))
            for each in choices
        ],
    )
    said = words(page)
    assert total_sentence(joint.crops[0]).splitlines()[0] in said
    assert together_sentence(joint) in said
    for parcel in joint.order.parcels:
        assert parcel_sentence(parcel, "EUR")[1:] in said
    for crop in crops:
        assert f"From beds to seed: {crop}" in said
    assert len(page.get("download_button")) == 2
    page.multiselect[0].set_value([]).run()
    assert "Choose at least one crop" in words(page)


@pytest.mark.slow
def test_without_a_variety_nothing_is_ordered(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "order")
    page.multiselect[0].set_value([]).run()
    assert "Choose at least one variety" in words(page)


@pytest.mark.slow
def test_feet_of_bed_are_the_same_bed_as_metres(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "order")
    widget(page, "bed_m").set_value(30.48).run()
    metric = table_rows(page, "variety")
    page.session_state["units"] = "US"  # for this visit: the store is shared
    page.run()
    widget(page, "bed_ft").set_value(100.0).run()
    us = table_rows(page, "variety")
    assert [row[1] for row in us] == ["25 ft"] * 4  # shared by the four that tie
    assert us[0][2:] == metric[0][2:]


def test_rules_set_on_the_standings_hold_for_the_order(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "choose")
    widget(page, "rule_tall").set_value(100).run()
    page.switch_page("screens/order.py").run()
    assert page.multiselect[0].value == []  # no chance is 100 %: all are dropped
