"""A photo from the plot to its variety's page, in a real Chromium at 390 px, and without signal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from tests.dashboard.test_phone_page import LEAST_TARGET, PHONE, Pages, finn, pages, status
from tests.photographs import half_and_half, photo_with_place
from trials import season

__all__ = ["finn", "pages"]  # fixtures

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LAPTOP = {"width": 1280, "height": 900}
# What axe-core calls image-alt, link-name and button-name.
UNNAMED = """
() => [...document.querySelectorAll('[data-testid=stMain] img, [data-testid=stMain] a, button')]
  .filter(each => each.checkVisibility() && !(each.alt || each.ariaLabel || each.title
    || each.textContent.trim() || each.querySelector('img[alt]:not([alt=""])')))
  .map(each => each.outerHTML.slice(0, 200))
"""
TOO_WIDE = """
() => [document.documentElement, document.querySelector('[data-testid=stMain]')]
  .map(element => element.scrollWidth - element.clientWidth)
"""


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    """A photo as a phone's camera writes it, turned and with its place."""
    path = tmp_path / "<img src=x onerror=alert(1)>.jpg"
    path.write_bytes(photo_with_place(6, (2400, 1800)))
    return path


@contextmanager
def looking(
    pages: Pages, cookie: dict[str, str], viewport: dict[str, int], scheme: str
) -> Iterator[Any]:
    """A page of a signed-in person at a width, light or dark."""
    context = pages.chromium.new_context(viewport=viewport, color_scheme=scheme)
    context.add_cookies([cookie])
    page = context.new_page()
    page.set_default_timeout(60_000)
    try:
        yield page
    finally:
        context.close()


def take(page: Any, path: Path) -> None:
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Photo", exact=True).click()
    chooser.value.set_files(path)


def photos_of(pages: Pages, plot: str) -> list[Any]:
    return [kept for kept in season.photos(pages.farm.store) if kept.plot == plot]


def test_a_photo_of_a_plot_is_seen_on_the_page_of_its_variety(
    pages: Pages, finn: dict[str, str], camera: Path
) -> None:
    with pages.phone(finn, "P37") as page:
        button = page.get_by_role("button", name="Photo", exact=True)
        box = button.bounding_box()
        assert min(box["height"], box["width"]) >= LEAST_TARGET
        assert box["x"] + box["width"] <= PHONE["width"]
        page.get_by_label("40 cm", exact=True).fill("12")
        take(page, camera)
        page.get_by_text("Photo stored at").wait_for()
        assert page.get_by_label("40 cm", exact=True).input_value() == "12", "typed figures stay"
        status(page, "All your records are stored.")
    (kept,) = photos_of(pages, "P37")
    assert (kept.added_by, kept.taken_on) == ("Finn", date.today())
    assert pages.held("P37").outcome is None, "a photo is no tally"
    content = season.photo(pages.farm.store, kept.sha256)
    assert b"Ada Brook" not in content
    grower = pages.sign_in("Ada")
    for viewport, scheme in ((PHONE, "dark"), (LAPTOP, "light"), (PHONE, "light")):
        with looking(pages, grower, viewport, scheme) as page:
            page.goto(f"{pages.address}/varieties?variety={quote(kept.variety)}")
            picture = page.locator("img.tb-photo-picture")
            picture.wait_for()
            assert picture.get_attribute("alt").startswith("Photo of ")
            assert "plot P37" in picture.get_attribute("alt")
            size = picture.evaluate("img => [img.naturalWidth, img.naturalHeight]")
            assert size == [360, 480], "upright"
            page.get_by_text("Prices by seed house").wait_for()
            page.get_by_text("Units", exact=True).first.wait_for()
            assert page.evaluate(TOO_WIDE) == [0, 0]
            assert page.evaluate(UNNAMED) == []
            link = page.locator(".tb-photo a").get_attribute("href")
    with looking(pages, grower, PHONE, "light") as page:
        whole = page.goto(pages.address + link)
        assert whole.status == 200
        assert whole.headers["content-type"] == "image/jpeg"
    with looking(pages, finn, PHONE, "light") as page:
        assert page.goto(pages.address + link).status == 403


def test_a_photo_waits_without_signal_and_is_sent_once(
    pages: Pages, finn: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "turned.jpg"
    path.write_bytes(half_and_half(6))
    with pages.phone(finn, "P38") as page:
        page.get_by_role("button", name="Photo", exact=True).wait_for()
        page.context.set_offline(True)
        take(page, path)
        page.get_by_text("1 photo waits on this phone.").wait_for()
        status(page, "No signal. 1 record waits on this phone.")
        assert photos_of(pages, "P38") == []
        page.context.set_offline(False)
        page.get_by_text("Photo stored at").wait_for()
        status(page, "All your records are stored.")
    assert len(photos_of(pages, "P38")) == 1


def test_a_file_that_is_no_photo_is_told_and_can_be_discarded(
    pages: Pages, finn: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "list.jpg"
    path.write_bytes(b"plot,stems\nP39,12\n")
    with pages.phone(finn, "P39") as page:
        take(page, path)
        page.get_by_text("1 photo not stored: see Plots.").wait_for()
        page.get_by_role("button", name="Plots", exact=True).click()
        page.get_by_text("This is no photo.").wait_for()
        page.get_by_role("button", name="Discard", exact=True).click()
        page.get_by_role("button", name="Yes, discard it", exact=True).click()
        status(page, "All your records are stored.")
    assert photos_of(pages, "P39") == []
