"""The page for the phone as it answers behind the gate: who may ask, and what is stored once."""

from __future__ import annotations

import asyncio
import json
import re
from base64 import b64encode
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.types import Message

from dashboard import photo_routes
from dashboard.access import visitor
from dashboard.access.gate import Gate
from dashboard.access.limits import MOST_OF_A_RECORD
from dashboard.tally import bed, phone_routes
from trials import season
from trials.errors import StoreBusy
from trials.model.rows import Signed
from trials.model.trial import Outcome, Person, Role, Session

DAY = date(2026, 8, 5)
PEOPLE = {"Ada": Role.GROWER, "Finn": Role.PICKER, "Nell": Role.PICKER, "Wren": Role.ADVISER}
OWN = "http://127.0.0.1:8501"
EVIL = "http://evil.example"
FILES = Path(phone_routes.__file__).with_name("phone")


class Door:
    """A door at which the token is the name."""

    def session(self, token: str | None) -> Session | None:
        if token not in PEOPLE:
            return None
        at = datetime(2026, 8, 1)
        return Session(token, Person(token, PEOPLE[token], None, True), at, at, at)


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def told(self) -> Any:
        return json.loads(self.body)


@dataclass(frozen=True)
class Pages:
    """The addresses behind the gate, asked without a network."""

    farm: Any
    door: Any = None
    name: str | None = None

    def as_(self, name: str | None) -> Pages:
        return replace(self, name=name)

    def ask(self, path: str, method: str = "GET", body: bytes = b"", **other: str) -> Answer:
        sent: list[Message] = []
        headers = {"host": "127.0.0.1:8501", **other}
        if self.name is not None:
            headers["cookie"] = f"tallybed_session={self.name}"
        pairs = [(key.replace("_", "-").encode(), value.encode()) for key, value in headers.items()]
        path, _, query = path.partition("?")
        scope = {
            "type": "http",
            "method": method,
            "path": path,
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "headers": pairs,
            "extensions": {},
        }

        async def asked() -> None:
            pieces = [body[:9_000], body[9_000:]]

            async def send(message: Message) -> None:
                sent.append(message)

            async def receive() -> Message:
                piece = pieces.pop(0)
                return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

            gate = [Middleware(Gate, door=self.door)]
            routes = [*phone_routes.routes(), *photo_routes.routes()]
            app = Starlette(routes=routes, middleware=gate)
            await app(scope, receive, send)

        asyncio.run(asked())
        told = {key.decode(): value.decode() for key, value in sent[0].get("headers", [])}
        return Answer(sent[0]["status"], told, b"".join(each.get("body", b"") for each in sent))

    def record(self, told: dict[str, Any] | bytes, **other: str) -> Answer:
        body = told if isinstance(told, bytes) else json.dumps(told).encode()
        headers = {"content-type": "application/json", "origin": OWN, **other}
        return self.ask("/plots/record", "POST", body, **headers)

    def made(self, plot: str = "P37", key: int = 1, **other: Any) -> dict[str, Any]:
        """A record as the page makes it."""
        return {
            "token": f"{key:032x}",
            "person": self.name or visitor.HERE,
            "farm": phone_routes.farm_mark(),
            "plot": plot,
            "day": DAY.isoformat(),
            "what": "counted",
            "stems": [[40, "12"]],
            "culls": [["bent", "2"]],
            "words": "",
            "accept": "",
            "made": 1_785_920_400_000,  # 2026-08-05 09:00 UTC
            **other,
        }

    def photographed(self, content: bytes, key: int = 1, **other: Any) -> dict[str, Any]:
        """A photo of a plot as the page sends it."""
        told = self.made(key=key)
        parts = {name: told[name] for name in ("token", "person", "farm", "plot", "day", "made")}
        return {**parts, "photo": b64encode(content).decode(), **other}

    def photo(self, told: dict[str, Any] | bytes, **other: str) -> Answer:
        body = told if isinstance(told, bytes) else json.dumps(told).encode()
        headers = {"content-type": "application/json", "origin": OWN, **other}
        return self.ask("/plots/photo", "POST", body, **headers)

    def held(self, plot: str = "P37") -> Any:
        return season.plot_on_day(self.farm.store, self.farm.open_trial, plot, DAY)

    def tallies(self) -> int:
        return sum(entry.what == "tally" for entry in season.history(self.farm.store))


@pytest.fixture
def here(hostile_farm: Any, monkeypatch: pytest.MonkeyPatch) -> Pages:
    """The pages of this machine, where nobody signs in."""
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    monkeypatch.setenv("TALLYBED_UNITS", "metric")
    monkeypatch.setattr(visitor._Guard, "door", None)
    return Pages(hostile_farm)


@pytest.fixture
def pages(here: Pages, monkeypatch: pytest.MonkeyPatch) -> Pages:
    """The pages of a network, asked by a picker."""
    door = Door()
    monkeypatch.setattr(visitor._Guard, "door", door)
    return Pages(here.farm, door, "Finn")


# ------------------------------------------------------------------------------ what is stored


def test_a_record_is_stored_and_signed(pages: Pages) -> None:
    answer = pages.record(pages.made())
    assert (answer.status, answer.told) == (200, {"stored": True, "again": False})
    held = pages.held()
    assert (held.stems, held.culls, held.who) == (((40, 12),), (("bent", 2),), "Finn")


def test_a_record_that_is_sent_twice_is_stored_once(pages: Pages) -> None:
    made = pages.made()
    assert [pages.record(made).told["again"] for _ in range(3)] == [False, True, True]
    assert pages.tallies() == 1


def test_without_a_network_the_grower_of_this_machine_records(here: Pages) -> None:
    assert here.record(here.made()).status == 200
    assert here.held().who == visitor.HERE


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "outcome"), [("nothing to cut", Outcome.PICKED), ("not picked", Outcome.MISSED)]
)
def test_zero_and_missed_stay_two_facts(pages: Pages, what: str, outcome: Outcome) -> None:
    assert pages.record(pages.made(what=what, stems=[], culls=[])).status == 200
    assert (pages.held().outcome, pages.held().stems) == (outcome, ())


def test_lost_is_a_third_fact_and_has_its_reason(pages: Pages) -> None:
    lost = pages.made(what="lost", stems=[], culls=[], words="voles")
    assert pages.record(lost).status == 200
    assert pages.held().outcome is None
    (plot,) = [each for each in told_of(pages) if each["plot"] == "P37"]
    assert (plot["lost"], plot["outcome"]) == ("voles", None)


def told_of(pages: Pages, **asked: str) -> list[dict[str, Any]]:
    told = pages.ask(f"/plots/day?day={asked.get('day', DAY.isoformat())}").told
    plots: list[dict[str, Any]] = told["plots"]
    return plots


def test_a_plot_tallied_meanwhile_is_refused_with_what_stands_there(pages: Pages) -> None:
    nell = pages.as_("Nell")
    assert nell.record(nell.made(stems=[[50, "7"]])).status == 200
    answer = pages.record(pages.made(key=2))
    assert (answer.status, answer.told["kind"]) == (409, "meanwhile")
    assert "Nell, 7 stems graded" in answer.told["words"][0]
    assert pages.held().stems == ((50, 7),)


def test_a_closed_trial_takes_no_more(pages: Pages) -> None:
    season.close(pages.farm.store, pages.farm.open_trial, date(2026, 10, 1), "frost")
    answer = pages.record(pages.made())
    assert (answer.status, answer.told["stored"]) == (422, False)
    assert "closed" in " ".join(answer.told["words"])
    assert "tallybed " not in " ".join(answer.told["words"])
    assert pages.held().outcome is None


def test_an_unknown_plot_is_told_the_nearest(pages: Pages) -> None:
    answer = pages.record(pages.made("P377"))
    assert (answer.status, answer.told["kind"]) == (409, "unknown")


def test_the_unlikely_waits_for_a_reason_under_the_same_key(pages: Pages) -> None:
    many = pages.made(stems=[[40, "90000"]])
    answer = pages.record(many)
    assert (answer.status, answer.told["kind"]) == (422, "unlikely")
    assert pages.held().outcome is None
    assert pages.record({**many, "accept": "two rows were one"}).status == 200
    assert pages.held().stems == ((40, 90000),)


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["1x", "-3", "1e3", "\u200b4", "3.5"])
def test_what_is_no_count_is_refused_and_stores_nothing(pages: Pages, typed: str) -> None:
    answer = pages.record(pages.made(stems=[[40, typed]]))
    assert (answer.status, answer.told["kind"]) == (422, "refused")
    assert pages.tallies() == 0


def test_a_busy_store_is_no_refusal(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(*_: object) -> None:
        raise StoreBusy("held by another program")

    monkeypatch.setattr(bed, "tally", busy)
    answer = pages.record(pages.made())
    assert (answer.status, answer.told["kind"]) == (503, "busy")


def test_what_was_typed_on_the_full_page_goes_with_its_record(pages: Pages) -> None:
    place = season.DraftPlace("Finn", "P37", DAY)
    with visitor.showing("Finn"):
        bed.drafts().type_in(place, "grade 40", "1")
    assert pages.record(pages.made()).status == 200
    with visitor.showing("Finn"):
        assert place not in bed.begun()


# ------------------------------------------------------------------------------ who may not


def test_another_person_s_record_is_not_stored(pages: Pages) -> None:
    answer = pages.as_("Nell").record(pages.made())
    assert (answer.status, answer.told["kind"]) == (409, "person")
    assert pages.tallies() == 0


def test_another_farm_s_record_is_not_stored(pages: Pages) -> None:
    answer = pages.record(pages.made(farm="0" * 16))
    assert (answer.status, answer.told["kind"]) == (409, "farm")
    assert pages.tallies() == 0


@pytest.mark.parametrize("path", ["/plots", "/plots/day", "/plots/page.js", "/plots/worker.js"])
def test_without_a_session_nothing_is_shown(pages: Pages, path: str) -> None:
    for name in (None, "", "Eve"):
        answer = pages.as_(name).ask(path)
        assert (answer.status, answer.body) == (401, b"Sign in first.")


def test_without_a_session_nothing_is_stored(pages: Pages) -> None:
    made = pages.made()
    for name in (None, "Eve"):
        assert pages.as_(name).record(made).status == 401
    assert pages.tallies() == 0


def test_an_ended_session_is_told_apart_from_a_refusal(pages: Pages) -> None:
    """The gate let it pass, and it ended before the store was reached."""
    made = pages.made()
    with patch.object(visitor._Guard, "door", type("Ended", (), {"session": lambda *_: None})()):
        answer = pages.record(made)
    assert (answer.status, answer.told["kind"]) == (401, "signed out")


def test_an_adviser_tallies_nothing(pages: Pages) -> None:
    wren = pages.as_("Wren")
    assert wren.record(wren.made()).status == 403
    assert wren.ask("/plots/day").status == 403
    assert wren.ask("/plots").headers["location"] == "/"
    assert pages.tallies() == 0


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": EVIL},
        {"origin": "null"},
        {"origin": f"{OWN}.evil.example"},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
    ],
    ids=str,
)
def test_another_site_s_page_stores_nothing(pages: Pages, headers: dict[str, str]) -> None:
    assert pages.record(pages.made(), **headers).status == 403
    assert pages.tallies() == 0


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_a_form_of_another_site_has_no_kind_that_is_read(pages: Pages, kind: str) -> None:
    answer = pages.record(pages.made(), **{"content-type": kind})
    assert answer.status == 415
    assert pages.tallies() == 0


def test_another_host_s_name_gets_nothing(pages: Pages) -> None:
    assert pages.ask("/plots/day", host="evil.example").status == 421


@pytest.mark.parametrize("told", [{}, {"content_length": str(MOST_OF_A_RECORD + 1)}], ids=str)
def test_more_than_a_record_is_not_read(pages: Pages, told: dict[str, str]) -> None:
    made = json.dumps(pages.made(words="x" * MOST_OF_A_RECORD)).encode()
    assert pages.record(made, **told).status == 413
    assert pages.tallies() == 0


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "PATCH", "HEAD"])
def test_a_record_is_only_ever_posted(pages: Pages, method: str) -> None:
    assert pages.ask("/plots/record", method, origin=OWN).status == 405


@pytest.mark.parametrize("day", ["x", "2026-13-01", "<script>", "9" * 500])
def test_a_day_that_is_none_is_refused(pages: Pages, day: str) -> None:
    answer = pages.ask(f"/plots/day?day={day}")
    assert (answer.status, answer.told["kind"]) == (400, "unreadable")


# ------------------------------------------------------------------------------ the page itself


def test_hostile_names_come_as_plain_text_in_a_document_that_is_no_page(pages: Pages) -> None:
    answer = pages.ask(f"/plots/day?day={DAY}")
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert {plot["grows"] for plot in answer.told["plots"]} >= set(pages.farm.varieties)


def test_the_page_runs_nothing_but_its_own_files(pages: Pages) -> None:
    answer = pages.ask("/plots")
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'; script-src 'self'; style-src 'self'" in policy
    assert "unsafe" not in policy
    page = answer.body.decode()
    assert re.findall(r"<script[^>]*>([^<]*)</script>", page) == [""]
    assert not re.search(r"<style|\sstyle=|\son\w+=", page)
    assert not any(name in page for name in pages.farm.varieties)
    for address in re.findall(r'(?:src|href)="([^"]+)"', page):
        if address != "/tally":
            assert pages.ask(address).status == 200


@pytest.mark.parametrize("file", sorted(FILES.iterdir()), ids=lambda file: file.name)
def test_no_name_in_a_record_is_ever_read_as_markup(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    read_as_markup = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|Function\("
    assert not re.search(read_as_markup, text)
    assert not re.search(r"https?://|\b(src|href)=\"//", text), "it asks nobody else"


def test_every_file_of_the_page_is_served(pages: Pages) -> None:
    assert {file.name for file in FILES.iterdir()} == {*phone_routes.KINDS, "page.html"}
    kept = (FILES / "worker.js").read_text(encoding="utf-8")
    for name in phone_routes.KINDS:
        assert pages.ask(f"/plots/{name}").status == 200
        assert name == "worker.js" or f'"/plots/{name}"' in kept, "shown again without signal"


def at_the_farm(hour: int) -> datetime:
    return datetime(2026, 8, 5, hour, 0).astimezone()


@pytest.mark.slow
@pytest.mark.parametrize(("tapped", "flagged"), [(9, 1), (6, 0)])
def test_a_cut_is_flagged_by_when_it_was_tallied_and_not_when_it_came(
    pages: Pages, tapped: int, flagged: int
) -> None:
    entry = season.SprayEntry(pages.farm.open_trial, DAY, "soap", "12", "07:00")
    season.record_spray(pages.farm.store, entry, Signed("Ada"))
    made = pages.made(made=round(at_the_farm(tapped).timestamp() * 1000))
    with patch.object(phone_routes, "datetime", wraps=datetime) as clock:
        clock.now.return_value = at_the_farm(21)
        assert pages.record(made).status == 200
    assert len(season.history(pages.farm.store)[-1].early_cuts) == flagged


def test_a_plot_closed_after_a_spray_is_told_so(pages: Pages) -> None:
    entry = season.SprayEntry(pages.farm.open_trial, DAY, "soap", "12", "07:00", ("P38",))
    season.record_spray(pages.farm.store, entry, Signed("Ada"))
    with patch.object(phone_routes, "datetime", wraps=datetime) as clock:
        clock.now.return_value = at_the_farm(8)
        closed = {each["plot"] for each in told_of(pages) if each["sprays"]}
    assert closed == {"P38"}
