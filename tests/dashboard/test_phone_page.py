"""The page for the phone in a real Chromium: the network cut, the sign-in ended, a thumb's reach.

A server of its own, as for the farm's network, but listening here alone.
"""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from argon2 import PasswordHasher

from trials import season
from trials.model.rows import Signed
from trials.model.trial import Outcome, Role
from trials.season import people

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
PHONE = {"width": 390, "height": 844}
DAY = date(2026, 8, 5)
PASSPHRASE = "seven green buckets"
STARTS_WITHIN_S = 60
LEAST_TARGET = 44
LEAST_CONTRAST = 3.0
START = """
import sys
from pathlib import Path
from dashboard.access.network import Network
from dashboard.serve import serve
serve(Path(sys.argv[1]), int(sys.argv[2]), open_browser=False, network=Network("127.0.0.1"))
"""


@dataclass
class Pages:
    """The pages of a farm, and a browser to look at them."""

    farm: Any
    port: int
    chromium: Any
    outside: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://{HERE}:{self.port}"

    def sign_in(self, name: str) -> dict[str, str]:
        """A session as the cookie that a browser takes."""
        connection = HTTPConnection(HERE, self.port, timeout=20)
        form = urlencode({"name": name, "passphrase": PASSPHRASE, "next": "/"})
        kind = "application/x-www-form-urlencoded"
        headers = {"Content-Type": kind, "Origin": self.address}
        connection.request("POST", "/sign-in", form, headers)
        answer = connection.getresponse()
        cookies = [value for key, value in answer.getheaders() if key.lower() == "set-cookie"]
        connection.close()
        (value,) = [each for each in cookies if each.startswith("tallybed_session=")]
        return {
            "name": "tallybed_session",
            "value": value.partition("=")[2].partition(";")[0],
            "url": self.address,
        }

    def sign_out(self, cookie: dict[str, str]) -> None:
        connection = HTTPConnection(HERE, self.port, timeout=20)
        held = f"{cookie['name']}={cookie['value']}"
        connection.request("POST", "/sign-out", "", {"Cookie": held, "Origin": self.address})
        assert connection.getresponse().status == 200
        connection.close()

    @contextmanager
    def phone(self, cookie: dict[str, str] | None, plot: str = "") -> Iterator[Any]:
        context = self.chromium.new_context(viewport=PHONE, has_touch=True)
        if cookie is not None:
            context.add_cookies([cookie])
        context.on("request", self._note)
        page = context.new_page()
        page.set_default_timeout(45_000)
        page.on("console", lambda said: self._hear(said.text))
        page.on("pageerror", lambda problem: self.complaints.append(str(problem)))
        try:
            page.goto(self.at(plot))
            yield page
        finally:
            context.close()

    def at(self, plot: str = "") -> str:
        asked = {"day": DAY.isoformat(), **({"plot": plot} if plot else {})}
        return f"{self.address}/plots?{urlencode(asked)}"

    def _note(self, request: Any) -> None:
        if not request.url.startswith((self.address, "blob:", "data:")):
            self.outside.append(request.url)

    def _hear(self, text: str) -> None:
        if "Content Security Policy" in text:
            self.complaints.append(text)

    def held(self, plot: str) -> Any:
        return season.plot_on_day(self.farm.store, self.farm.open_trial, plot, DAY)

    def tallies(self) -> int:
        return sum(entry.what == "tally" for entry in season.history(self.farm.store))


@pytest.fixture(scope="module")
def pages(
    hostile_original: Any, chromium: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Pages]:
    farm = hostile_original.copied_to(tmp_path_factory.mktemp("phone"))
    with pytest.MonkeyPatch.context() as patch:
        cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(people, "_hasher", lambda: cheap)
        for name, role in (("Ada", Role.GROWER), ("Finn", Role.PICKER), ("Nell", Role.PICKER)):
            people.add_person(farm.store, name, role, PASSPHRASE)
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        port = int(lookout.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-c", START, str(farm.store), str(port)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    found = Pages(farm, port, chromium)
    try:
        _wait_for(process, port)
        yield found
    finally:
        process.terminate()
        said = process.communicate(timeout=20)[0].decode()
        assert "Traceback" not in said, said
    assert (found.outside, found.complaints) == ([], [])


def _wait_for(process: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        if process.poll() is not None:
            pytest.fail(f"the pages ended at once: {process.communicate()[0].decode()}")
        connection = HTTPConnection(HERE, port, timeout=5)
        try:
            connection.request("GET", "/sign-in")
            connection.getresponse().read()
            return
        except OSError:
            time.sleep(0.1)
        finally:
            connection.close()
    pytest.fail(f"the pages did not answer within {STARTS_WITHIN_S} s")


@pytest.fixture(scope="module")
def finn(pages: Pages) -> dict[str, str]:
    return pages.sign_in("Finn")


def tap(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def type_in(page: Any, label: str, text: str) -> None:
    page.get_by_label(label, exact=True).fill(text)


def status(page: Any, words: str) -> None:
    page.locator("#status", has_text=words).wait_for()


def record(page: Any, stems: str) -> None:
    type_in(page, "40 cm", stems)
    tap(page, "Record")
    page.get_by_text(f"Recorded: {stems} stem").wait_for()


# ------------------------------------------------------------------------------ recording


def test_a_plot_is_recorded_by_taps_alone_and_then_the_next(
    pages: Pages, finn: dict[str, str]
) -> None:
    with pages.phone(finn, "p37") as page:
        more = page.get_by_role("button", name="One more: 40 cm", exact=True)
        for _ in range(3):
            more.click()
        tap(page, "One less: 40 cm")
        tap(page, "One more: bent")
        page.get_by_role("button", name="Record", exact=True).dblclick()
        page.get_by_text("Recorded: 2 stems, 1 cull.").wait_for()
        page.get_by_text("Stored on the farm's computer").wait_for()
        status(page, "All your records are stored.")
        page.wait_for_timeout(500)
        tap(page, "Next: P38, Bed")
        page.get_by_text("P38", exact=True).wait_for()
    assert (pages.held("P37").stems, pages.held("P37").culls) == (((40, 2),), (("bent", 1),))
    assert pages.held("P37").who == "Finn"


def test_less_than_one_is_zero_and_less_than_zero_is_not_recorded(
    pages: Pages, finn: dict[str, str]
) -> None:
    with pages.phone(finn, "P38") as page:
        field = page.get_by_label("40 cm", exact=True)
        less = page.get_by_role("button", name="One less: 40 cm", exact=True)
        seen = []
        tap(page, "One more: 40 cm")
        for _ in range(3):
            seen.append(field.input_value())
            less.click()
        assert [*seen, field.input_value()] == ["1", "0", "", ""]
        tap(page, "Record")
        page.get_by_text("No stems are filled in").wait_for()
        type_in(page, "bent", "1x")
        type_in(page, "40 cm", "0")
        tap(page, "Record")
        page.get_by_text("'1x' is no whole number").wait_for()
        tap(page, "Not picked")
        page.get_by_text("There are figures in the fields above").wait_for()
    assert pages.held("P38").outcome is None


def test_zero_missed_lost_and_a_note_are_taps_of_their_own(
    pages: Pages, finn: dict[str, str]
) -> None:
    from playwright.sync_api import expect

    with pages.phone(finn, "P38") as page:
        page.evaluate("localStorage.clear()")
        page.reload()
        tap(page, "Nothing to cut (0)")
        page.get_by_text("picked, nothing to cut (0)").wait_for()
        page.goto(pages.at("P39"))
        tap(page, "Not picked")
        page.get_by_text("Recorded: not picked.").wait_for()
        page.goto(pages.at("P40"))
        page.get_by_text("A note, or the plot is lost").click()
        tap(page, "The plot is lost")
        page.get_by_text("Say what happened").wait_for()
        type_in(page, "What happened", "hail")
        tap(page, "Store note")
        status(page, "All your records are stored.")
        expect(page.get_by_label("What happened")).to_have_value("")
        page.get_by_text("A note, or the plot is lost").click()
        type_in(page, "What happened", "<b>voles</b>")
        tap(page, "The plot is lost")
        page.get_by_text("Lost: <b>voles</b>").wait_for()
        status(page, "All your records are stored.")
    assert (pages.held("P38").outcome, pages.held("P38").stems) == (Outcome.PICKED, ())
    assert pages.held("P39").outcome is Outcome.MISSED
    assert pages.held("P40").outcome is None
    told = [(kind.value, reason) for kind, reason in pages.held("P40").events]
    assert told == [("lost", "<b>voles</b>"), ("note", "hail")]


def test_what_is_typed_survives_a_reload(pages: Pages, finn: dict[str, str]) -> None:
    with pages.phone(finn, "P41") as page:
        type_in(page, "40 cm", "17")
        page.reload()
        assert page.get_by_label("40 cm", exact=True).input_value() == "17"
        type_in(page, "40 cm", "")


def test_the_unlikely_asks_for_a_reason(pages: Pages, finn: dict[str, str]) -> None:
    with pages.phone(finn, "P41") as page:
        type_in(page, "40 cm", "90000")
        tap(page, "Record")
        page.get_by_label("Why it is true").wait_for()
        assert pages.held("P41").outcome is None
        assert page.get_by_label("40 cm", exact=True).input_value() == "90000"
        page.wait_for_timeout(500)
        type_in(page, "Why it is true", "we counted twice")
        tap(page, "Record")
        page.get_by_text("Stored on the farm's computer").wait_for()
    assert pages.held("P41").stems == ((40, 90000),)


# ------------------------------------------------------------------------------ without signal


def test_records_wait_without_signal_and_are_sent_once(pages: Pages, finn: dict[str, str]) -> None:
    before = pages.tallies()
    with pages.phone(finn, "P42") as page:
        page.get_by_text("P42", exact=True).wait_for()
        page.context.set_offline(True)
        record(page, "11")
        status(page, "No signal. 1 record waits on this phone.")
        page.wait_for_timeout(500)
        tap(page, "Next: P43, Bed")
        page.wait_for_timeout(500)
        record(page, "12")
        status(page, "No signal. 2 records wait on this phone.")
        tap(page, "Plots")
        page.get_by_role("button", name="P43 Bed, waits on this phone").wait_for()
        assert pages.tallies() == before
        page.context.set_offline(False)
        status(page, "All your records are stored.")
        page.get_by_role("button", name="P43 Bed, 12 stems").wait_for()
    assert (pages.held("P42").stems, pages.held("P43").stems) == (((40, 11),), ((40, 12),))
    assert pages.tallies() == before + 2


def test_an_answer_that_is_lost_stores_nothing_twice(pages: Pages, finn: dict[str, str]) -> None:
    before = pages.tallies()
    with pages.phone(finn, "P44") as page:
        keys: list[str] = []

        def cut(route: Any) -> None:
            keys.append(json.loads(route.request.post_data)["token"])
            route.fetch()  # the farm's computer has it, and the phone never hears so
            route.abort()

        page.get_by_text("P44", exact=True).wait_for()
        page.route("**/plots/record", cut, times=2)
        record(page, "13")
        page.get_by_text("Stored on the farm's computer").wait_for()
        status(page, "All your records are stored.")
    assert len(keys) == 2
    assert len({*keys}) == 1
    assert pages.held("P44").stems == ((40, 13),)
    assert pages.tallies() == before + 1


def test_the_page_opens_again_without_signal(pages: Pages, finn: dict[str, str]) -> None:
    with pages.phone(finn) as page:
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.context.set_offline(True)
        page.goto(pages.at("P45"))
        record(page, "14")
        page.reload()
        page.get_by_text("It is on this phone").wait_for()
        page.context.set_offline(False)
        status(page, "All your records are stored.")
    assert pages.held("P45").stems == ((40, 14),)


def test_another_person_s_records_are_never_sent(pages: Pages, finn: dict[str, str]) -> None:
    nell = pages.sign_in("Nell")
    with pages.phone(finn, "P46") as page:
        page.get_by_text("P46", exact=True).wait_for()
        page.context.set_offline(True)
        record(page, "15")
        sent: list[str] = []
        page.context.add_cookies([nell])
        page.on("request", lambda r: sent.append(r.url) if r.method == "POST" else None)
        page.context.set_offline(False)
        # The open page still is Finn's: the farm's computer refuses it for Nell.
        status(page, "1 record of Finn waits here until they sign in on this phone.")
        page.reload()
        page.get_by_text("P46", exact=True).wait_for()
        sent.clear()
        record(page, "16")
        status(page, "1 record of Finn waits here until they sign in on this phone.")
        page.get_by_text("Stored on the farm's computer").wait_for()
        assert len(sent) == 1
        assert pages.held("P46").who == "Nell"
        assert "15" not in page.locator("body").inner_text()
        page.context.add_cookies([finn])
        page.goto(pages.at())
        page.get_by_text("Nell, 16 stems graded").wait_for()
    assert pages.held("P46").stems == ((40, 16),)


def test_a_sign_in_that_ended_keeps_the_record(pages: Pages) -> None:
    cookie = pages.sign_in("Finn")
    with pages.phone(cookie, "P47") as page:
        page.get_by_text("P47", exact=True).wait_for()
        pages.sign_out(cookie)
        record(page, "17")
        status(page, "You are signed out. 1 record waits on this phone.")
        page.get_by_role("link", name="Sign in to send them").click()
        page.get_by_label("Your name").fill("finn")
        page.get_by_label("Your passphrase").fill(PASSPHRASE)
        tap(page, "Sign in")
        status(page, "All your records are stored.")
    assert (pages.held("P47").stems, pages.held("P47").who) == (((40, 17),), "Finn")


def test_a_plot_tallied_meanwhile_keeps_both(pages: Pages, finn: dict[str, str]) -> None:
    with pages.phone(finn, "P48") as page:
        page.get_by_text("P48", exact=True).wait_for()
        page.context.set_offline(True)
        record(page, "18")
        entry = season.TallyEntry("P48", DAY, season.Tally.COUNTED, stems=((50, "3"),))
        season.tally(pages.farm.store, entry, Signed("Nell"))
        page.context.set_offline(False)
        status(page, "1 record is not stored: see Plots.")
        page.get_by_text("Somebody else recorded this plot").wait_for()
        page.get_by_text("40 cm: 18").wait_for()
        page.reload()
        page.get_by_text("40 cm: 18").wait_for()
        assert page.get_by_role("link", name="Correct what is stored").is_visible()
        tap(page, "Discard")
        tap(page, "Yes, discard it")
        status(page, "All your records are stored.")
    assert pages.held("P48").stems == ((50, 3),)


def test_a_trial_closed_meanwhile_keeps_the_record(pages: Pages, finn: dict[str, str]) -> None:
    farm = pages.farm
    with pages.phone(finn, "P49") as page:
        page.get_by_text("P49", exact=True).wait_for()
        page.context.set_offline(True)
        record(page, "19")
        season.close(farm.store, farm.open_trial, date(2026, 10, 1), "frost", Signed("Ada"))
        page.context.set_offline(False)
        status(page, "1 record is not stored: see Plots.")
        page.goto(pages.at())
        page.get_by_role("heading", name="Not stored: P49 on 2026-08-05, counted").wait_for()
        page.get_by_text("40 cm: 19").wait_for()
        assert pages.held("P49").outcome is None
        season.undo(farm.store, None, Signed("Ada", "one more harvest"))
        tap(page, "Send again")
        status(page, "All your records are stored.")
    assert pages.held("P49").stems == ((40, 19),)


# ------------------------------------------------------------------------------ sprays


def test_nobody_is_sent_into_a_plot_closed_after_a_spray(
    pages: Pages, finn: dict[str, str]
) -> None:
    words = "Do not enter this plot. It was sprayed with <b>soap</b>."

    def sprayed(route: Any) -> None:
        told = route.fetch().json()
        spray = {
            "begins": told["now"] - 1000,
            "until": told["now"] + 3_600_000,
            "untilWords": "12:00 local time",
            "words": words,
        }
        for plot in told["plots"]:
            if plot["plot"] == "P50":
                plot["sprays"] = [spray]
        route.fulfill(json=told)

    with pages.phone(finn) as page:
        page.clock.install()
        page.route("**/plots/day?*", sprayed)
        page.goto(pages.at())
        page.get_by_role("button", name="P50 Bed, closed until 12:00 local time").wait_for()
        page.get_by_text("Do not enter P50: closed after a spray.").wait_for()
        # The plot is drawn as this phone kept it; the answer must not come once time has passed.
        with page.expect_response("**/plots/day?*"):
            page.goto(pages.at("P50"))
        page.get_by_text(words).wait_for()
        assert page.get_by_role("button", name="Record", exact=True).is_visible(), "cut anyway"
        page.context.set_offline(True)
        page.unroute_all(behavior="wait")  # an answer of the route would come without a network
        page.clock.fast_forward(3_700_000)
        page.get_by_text(words).wait_for(state="detached")
        status(page, "Plots and sprays are shown as of")


# ------------------------------------------------------------------------------ a thumb's reach

TARGETS = "button, input, summary, a"
MEASURED = """
elements => elements.filter(element => element.checkVisibility()).map(element => {
  const box = element.getBoundingClientRect();
  const style = getComputedStyle(element);
  return {
    what: element.outerHTML.slice(0, 120), wide: box.width, high: box.height,
    outline: style.borderBottomColor, lined: parseFloat(style.borderBottomWidth),
    tag: element.tagName,
  };
})
"""


def brightness(colour: str) -> float:
    """Relative luminance (WCAG 2.2) of a colour that a browser spells as rgb(r, g, b)."""
    parts = [int(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((brightness(one), brightness(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("plot", ["", "P50", "P37"], ids=["plots", "form", "recorded"])
@pytest.mark.parametrize("width", [320, 390])
def test_every_target_is_large_enough_and_has_an_outline(
    pages: Pages, finn: dict[str, str], plot: str, width: int
) -> None:
    with pages.phone(finn, plot) as page:
        page.set_viewport_size({"width": width, "height": 844})
        page.locator("#bar button").first.wait_for()
        page.locator("details").evaluate_all("all => all.forEach(each => { each.open = true; })")
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        found = page.locator(TARGETS).evaluate_all(MEASURED)
        assert len(found) >= 3
        for each in found:
            assert each["high"] >= LEAST_TARGET, each
            assert each["wide"] >= LEAST_TARGET, each
            if each["tag"] in ("BUTTON", "INPUT"):
                assert each["lined"] >= 1, each
                assert contrast(each["outline"], paper) >= LEAST_CONTRAST, each
        over = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert over == 0


def test_record_is_on_screen_wherever_the_page_is_scrolled_to(
    pages: Pages, finn: dict[str, str]
) -> None:
    with pages.phone(finn, "P50") as page:
        button = page.get_by_role("button", name="Record", exact=True)
        button.wait_for()
        for place in (0, 300, 10_000):
            page.evaluate("place => scrollTo(0, place)", place)
            box = button.bounding_box()
            assert PHONE["height"] - 90 <= box["y"]
            assert box["y"] + box["height"] <= PHONE["height"]
        # The last thing on the page is not hidden under the bar.
        last = page.get_by_role("link", name="Measured stems: full page").bounding_box()
        assert last["y"] + last["height"] <= button.bounding_box()["y"]


def test_the_keyboard_alone_records_a_plot(pages: Pages, finn: dict[str, str]) -> None:
    with pages.phone(finn, "P50") as page:
        page.get_by_label("40 cm", exact=True).focus()
        page.keyboard.type("21")
        for _ in range(200):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.textContent") == "Record":
                break
        page.keyboard.press("Enter")
        page.get_by_text("Recorded: 21 stems.").wait_for()
        status(page, "All your records are stored.")
    assert pages.held("P50").stems == ((40, 21),)


def test_each_control_has_a_name_and_each_page_one_main_part(
    pages: Pages, finn: dict[str, str]
) -> None:
    unnamed = """
    elements => elements.filter(element => element.checkVisibility()
      && !(element.ariaLabel || element.textContent.trim()
           || element.labels?.[0]?.textContent.trim())
    ).map(element => element.outerHTML)
    """
    for plot in ("", "P51"):
        with pages.phone(finn, plot) as page:
            page.locator("#bar button").first.wait_for()
            assert page.locator(TARGETS).evaluate_all(unnamed) == []
            assert page.locator("main").count() == 1
            ids = page.locator("[id]").evaluate_all("all => all.map(each => each.id)")
            assert len(ids) == len({*ids})


# ------------------------------------------------------------------------------ hostile text


def test_hostile_names_make_nothing_but_text(pages: Pages, finn: dict[str, str]) -> None:
    worst = "<img src=x onerror=alert(1)>\u202e"[:60]
    dialogs: list[str] = []
    with pages.phone(finn) as page:
        page.on("dialog", lambda dialog: dialogs.append(dialog.message))
        for plot in ("P51", "P52"):
            page.goto(pages.at(plot))
            page.get_by_text(plot, exact=True).wait_for()
            page.get_by_text("Another reason").first.click()
            type_in(page, "Another reason", worst)
            type_in(page, "How many", "1")
            record(page, "1")
            status(page, "All your records are stored.")
        for address in (pages.at(), pages.at("P53"), pages.at("<b>x</b>"), pages.at("P5'\"")):
            page.goto(address)
            page.locator("#bar button").first.wait_for()
            made = page.locator("main").locator("img, script, b, i, strong, svg, iframe")
            assert made.count() == 0
        page.goto(pages.at("P53"))
        page.get_by_label(worst.rstrip("\u202e")).first.wait_for()
    assert dialogs == []
    assert len(pages.held("P52").culls) == 1
