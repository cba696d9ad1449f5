"""The pages in a real Chromium: the command line's own figures, one closing for two taps, a phone.

Chromium is looked for on this machine. Without one these tests are skipped, unless
TALLYBED_REQUIRE_BROWSER=1 asks that they fail instead.
"""

from __future__ import annotations

import json
import os
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
from urllib.parse import urlsplit

import pytest

from dashboard.access.visitor import HERE as GROWER_HERE
from dashboard.theme.text import JOINER
from trials import season
from trials.model.rows import Signed

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1280, "height": 900}
STARTS_WITHIN_S = 40
NAMES = (
    "<img src=x onerror=alert(1)>",
    "**bold** _i_ `c` ~~s~~",
    "![x](http://e/x.png)",
    ":red[x] :smile: :material/home:",
    "$x$ and $y$",
    "a -> b <- c -- d >= e",
    "https://e.example/x www.example.com a@b.com",
    "1. one",
    "# h",
)
LABELS = """
import streamlit as st
from dashboard.theme.text import for_markdown
for number, name in enumerate({names!r}):
    st.checkbox(for_markdown(name), key=str(number))
    st.caption(for_markdown(name))
    st.expander(for_markdown(name))
"""


@dataclass
class Visit:
    """A browser, and what went wrong or out of it in any of its pages."""

    browser: Any
    outside: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    @contextmanager
    def page(self, address: str, viewport: dict[str, int], scheme: str = "light") -> Iterator[Any]:
        context = self.browser.new_context(viewport=viewport, color_scheme=scheme)
        context.on("request", lambda request: self._note(request.url))
        page = context.new_page()
        page.on("dialog", self._dismiss)
        page.set_default_timeout(45_000)
        try:
            page.goto(address)
            page.get_by_text("Units", exact=True).first.wait_for()
            yield page
        finally:
            context.close()

    def _dismiss(self, dialog: Any) -> None:
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def _note(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme in ("http", "https", "ws", "wss") and parts.hostname != HERE:
            self.outside.append(url)


@pytest.fixture(scope="module")
def visit(chromium: Any) -> Visit:
    return Visit(chromium)


def free_port() -> int:
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        return int(lookout.getsockname()[1])


@contextmanager
def served(arguments: list[str], port: int) -> Iterator[str]:
    """The address of a server of pages in a process of its own."""
    with process_of_pages(arguments, port):
        yield f"http://{HERE}:{port}"


@contextmanager
def process_of_pages(arguments: list[str], port: int) -> Iterator[subprocess.Popen[bytes]]:
    """A server of pages in a process of its own, ended whatever happens."""
    process = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env={**os.environ, "TALLYBED_UNITS": "metric"},
    )
    try:
        _wait_for(process, port)
        yield process
    finally:
        process.terminate()
        try:
            process.communicate(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()


def _wait_for(process: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        if process.poll() is not None:
            said, _ = process.communicate()
            pytest.fail(f"the pages ended at once: {said.decode()}")
        connection = HTTPConnection(HERE, port, timeout=1)
        try:
            connection.request("GET", "/_stcore/health")
            if connection.getresponse().status == 200:
                return
        except OSError:
            time.sleep(0.1)
        finally:
            connection.close()
    pytest.fail(f"the pages did not answer within {STARTS_WITHIN_S} s")


@contextmanager
def dashboard(store: Path) -> Iterator[str]:
    port = free_port()
    with served(pages_of(store, port), port) as address:
        yield address


def pages_of(store: Path, port: int) -> list[str]:
    """What Python is told to serve a store's pages."""
    command = "from trials.cli import main; main()"
    options = ["dashboard", "--no-browser", "--port", str(port), "--store", str(store)]
    return ["-c", command, *options]


@pytest.fixture(scope="module")
def demo_pages(demo_store: Path, visit: Visit) -> Iterator[str]:
    with dashboard(demo_store) as address:
        yield address


@dataclass(frozen=True)
class HostilePages:
    """The small farm, and where its pages are."""

    farm: Any
    address: str


@pytest.fixture(scope="module")
def hostile_pages(
    hostile_original: Any, tmp_path_factory: pytest.TempPathFactory, visit: Visit
) -> Iterator[HostilePages]:
    farm = hostile_original.copied_to(tmp_path_factory.mktemp("pages"))
    with dashboard(farm.store) as address:
        yield HostilePages(farm, address)


@pytest.fixture(scope="module")
def printed(demo_store: Path) -> dict[str, Any]:
    """What ``tallybed compare cosmos-2026 --json`` prints."""
    command = ["-c", "from trials.cli import main; main()", "compare", "cosmos-2026", "--json"]
    done = subprocess.run(
        [sys.executable, *command, "--store", str(demo_store)],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def rows_of(page: Any, heading: str) -> list[list[str]]:
    """The cells of the table that begins with that heading."""
    table = page.locator("table.tb-table").filter(
        has=page.locator("th:first-child", has_text=heading)
    )
    rows: list[list[str]] = table.first.locator("tbody tr").evaluate_all(
        "rows => rows.map(row => [...row.cells].map(cell => cell.innerText))"
    )
    return rows


def rounded_as(shown: str, value: float) -> str:
    """The value with as many decimals as the page shows."""
    decimals = len(shown.partition(".")[2])
    return f"{value:.{decimals}f}".replace("-", "\u2212")


def test_the_trial_shows_what_the_command_line_prints(
    printed: dict[str, Any], demo_pages: str, visit: Visit
) -> None:
    with visit.page(f"{demo_pages}/compare?trial=cosmos-2026", LAPTOP) as page:
        page.get_by_text("Which cosmos to reorder, and does pinching pay?").wait_for()
        page.get_by_text("Statistics: every mean").click()
        seen = 0
        for factor in ("variety", "pinch"):
            page.get_by_role("radio", name=factor, exact=True).click()
            page.locator("h2", has_text=f"Every {factor}").wait_for()
            shown = {row[0]: row[2] for row in rows_of(page, factor)}
            for mean in printed["means"]:
                if mean["term"] == factor:
                    level = mean["levels"][factor]
                    assert shown[level] == rounded_as(shown[level], mean["mean"])
                    seen += 1
        assert seen == 14, "twelve varieties, pinched and not"
        pictures = page.locator("img.tb-picture.wide")
        pictures.nth(1).wait_for()  # the other pictures come after the comparison
        assert pictures.count() == 2


# What the usual engines ask of a page: each control and picture has a name, headings go down by
# one level at a time, no two elements share an id, words contrast with what they stand on (WCAG
# 2.2: 4.1.2, 1.1.1, 1.3.1, 1.4.3).
FAULTS = """() => {
  const faults = [], seen = new Set();
  const shown = e => e.checkVisibility({checkVisibilityCSS: true, checkOpacity: true});
  const words = e => (e.innerText || '').trim();
  const named = e => (e.getAttribute('aria-label') || '').trim() || words(e) || e.title || e.alt
    || (e.getAttribute('aria-labelledby') || '').split(' ')
         .map(id => document.getElementById(id)).filter(x => x).map(words).join('')
    || [...(e.labels || [])].map(words).join('');
  for (const e of document.querySelectorAll('[id]')) {
    if (seen.has(e.id)) faults.push('id twice: ' + e.id);
    seen.add(e.id);
  }
  const controls = 'a[href], button, input, select, textarea, summary, [role=radio]';
  for (const e of document.querySelectorAll(controls))
    if (shown(e) && !named(e)) faults.push('no name: ' + e.outerHTML.slice(0, 90));
  for (const e of document.querySelectorAll('img'))
    if (!e.hasAttribute('alt')) faults.push('no alt: ' + e.className);
  let level = 0;
  for (const e of document.querySelectorAll('h1, h2, h3, h4, h5, h6')) {
    if (!shown(e)) continue;
    const next = Number(e.tagName[1]);
    if (next > level + 1) faults.push('heading skips: ' + words(e));
    level = next;
  }
  const parts = c => (c.match(/[\\d.]+/g) || [0, 0, 0, 0]).map(Number);
  const light = c => parts(c).slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = e => {
    for (let at = e; at; at = at.parentElement) {
      const c = getComputedStyle(at).backgroundColor;
      if ((parts(c)[3] ?? 1) > 0.99) return c;
    }
    return 'rgb(255, 255, 255)';
  };
  for (const e of document.querySelectorAll('[data-testid=stMain] :is(p, h1, h2, h3, li, td)')) {
    if (!shown(e) || !words(e)) continue;
    const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) faults.push('contrast: ' + words(e).slice(0, 60));
  }
  return faults;
}"""
HIGHEST_FOLDED_PX = 5_000


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_compare_can_be_read_by_everybody(
    demo_pages: str, visit: Visit, viewport: dict[str, int], scheme: str
) -> None:
    with visit.page(f"{demo_pages}/compare?trial=cosmos-2026", viewport, scheme) as page:
        page.get_by_text("Report as one web page").wait_for()
        height = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        assert height <= HIGHEST_FOLDED_PX
        assert page.evaluate(FAULTS) == []
        page.get_by_text("Statistics: every mean").click()
        page.get_by_text("Cautions (").click()
        page.locator("h2", has_text="Every variety").wait_for()
        assert page.evaluate(FAULTS) == []
        ground = page.locator(".stApp").evaluate("e => getComputedStyle(e).backgroundColor")
        assert (ground == "rgb(251, 248, 241)") is (scheme == "light")


def test_compare_works_from_the_keyboard_alone(demo_pages: str, visit: Visit) -> None:
    focused = "(document.activeElement.innerText || document.activeElement.ariaLabel || '').trim()"
    with visit.page(f"{demo_pages}/compare?trial=cosmos-2026", LAPTOP) as page:
        page.get_by_text("Report as one web page").wait_for()
        answer = page.locator("h2.tb-answer").inner_text()
        reached: list[str] = []
        for _ in range(60):
            page.keyboard.press("Tab")
            reached.append(page.evaluate(focused))
            if reached[-1] == "Report as one web page":
                break
        said = "\n".join(reached)
        for control in ("Trial", "Measure", "Save PNG", "Save CSV", "Statistics", "Report as PDF"):
            assert control in said, (control, reached)
        page.get_by_role("radio", name="variety", exact=True).focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Space")
        page.wait_for_function(
            "before => document.querySelector('h2.tb-answer').innerText !== before", arg=answer
        )
        assert page.locator("h2.tb-answer").inner_text().startswith("Pinched gave about")


def test_pictures_and_reports_are_saved(demo_pages: str, visit: Visit) -> None:
    """Each is made when it is asked for; all come through the gate."""
    with visit.page(f"{demo_pages}/compare?trial=cosmos-2026", LAPTOP) as page:
        page.get_by_text("Report as one web page").wait_for()
        for button, name, begins in (
            ("Save PNG", "stems-per-plant-by-variety.png", b"\x89PNG"),
            ("Save SVG", "stems-per-plant-by-variety.svg", b"<svg"),
            ("Save CSV", "stems-per-plant-by-variety.csv", b'"variety"'),
            ("Report as PDF", "cosmos-2026.pdf", b"%PDF"),
            ("Report as one web page", "cosmos-2026.html", b"<!DOCTYPE html>"),
        ):
            with page.expect_download() as saved:
                page.get_by_role("button", name=button).first.click()
            assert saved.value.suggested_filename == name
            assert Path(saved.value.path()).read_bytes().startswith(begins)


@pytest.mark.parametrize("wanted", ["more", "cannot tell yet"])
def test_a_pair_has_the_verdict_the_command_line_prints(
    printed: dict[str, Any], demo_pages: str, visit: Visit, wanted: str
) -> None:
    with visit.page(f"{demo_pages}/compare?trial=cosmos-2026", LAPTOP) as page:
        page.get_by_text("Statistics: every mean").click()
        page.get_by_role("radio", name=f"{wanted} (").click()
        page.locator("td .tb-chip", has_text=wanted).first.wait_for()
        first, *_, verdict = rows_of(page, "pairs of variety")[0]
    higher, _, lower = first.partition(" over ")
    (pair,) = (
        pair
        for pair in printed["all_pairs"]
        if pair["term"] == "variety"
        and {pair["a"]["variety"], pair["b"]["variety"]} == {higher, lower}
    )
    assert verdict == wanted
    same_way = pair["a"]["variety"] == higher
    assert pair["verdict"] == (wanted if same_way or wanted != "more" else "less")


@pytest.mark.parametrize(
    "screen",
    [
        *("", "tally", "compare", "choose", "order", "history", "backups", "varieties"),
        "varieties?variety=Wrenlatch",
    ],
)
def test_nothing_runs_out_of_a_phone(demo_pages: str, visit: Visit, screen: str) -> None:
    with visit.page(f"{demo_pages}/{screen}", PHONE) as page:
        page.wait_for_timeout(500)
        wide = page.evaluate(
            """() => [document.documentElement,
                      document.querySelector('[data-testid=stMain]')]
                     .map(element => element.scrollWidth - element.clientWidth)"""
        )
        assert wide == [0, 0]
        ends = page.locator("canvas").evaluate_all(
            "all => all.map(canvas => canvas.getBoundingClientRect().right)"
        )
        assert all(end <= PHONE["width"] for end in ends)


def test_a_plot_is_tallied_with_two_taps_and_a_reload(
    hostile_pages: HostilePages, visit: Visit
) -> None:
    """At the bed: a page that is loaded again loses nothing, two taps record one tally."""
    from playwright.sync_api import expect

    farm = hostile_pages.farm
    address = f"{hostile_pages.address}/tally?plot=P37&day=2026-08-05"
    with visit.page(address, PHONE) as page:
        page.get_by_label("40 cm", exact=True).fill("12")
        page.get_by_label("bent", exact=True).fill("2")
        typed_is_kept(page, farm.store, {"grade 40": "12", "cull bent": "2"})
        page.reload()
        for label, typed in (("40 cm", "12"), ("bent", "2"), ("50 cm", "")):
            # A field is drawn a moment before what was typed into it comes back.
            expect(page.get_by_label(label, exact=True)).to_have_value(typed, timeout=15_000)
        for place in ("Record", "Nothing to cut (0)", "Not picked"):
            box = page.get_by_role("button", name=place, exact=True).bounding_box()
            assert box["height"] >= 48
        field = page.get_by_label("40 cm", exact=True)
        assert field.bounding_box()["height"] >= 48
        assert field.evaluate("field => parseFloat(getComputedStyle(field).fontSize)") >= 16
        page.get_by_text("Another reason, and measured stems").click()
        page.get_by_label("Another reason").fill(NAMES[0])
        page.get_by_label("How many").fill("1")
        page.get_by_role("button", name="Record", exact=True).dblclick()
        page.get_by_text("Recorded: 12 stems to sell.").wait_for()
        page.get_by_role("button", name="Next: P38").click()
        page.get_by_text("P38", exact=True).first.wait_for()
        # The form comes in field by field, and what reads a label's Markdown a moment later.
        page.get_by_label("insects", exact=True).wait_for()
        page.locator(".st-key-culls").get_by_text("onerror").wait_for()
        reasons = page.locator(".st-key-culls").inner_text().replace(JOINER, "")
        assert NAMES[0] in reasons, "it is among the reasons from now on, as it stands"
        assert page.locator("[data-testid=stMain]").locator("img, script, strong").count() == 0
        page.get_by_role("button", name="Not picked").dblclick()
        page.get_by_text("Recorded: not picked.").wait_for()
        assert page.locator("[data-testid=stException]").count() == 0
    told = season.plot_on_day(farm.store, farm.open_trial, "P37", date(2026, 8, 5))
    assert (told.stems, told.culls) == (((40, 12),), ((NAMES[0], 1), ("bent", 2)))
    missed = season.plot_on_day(farm.store, farm.open_trial, "P38", date(2026, 8, 5))
    assert missed.outcome == "missed"
    blank = season.plot_on_day(farm.store, farm.open_trial, "P39", date(2026, 8, 5))
    assert blank.outcome is None
    tallies = [entry for entry in season.history(farm.store) if entry.what == "tally"]
    assert len(tallies) == 2


def test_what_is_typed_survives_the_death_of_the_server(
    hostile_original: Any, tmp_path: Path, visit: Visit
) -> None:
    """Killed at once between typing and recording; started anew, it has what was typed."""
    from playwright.sync_api import expect

    farm = hostile_original.copied_to(tmp_path)
    port = free_port()
    address = f"http://{HERE}:{port}/tally?plot=P37&day=2026-08-05"
    expected = {"grade 40": "12", "cull bent": "2", "happened": "hail at noon"}
    pages = pages_of(farm.store, port)
    with process_of_pages(pages, port) as process, visit.page(address, PHONE) as page:
        page.get_by_label("40 cm", exact=True).fill("12")
        page.get_by_label("bent", exact=True).fill("2")
        page.wait_for_timeout(1500)  # a person opens the next part a moment later
        page.get_by_text("A note, or the plot is lost").click()
        page.get_by_label("What happened").fill("hail at noon")
        typed_is_kept(page, farm.store, expected)
        process.kill()
        process.wait()
    assert typed_on_this_machine(farm.store) == [expected]
    with process_of_pages(pages, port), visit.page(address, PHONE) as page:
        page.get_by_text("not recorded yet").wait_for()
        for label, typed in (("40 cm", "12"), ("bent", "2"), ("What happened", "hail at noon")):
            # The notice of a draft is drawn above the fields, and so before them.
            expect(page.get_by_label(label, exact=True)).to_have_value(typed, timeout=15_000)
        page.get_by_role("button", name="Use it").click()
        page.get_by_text("not recorded yet").wait_for(state="detached")
        page.get_by_role("button", name="Record", exact=True).click()
        page.get_by_text("The note below is not stored").wait_for()
        page.get_by_role("button", name="Store note").click()
        page.get_by_text("note: hail at noon").wait_for()
        page.get_by_role("button", name="Record", exact=True).click()
        page.get_by_text("Recorded: 12 stems to sell.").wait_for()
    told = season.plot_on_day(farm.store, farm.open_trial, "P37", date(2026, 8, 5))
    assert (told.stems, told.culls) == (((40, 12),), (("bent", 2),))
    assert typed_on_this_machine(farm.store) == []


def typed_is_kept(page: Any, store: Path, expected: dict[str, str]) -> None:
    """Wait until the store has what was typed: the page writes it a moment after the typing."""
    until = time.monotonic() + 30
    while typed_on_this_machine(store) != [expected]:
        assert time.monotonic() < until, typed_on_this_machine(store)
        page.wait_for_timeout(100)


def typed_on_this_machine(store: Path) -> list[dict[str, str]]:
    return [dict(draft.fields) for draft in season.drafts_of(store, GROWER_HERE)]


def test_two_taps_close_a_trial_once(hostile_pages: HostilePages, visit: Visit) -> None:
    farm = hostile_pages.farm
    with visit.page(hostile_pages.address, PHONE) as page:
        page.get_by_text("Close this trial").click()
        page.get_by_label("The season ended on").get_by_role("spinbutton").first.click()
        page.keyboard.type("20261001")
        page.get_by_label("What ended it").click()
        page.get_by_label("What ended it").fill("first frost")
        page.get_by_text("I have seen what is missing").click()
        page.get_by_role("button", name=f"Close {farm.open_trial}").dblclick()
        page.get_by_text("Closed on 2026-10-01: first frost.").wait_for()
        page.wait_for_timeout(1000)
        assert page.locator(".tb-alert").count() == 0
        assert page.locator("[data-testid=stException]").count() == 0
    closed = season.closing(farm.store, farm.open_trial)
    assert closed is not None
    assert (closed.closed_on, closed.reason) == (date(2026, 10, 1), "first frost")


def test_two_taps_take_an_entry_back_once(hostile_pages: HostilePages, visit: Visit) -> None:
    farm = hostile_pages.farm
    path = farm.write("recounted", "plot,counted_on,living", [("P1", "2026-07-20", 10)])
    assert season.correct(farm.store, [path], Signed("Ann", "two were weeds")) is not None
    before = len(season.history(farm.store))
    with visit.page(f"{hostile_pages.address}/history", PHONE) as page:
        taking_back = page.get_by_role("button", name="Undo this").first
        for _ in range(5):  # while the page still comes in, an opened entry may close again
            page.locator("[class*='st-key-entry'] summary").first.click()
            page.wait_for_timeout(1_500)
            if taking_back.is_visible():
                break
        taking_back.click()
        page.get_by_label("Why do you undo it?").fill("another plot")
        page.get_by_role("button", name="Yes, undo change").dblclick()
        page.get_by_text("Done: change").wait_for()
        page.wait_for_timeout(1_000)
    newest = season.history(farm.store)[before:]
    assert [(entry.undoes, entry.why) for entry in newest] == [(before, "another plot")]


def test_names_from_the_records_are_only_text(hostile_pages: HostilePages, visit: Visit) -> None:
    farm = hostile_pages.farm
    if season.closing(farm.store, farm.open_trial) is None:
        season.close(farm.store, farm.open_trial, date(2026, 10, 1), "frost")
    for screen in ("", "compare", "choose", "order", "varieties"):
        with visit.page(f"{hostile_pages.address}/{screen}", LAPTOP) as page:
            for chart in page.locator("canvas").all():
                chart.scroll_into_view_if_needed()
                box = chart.bounding_box()
                for share in (0.3, 0.5, 0.7, 0.85):
                    page.mouse.move(box["x"] + share * box["width"], box["y"] + 60)
            main = page.locator("[data-testid=stMain]")
            assert main.locator("img:not(.tb-picture), script, strong, em, del").count() == 0
            if screen == "compare":
                page.get_by_text("Statistics: every mean").click()
                main.locator("h2", has_text="Every ").first.wait_for()
                assert main.locator("img:not(.tb-picture), script, strong, em, del").count() == 0
                said = main.inner_text()
                assert all(name in said for name in farm.varieties)


def texts_of(page: Any, kind: str) -> list[str]:
    """What each element of a kind says; an expander's text begins with the name of its arrow."""
    shown = page.locator(f"[data-testid={kind}]").all_inner_texts()
    return [text.replace(JOINER, "").strip().rpartition("\n")[2] for text in shown]


def test_labels_show_names_as_they_stand(tmp_path: Path, visit: Visit) -> None:
    script = tmp_path / "labels.py"
    script.write_text(LABELS.format(names=NAMES) + "st.text('Units')\n", encoding="utf-8")
    port = free_port()
    options = (f"--server.port={port}", f"--server.address={HERE}", "--server.headless=true")
    quiet = "--browser.gatherUsageStats=false"
    arguments = ["-m", "streamlit", "run", str(script), *options, quiet]
    with served(arguments, port) as address, visit.page(address, LAPTOP) as page:
        page.get_by_text("Units", exact=True).first.wait_for()
        for kind in ("stCheckbox", "stCaptionContainer", "stExpander"):
            # The page fetches what reads Markdown when it first needs it.
            until = time.monotonic() + 10
            while (shown := texts_of(page, kind)) != list(NAMES) and time.monotonic() < until:
                page.wait_for_timeout(100)
            assert shown == list(NAMES)
        assert page.locator("[data-testid=stMain] a, [data-testid=stMain] img").count() == 0


def test_nothing_left_this_machine_and_nothing_ran(visit: Visit) -> None:
    """Last in the file: what all pages above asked for."""
    assert visit.outside == []
    assert visit.dialogs == []
