"""The gate before every address of the pages: nothing of the farm's passes unless signed in.

It stands before Streamlit's own routes, for HTTP and for the websocket alike. Without a door (the
pages of this machine only) it lets everybody pass, but still no request that another site's page
made.
"""

from __future__ import annotations

from urllib.parse import quote, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.door import Door
from dashboard.service_file import CALLBACK
from trials import TallybedError
from trials.model import Role, Session

COOKIE = "tallybed_session"
SIGN_IN, SIGN_OUT, JOIN = "/sign-in", "/sign-out", "/join/"
SERVICE_SIGN_IN = "/sign-in/service"
# Streamlit's own part in signing in through another service.
LOGIN = "/auth/login"
SERVICE = (SERVICE_SIGN_IN, LOGIN, CALLBACK)
UPLOADS, MEDIA, AGENT = "/_stcore/upload_file", "/media/", "/_stcore/agent"
PICTURES = (".svg", ".png")
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
}
POLICY_VIOLATION = 1008


class Gate:
    """ASGI middleware: passes on what a signed-in person of the right role asks for.

    ``has_service`` opens the addresses of the way to another sign-in service and back.
    """

    def __init__(self, app: ASGIApp, door: Door | None, *, has_service: bool = False) -> None:
        self._app = app
        self._door = door
        self._has_service = has_service

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request or one websocket."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        send = _with_headers(send)
        headers = Headers(scope=scope)
        # Streamlit would look up this machine's address elsewhere before it refused.
        if scope["type"] == "websocket" and not is_own_page(headers):
            await _refuse(scope, receive, send, 403)
            return
        if self._door is None or self._is_open(scope):
            await self._app(scope, receive, send)
            return
        token = token_of(headers)
        try:
            session = await run_in_threadpool(self._door.session, token)
        except TallybedError:  # the store is held by another program, or gone
            await _refuse(scope, receive, send, 503)
            return
        if session is None:
            await self._turn_away(scope, receive, send)
        elif not may_ask(session, scope):
            await _refuse(scope, receive, send, 403)
        elif scope["type"] == "websocket":
            await self._app(scope, _watched(receive, send, self._door, token), send)
        else:
            await self._app(scope, receive, send)

    async def _turn_away(self, scope: Scope, receive: Receive, send: Send) -> None:
        """A page leads to the sign-in; anything else is told that nobody is signed in."""
        headers = Headers(scope=scope)
        is_page = scope["type"] == "http" and scope["method"] in ("GET", "HEAD")
        if not (is_page and "text/html" in headers.get("accept", "")):
            await _refuse(scope, receive, send, 401)
            return
        query = scope.get("query_string", b"").decode("latin-1")
        asked = scope["path"] + (f"?{query}" if query else "")
        to = f"{SIGN_IN}?next={quote(asked, safe='')}"
        away = RedirectResponse(to, status_code=303, headers={"cache-control": "no-store"})
        await away(scope, receive, send)

    def _is_open(self, scope: Scope) -> bool:
        path = str(scope["path"])
        token = path.removeprefix(JOIN)
        joins = path.startswith(JOIN) and token != "" and "/" not in token
        is_service = path in SERVICE and self._has_service
        return scope["type"] == "http" and (path in (SIGN_IN, SIGN_OUT) or joins or is_service)


def token_of(headers: Headers) -> str | None:
    """The token that the device sent, read as Streamlit reads it for the pages.

    Cookies of other programs on the same machine come along; whatever they hold is passed over.
    """
    return cookie_parser("; ".join(headers.getlist("cookie"))).get(COOKIE)


def is_own_page(headers: Headers) -> bool:
    """Whether a request comes from a page of ours, or from no page at all."""
    origin = headers.get("origin")
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc == headers.get("host")
    except ValueError:  # no address at all
        return False


def may_ask(session: Session, scope: Scope) -> bool:
    """Whether a role covers an address; what each page shows is asked again within it."""
    path, role = str(scope["path"]), session.person.role
    if path.startswith(AGENT):
        return False
    if path.startswith(UPLOADS):
        return role is Role.GROWER
    # Downloads lie among the media; a picker needs no more than the pictures of the frame.
    if path.startswith(MEDIA) and role is Role.PICKER:
        return path.endswith(PICTURES)
    return True


def _watched(receive: Receive, send: Send, door: Door, token: str | None) -> Receive:
    """The messages of a websocket, until its session ends."""

    async def watched() -> Message:
        message = await receive()
        if message["type"] == "websocket.receive":
            try:
                session = await run_in_threadpool(door.session, token)
            except TallybedError:
                session = None
            if session is None:
                await send({"type": "websocket.close", "code": POLICY_VIOLATION})
                return {"type": "websocket.disconnect", "code": POLICY_VIOLATION}
        return message

    return watched


REFUSALS = {401: "Sign in first.", 403: "Not for you.", 503: "Busy. Try again in a moment."}


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int) -> None:
    if scope["type"] == "http":
        answer = PlainTextResponse(
            REFUSALS[status], status_code=status, headers={"cache-control": "no-store"}
        )
        await answer(scope, receive, send)
        return
    if "websocket.http.response" in scope.get("extensions", {}):
        await send(
            {
                "type": "websocket.http.response.start",
                "status": status,
                "headers": [(b"content-type", b"text/plain; charset=utf-8")],
            }
        )
        await send({"type": "websocket.http.response.body", "body": REFUSALS[status].encode()})
        return
    await send({"type": "websocket.close", "code": POLICY_VIOLATION})


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return with_headers
