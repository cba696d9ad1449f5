"""Photos behind the gate: who sends and sees one, and that an address gives a JPEG or nothing."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest

from dashboard.access import limits
from tests.dashboard.test_phone_routes import DAY, EVIL, OWN, Door, Pages, here, pages
from tests.photographs import opened, photo, photo_with_place
from trials import season
from trials.model.photo import PhotoOf
from trials.model.rows import Signed

__all__ = ["here", "pages"]  # fixtures

ALLOWED = ("Ada", "Wren")


@pytest.fixture
def address(pages: Pages) -> str:
    of = PhotoOf(pages.farm.varieties[0], None, DAY)
    (kept,) = season.add_photos(pages.farm.store, [("a.jpg", photo())], of, Signed("Ada")).added
    return f"/photo/{kept.sha256}"


def photos(pages: Pages) -> list[tuple[str | None, date, str | None]]:
    found = season.photos(pages.farm.store)
    return [(kept.plot, kept.taken_on, kept.added_by) for kept in found]


# ------------------------------------------------------------------------------ seeing one


@pytest.mark.parametrize("name", ALLOWED)
def test_a_reader_gets_a_jpeg_and_nothing_that_runs(pages: Pages, address: str, name: str) -> None:
    answer = pages.as_(name).ask(address)
    assert answer.status == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert opened(answer.body).format == "JPEG"


@pytest.mark.parametrize(("name", "status"), [(None, 401), ("Nobody", 401), ("Finn", 403)])
def test_nobody_else_gets_it(pages: Pages, address: str, name: str | None, status: int) -> None:
    answer = pages.as_(name).ask(address)
    assert answer.status == status
    assert b"\xff\xd8" not in answer.body


@pytest.mark.parametrize(
    "name",
    ["0" * 64, "x", "..%2F..%2Ffarm.tallybed", "%2e%2e", "A" * 64, "0" * 63, "0" * 64 + ".jpg"],
)
def test_no_other_name_gives_anything(pages: Pages, address: str, name: str) -> None:
    answer = pages.as_("Ada").ask(f"/photo/{name}")
    assert answer.status == 404
    assert str(pages.farm.store.parent).encode() not in answer.body


def test_a_withdrawn_or_lost_photo_is_gone(pages: Pages, address: str) -> None:
    sha256 = address.rpartition("/")[2]
    file = pages.farm.store.with_name("farm.photos") / f"{sha256}.jpg"
    content = file.read_bytes()
    file.write_bytes(b"<script>alert(1)</script>")
    assert pages.as_("Ada").ask(address).status == 404
    file.write_bytes(content)
    season.withdraw_photo(pages.farm.store, sha256, Signed("Ada", "blurred"))
    assert pages.as_("Ada").ask(address).status == 404


def test_the_folder_of_photos_is_no_public_place(pages: Pages, address: str) -> None:
    sha256 = address.rpartition("/")[2]
    for path in ("/farm.photos", f"/farm.photos/{sha256}.jpg", f"/media/{sha256}.jpg", "/photo/"):
        assert pages.as_("Ada").ask(path).status == 404


# ------------------------------------------------------------------------------ sending one


def test_a_picker_s_photo_is_stored_once_and_signed(pages: Pages) -> None:
    sent = pages.photographed(photo_with_place(6))
    answers = [pages.photo(sent) for _ in range(2)]
    assert [(each.status, each.told["again"]) for each in answers] == [(200, False), (200, True)]
    assert photos(pages) == [("P37", DAY, "Finn")]
    (kept,) = season.photos(pages.farm.store)
    assert b"Ada" not in season.photo(pages.farm.store, kept.sha256)


def test_a_photo_records_no_tally(pages: Pages) -> None:
    pages.photo(pages.photographed(photo()))
    assert pages.tallies() == 0
    assert pages.held().outcome is None


@pytest.mark.parametrize(
    ("other", "status", "kind"),
    [
        ({"photo": "no base64!"}, 400, "unreadable"),
        ({"photo": 7}, 400, "unreadable"),
        ({"photo": ""}, 422, "refused"),
        ({"photo": "aGVsbG8="}, 422, "refused"),
        ({"plot": "P999"}, 409, "unknown"),
        ({"plot": "../../x"}, 409, "unknown"),
        ({"day": "2026-13-01"}, 400, "unreadable"),
        ({"day": "2999-01-01"}, 409, "refused"),
        ({"person": "Nell"}, 409, "person"),
        ({"farm": "x"}, 409, "farm"),
        ({"token": "x"}, 400, "unreadable"),
        ({"more": 1}, 400, "unreadable"),
        ({"made": "x"}, 400, "unreadable"),
    ],
)
def test_what_is_no_photo_of_a_plot_stores_nothing(
    pages: Pages, other: dict[str, Any], status: int, kind: str
) -> None:
    answer = pages.photo(pages.photographed(photo(), **other))
    assert (answer.status, answer.told["kind"]) == (status, kind)
    assert answer.told["words"][0]
    assert photos(pages) == []


def test_an_adviser_a_stranger_and_another_site_send_none(pages: Pages) -> None:
    sent = pages.photographed(photo())
    assert pages.as_("Wren").photo({**sent, "person": "Wren"}).status == 403
    assert pages.as_(None).photo(sent).status == 401
    assert pages.photo(sent, origin=EVIL).status == 403
    assert pages.photo(sent, sec_fetch_site="cross-site").status == 403
    assert pages.photo(sent, **{"content-type": "text/plain"}).status == 415
    for method in ("GET", "PUT", "DELETE"):
        assert pages.ask("/plots/photo", method, origin=OWN).status == 405
    assert photos(pages) == []


def test_more_than_a_photo_is_not_read(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_OF_A_PHOTO", 20_000)
    body = json.dumps(pages.photographed(b"x" * 20_000)).encode()
    assert pages.photo(body).status == 413
    assert limits.limit_of({"path": "/plots/record"}) < limits.limit_of({"path": "/plots/photo"})


def test_here_the_grower_of_this_machine_sends_and_sees_one(here: Pages) -> None:
    assert here.photo(here.photographed(photo())).status == 200
    (kept,) = season.photos(here.farm.store)
    assert here.ask(f"/photo/{kept.sha256}").status == 200
    assert Door().session("Nobody") is None
