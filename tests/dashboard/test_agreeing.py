"""Sheets of one's own on the season's page: shown as understood, corrected, agreed on, stored."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from streamlit.testing.v1 import AppTest

from tests.strategies import FARM
from trials import season
from trials.store import Store

Show = Callable[..., AppTest]

WIDE = "Plot;Sort;20.7.2026;27.7.2026\nA1;Ember;12;\nA2;Fern;3;4\n"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    for name, text in FARM.items():
        (tmp_path / name).write_text(text, "utf-8")
    path = tmp_path / "farm.tallybed"
    season.load(path, [tmp_path])
    return path


def bring(page: AppTest, name: str, text: str) -> AppTest:
    page.file_uploader[0].set_value([(name, text.encode(), "text/csv")])
    return press(page, "Check and add files")


def press(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label == label).click().run()


def choose(page: AppTest, label: str, answer: object) -> AppTest:
    return next(b for b in page.selectbox if b.label.startswith(label)).select(answer).run()


def said(page: AppTest) -> str:
    return " ".join(element.value for element in page.get("html") if hasattr(element, "value")) or (
        " ".join(str(element.proto.body) for element in page.get("html"))
    )


@pytest.mark.slow
def test_a_wide_sheet_is_asked_about_and_then_stored(store: Path, show: Show) -> None:
    page = bring(show(store), "july.csv", WIDE)
    assert not page.exception
    yes = "Yes, add these records"
    assert next(b for b in page.button if b.label == yes).disabled
    page = choose(page, "It contains", next(s for s in season_sheets() if s == "cuts"))
    page = choose(page, "Some cells of the count are blank", "zero")
    field = next(b for b in page.text_input if "length grade" in b.label)
    page = field.input("40").run()
    assert not page.exception
    assert "2026-07-27" in said(page)
    assert Store.open(store).cuts("Z26").empty
    page = press(page, yes)
    assert not page.exception
    assert "Everything is stored." in said(page)
    cuts = Store.open(store).cuts("Z26")
    assert cuts["stems"].sum() == 12 + 0 + 3 + 4


@pytest.mark.slow
def test_the_unlikely_is_stored_once_somebody_says_why(store: Path, show: Show) -> None:
    page = bring(show(store), "stands.csv", "plot,counted_on,living\nA1,2026-06-20,17\n")
    assert not page.exception
    assert "17 plants are living" in said(page)
    field = next(b for b in page.text_input if b.label.startswith("If all of it is true"))
    field.input("one came up by itself")
    page = press(page, "Add them with this reason")
    assert not page.exception
    assert "Everything is stored." in said(page)


@pytest.mark.slow
def test_sheets_of_a_day_each_are_stored_under_their_own(store: Path, show: Show) -> None:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, stems in (("20 Jul 2026", 12), ("27 Jul 2026", 3)):
        page_of_day = book.create_sheet(title)
        for row in (["Rep", "Cultivar", "Stems", "Grade"], [1, "Ember", stems, "40 cm"]):
            page_of_day.append(row)
    saved = BytesIO()
    book.save(saved)
    page = show(store)
    page.file_uploader[0].set_value([("july.xlsx", saved.getvalue(), "")])
    page = press(page, "Check and add files")
    assert not page.exception
    page = press(page, "Yes, add these records")
    assert not page.exception
    assert "Everything is stored." in said(page)
    cuts = Store.open(store).cuts("Z26")
    days = {
        (str(day)[:10], stems) for day, stems in zip(cuts["cut_on"], cuts["stems"], strict=True)
    }
    assert days == {("2026-07-20", 12), ("2026-07-27", 3)}


def season_sheets() -> tuple[str, ...]:
    from trials.season import kinds_of_sheet

    return kinds_of_sheet()
