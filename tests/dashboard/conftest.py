"""What the pages are shown on: a small farm whose names are hostile, and a real Chromium."""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, NoReturn

import pytest
from streamlit import config
from streamlit.components.v2.component_manager import BidiComponentManager
from streamlit.testing.v1 import AppTest

from dashboard import answers, waiting
from dashboard.access import visitor
from dashboard.serve import SETTINGS
from trials import season
from trials.model.trial import Person, Role, Session

APP = Path(__file__).parents[2] / "dashboard" / "app.py"
# Parts that are drawn once they are opened; a page under test shows them at once.
FOLDED = ("statistics", "stock_form", "sheets_form")

# What a name in a record may look like, and what Markdown, HTML or TeX would make of it.
HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "**bold**",
    "![x](http://e/x.png)",
    ":red[x]",
    "$x$ and $y$",
    ":smile: -> www.e.com",
)
HOSTILE_TRIAL = "*a*-2026"
HOSTILE_OPEN_TRIAL = "_b_-2026"
HOSTILE_CROP = "`crop`"
FACTOR = "netting"
BLOCKS = 3

Rows = Sequence[Sequence[object]]


@pytest.fixture(scope="session", autouse=True)
def as_they_are_served() -> Iterator[None]:
    """Pages under test have the settings that they are served with.

    And they do not look in every installed package for components: none of them has any.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            BidiComponentManager, "discover_and_register_components", lambda *_, **__: None
        )
        for name, value in SETTINGS.items():
            config.set_option(name, value)
        yield


def write(folder: Path, sheet: str, headings: str, rows: Rows) -> Path:
    """One file of records."""
    path = folder / f"{sheet}.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(headings.split(","))
        writer.writerows(rows)
    return path


def write_ground(folder: Path) -> None:
    """The site, the season, the varieties and two trials, of which one has a second factor."""
    write(folder, "sites", "site,place,bed_width_m,note", [("<b>site</b>", "x", 1.2, "")])
    write(
        folder,
        "seasons",
        "season,site,starts_on,ends_on,last_spring_frost,first_autumn_frost",
        [(2026, "<b>site</b>", "2026-03-01", "2026-11-30", "", "")],
    )
    write(
        folder,
        "varieties",
        "variety,crop,colour,habit",
        [(name, HOSTILE_CROP, "", "") for name in HOSTILE],
    )
    question = "Which <script>alert(2)</script> **pays**?"
    both = f"{FACTOR} on whole plots; variety on plots"
    rows = [
        (code, 2026, "<b>site</b>", HOSTILE_CROP, question, factors, HOSTILE[0],
         "stems_per_plant", 0.05, "", 40)
        for code, factors in ((HOSTILE_TRIAL, both), (HOSTILE_OPEN_TRIAL, "variety on plots"))
    ]  # fmt: skip
    write(
        folder,
        "trials",
        "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
        "equivalence_margin,minimum_length_cm",
        rows,
    )


def write_plots_and_cuts(folder: Path) -> None:
    """Figures that differ by variety, by the second factor and a little by block."""
    plots: list[Sequence[object]] = []
    stands, cuts, samples = [], [], []
    for code, levels in ((HOSTILE_TRIAL, ("<i>on</i>", "off")), (HOSTILE_OPEN_TRIAL, ("",))):
        for block in range(1, BLOCKS + 1):
            for w, level in enumerate(levels):
                for v, name in enumerate(HOSTILE):
                    plot = f"P{len(plots) + 1}"
                    whole = w + 1 if level else ""
                    plots.append(
                        (code, plot, block, whole, "Bed", len(plots) + 1, name, level, 12, 1.2,
                         1.44, "2026-05-20")
                    )  # fmt: skip
                    luck = (len(plots) * 7) % 5
                    stands.append((plot, "2026-07-20", 12 - luck % 2))
                    for grade in (30, 40, 50):
                        stems = 20 + 6 * v + 8 * w + 2 * block + luck + grade // 10
                        cuts.append((plot, "2026-07-25", "picked", grade, stems, ""))
                    samples += [
                        (plot, "2026-07-25", n, 44 + v + n + luck + w * block) for n in (1, 2, 3)
                    ]
    write(
        folder,
        "plots",
        f"trial,plot,block,whole_plot,bed,position,variety,{FACTOR},plants_set,"
        "net_length_m,net_area_m2,transplanted_on",
        plots,
    )
    write(folder, "stand_counts", "plot,counted_on,living", stands)
    write(folder, "cuts", "plot,cut_on,outcome,grade_cm,stems,cull_reason", cuts)
    write(folder, "stem_samples", "plot,cut_on,stem,length_cm", samples)


def make_hostile_store(folder: Path) -> Path:
    """The small farm, with its first trial closed."""
    write_ground(folder)
    write_plots_and_cuts(folder)
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    season.close(store, HOSTILE_TRIAL, date(2026, 10, 1), "**frost**")
    return store


@dataclass(frozen=True, slots=True)
class HostileFarm:
    """The small farm's store and the names in it."""

    store: Path
    varieties: tuple[str, ...] = HOSTILE
    crop: str = HOSTILE_CROP
    closed_trial: str = HOSTILE_TRIAL
    open_trial: str = HOSTILE_OPEN_TRIAL

    def copied_to(self, folder: Path) -> HostileFarm:
        return HostileFarm(Path(shutil.copy(self.store, folder)))

    def write(self, sheet: str, headings: str, rows: Rows) -> Path:
        """One more file of records, in a folder of its own."""
        folder = self.store.parent / "more"
        folder.mkdir(exist_ok=True)
        return write(folder, sheet, headings, rows)


@pytest.fixture(scope="session")
def hostile_original(tmp_path_factory: pytest.TempPathFactory) -> HostileFarm:
    """To be copied, never changed."""
    return HostileFarm(make_hostile_store(tmp_path_factory.mktemp("hostile")))


@pytest.fixture
def hostile_farm(hostile_original: HostileFarm, tmp_path: Path) -> HostileFarm:
    """A store that the test may change."""
    return hostile_original.copied_to(tmp_path)


@pytest.fixture
def show(monkeypatch: pytest.MonkeyPatch) -> Callable[..., AppTest]:
    """The pages of a store, as a visitor first sees them."""

    def shown(store: Path, screen: str = "home", **asked: str) -> AppTest:
        monkeypatch.setenv("TALLYBED_STORE", str(store))
        # A page under test is not drawn again by itself: it waits for what is calculated.
        monkeypatch.setattr(waiting, "PATIENCE_S", 120.0)
        monkeypatch.setattr(answers, "calculate_ahead", lambda runs: None)
        page = AppTest.from_file(str(APP), default_timeout=60)
        if screen != "home":  # the first, which an address without a page opens
            page.switch_page(f"screens/{screen}.py")
        for key, value in asked.items():
            page.query_params[key] = value
        for part in FOLDED:
            page.session_state[part] = True
        return page.run()

    return shown


@dataclass(frozen=True, slots=True)
class OpenDoor:
    """One person comes in by it, whatever their device shows."""

    who: Session

    def session(self, token: str | None) -> Session:
        return self.who


@pytest.fixture
def signed_in(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """From now on the visitor came in by the network, has this role and perhaps this name.

    It is the door that changes, not ``visitor``: a module that is imported meanwhile would keep
    another function in that place for every test after this one.
    """

    def sign(role: Role, name: str = "<b>Finn</b>") -> None:
        now = datetime(2026, 8, 1)
        person = Person(name, role, email=None, has_passphrase=True)
        came_in = Session(role.value, person, started_at=now, seen_at=now, ends_at=now)
        monkeypatch.setattr(visitor._Guard, "door", OpenDoor(came_in))

    return sign


CHROMIUM_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def without_browser(reason: str) -> NoReturn:
    if os.environ.get("TALLYBED_REQUIRE_BROWSER") == "1":
        pytest.fail(f"TALLYBED_REQUIRE_BROWSER is set, but {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A real browser; of one module, as Playwright's event loop runs for as long as it is there."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        without_browser("there is no Chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        without_browser("the package playwright is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(CHROMIUM_FLAGS))
        try:
            yield browser
        finally:
            browser.close()
