"""The page for the phone beside Streamlit's: its files, a day's plots, and recording one plot.

It stands behind the same gate, and asks and records by the same calls as the tally page.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from dashboard.access.gate import PHONE_PAGE as PAGE
from dashboard.access.gate import is_own_page, token_of
from dashboard.access.limits import PHOTOS, RECORDS
from dashboard.access.visitor import TALLIERS, WRITERS, require, said, showing
from dashboard.kept import store_path
from dashboard.settings import units_at_first
from dashboard.tally import bed
from dashboard.tally.phone_day import Asking, day_document
from dashboard.tally.phone_record import NoRecord, Sent, SentPhoto, sent_photo, sent_record
from dashboard.theme.looks import CARD, CLAY, INK, LEAF, PAPER, SAND, SOFT_INK, STONE
from trials import TallybedError
from trials.errors import (
    NotAllowed,
    RecordsHeld,
    RecordsRefused,
    SignInRefused,
    StoreBusy,
    TrialState,
    UnknownName,
)
from trials.model.plot_day import RecordedMeanwhile
from trials.report.remedies import remedy_words
from trials.season import said_of_fields

DAY = f"{PAGE}/day"
FILES = Path(__file__).with_name("phone")
KINDS = MappingProxyType(
    {
        "page.css": "text/css",
        "page.js": "text/javascript",
        "parts.js": "text/javascript",
        "day.js": "text/javascript",
        "waiting.js": "text/javascript",
        "photo.js": "text/javascript",
        "worker.js": "text/javascript",
    }
)
BODY_WITHIN_S = 20.0
PHOTO_WITHIN_S = 60.0
BLIND = "TALLYBED_BLIND"
NO_STORE = {"cache-control": "no-store"}
# Asked for again each time, so that a page and its scripts are always of one release.
ASK_AGAIN = {"cache-control": "no-cache"}
POLICY = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; worker-src 'self'; form-action 'none'; "
    "base-uri 'none'; frame-ancestors 'none'"
}
COLOURS = {
    "paper": PAPER,
    "card": CARD,
    "sand": SAND,
    "ink": INK,
    "soft-ink": SOFT_INK,
    "leaf": LEAF,
    "clay": CLAY,
    "stone": STONE,
}
ANOTHER_SITE = "This record was sent from another page. Nothing was stored."
NO_JSON = "This record is in no form that can be read. Nothing was stored."
ANOTHER_PERSON = (
    "This record was made by somebody else. It stays on this phone until they sign in here."
)
ANOTHER_FARM = "This record was made for another farm. It stays on this phone."
BUSY = "The farm's computer is busy. The record stays on this phone and is sent again."

# What a refusal is to the phone: the first that fits. Only a busy store is asked again by itself.
REFUSALS: Mapping[type[TallybedError], tuple[int, str]] = MappingProxyType(
    {
        SignInRefused: (401, "signed out"),
        NotAllowed: (403, "role"),
        StoreBusy: (503, "busy"),
        NoRecord: (400, "unreadable"),
        RecordedMeanwhile: (409, "meanwhile"),
        TrialState: (409, "closed"),
        UnknownName: (409, "unknown"),
        RecordsHeld: (422, "unlikely"),
        RecordsRefused: (422, "refused"),
        TallybedError: (409, "refused"),
    }
)

Answer = TypeVar("Answer")


def routes() -> list[BaseRoute]:
    """The addresses, to stand before Streamlit's own."""
    return [
        Route(PAGE, show_page, methods=["GET"]),
        Route(DAY, show_day, methods=["GET"]),
        Route(RECORDS, record, methods=["POST"]),
        Route(PHOTOS, photo, methods=["POST"]),
        *(Route(f"{PAGE}/{name}", show_file, methods=["GET"], name=name) for name in KINDS),
    ]


async def show_page(request: Request) -> Response:
    """The page itself; it holds nothing of the farm's."""
    try:
        await _asked(request, lambda: require(TALLIERS))
    except NotAllowed:
        return RedirectResponse("/", status_code=303, headers=NO_STORE)
    except TallybedError as refusal:
        return _refused(refusal, str(refusal))
    return Response(_file("page.html"), media_type="text/html", headers={**ASK_AGAIN, **POLICY})


async def show_file(request: Request) -> Response:
    """A script or the style of the page."""
    name = request.url.path.rpartition("/")[2]
    headers = {**ASK_AGAIN, **POLICY}
    if name == "worker.js":  # it answers for the page as well, which lies above its own address
        headers["service-worker-allowed"] = PAGE
    return Response(_file(name), media_type=KINDS[name], headers=headers)


async def show_day(request: Request) -> Response:
    """The plots of a day, today unless another is asked for."""
    try:
        return await _asked(request, partial(_day_of, request.query_params.get("day", "")))
    except TallybedError as refusal:
        return _refused(refusal, str(refusal))


async def record(request: Request) -> Response:
    """Record one plot, once for each key."""
    return await _taken(request, BODY_WITHIN_S, _recorded)


async def photo(request: Request) -> Response:
    """Store a photo of one plot, once for each key."""
    return await _taken(request, PHOTO_WITHIN_S, _photographed)


async def _taken(request: Request, within_s: float, take: Callable[[bytes], Response]) -> Response:
    """What became of what a phone sent, if it is the page's own."""
    if not is_own_page(request.headers) or _is_from_elsewhere(request):
        return _says(403, "elsewhere", ANOTHER_SITE)
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        return _says(415, "unreadable", NO_JSON)
    try:
        async with asyncio.timeout(within_s):
            body = await request.body()
        return await _asked(request, partial(take, body))
    except TimeoutError:
        return _says(408, "busy", BUSY)
    except TallybedError as refusal:
        return _refused(refusal, str(refusal))


def _is_from_elsewhere(request: Request) -> bool:
    """Whether the browser says that another site's page asks (W3C Fetch Metadata)."""
    return request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")


async def _asked(request: Request, ask: Callable[[], Answer]) -> Answer:
    """The answer as the visitor gets it who made the request; in a thread, as the store waits."""

    def answer() -> Answer:
        with showing(token_of(request.headers)):
            return ask()

    return await run_in_threadpool(answer)


def _day_of(asked: str) -> Response:
    who = require(TALLIERS)
    now = datetime.now(UTC)
    try:
        day = date.fromisoformat(asked) if asked else now.astimezone().date()
    except ValueError:
        return _says(400, "unreadable", "The day in the address is no date.")
    walk = bed.walk(day)
    counts_by = {trial: bed.grades_and_reasons(trial) for trial in {plot.trial for plot in walk}}
    blind = os.environ.get(BLIND) == "1"
    asking = Asking(who.name, who.role in WRITERS, farm_mark(), day, now, units_at_first(), blind)
    return JSONResponse(day_document(asking, walk, counts_by), headers=NO_STORE)


def farm_mark() -> str:
    """Tells this farm's store from another that was served at the same address."""
    return sha256(str(store_path().resolve()).encode()).hexdigest()[:16]


def _recorded(body: bytes) -> Response:
    who = require(TALLIERS)
    sent = sent_record(body)
    for_another = _made_for_another(sent, who.name)
    if for_another is not None:
        return for_another
    try:
        done = _tally(sent)
    except RecordsRefused as refused:
        worded = partial(remedy_words, role=who.role)
        return _refused(refused, *said_of_fields(refused, worded))
    except TallybedError as refusal:
        return _refused(refusal, said(refusal))
    return JSONResponse({"stored": True, "again": done}, headers=NO_STORE)


def _photographed(body: bytes) -> Response:
    who = require(TALLIERS)
    sent = sent_photo(body)
    for_another = _made_for_another(sent, who.name)
    if for_another is not None:
        return for_another
    try:
        done = bed.add_photo(sent.content, sent.plot, sent.day, sent.token)
    except RecordsRefused as refused:
        return _refused(refused, *(f"{each.problem} {each.remedy}" for each in refused.faults))
    except TallybedError as refusal:
        return _refused(refusal, said(refusal))
    return JSONResponse({"stored": True, "again": not done.added}, headers=NO_STORE)


def _made_for_another(sent: Sent | SentPhoto, person: str) -> Response | None:
    if sent.person != person:
        return _says(409, "person", ANOTHER_PERSON)
    if sent.farm != farm_mark():
        return _says(409, "farm", ANOTHER_FARM)
    return None


def _tally(sent: Sent) -> bool:
    made = sent.made_before(datetime.now(UTC))
    return bed.tally(sent.entry, sent.token, sent.accept, made).again


def _refused(refusal: TallybedError, *words: str) -> Response:
    for kind, (status, name) in REFUSALS.items():
        if isinstance(refusal, kind):
            return _says(status, name, *words)
    raise refusal


def _says(status: int, kind: str, *words: str) -> Response:
    told = {"stored": False, "kind": kind, "words": list(words)}
    return JSONResponse(told, status_code=status, headers=NO_STORE)


@cache
def _file(name: str) -> bytes:
    content = (FILES / name).read_bytes()
    if name != "page.css":
        return content
    colours = "".join(f"--{colour}:{value};" for colour, value in COLOURS.items())
    return f":root{{{colours}}}\n".encode() + content
