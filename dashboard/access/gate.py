"""The gate before every address of the pages: nothing of the farm's passes unless signed in.

It stands before Streamlit's own routes, for HTTP and for the websocket alike. Without a door (the
pages of this machine only) it lets everybody pass who asks for this machine by its own name, but
still no request that another site's page made. What passes over a websocket afterwards is looked
at in ``watch``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from urllib.parse import quote, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.access.headers import with_headers
from dashboard.access.limits import UPLOADS, TooLarge, counted, says_too_much
from dashboard.access.service_file import CALLBACK
from dashboard.access.watch import Watch
from dashboard.access.who import Door
from trials import TallybedError
from trials.model.trial import Role, Session

COOKIE = "tallybed_session"
SIGN_IN, SIGN_OUT, JOIN = "/sign-in", "/sign-out", "/join/"
SERVICE_SIGN_IN = "/sign-in/service"
# Streamlit's own part in signing in through another service.
LOGIN = "/auth/login"
SERVICE = (SERVICE_SIGN_IN, LOGIN, CALLBACK)
MEDIA = "/media/"
PHONE_PAGE = "/plots"
# What Streamlit offers to programs and to those who watch over it; nobody here needs it.
CLOSED = ("/_stcore/agent", "/_stcore/metrics", "/_stcore/script-health-check")
HERE = ("127.0.0.1", "localhost")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
PICTURES = (".svg", ".png")
POLICY_VIOLATION = 1008
MOST_OPEN_PAGES = 60  # of one device; each holds memory here


class Gate:
    """ASGI middleware: passes on what a signed-in person of the right role asks for.

    ``has_service`` opens the addresses of the way to another sign-in service and back. Only
    requests that name one of ``hosts`` are answered.
    """

    def __init__(
        self,
        app: ASGIApp,
        door: Door | None,
        *,
        hosts: Collection[str] = HERE,
        has_service: bool = False,
    ) -> None:
        self._app = app
        self._door = door
        self._hosts = frozenset(host.casefold() for host in hosts)
        self._has_service = has_service
        self._open_pages: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request or one websocket."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        send = with_headers(send)
        headers = Headers(scope=scope)
        if host_of(headers) not in self._hosts:
            await _refuse(scope, receive, send, 403 if self._door is None else 421)
            return
        if scope["type"] == "websocket":
            await self._judge(scope, receive, send)
            return
        if says_too_much(scope):
            await _refuse(scope, receive, send, 413)
            return
        try:
            await self._judge(scope, counted(scope, receive), send)
        except TooLarge:
            await _refuse(scope, receive, send, 413)

    async def _judge(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        if self._door is None:
            if may_come_from(headers, scope) and not is_closed(scope):
                await self._app(scope, receive, send)
            else:
                await _refuse(scope, receive, send, 403)
            return
        if self._is_open(scope):  # its forms judge where they come from by themselves
            await self._app(scope, receive, send)
            return
        # Streamlit would look up this machine's address elsewhere before it refused.
        if not may_come_from(headers, scope):
            await _refuse(scope, receive, send, 403)
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
            await self._watch_over(scope, receive, send, session, token)
        elif session.person.role is Role.PICKER:
            await self._show_a_picker(scope, receive, send)
        else:
            await self._app(scope, receive, send)

    async def _show_a_picker(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The page for the phone first, and of the files that pages share the pictures only."""
        if begins(scope):
            to = RedirectResponse(
                PHONE_PAGE, status_code=303, headers={"cache-control": "no-store"}
            )
            await to(scope, receive, send)
        elif str(scope["path"]).startswith(MEDIA):
            await self._app(scope, receive, _pictures_only(send))
        else:
            await self._app(scope, receive, send)

    async def _watch_over(
        self, scope: Scope, receive: Receive, send: Send, session: Session, token: str | None
    ) -> None:
        if self._door is None or self._open_pages[session.key] >= MOST_OPEN_PAGES:
            await _refuse(scope, receive, send, 429)
            return
        self._open_pages[session.key] += 1
        try:
            watch = Watch(receive, send, self._door, token)
            await self._app(scope, watch.receive, watch.send)
        finally:
            self._open_pages[session.key] -= 1
            if not self._open_pages[session.key]:
                del self._open_pages[session.key]

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


def may_come_from(headers: Headers, scope: Scope) -> bool:
    """Whether the page a request comes from may make it: reading only, unless it is ours."""
    reads_only = scope["type"] == "http" and scope["method"] in SAFE_METHODS
    return reads_only or is_own_page(headers)


def host_of(headers: Headers) -> str | None:
    """The name or address that a request asks for, without its port; None if it has none.

    Another site's name may be made to lead here, and its page would then count as ours.
    """
    try:
        name = urlsplit(f"//{headers.get('host', '')}").hostname
    except ValueError:  # no name at all
        return None
    return None if name is None else name.rstrip(".")


def is_closed(scope: Scope) -> bool:
    """Whether nobody is let to an address."""
    return str(scope["path"]).startswith(CLOSED)


def begins(scope: Scope) -> bool:
    """Whether somebody opens the pages without naming one."""
    wants = Headers(scope=scope).get("accept", "")
    return scope["type"] == "http" and scope["path"] == "/" and "text/html" in wants


def may_ask(session: Session, scope: Scope) -> bool:
    """Whether a role covers an address; what each page shows is asked again within it."""
    path, role = str(scope["path"]), session.person.role
    if is_closed(scope):
        return False
    if path.startswith(UPLOADS):
        return role is Role.GROWER
    # Downloads lie among the media; a picker needs no more than the pictures of the frame.
    if path.startswith(MEDIA) and role is Role.PICKER:
        return path.endswith(PICTURES)
    return True


def _pictures_only(send: Send) -> Send:
    """Answers that are pictures; a name that ends like one may stand for any other file."""
    withheld = False

    async def judged(message: Message) -> None:
        nonlocal withheld
        if message["type"] == "http.response.start":
            kind = Headers(raw=message.get("headers", [])).get("content-type", "")
            withheld = message["status"] < 400 and not kind.startswith("image/")
            if withheld:
                message = {"type": "http.response.start", "status": 403, "headers": []}
        elif withheld:
            message = {**message, "body": b""}
        await send(message)

    return judged


REFUSALS = {
    401: "Sign in first.",
    403: "Your role does not allow this.",
    413: "That is too large. Nothing was read.",
    421: "These pages are not at this address. Ask the grower for it.",
    429: "Too many pages are open. Close some.",
    503: "Busy. Try again in a moment.",
}


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
