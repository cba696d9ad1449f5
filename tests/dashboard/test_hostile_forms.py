"""Hostile text in every field of every page: refused, or kept as it is, and shown as text."""

from __future__ import annotations

import ast
import html
import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from streamlit.proto.WidgetStates_pb2 import WidgetState
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import ElementTree

from dashboard import data, kept, waiting
from dashboard.plan_form import FIELDS
from tests.photographs import photo
from trials import season
from trials.model.rows import Sheet
from trials.model.trial import Role
from trials.paper.page import LONGEST_FARM
from trials.records.rules.cells import unseen

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]
DASHBOARD = Path(data.__file__).parent
KINDS: Mapping[str, list[str]] = json.loads(
    (Path(__file__).parents[1] / "hostile_texts.json").read_text("utf-8")
)
# A browser sends no halves of characters; a table's cells come as JSON, which can hold them.
TYPED = {
    kind: " ".join(texts)
    for kind, texts in KINDS.items()
    if not any(0xD800 <= ord(c) <= 0xDFFF for text in texts for c in text)
}
# A form is filled in with everything at once that a page shows as text, and with what is refused
# in some fields. What has a kind of its own ("markup" and such) has no room for all of it.
SEEN = ("markup", "markdown", "streamlit", "sql", "paths", "templates")
TYPED["all seen"] = " ".join(TYPED[kind] for kind in SEEN)
SOME = ("all seen", "nul", "unicode")
SHORT = ("streamlit", "nul")  # for names, which have no room for all of it
APART = [TYPED[kind] for kind in (*SOME, "formulas", "terminal", "long")]  # all, as few texts
VISIBLE = "".join(KINDS[kind][0] for kind in ("markdown", "markup", "formulas"))
DAY = date(2026, 8, 5)
FROST = date(2026, 10, 1)
SCREENS = (
    *("home", "plan", "tally", "records", "compare", "choose", "order", "winter", "history"),
    *("backups", "varieties"),
)


# ------------------------------------------------------------------------ what a page may hold

OWN_TAGS = {
    *("p", "h1", "h2", "h3", "section", "div", "span", "ul", "li", "b", "i", "br", "style"),
    *("table", "thead", "tbody", "tr", "th", "td", "details", "summary", "a", "img"),
}
OWN_ATTRIBUTES = {"class", "style", "role", "scope", "data-label", "href", "target", "alt", "src"}
OWN_ATTRIBUTES |= {"width", "height"}
OWN_PICTURES = ("data:image/svg+xml;base64,", "data:image/jpeg;base64,")
OWN_ADDRESSES = re.compile(
    r"/|/sign-out|/photo/[0-9a-f]{64}|/plots(\?plot=[\w%.~-]+&day=\d{4}-\d\d-\d\d)?", re.ASCII
)


class OwnHtml(HTMLParser):
    """Complains of anything that is not of our own making."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in OWN_TAGS, tag
        for name, value in attrs:
            assert name in OWN_ATTRIBUTES, (tag, name)
            assert name != "href" or OWN_ADDRESSES.fullmatch(str(value)), value
            assert name != "src" or str(value).startswith(OWN_PICTURES)
            assert name != "style" or re.fullmatch(r"(width|background):[#\w.%]+", str(value))


# Of the strings a page is made of, those which the browser never reads as Markdown or HTML.
PLAIN = {
    *("id", "form_id", "html.body", "vega_lite_chart.spec", "vega_lite_chart.alt"),
    *("selectbox.options", "multiselect.options", "placeholder", "default", "value", "raw_value"),
    "dataframe.columns",  # what a column's cells may hold: the grid draws it as text on a canvas
    *(
        "icon",
        "set_value",
        "url",
        "query_params",
        "query_string",
        "page_script_hash",
        "url_pathname",
    ),
}


def strings(message: Any, at: str = "") -> Iterator[tuple[str, str]]:
    """Every text a page is made of, with its place."""
    for field, value in message.ListFields():
        name = f"{at}.{field.name}".lstrip(".")
        if field.type == field.TYPE_STRING:
            yield from ((name, v) for v in ([value] if isinstance(value, str) else value))
        elif field.type == field.TYPE_MESSAGE:
            for each in [value] if hasattr(value, "ListFields") else value:
                if hasattr(each, "ListFields"):
                    yield from strings(each, name)


def is_plain(place: str) -> bool:
    parts = place.split(".")
    return bool({place, parts[-1], ".".join(parts[-2:])} & PLAIN)


# Whatever of the corpus Markdown, HTML, or Streamlit after them would make something of.
LIVE = re.compile(
    r"(?<!\\)(<[a-zA-Z/]|!\[|\]\(|\*\*|`\w|\$\S|:red\[|:material/|:smile:|-> )|"
    r"\w@\w|https?://e\.|www\.e"
)


def without_options(columns: str) -> str:
    """A grid's columns without the choices of their boxes, which are drawn as they stand."""
    told = json.loads(columns)
    for column in told.values():
        column.get("type_config", {}).pop("options", None)
    return json.dumps(told)


def only_text(page: AppTest) -> None:
    """Nothing on the page is made from what was typed, except its text."""
    assert not page.exception, [e.message for e in page.exception]
    for element in page.get("html"):
        OwnHtml().feed(element.proto.body)
    for node in page._tree:
        proto = getattr(node, "proto", None)
        if not hasattr(proto, "ListFields"):
            continue
        for place, found in strings(proto, node.type):
            text = without_options(found) if place == "dataframe.columns" else found
            assert is_plain(place) or not LIVE.search(text), (place, text)


def said(page: AppTest) -> str:
    """What our own HTML says."""
    return "\n".join(html.unescape(element.proto.body) for element in page.get("html"))


# ------------------------------------------------------------------------- every field there is

TYPING = {"text_input", "text_area", "chat_input", "data_editor", "file_uploader", "query_params"}
CHOOSING = {
    *("selectbox", "multiselect", "radio", "segmented_control", "checkbox", "toggle", "slider"),
    *("number_input", "date_input", "button", "form_submit_button", "download_button"),
}
SHOWING = {
    *("cache_resource", "columns", "column_config", "container", "context"),
    *("empty", "expander", "form", "fragment", "html", "logo", "navigation", "Page", "page_link"),
    *("popover", "rerun", "session_state", "set_page_config", "stop", "switch_page", "tabs", "App"),
    *("user", "progress", "spinner", "code"),
}
# Where text can be typed or brought, and the attack below that does it. A new place has to come
# here, and with it a way to attack it.
PLACES = {
    "example.py: query_params": "address",
    "forms/events.py: text_input": "events",
    "forms/folded_grid.py: data_editor": "plan",
    "forms/grid.py: data_editor": "records",
    "forms/plot_figures.py: data_editor": "scores",
    "forms/plot_figures.py: selectbox, new options": "scores",
    "forms/saving.py: text_input": "scores",
    "next_steps.py: text_input": "search",
    "photo_form.py: text_input": "photos",
    "photo_form.py: file_uploader": "photos",
    "plan_form.py: text_input": "plan",
    "plan_form.py: text_area": "plan",
    "plan_form.py: selectbox, new options": "plan",
    "reading_form.py: text_input": "bringing_in",
    "screens/history.py: text_input": "history",
    "screens/history.py: file_uploader": "history",
    "screens/history.py: bind": "address",
    "order_view.py: text_input": "farm_names",
    "screens/people.py: text_input": "people",
    "screens/records.py: bind": "address",
    "screens/plan.py: text_input": "farm_names",
    "screens/plan.py: file_uploader": "plan_file",
    "screens/plan.py: bind": "address",
    "screens/home.py: text_input": "closing",
    "screens/home.py: file_uploader": "bringing_in",
    "screens/home.py: bind": "address",
    "screens/tally.py: query_params": "address",
    "screens/compare.py: bind": "address",
    "screens/varieties.py: text_input": "varieties",
    "screens/varieties.py: query_params": "address",
    "screens/winter.py: text_input": "winter",
    "screens/winter.py: file_uploader": "winter",
    "screens/compare.py: query_params": "address",
    "settings.py: bind": "address",
    "spray_form.py: text_input": "spray",
    "stock_form.py: text_input": "winter",
    "tally/form.py: text_input": "tally",
}


def places() -> set[str]:
    """Every place of the pages' code where text comes in from whoever looks at them."""
    found = set()
    for path in DASHBOARD.rglob("*.py"):
        file = str(path.relative_to(DASHBOARD))
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "st":
                assert node.attr in TYPING | CHOOSING | SHOWING, (file, node.attr)
                if node.attr in TYPING:
                    found.add(f"{file}: {node.attr}")
            if isinstance(node, ast.keyword) and node.arg == "accept_new_options":
                found.add(f"{file}: selectbox, new options")
            if isinstance(node, ast.keyword) and node.arg == "bind":
                found.add(f"{file}: bind")
    return found


def test_every_place_where_text_comes_in_is_attacked() -> None:
    assert places() == set(PLACES)
    assert all(f"test_hostile_{attack}" in globals() for attack in PLACES.values())


def test_the_forms_before_the_pages_have_no_field_that_is_not_attacked() -> None:
    """They are attacked in test_lan.py, from outside."""
    text = (DASHBOARD / "access" / "front_page.py").read_text("utf-8")
    assert set(re.findall(r'<input [^>]*\bname="(\w+)"', text)) == {
        *("next", "name", "passphrase", "again"),
    }
    asked = (DASHBOARD / "access" / "sign_in.py").read_text("utf-8")
    assert set(re.findall(r'form\.get\("(\w+)"', asked)) == {"next", "name", "passphrase", "again"}
    assert set(re.findall(r'query_params\.get\("(\w+)"|path_params\["(\w+)"', asked)) == {
        ("next", ""),
        ("", "token"),
    }


# ------------------------------------------------------------------------------- the attacks


def tap(page: AppTest, label: str) -> AppTest:
    for box in page.selectbox:  # a browser keeps what was typed into it
        if box.proto.accept_new_options and box.value not in (None, *box.options):
            box.options.append(str(box.value))
    return next(b for b in page.button if b.label.startswith(label)).click().run()


def fields(page: AppTest) -> list[Any]:
    """Every field of the page into which text can be typed."""
    return [*page.text_input, *page.text_area]


def type_in(field: Any, text: str) -> str:
    """Type a text, and what of it the field takes."""
    field.set_value(text)
    taken = text[: field.proto.max_chars or None] if hasattr(field.proto, "max_chars") else text
    return taken.strip()


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def field(page: AppTest, label: str) -> Any:
    (found,) = [each for each in fields(page) if each.label.startswith(label)]
    return found


def named(text: str, suffix: str = ".csv") -> str:
    """A text as a file's name; Streamlit refuses the one character itself."""
    return text.replace("\0", "") + suffix


@pytest.mark.parametrize("kind", [*SOME, "long"])
def test_hostile_closing(kind: str, hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store)
    assert len(fields(page)) == 2 + len(SPRAY)  # the search too
    next(d for d in page.date_input if d.label.startswith("The season ended")).set_value(FROST)
    text = type_in(field(page, "What ended it"), TYPED[kind])
    page.checkbox[0].check()
    only_text(tap(page, "Close "))
    closing = season.closing(hostile_farm.store, hostile_farm.open_trial)
    assert closing is not None, said(page)[-300:]
    assert closing.reason == text


# The fields of the form that records a spray, on the same page.
SPRAY = ("Product", "Time when spraying ended", "Re-entry time", "Why, or a note")


@pytest.mark.parametrize("kind", ["all seen", "long"])
def test_hostile_spray(kind: str, hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store)
    typed = {label: type_in(field(page, label), TYPED[kind]) for label in SPRAY}
    only_text(tap(page, "Record spray"))  # no time and no hours: refused, and shown as text
    assert not [e for e in season.history(hostile_farm.store) if "spray" in e.what]
    type_in(field(page, "Time when spraying ended"), "18:05")
    type_in(field(page, "Re-entry time"), "24")
    only_text(tap(page, "Record spray"))
    assert typed["Product"]


def test_hostile_search(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store)
    for text in [*APART, *hostile_farm.varieties, "P3", hostile_farm.open_trial]:
        type_in(field(page, "Search"), text)
        only_text(page.run())


def form_of(page: AppTest, name: str) -> AppTest:
    widget(page, "record").select(name).run()
    return page


@pytest.mark.parametrize("kind", ["markup", "unicode", "long"])
def test_hostile_records(
    kind: str, hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = form_of(show(hostile_farm.store, "records"), "Varieties")
    text = TYPED[kind]
    edited(page, monkeypatch, dict.fromkeys(("variety", "crop", "colour", "habit"), text))
    only_text(tap(page, "Check and store"))
    monkeypatch.undo()  # the grid is gone from what the browser sends
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    held = set(season.stored(hostile_farm.store, Sheet.VARIETIES)["variety"])
    if "Everything is stored." in said(page):
        assert " ".join(unicodedata.normalize("NFC", text).split()) in held
    else:
        assert "Nothing was stored" in said(page), said(page)[-600:]
        assert held == set(hostile_farm.varieties)
    for name in ("Varieties", "Price lists of seed", "Stand counts"):
        only_text(form_of(show(hostile_farm.store, "records"), name))


@pytest.mark.parametrize("kind", ["all seen", "unicode"])
def test_hostile_scores(
    kind: str, hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = form_of(show(hostile_farm.store, "records"), "Scores and vase life")
    (trait,) = [box for box in page.selectbox if box.proto.accept_new_options]
    choose_new(trait, TYPED[kind])
    page.date_input[0].set_value(DAY)
    edited(page, monkeypatch, {"value": 4})
    only_text(tap(page, "Store the scores"))
    assert "Everything is stored." in said(page) or "an invisible character" in said(page)
    page = form_of(show(hostile_farm.store, "records"), "Stand counts")
    page.date_input[0].set_value(DAY)
    edited(page, monkeypatch, {"living": 99})
    only_text(tap(page, "Store the counts"))
    reason = type_in(field(page, "If all of it is true"), TYPED[kind][:200])
    only_text(tap(page, "Store it with this reason"))
    assert "Everything is stored." in said(page)
    assert reason in kept_yes(hostile_farm.store)


@pytest.mark.parametrize("kind", ["all seen", "unicode"])
def test_hostile_events(kind: str, hostile_farm: Any, show: Show) -> None:
    page = form_of(show(hostile_farm.store, "records"), "Events: frost, spray, loss, swap, note")
    next(box for box in page.selectbox if box.label == "What happened").select("note").run()
    page.date_input[0].set_value(DAY)
    text = type_in(field(page, "Why, or a note"), TYPED[kind])
    only_text(tap(page, "Store the event"))
    notes = season.stored(hostile_farm.store, Sheet.EVENTS)["reason"].tolist()
    if unseen(text) is None:
        assert unicodedata.normalize("NFC", text) in notes, said(page)[-600:]
    else:
        assert "an invisible character" in said(page)
        assert notes == []


def corrected(farm: Any) -> Path:
    """A corrected sheet of a plot's picking day, which is unlikely too."""
    held = season.grades(farm.store, farm.open_trial)
    counted = held[held["plot"] == "P37"].set_index("grade_cm")["stems"]
    rows = [("P37", "2026-07-25", "picked", grade, int(counted[grade]), "") for grade in (40, 50)]
    headings = "plot,cut_on,outcome,grade_cm,stems,cull_reason"
    path: Path = farm.write(
        "recounted", headings, [("P37", "2026-07-25", "picked", 30, 9000, ""), *rows]
    )
    return path


@pytest.mark.parametrize("kind", SHORT)
def test_hostile_history(kind: str, hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "history")
    assert len(fields(page)) == 2
    text, *_ = [type_in(each, TYPED[kind]) for each in fields(page)]
    path = corrected(hostile_farm)
    page.file_uploader[0].set_value([(named(TYPED[kind]), path.read_bytes(), "text/csv")])
    only_text(tap(page, "Correct"))
    newest = season.history(hostile_farm.store)[-1]
    assert (newest.what, newest.why) == ("correction", text), said(page)[:600]
    tap(page, "Undo this")
    assert len(fields(page)) == 3
    text = type_in(field(page, "Why do you undo"), TYPED[kind])
    only_text(tap(page, "Yes, undo change"))
    newest = season.history(hostile_farm.store)[-1]
    assert (newest.undoes, newest.why) == (3, text)
    only_text(show(hostile_farm.store, "history", of=hostile_farm.open_trial))


@pytest.mark.parametrize("kind", ["formulas", "unicode"])
def test_hostile_bringing_in(kind: str, hostile_farm: Any, show: Show) -> None:
    """File names, headings and answers of a sheet of one's own, and why the unlikely is true."""
    page = show(hostile_farm.store)
    text = TYPED[kind]
    headings = ";".join('"' + t.replace('"', '""') + '"' for t in KINDS[kind] if "\0" not in t)
    rows = f"Plot;{headings or 'x'};20.7.2026;27.7.2026\nP37;{'a;' * headings.count(';')}a;12;\n"
    page.file_uploader[0].set_value([(named(text), rows.encode(), "text/csv")])
    only_text(tap(page, "Check and add files"))
    for box in page.selectbox:
        if box.label.startswith("It contains"):
            box.select("cuts").run()
    only_text(page)
    of_other_forms = ("What ended it", "Search", *SPRAY)
    for each in [f for f in fields(page) if not f.label.startswith(of_other_forms)]:
        each.set_value(text).run()
        only_text(page)
    held = hostile_farm.write("held", "plot,counted_on,living", [("P37", "2026-08-20", 99)])
    page.file_uploader[0].set_value([(named(text), held.read_bytes(), "text/csv")])
    only_text(tap(page, "Check and add files"))
    reason = type_in(field(page, "If all of it is true"), text)
    only_text(tap(page, "Add them with this reason"))
    assert "Everything is stored." in said(page)
    assert reason in kept_yes(hostile_farm.store)


def kept_yes(store: Path) -> list[str]:
    import duckdb

    with duckdb.connect(str(store), read_only=True) as connection:
        return [
            reason for (reason,) in connection.execute("SELECT reason FROM accepted").fetchall()
        ]


def test_hostile_people(hostile_farm: Any, show: Show, signed_in: Callable[..., None]) -> None:
    signed_in(Role.GROWER, VISIBLE)
    page = show(hostile_farm.store, "people")
    only_text(page)
    for text in [*APART, *(texts[0] for texts in KINDS.values() if texts[0].isprintable())]:
        (name,) = fields(page)
        name.set_value(text)
        only_text(tap(page, "Make a code"))
        told = said(page)
        assert ("For " in told and "as picker" in told) or "A name has 1 to 60" in told, told[-600:]


@pytest.mark.parametrize("kind", SHORT)
def test_hostile_tally(kind: str, hostile_farm: Any, show: Show) -> None:
    def told() -> Any:
        return season.plot_on_day(hostile_farm.store, hostile_farm.open_trial, "P37", DAY)

    page = show(hostile_farm.store, "tally", plot="P37", day=DAY.isoformat())
    for each in fields(page):
        if each.label != "What happened":
            each.set_value(TYPED[kind])
    only_text(tap(page.run(), "Record"))
    assert "Stems: " in said(page), said(page)[:900]
    assert told().outcome is None
    for each in fields(page):
        if each.label not in ("Another reason", "What happened"):
            each.set_value({"40 cm": "9000", "How many": "1"}.get(each.label, ""))
    text = type_in(field(page, "Another reason"), TYPED[kind])
    tap(page.run(), "Record")
    if unseen(text) is not None:
        assert re.search("Reason: .* invisible character", said(page))
        field(page, "Another reason").set_value("")
        type_in(field(page, "What happened"), TYPED[kind])
        page.run()
        only_text(tap(page.run(), "Store note"))
        assert re.search("Why: .* invisible character", said(page))
        return
    why = type_in(field(page, "Why it is true"), TYPED[kind])
    only_text(tap(page.run(), "Record"))
    kept = " ".join(unicodedata.normalize("NFC", text).split())
    assert (told().stems, told().culls) == (((40, 9000),), ((kept, 1),)), said(page)[:900]
    assert why in kept_yes(hostile_farm.store)
    tap(page, "Correct this")
    for each in fields(page):
        if each.label.startswith(("What was wrong", "Another reason")):
            type_in(each, TYPED[kind])
    field(page, "40 cm").set_value("7")
    only_text(tap(page.run(), "Correct"))
    assert season.history(hostile_farm.store)[-1].why == text
    page = show(hostile_farm.store, "tally", plot="P39", day=DAY.isoformat())
    note = type_in(field(page, "What happened"), TYPED[kind])
    only_text(tap(page.run(), "The plot is lost"))
    lost = season.plots(hostile_farm.store, hostile_farm.open_trial).set_index("plot")
    assert lost["lost_reason"]["P39"] == unicodedata.normalize("NFC", note), said(page)[:900]


def edited(page: AppTest, monkeypatch: pytest.MonkeyPatch, *cells_of: Mapping[str, object]) -> None:
    """From now on each table of the page has these cells in its first row, as a browser says."""
    edits = [
        WidgetState(
            id=table.proto.id,
            string_value=json.dumps(
                {"edited_rows": {"0": cells}, "added_rows": [], "deleted_rows": []}
            ),
        )
        for table, cells in zip(page.get("dataframe"), cells_of, strict=True)
    ]
    states_of = ElementTree.get_widget_states

    def with_cells(tree: ElementTree) -> Any:
        states = states_of(tree)
        states.widgets.extend(edits)
        return states

    monkeypatch.setattr(ElementTree, "get_widget_states", with_cells)


def choose_new(box: Any, text: str) -> None:
    """Type an option that was not there."""
    box.options.append(text)
    box.set_value(text)


PLAN = {
    "plan_season": 2027,
    "plan_sow_on": date(2027, 3, 1),
    "plan_transplant_on": date(2027, 4, 20),
    "plan_bloom": 70,
    "plan_last_frost": date(2027, 4, 10),
    "plan_first_frost": date(2027, 10, 20),
    "plan_starts_on": date(2027, 3, 1),
    "plan_ends_on": date(2027, 11, 15),
}


@pytest.mark.parametrize("kind", SHORT)
def test_hostile_plan(
    kind: str, hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = show(hostile_farm.store, "plan")
    for key, value in PLAN.items():
        widget(page, key).set_value(value)
    edited(page, monkeypatch, {"bed": TYPED[kind]})
    new = [box for box in page.selectbox if box.proto.accept_new_options]
    assert len(new) == 3
    for box in new:
        choose_new(box, TYPED[kind])
    for each in fields(page):
        each.set_value(TYPED[kind])
    only_text(tap(page, "Show the layouts"))
    assert "Nothing was stored" in said(page)
    for key in ("equivalence_margin", "detect"):
        assert f"“{FIELDS[key]}”" in said(page)
        widget(page, f"plan_{key}").set_value("")
    code = " ".join(TYPED[kind].split())
    widget(page, "plan_entries").set_value(f"{code} a\n{code} b")
    widget(page, "plan_checks").set_value(f"{code} a")
    widget(page, "plan_second").set_value(None)
    only_text(tap(page, "Show the layouts"))
    if unseen(code) is not None:
        assert "invisible character" in said(page)
        return
    assert any(b.label.startswith("Randomise and store") for b in page.button), said(page)[:1500]
    only_text(tap(page, "Randomise and store"))
    assert season.planned(hostile_farm.store) == (code,)
    monkeypatch.undo()  # the table is gone from what the browser sends
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    monkeypatch.setattr(waiting, "PATIENCE_S", 120.0)
    field(page, "Name of the farm").set_value(TYPED[kind][:100])
    only_text(tap(page, "Make the files"))
    # A name that no label has room for is refused; it stands on the pages all the same.
    assert len(page.get("download_button")) == 8 or "no room" in said(page), said(page)[-900:]
    for screen in SCREENS:
        only_text(show(hostile_farm.store, screen))


def test_hostile_plan_file(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "plan")
    for text in APART:
        for content in (text, f"question = {json.dumps(text)}", f"[x{text}]"):
            file = (named(text, ".toml"), content.encode(), "application/toml")
            widget(page, "plan_file").set_value(file)
            only_text(tap(page.run(), "Show layouts that fit"))


@pytest.fixture(scope="module")
def ordering_farm(hostile_original: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The small farm with its trials closed and seed to be had."""
    farm = hostile_original.copied_to(tmp_path_factory.mktemp("ordering"))
    house = VISIBLE
    more = [
        farm.write(
            "seed_houses",
            "house,currency,shipping,free_shipping_from,minimum_order",
            [(house, "EUR", 4, "", 0)],
        ),
        farm.write(
            "seed_items",
            "house,item,variety,seeds,price,from_packs,available",
            [
                (house, f"{VISIBLE} {n}", name, 50, 2, 1, "yes")
                for n, name in enumerate(farm.varieties)
            ],
        ),
    ]
    season.load(farm.store, more)
    season.close(farm.store, farm.open_trial, FROST, VISIBLE)
    return farm


def test_hostile_farm_names(ordering_farm: Any, show: Show) -> None:
    page = show(ordering_farm.store, "order")
    only_text(page)
    assert page.multiselect, said(page)[:900]
    if not page.multiselect[0].value:
        page.multiselect[0].set_value(list(ordering_farm.varieties)).run()
    for text in [*APART, "x" * 5000]:
        field(page, "Name of the farm").set_value(text[:LONGEST_FARM])
        only_text(page.run())
        assert len(page.get("download_button")) == 2
    field(page, "Name of the farm").set_value("x" * 5000)
    only_text(page.run())
    assert field(page, "Name of the farm").proto.max_chars == LONGEST_FARM


@pytest.fixture(scope="module")
def selling_farm(ordering_farm: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The same with a market that pays, and seed in stock."""
    farm = ordering_farm.copied_to(tmp_path_factory.mktemp("selling"))
    lot = f"{VISIBLE} lot"
    prices = [(2026, VISIBLE, farm.crop, 40, 20, 40, 0.5)]
    more = [
        farm.write("prices", "year,market,crop,grade_cm,from_week,to_week,stem_price", prices),
        farm.write(
            "seed_lots",
            "lot,house,item,packed_for,germination",
            [(lot, VISIBLE, f"{VISIBLE} 0", 2024, 0.8)],
        ),
        farm.write("seed_stock", "lot,counted_on,seeds", [(lot, "2026-11-02", 40)]),
    ]
    season.load(farm.store, more)
    return farm


@pytest.mark.parametrize("kind", ["all seen", "unicode"])
def test_hostile_winter(
    kind: str, selling_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = season.history(selling_farm.store)
    page = show(selling_farm.store, "winter")
    only_text(page)
    assert VISIBLE in said(page)
    for text in (TYPED[kind], "x" * 200):
        field(page, "Seeds left").set_value(text[:10])
        field(page, "Germination test").set_value(text[:100])
        only_text(tap(page, "Record"))
        assert 'role="alert"' in said(page)
        field(page, "Germination test").set_value(f"{text[:9]}/{text[:9]}")
        only_text(tap(page, "Record"))
    for content in (TYPED[kind], f"site = {json.dumps(TYPED[kind])}", f"[x{TYPED[kind]}]"):
        file = (named(TYPED[kind], ".toml"), content.encode(), "application/toml")
        widget(page, "winter_file").set_value(file)
        only_text(tap(page.run(), "Make the plan from this file"))
        assert "No plan was made" in said(page)
    hostile = TYPED[kind]
    markets = {"market": hostile, "colours": hostile, "uses": hostile}
    edited(page, monkeypatch, {"bed": hostile}, {}, markets, {})
    only_text(tap(page, "Make the winter plan"))
    assert "No plan was made" in said(page)
    assert season.history(selling_farm.store) == before


@pytest.mark.parametrize("kind", ["all seen", "unicode"])
def test_hostile_photos(kind: str, hostile_farm: Any, show: Show) -> None:
    """Names of files, captions and reasons, for a variety whose name is hostile itself."""
    (name, *_), text = hostile_farm.varieties, TYPED[kind]
    page = show(hostile_farm.store, "varieties", variety=name)
    (uploader,) = page.file_uploader
    uploader.set_value([(named(text, ".jpg"), b"no photo", "image/jpeg")])
    only_text(tap(page, "Store the photos"))
    assert "This is no photo." in said(page)
    assert season.photos(hostile_farm.store) == ()
    page.file_uploader[0].set_value([(named(text, ".jpg"), photo(), "image/jpeg")])
    caption = type_in(field(page, "What there is to see"), text)
    only_text(tap(page, "Store the photos"))
    (kept,) = season.photos(hostile_farm.store)
    assert (kept.variety, kept.caption) == (name, " ".join(caption.split())), said(page)[-600:]
    only_text(show(hostile_farm.store, "compare", trial=hostile_farm.closed_trial))
    page = show(hostile_farm.store, "varieties", variety=name)
    (box,) = [each for each in page.selectbox if each.label == "Photo"]
    box.select_index(0)
    reason = type_in(field(page, "Why it should not be there"), text)
    only_text(tap(page, "Withdraw this photo"))
    assert season.history(hostile_farm.store)[-1].why == reason
    only_text(show(hostile_farm.store, "history"))


def test_hostile_varieties(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "varieties")
    for text in [*APART, *hostile_farm.varieties]:
        type_in(field(page, "Search by"), text)
        only_text(page.run())
    for name in hostile_farm.varieties:
        page = show(hostile_farm.store, "varieties", variety=name)
        only_text(page)
        assert name in said(page)


ASKED = {
    "home": ("season",),
    "plan": ("planned",),
    "tally": ("plot", "day"),
    "records": ("record", "of_trial"),
    "compare": ("trial",),
    "choose": ("crop",),
    "order": ("crop",),
    "history": ("of",),
    "varieties": ("variety",),
}


def test_every_question_of_an_address_is_attacked() -> None:
    bound = set()
    for path in DASHBOARD.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                words = {word.arg: word.value for word in node.keywords}
                if "bind" in words:
                    bound.add(ast.literal_eval(words["key"]))
                if ast.unparse(node.func) == "st.query_params.get":
                    bound.add(ast.literal_eval(node.args[0]))
    assert bound == {key for keys in ASKED.values() for key in keys}


@pytest.mark.parametrize("screen", ASKED)
def test_hostile_address(screen: str, hostile_farm: Any, show: Show) -> None:
    for text in (" ".join(TYPED.values()), TYPED["all seen"]):
        only_text(show(hostile_farm.store, screen, **dict.fromkeys(ASKED[screen], text)))
