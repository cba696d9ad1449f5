"""A season from an empty folder to the printed order by pages alone, on a laptop and on a phone.

Two plots are tallied on the page for the bed while the network is cut; the rest of the harvest is
brought as a filled-in blank file; all else is typed. Clicks are counted and printed, and at the end
the command line prints the order's own total.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from trials import season
from trials.model.rows import Sheet
from trials.report.record_forms import template_csv

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
WIDTHS = {"laptop": {"width": 1280, "height": 900}, "phone": {"width": 390, "height": 844}}
STARTS_WITHIN_S = 120
TRIAL, CHECK = "aster-2026", "Old white"
VARIETIES = [CHECK, "Early pink", "Tall blue"]
STEMS = {CHECK: 30, "Early pink": 44, "Tall blue": 61}
OUT, COUNTED, FROST = date(2026, 5, 4), date(2026, 7, 20), date(2026, 10, 2)
TALLIED = 2  # plots, on the page for the bed; the others come as a file
COMMAND = "from trials.cli import main; main()"
# A tall grid would else begin under the row of pages, which stays in place.
BELOW_THE_HEADER = """grid => { grid.scrollIntoView({block: "start"});
    document.querySelector("[data-testid=stMain]").scrollBy(0, -160); }"""
FIRST_CELL_PX = (60, 55)  # in a grid: past the column of ticks, below the headings
GRID_ANSWERS_WITHIN_S = 45
PAUSE_MS = 700  # a grid says what is selected some tenths of a second after it is


@dataclass
class Grid:
    """A grid that is typed into by keys; what is selected is read as a screen reader reads it."""

    page: Any
    frame: Any

    def enter(self) -> None:
        """Click until a cell is selected: the first click may only leave the field before."""
        self.frame.wait_for()
        self.frame.evaluate(BELOW_THE_HEADER)
        until = time.monotonic() + GRID_ANSWERS_WITHIN_S
        while self._selected() is None:
            assert time.monotonic() < until, "no click selects a cell"
            box = self.frame.bounding_box()
            self.page.mouse.click(box["x"] + FIRST_CELL_PX[0], box["y"] + FIRST_CELL_PX[1])
            self.page.wait_for_timeout(PAUSE_MS)

    def first_column(self) -> int:
        """The first column that can be typed into: a column of ticks has the number before it."""
        cells = self.frame.locator("td").evaluate_all("cells => cells.map(cell => cell.id)")
        return min(_column_and_row(cell)[0] for cell in cells)

    def type_into(self, column: int, row: int, text: str) -> None:
        field = self.page.locator(".gdg-input, input[id^=react-select]")  # typed, or one of a list
        self._go(column, row)
        self.page.keyboard.press("Enter")
        field.wait_for()
        field.fill(text)
        field.press("Tab")
        field.wait_for(state="detached")

    def _go(self, column: int, row: int) -> None:
        until = time.monotonic() + GRID_ANSWERS_WITHIN_S
        while (at := self._selected()) != (column, row):
            assert time.monotonic() < until, f"at {at}, not at {(column, row)}"
            if at is not None:
                self.page.keyboard.press(_key(at, (column, row)))
            self.page.wait_for_timeout(PAUSE_MS)

    def _selected(self) -> tuple[int, int] | None:
        chosen = self.frame.locator("td[aria-selected=true]").evaluate_all(
            "cells => cells.map(cell => cell.id)"
        )
        if len(chosen) != 1:
            return None
        return _column_and_row(chosen[0])


def _column_and_row(cell: str) -> tuple[int, int]:
    column, row = cell.removeprefix("glide-cell-").split("-")
    return int(column), int(row)


def _key(at: tuple[int, int], wanted: tuple[int, int]) -> str:
    if at[1] != wanted[1]:
        return "ArrowDown" if at[1] < wanted[1] else "ArrowUp"
    return "ArrowRight" if at[0] < wanted[0] else "ArrowLeft"


@dataclass
class Hands:
    """A visitor at a page, whose clicks and taps are counted."""

    page: Any
    clicks: int = 0

    def press(self, name: str) -> None:
        """A button or a link by what it says."""
        self.clicks += 1
        control = self.page.get_by_role("button", name=name, exact=True)
        link = self.page.get_by_role("link", name=name, exact=True)
        control.or_(link).first.click()

    def open(self, title: str) -> None:
        """A page by its title, in the row of pages that this width shows."""
        self.clicks += 1
        narrow = self.page.locator(".st-key-phone_nav")
        pages = narrow if narrow.is_visible() else self.page.locator("header")
        pages.get_by_role("link", name=title, exact=True).click()
        self.page.wait_for_timeout(1_500)

    def unfold(self, words: str) -> None:
        """A part of a page that is drawn: one that opens while the page is drawn closes again."""
        self.clicks += 1
        self.page.locator("[data-testid=stApp][data-test-script-state=notRunning]").wait_for()
        self.page.get_by_text(words, exact=True).first.click()

    def fill(self, label: str, text: str) -> None:
        """A field of text or a number, left as a thumb leaves it."""
        self.clicks += 1
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        field.press("Tab")

    def choose(self, label: str, text: str) -> None:
        """An option of a box, there or typed."""
        self.clicks += 1
        field = self.page.get_by_role("combobox", name=label)
        field.click()
        field.fill(text)
        self.page.wait_for_timeout(500)
        field.press("Enter")
        self.page.wait_for_timeout(500)

    def day(self, label: str, on: date) -> None:
        self.clicks += 1
        self.page.get_by_label(label, exact=True).get_by_role("spinbutton").first.click()
        self.page.keyboard.type(f"{on:%Y%m%d}")
        self.page.keyboard.press("Escape")  # closes the calendar that lies over what follows
        self.page.wait_for_timeout(300)

    def rows(self, column: str, rows: list[list[str]], skipped: int = 0) -> None:
        """Type rows into the grid that has a column, cell by cell, after skipped columns."""
        self.clicks += 1
        grids = self.page.locator("[data-testid=stDataFrame]")
        grids.filter(has=self.page.locator("th", has_text=column)).wait_for()
        # By its place from now on: a heading that is scrolled out of sight leaves the tree.
        headings = grids.evaluate_all("grids => grids.map(grid => grid.textContent)")
        (place,) = (number for number, words in enumerate(headings) if column in words)
        grid = Grid(self.page, grids.nth(place))
        grid.enter()
        first = grid.first_column() + skipped
        for number, row in enumerate(rows):
            for across, text in enumerate(row):
                grid.type_into(first + across, number, text)
        self.page.wait_for_timeout(PAUSE_MS)  # a hand takes so long to reach the button

    def tick(self, words: str) -> None:
        self.clicks += 1
        self.page.get_by_text(words).click()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def take(self, words: str) -> bytes:
        """What a button of these words downloads."""
        self.clicks += 1
        with self.page.expect_download() as coming:
            self.page.get_by_role("button", name=words).first.click()
        return Path(coming.value.path()).read_bytes()


def free_port() -> int:
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        return int(lookout.getsockname()[1])


@contextmanager
def pages_of(store: Path) -> Iterator[str]:
    """The pages of a store that may not be there yet, as a grower starts them."""
    port = free_port()
    options = ["dashboard", "--no-browser", "--port", str(port), "--store", str(store)]
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, *options],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        env={**os.environ, "TALLYBED_UNITS": "metric"},
    )
    try:
        until = time.monotonic() + STARTS_WITHIN_S
        while not _answers(port):
            assert process.poll() is None, "the pages ended at once"
            assert time.monotonic() < until, "the pages did not start"
            time.sleep(0.2)
        yield f"http://{HERE}:{port}"
    finally:
        process.terminate()
        process.wait()


def _answers(port: int) -> bool:
    connection = HTTPConnection(HERE, port, timeout=1)
    try:
        connection.request("GET", "/_stcore/health")
        return connection.getresponse().status == 200
    except OSError:
        return False
    finally:
        connection.close()


def stems_of(number: int, variety: str, week: int) -> int:
    return STEMS[variety] + number + week


def harvests(plots: Mapping[str, str]) -> bytes:
    """The blank file of harvests, filled in: what was not tallied of two days."""
    rows = [
        f"{plot},{COUNTED + timedelta(7 * week)},picked,50,{stems_of(number, variety, week)},"
        for week in range(2)
        for number, (plot, variety) in enumerate(plots.items())
        if week > 0 or number >= TALLIED
    ]
    return "\n".join([template_csv(Sheet.CUTS).strip(), *rows, ""]).encode()


@pytest.mark.parametrize("width", WIDTHS)
def test_a_season_goes_from_nothing_to_its_order_by_pages_alone(
    width: str, chromium: Any, tmp_path: Path
) -> None:
    store = tmp_path / "new" / "farm.tallybed"
    with pages_of(store) as address:
        context = chromium.new_context(viewport=WIDTHS[width])
        hands = Hands(context.new_page())
        hands.page.set_default_timeout(45_000)
        hands.page.goto(address)
        hands.sees("No trials yet. How do you want to begin?")
        plan_and_plant(hands)
        count_and_harvest(hands, store, address)
        frost_and_close(hands)
        compare(hands)
        price_seed(hands)
        total = order(hands)
        assert hands.page.locator("[data-testid=stException]").count() == 0
        context.close()
    print(f"{width}: {hands.clicks} clicks and taps from an empty folder to the order")
    assert total in ordered(store)
    assert set(season.stored(store, Sheet.SEED_HOUSES)["house"]) == {"Seed loft"}


def plan_and_plant(hands: Hands) -> None:
    hands.press("Plan your first trial →")
    hands.sees("The question")
    hands.fill("What do you want to know?", "Which aster gives the most stems?")
    hands.fill("Code of the trial", TRIAL)
    hands.fill("Season (year)", "2026")
    hands.choose("Crop", "aster")
    hands.choose("Field or tunnel", "Top field")
    hands.fill("Varieties to compare, one per line", "\n".join(VARIETIES))
    hands.fill("The one you grow now (the check)", CHECK)
    hands.day("Day you mean to sow", date(2026, 3, 1))
    hands.day("Day you mean to plant out", OUT)
    hands.day("Average last frost", date(2026, 4, 20))
    hands.day("Average first frost", date(2026, 10, 10))
    hands.day("First day of the season", date(2026, 3, 1))
    hands.day("Last day of the season", date(2026, 10, 31))
    hands.press("Show the layouts that fit")
    hands.sees("New varieties: Old white, Early pink and Tall blue")
    hands.press("Randomise and store")
    hands.sees(f"{TRIAL} is laid out and stored")
    hands.day("The day it was planted out", OUT)
    hands.press("Record the planting")
    hands.sees("(planted)")
    hands.page.wait_for_timeout(2_000)  # the page is drawn again by then, or begun to be
    hands.unfold("Print its map, stakes, picking sheets and workbook")
    hands.press("Make the files")
    assert hands.take("stakes").startswith(b"%PDF")


def count_and_harvest(hands: Hands, store: Path, address: str) -> None:
    hands.open("Home")
    hands.sees("Count the living plants of 12 plots")
    hands.press("Record stand counts →")
    hands.day("Day of counting", COUNTED)
    hands.rows("Living plants", [["16"], ["15"], *[["16"]] * 10], skipped=1)
    hands.press("Store the counts")
    hands.sees("Everything is stored.")
    told = season.plots(store, TRIAL)
    counted = season.stored(store, Sheet.STAND_COUNTS).set_index("plot")["living"]
    assert counted[told["plot"]].tolist() == [16, 15, *[16] * 10]
    plots = dict(zip(told["plot"], told["variety"], strict=True))
    tally(hands, store, plots, address)
    harvest(hands, plots)


def tally(hands: Hands, store: Path, plots: Mapping[str, str], address: str) -> None:
    """The first plots of the first day, the network cut before the first is recorded."""
    page = hands.page
    for number, (plot, variety) in enumerate([*plots.items()][:TALLIED]):
        page.goto(f"{address}/plots?plot={plot}&day={COUNTED}")
        page.get_by_text(plot, exact=True).first.wait_for()
        page.context.set_offline(number == 0)
        stems = stems_of(number, variety, 0)
        hands.fill("50 cm", str(stems))
        hands.press("Record")
        hands.sees(f"Recorded: {stems} stems")
        if number == 0:
            hands.sees("No signal. 1 record waits on this phone.")
            assert season.plot_on_day(store, TRIAL, plot, COUNTED).stems == ()
            page.context.set_offline(False)
        hands.sees("All your records are stored.")
        assert season.plot_on_day(store, TRIAL, plot, COUNTED).stems == ((50, stems),)
    page.goto(address)


def harvest(hands: Hands, plots: Mapping[str, str]) -> None:
    hands.sees(TRIAL)
    file = {"name": "cuts.csv", "mimeType": "text/csv", "buffer": harvests(plots)}
    hands.page.locator("input[type=file]").first.set_input_files(file)
    hands.sees("cuts.csv")
    hands.press("Check and add files")
    hands.sees("Everything is stored.")


def frost_and_close(hands: Hands) -> None:
    hands.open("Records")
    hands.choose("What do you want to record?", "Events: frost")
    hands.day("Day", FROST)
    hands.press("Store the event")
    hands.sees("Everything is stored.")
    hands.open("Home")
    hands.sees("Ready to close: no more stems will be cut.")
    hands.unfold("Close this trial")
    hands.day("The season ended on", FROST)
    hands.fill("What ended it", "first frost")
    hands.tick("I have seen what is missing")
    hands.press(f"Close {TRIAL}")
    hands.sees(f"Closed on {FROST}: first frost.")


def compare(hands: Hands) -> None:
    hands.open("Compare")
    hands.sees("Tall blue")
    hands.sees("Statistics")


def price_seed(hands: Hands) -> None:
    hands.open("Records")
    hands.choose("What do you want to record?", "Seed houses")
    hands.rows("Shipping", [["Seed loft", "EUR", "4"]])
    hands.press("Check and store")
    hands.sees("Everything is stored.")
    hands.choose("What do you want to record?", "Price lists of seed")
    lines = [["Seed loft", f"no {n}", name, "50", "3"] for n, name in enumerate(VARIETIES)]
    hands.rows("Catalogue number", lines)
    hands.press("Check and store")
    hands.sees("Everything is stored.")


def order(hands: Hands) -> str:
    """The page's total of the order."""
    hands.open("Choose")
    hands.sees("Tall blue")
    hands.open("Order")
    hands.sees("Seed loft")
    assert hands.take("Order to print").startswith(b"%PDF")
    return str(hands.page.locator(".tb-total").inner_text()).splitlines()[0]


def ordered(store: Path) -> str:
    """What the command line prints for the same beds."""
    words = ["order", "aster", "--bed-metres", "20", "--successions", "1", "--store", str(store)]
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, *words],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return " ".join(done.stdout.split())
