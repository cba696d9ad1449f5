"""The pages before the pages: signing in, signing out, and taking up an invitation.

They are plain forms without scripts and hold nothing of the farm's.
"""

from __future__ import annotations

import asyncio
from typing import Any
from urllib.parse import parse_qs, quote, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from dashboard.access import front_page, single_sign_on
from dashboard.access.gate import (
    COOKIE,
    SERVICE_SIGN_IN,
    SIGN_IN,
    SIGN_OUT,
    is_own_page,
    token_of,
)
from dashboard.access.service_file import CALLBACK
from dashboard.access.who import Door
from trials import TallybedError
from trials.errors import SignInRefused
from trials.model.trial import Role
from trials.report.remedies import page_words
from trials.season import SESSION_LASTS

LARGEST_FORM = 8_192
NEXT_COOKIE = "tallybed_next"
NEXT_LASTS_S = 600
DEVICE_COOKIE = "tallybed_device"
DEVICE_LASTS_S = 90 * 24 * 3600
FORM_WITHIN_S = 20.0
THIS_MACHINE = "127.0.0.1"
NO_STORE = {"cache-control": "no-store"}
TOO_LARGE = "That text is too long for its field."
ANOTHER_SITE = "This form was sent from another page. Open the address again and retry."


class SignIn:
    """The forms, over one door.

    ``secure`` says that the pages are served over TLS, ``has_service`` that people may also sign
    in through another service.
    """

    def __init__(self, door: Door, *, secure: bool, has_service: bool = False) -> None:
        self._door = door
        self._secure = secure
        self._has_service = has_service

    def routes(self) -> list[BaseRoute]:
        """The addresses, to stand before Streamlit's own."""
        return [
            Route(SIGN_IN, self.show_sign_in, methods=["GET"]),
            Route(SIGN_IN, self.sign_in, methods=["POST"]),
            Route(SERVICE_SIGN_IN, self.go_to_service, methods=["GET"]),
            Route(SIGN_OUT, self.show_sign_out, methods=["GET"]),
            Route(SIGN_OUT, self.sign_out, methods=["POST"]),
            Route("/join/{token}", self.show_invitation, methods=["GET"]),
            Route("/join/{token}", self.accept, methods=["POST"]),
        ]

    async def show_sign_in(self, request: Request) -> Response:
        """The form; somebody signed in already is sent on.

        A phone that opens a link from its camera keeps the cookie of a strict site to itself, so
        this page first opens itself once more: then the request is its own, and the cookie comes.
        """
        after = own_path(request.query_params.get("next"))
        if await self._is_signed_in(request):
            return RedirectResponse(after, status_code=303, headers=NO_STORE)
        if "own" not in request.query_params:
            again = f"{SIGN_IN}?own=1&next={quote(after, safe='')}"
            return page(front_page.reopening(again))
        return page(front_page.sign_in(after, service=self._service(after)))

    async def sign_in(self, request: Request) -> Response:
        """Judge a name and a passphrase."""
        form = await read_form(request)
        after = own_path(form.get("next"))
        name = form.get("name", "")
        try:
            require_own_page(request)
            token, device = await run_in_threadpool(
                self._door.sign_in,
                name,
                form.get("passphrase", ""),
                address_of(request),
                request.cookies.get(DEVICE_COOKIE),
            )
        except TallybedError as refusal:
            shown = front_page.sign_in(
                after, name=name, refusal=words_outside(refusal), service=self._service(after)
            )
            return page(shown, 401)
        return let_in(token, after, secure=self._secure, device=device)

    def _service(self, after: str) -> str | None:
        """Where the way to the other service begins; None without one."""
        return service_address(after) if self._has_service else None

    async def go_to_service(self, request: Request) -> Response:
        """Lead to the other service; where to go on to afterwards stays in this browser."""
        after = own_path(request.query_params.get("next"))
        away = RedirectResponse(single_sign_on.login_address(), status_code=303, headers=NO_STORE)
        away.set_cookie(
            NEXT_COOKIE,
            quote(after, safe=""),
            max_age=NEXT_LASTS_S,
            path=CALLBACK,
            httponly=True,
            samesite="lax",  # it must come along when the service sends the browser back
            secure=self._secure,
        )
        return away

    async def show_sign_out(self, request: Request) -> Response:
        """Ask once more: a link alone signs nobody out."""
        if not await self._is_signed_in(request):
            return RedirectResponse(SIGN_IN, status_code=303, headers=NO_STORE)
        return page(front_page.sign_out())

    async def sign_out(self, request: Request) -> Response:
        """End this device's session."""
        require_own_page(request)
        await run_in_threadpool(self._door.sign_out, token_of(request.headers))
        done = page(front_page.signed_out())
        done.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict", secure=self._secure)
        return done

    async def show_invitation(self, request: Request) -> Response:
        """What the invited person may do, and the fields for a passphrase."""
        try:
            found = await run_in_threadpool(
                self._door.invitation, request.path_params["token"], address_of(request)
            )
        except SignInRefused as refusal:
            return page(front_page.no_invitation(words_outside(refusal)), 401)
        return page(front_page.invitation(found))

    async def accept(self, request: Request) -> Response:
        """Take the invitation up with a passphrase."""
        form = await read_form(request)
        link = request.path_params["token"]
        try:
            require_own_page(request)
            found = await run_in_threadpool(self._door.invitation, link, address_of(request))
        except SignInRefused as refusal:
            return page(front_page.no_invitation(words_outside(refusal)), 401)
        passphrase = form.get("passphrase", "")
        if passphrase != form.get("again", ""):
            return page(front_page.invitation(found, "The two passphrases differ."), 401)
        try:
            token = await run_in_threadpool(self._door.accept, link, passphrase)
        except SignInRefused as refusal:
            return page(front_page.no_invitation(words_outside(refusal)), 401)
        except TallybedError as refusal:
            return page(front_page.invitation(found, words_outside(refusal)), 401)
        return self._let_in(token, "/")

    async def _is_signed_in(self, request: Request) -> bool:
        token = token_of(request.headers)
        return await run_in_threadpool(self._door.session, token) is not None

    def _let_in(self, token: str, after: str) -> Response:
        return let_in(token, after, secure=self._secure)


def words_outside(refusal: Exception) -> str:
    """A refusal for whoever is not signed in, in the words for the crew, who have no terminal."""
    if isinstance(refusal, TallybedError):
        return page_words(refusal, Role.PICKER)
    return str(refusal)


def let_in(token: str, after: str, *, secure: bool, device: str | None = None) -> Response:
    """Go on, with the token on the device, and the mark by which it is known the next time."""
    gone_on = RedirectResponse(after, status_code=303, headers=NO_STORE)
    if device is not None:
        gone_on.set_cookie(
            DEVICE_COOKIE,
            device,
            max_age=DEVICE_LASTS_S,
            path=SIGN_IN,
            httponly=True,
            samesite="strict",
            secure=secure,
        )
    gone_on.set_cookie(
        COOKIE,
        token,
        max_age=int(SESSION_LASTS.total_seconds()),
        path="/",
        httponly=True,
        samesite="strict",
        secure=secure,
    )
    return gone_on


def service_address(after: str) -> str:
    """Where the way to another sign-in service begins."""
    return f"{SERVICE_SIGN_IN}?next={quote(after, safe='')}"


async def refused(request: Request, refusal: Exception) -> Response:
    """What a refusal outside a form looks like; to be set as the handler of ``TallybedError``."""
    return page(front_page.no_invitation(words_outside(refusal)), 401)


def page(html: str, status: int = 200) -> Response:
    """A page of ours: never kept, framed or scripted."""
    return HTMLResponse(html, status_code=status, headers={**NO_STORE, **front_page.POLICY})


def own_path(path: str | None) -> str:
    """Where to go on to: a path of these pages, whatever was asked for."""
    if not path or not path.startswith("/") or not path.isprintable() or "\\" in path:
        return "/"
    parts = urlsplit(path)
    inside = not parts.scheme and not parts.netloc and not path.startswith("//")
    return path if inside and not parts.path.startswith((SIGN_IN, SIGN_OUT)) else "/"


def address_of(request: Request) -> str:
    """The address that the request came from; this machine's own is always the same one."""
    came_from = request.client.host if request.client else ""
    server = request.scope.get("server")
    return THIS_MACHINE if server and came_from == server[0] else came_from


def require_own_page(request: Request) -> None:
    """Refuse a form that another site's page has sent."""
    if not is_own_page(request.headers):
        raise SignInRefused(ANOTHER_SITE)


async def read_form(request: Request) -> dict[str, str]:
    """The fields of a small form; the first value of each."""
    body = bytearray()
    try:
        async with asyncio.timeout(FORM_WITHIN_S):
            async for piece in request.stream():
                body += piece
                if len(body) > LARGEST_FORM:
                    raise SignInRefused(TOO_LARGE)
    except TimeoutError:
        raise SignInRefused("That took too long. Try again.") from None
    try:
        fields: dict[str, Any] = parse_qs(body.decode("utf-8"), keep_blank_values=True)
    except (UnicodeDecodeError, ValueError):
        raise SignInRefused("These fields cannot be read.") from None
    return {name: values[0] for name, values in fields.items()}
