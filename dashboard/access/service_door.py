"""The way to another sign-in service and back: Streamlit walks it, and here its answer is taken.

Streamlit would leave who somebody is in cookies that hold for thirty days. They never reach the
browser: what they say is judged at once, and a session of our own is all that the device gets,
with its role and its end.
"""

from __future__ import annotations

from http.cookies import SimpleCookie
from urllib.parse import unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.web.server.starlette.starlette_server_config import SESSION_COOKIE_NAME

from dashboard.access import front_page
from dashboard.access.gate import LOGIN
from dashboard.access.service_file import CALLBACK, Service
from dashboard.access.sign_in import (
    NEXT_COOKIE,
    address_of,
    let_in,
    own_path,
    page,
    service_address,
    words_outside,
)
from dashboard.access.single_sign_on import verified_email
from dashboard.access.who import Door
from trials import TallybedError
from trials.errors import SignInRefused

AWAY = "The sign-in service does not answer. Try again later, or sign in with a passphrase."


class ServiceDoor:
    """ASGI middleware around Streamlit's own steps of signing in through a service."""

    def __init__(self, app: ASGIApp, door: Door, service: Service, *, secure: bool) -> None:
        self._app = app
        self._door = door
        self._service = service
        self._secure = secure

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        path = scope.get("path")
        if scope["type"] != "http" or path not in (LOGIN, CALLBACK):
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        if path == LOGIN:
            try:
                self._door.send_to_service(address_of(request))
            except SignInRefused as refusal:
                await self._refusal(str(refusal), "/", 429)(scope, receive, send)
                return
        led = _Led()
        await self._app(scope, receive, led.keep)
        if path == CALLBACK:
            answer = await self._came_back(request, led)
        elif led.leads_away():
            answer = led.answer()
        else:
            answer = self._refusal(AWAY, "/", 502)
        await answer(scope, receive, send)

    async def _came_back(self, request: Request, led: _Led) -> Response:
        after = own_path(unquote(request.cookies.get(NEXT_COOKIE, "")))
        try:
            email = verified_email(led.cookies(), self._service)
            token = await run_in_threadpool(self._door.sign_in_by_email, email, address_of(request))
        except TallybedError as refusal:
            answer = self._refusal(words_outside(refusal), after, 401)
        else:
            answer = let_in(token, after, secure=self._secure)
        answer.raw_headers.extend(led.own_state())
        answer.delete_cookie(NEXT_COOKIE, path=CALLBACK, secure=self._secure, httponly=True)
        return answer

    def _refusal(self, refusal: str, after: str, status: int) -> Response:
        shown = front_page.sign_in(after, refusal=refusal, service=service_address(after))
        return page(shown, status)


class _Led:
    """What Streamlit answered, held back."""

    def __init__(self) -> None:
        self._status = 500
        self._headers: list[tuple[bytes, bytes]] = []
        self._body = bytearray()

    async def keep(self, message: Message) -> None:
        """Take a message of the answer instead of sending it."""
        if message["type"] == "http.response.start":
            self._status = message["status"]
            self._headers = list(message.get("headers", []))
        elif message["type"] == "http.response.body":
            self._body += message.get("body", b"")

    def leads_away(self) -> bool:
        """Whether it leads to the service."""
        to = dict(self._headers).get(b"location", b"")
        return 300 <= self._status < 400 and to.startswith((b"https://", b"http://"))

    def answer(self) -> Response:
        """The answer as it was."""
        as_it_was = Response(bytes(self._body), status_code=self._status)
        as_it_was.raw_headers = self._headers
        return as_it_was

    def cookies(self) -> dict[str, str]:
        """The cookies that it would set, and not those that it takes away."""
        found: dict[str, str] = {}
        for line in self._set_cookies():
            for name, morsel in SimpleCookie(line.decode("latin-1")).items():
                if morsel.value:
                    found[name] = morsel.value
        return found

    def own_state(self) -> list[tuple[bytes, bytes]]:
        """The cookie that ties the answer to this browser, as it is after the answer."""
        begins = f"{SESSION_COOKIE_NAME}=".encode()
        return [(b"set-cookie", line) for line in self._set_cookies() if line.startswith(begins)]

    def _set_cookies(self) -> list[bytes]:
        return [value for name, value in self._headers if name.lower() == b"set-cookie"]
