"""Signing in through a service (OpenID Connect), from its form to the farm's pages and out again.

The service is a small one of our own: discovery document, authorisation codes with PKCE, keys, and
signed tokens (OpenID Connect Core 1.0 and Discovery 1.0; RFC 6749, 7636). It can be told to lie.
Its name is ``localhost``, the pages' is ``127.0.0.1``: another site, as in life.
"""

from __future__ import annotations

import base64
import hashlib
import http.client
import json
import os
import secrets
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, quote, urlencode, urlsplit

import pytest
from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from trials.model.trial import Role
from trials.season import people

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
STARTS_WITHIN_S = 60
CLIENT, CLIENT_SECRET = "the-farm", "client-secret-" + secrets.token_hex(16)
COOKIE_SECRET = "cookie-secret-" + secrets.token_hex(16)
START = """
import sys
from pathlib import Path
from dashboard.access import sign_in_delay as patience, who as door
from dashboard.access.network import Network
from dashboard.serve import serve
door.FRESH_S = 0.5
patience.NAME_LIMIT = patience.ADDRESS_LIMIT = patience.Limit(1_000, 1.0, 1.0)
serve(Path(sys.argv[1]), int(sys.argv[2]), open_browser=False, network=Network(address="127.0.0.1"))
"""
Claims = dict[str, Any]
Key = RSAKey


def free_port() -> int:
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        return int(lookout.getsockname()[1])


# ------------------------------------------------------------------------------ the service


@dataclass
class Service:
    """What the service knows, and how it lies."""

    port: int
    redirect_uri: str
    key: Key
    email: str = "wren@farm.example"
    lie: Callable[[Claims], None] = lambda claims: None
    signed_by: Key | None = None
    header: dict[str, str] = field(default_factory=dict)
    document: Claims = field(default_factory=dict)
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    asked: list[dict[str, str]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    @property
    def issuer(self) -> str:
        return f"http://localhost:{self.port}"

    def discovery(self) -> Claims:
        return {
            "issuer": self.issuer,
            "authorization_endpoint": f"{self.issuer}/authorize",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/jwks",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
            "code_challenge_methods_supported": ["S256"],
            **self.document,
        }

    def code_for(self, asked: dict[str, str]) -> str:
        """The address to go back to, with a code that is good once."""
        code = secrets.token_urlsafe(16)
        self.codes[code] = asked
        self.said.append(code)
        return f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}"

    def tokens(self, form: dict[str, str], authorization: str) -> Claims | None:
        """What a good code is exchanged for; None refuses."""
        basic = base64.b64encode(f"{CLIENT}:{CLIENT_SECRET}".encode()).decode()
        asked = self.codes.pop(form.get("code", ""), None)
        if asked is None or authorization != f"Basic {basic}":
            return None
        digest = hashlib.sha256(form.get("code_verifier", "").encode()).digest()
        challenge = base64.urlsafe_b64encode(digest).decode().rstrip("=")
        if challenge != asked["code_challenge"] or form["redirect_uri"] != asked["redirect_uri"]:
            return None
        now = int(time.time())
        claims: Claims = {
            "iss": self.issuer,
            "sub": "0001",
            "aud": CLIENT,
            "iat": now,
            "exp": now + 300,
            "nonce": asked["nonce"],
            "email": self.email,
            "email_verified": True,
        }
        self.lie(claims)
        kept = {name: value for name, value in claims.items() if value is not None}
        header = {"alg": "RS256", "kid": "farm-1", **self.header}
        id_token = jwt.encode(header, kept, self.signed_by or self.key)
        access = secrets.token_urlsafe(16)
        self.said += [id_token, access]
        return {"access_token": access, "token_type": "Bearer", "id_token": id_token}


class Answers(BaseHTTPRequestHandler):
    """The service's addresses."""

    service: Service

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
        if parts.path == "/.well-known/openid-configuration":
            self.tell(self.service.discovery())
        elif parts.path == "/jwks":
            self.tell(KeySet([self.service.key]).as_dict(private=False))
        elif parts.path == "/authorize" and self.is_ours(asked):
            self.service.asked.append(asked)
            self.page(f'<form method="post" action="/agreed?{parts.query}"><button>Yes</button>')
        else:
            self.send_error(400)

    def do_POST(self) -> None:
        parts = urlsplit(self.path)
        body = self.rfile.read(int(self.headers.get("Content-Length", "0"))).decode()
        if parts.path == "/agreed":
            asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
            self.send_response(302)
            self.send_header("Location", self.service.code_for(asked))
            self.end_headers()
            return
        form = {name: values[0] for name, values in parse_qs(body).items()}
        tokens = self.service.tokens(form, self.headers.get("Authorization", ""))
        self.tell(tokens or {"error": "invalid_grant"}, 200 if tokens else 400)

    def is_ours(self, asked: dict[str, str]) -> bool:
        return (
            asked.get("client_id") == CLIENT
            and asked.get("redirect_uri") == self.service.redirect_uri
            and asked.get("response_type") == "code"
            and "openid" in asked.get("scope", "").split()
            and asked.get("code_challenge_method") == "S256"
            and {"state", "nonce", "code_challenge"} <= asked.keys()
        )

    def tell(self, what: Any, status: int = 200) -> None:
        self.answer(json.dumps(what).encode(), "application/json", status)

    def page(self, html: str) -> None:
        self.answer(f"<!doctype html><title>Service</title>{html}".encode(), "text/html")

    def answer(self, body: bytes, kind: str, status: int = 200) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


# ------------------------------------------------------------------------------ a browser


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: str
    set_cookies: list[str]


@dataclass
class Device:
    """A browser without a screen: it keeps the cookies of the pages."""

    port: int
    cookies: dict[str, str] = field(default_factory=dict)
    sent: list[Answer] = field(default_factory=list)

    def ask(self, path: str, method: str = "GET", **headers: str) -> Answer:
        connection = http.client.HTTPConnection(HERE, self.port, timeout=30)
        kept = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        try:
            connection.request(method, path, headers={"Cookie": kept, **headers})
            came = connection.getresponse()
            told = came.getheaders()
            lines = [value for name, value in told if name.lower() == "set-cookie"]
            body = came.read().decode("utf-8", "replace")
            answer = Answer(came.status, {n.lower(): v for n, v in told}, body, lines)
        finally:
            connection.close()
        for line in lines:
            for name, morsel in SimpleCookie(line).items():
                self.cookies[name] = morsel.coded_value
                if morsel["max-age"] == "0" or morsel["expires"].startswith("Thu, 01 Jan 1970"):
                    del self.cookies[name]
        self.sent.append(answer)
        return answer

    def led_to_service(self, after: str = "/") -> dict[str, str]:
        """What the pages ask of the service."""
        begun = self.ask(f"/sign-in/service?next={quote(after, safe='')}")
        assert begun.status == 303
        led = self.ask(begun.headers["location"])
        assert led.status == 302, led.body
        query = parse_qs(urlsplit(led.headers["location"]).query)
        return {name: values[0] for name, values in query.items()}

    def come_back(self, service: Service, after: str = "/") -> Answer:
        """From the pages to the service and back."""
        back = urlsplit(service.code_for(self.led_to_service(after)))
        return self.ask(f"{back.path}?{back.query}")

    def is_in(self) -> bool:
        return self.ask("/").status == 200


@dataclass
class Farm:
    """The pages, the service, and what was written to the terminal."""

    port: int
    store: Path
    service: Service
    terminal: Path

    def device(self, **cookies: str) -> Device:
        return Device(self.port, dict(cookies))

    @property
    def base(self) -> str:
        return f"http://{HERE}:{self.port}"


@pytest.fixture(scope="module")
def farm(hostile_original: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Farm]:
    folder = tmp_path_factory.mktemp("service")
    store = hostile_original.copied_to(folder).store
    people.add_person(store, "Wren", Role.ADVISER, None, "Wren@farm.example")
    people.add_person(store, "Finn", Role.PICKER, None, "finn@farm.example")
    people.add_person(store, "Ada", Role.GROWER, None, "ada@farm.example")
    port, service_port = free_port(), free_port()
    redirect_uri = f"http://{HERE}:{port}/oauth2callback"
    service = Service(service_port, redirect_uri, RSAKey.generate_key(2048, {"kid": "farm-1"}))
    (folder / ".streamlit").mkdir()
    (folder / ".streamlit" / "secrets.toml").write_text(
        "[auth]\n"
        f'client_id = "{CLIENT}"\n'
        f'client_secret = "{CLIENT_SECRET}"\n'
        f'server_metadata_url = "{service.issuer}/.well-known/openid-configuration"\n'
        f'redirect_uri = "{redirect_uri}"\n'
        f'cookie_secret = "{COOKIE_SECRET}"\n',
        encoding="utf-8",
    )
    handler = type("OfThisService", (Answers,), {"service": service})
    terminal = folder / "terminal.txt"
    with ThreadingHTTPServer((HERE, service_port), handler) as provider, terminal.open("wb") as log:
        threading.Thread(target=provider.serve_forever, daemon=True).start()
        process = subprocess.Popen(
            [sys.executable, "-c", START, str(store), str(port)],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(ROOT), "HOME": str(folder), "NO_PROXY": "*"},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        found = Farm(port, store, service, terminal)
        try:
            wait_for(process, found)
            yield found
        finally:
            process.terminate()
            process.wait(timeout=20)
            provider.shutdown()


def wait_for(process: subprocess.Popen[bytes], farm: Farm) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        if process.poll() is not None:
            pytest.fail(f"the pages ended at once: {farm.terminal.read_text()}")
        try:
            farm.device().ask("/sign-in")
        except OSError:
            time.sleep(0.1)
            continue
        return
    pytest.fail(f"the pages did not answer within {STARTS_WITHIN_S} s")


@pytest.fixture
def service(farm: Farm) -> Iterator[Service]:
    """The service, honest again after each test."""
    honest = farm.service
    yield honest
    honest.email, honest.lie, honest.signed_by = "wren@farm.example", lambda claims: None, None
    honest.header, honest.document = {}, {}


# ------------------------------------------------------------------------------ who gets in


@pytest.mark.parametrize(
    ("email", "name", "role"),
    [
        ("wren@farm.example", "Wren", Role.ADVISER),
        ("FINN@farm.example", "Finn", Role.PICKER),
        ("ada@farm.example", "Ada", Role.GROWER),
    ],
)
def test_a_known_person_gets_exactly_their_role(
    farm: Farm, service: Service, email: str, name: str, role: Role
) -> None:
    service.email = email
    device = farm.device()
    assert not device.is_in()
    back = device.come_back(service, "/tally?plot=P1")
    assert (back.status, back.headers["location"]) == (303, "/tally?plot=P1")
    assert device.is_in()
    newest = max(people.sessions(farm.store), key=lambda session: session.started_at)
    assert (newest.person.name, newest.person.role) == (name, role)
    may_upload = (
        device.ask("/_stcore/upload_file/x/y", "PUT").body != "Your role does not allow this."
    )
    may_download = device.ask("/media/x.pdf").status != 403
    assert (may_upload, may_download) == (role is Role.GROWER, role is not Role.PICKER)


def test_the_service_s_word_stays_off_the_device(farm: Farm, service: Service) -> None:
    device = farm.device()
    back = device.come_back(service)
    assert device.is_in()
    assert not any(line.startswith("_streamlit_user") for line in back.set_cookies)
    told = "".join(answer.body + repr(answer.headers) for answer in device.sent)
    assert not any(word in told for word in (*service.said[1:], CLIENT_SECRET, COOKIE_SECRET))


LIES: dict[str, Claims] = {
    "unverified": {"email_verified": False},
    "nothing said of verifying": {"email_verified": None},
    "no address": {"email": None},
    "for another": {"aud": "another"},
    "for another, in our name": {"aud": "another", "azp": CLIENT},
    "for several": {"aud": [CLIENT, "another"], "azp": CLIENT},
    "for nobody": {"aud": None},
    "another nonce": {"nonce": "x"},
    "no nonce": {"nonce": None},
    "expired": {"exp": int(time.time()) - 60},
    "expired long ago": {"exp": int(time.time()) - 3600},
    "issued long ago": {"iat": int(time.time()) - 3600},
    "another issuer": {"iss": "http://localhost:1"},
}


@pytest.mark.parametrize("lie", LIES, ids=str)
def test_an_answer_that_is_not_good_lets_nobody_in(farm: Farm, service: Service, lie: str) -> None:
    before = people.sessions(farm.store)
    service.lie = lambda claims: claims.update(LIES[lie])
    device = farm.device()
    back = device.come_back(service)
    assert back.status == 401
    assert "service" in back.body or "too old" in back.body
    assert "tallybed_session" not in device.cookies
    assert not device.is_in()
    assert len(people.sessions(farm.store)) == len(before)


def test_a_signature_by_another_key_lets_nobody_in(farm: Farm, service: Service) -> None:
    service.signed_by = RSAKey.generate_key(2048, {"kid": "farm-1"})
    assert farm.device().come_back(service).status == 401
    service.header = {"kid": "farm-2"}
    assert farm.device().come_back(service).status == 401


def test_a_document_that_names_another_issuer_is_not_believed(farm: Farm, service: Service) -> None:
    service.document = {"issuer": "http://localhost:1"}
    service.lie = lambda claims: claims.update(iss="http://localhost:1")
    assert farm.device().come_back(service).status == 401


def test_somebody_unknown_is_told_so(farm: Farm, service: Service) -> None:
    for email in ("stranger@farm.example", "<b>x</b>@farm.example", "\u212aen@farm.example"):
        service.email = email
        device = farm.device()
        back = device.come_back(service)
        assert back.status == 401
        assert "Nobody here signs in as" in back.body
        assert "ask the grower" in back.body
        assert "<b>" not in back.body
        assert not device.is_in()


def test_an_answer_is_good_for_the_browser_that_asked_and_once(
    farm: Farm, service: Service
) -> None:
    device = farm.device()
    back = urlsplit(service.code_for(device.led_to_service()))
    stolen = farm.device().ask(f"{back.path}?{back.query}")
    assert stolen.status == 401, "another browser did not ask"
    assert device.ask(f"{back.path}?{back.query}").status == 303
    again = farm.device(_streamlit_session=device.cookies.get("_streamlit_session", ""))
    assert again.ask(f"{back.path}?{back.query}").status == 401


def test_a_cookie_in_streamlit_s_name_lets_nobody_in(farm: Farm) -> None:
    """Even one that it signed: it is read from its answer, never from what a device sends."""
    from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

    now = time.time()
    claims = {"email": "ada@farm.example", "email_verified": True, "iat": now, "exp": now + 300}
    claims |= {"iss": farm.service.issuer, "aud": CLIENT, "nonce": "n", "provider": "default"}
    signed = create_signed_value(COOKIE_SECRET, "_streamlit_user", json.dumps(claims)).decode()
    device = farm.device(_streamlit_user=signed)
    for path in ("/", "/oauth2callback", "/oauth2callback?code=x&state=y", "/sign-in/service"):
        assert device.ask(path).status in (303, 401)
    assert not device.is_in()


# ------------------------------------------------------------------------------ the way there


def test_the_service_is_asked_to_lead_back_to_these_pages_whatever_is_tried(
    farm: Farm, service: Service
) -> None:
    evil = {"X-Forwarded-Host": "evil.example", "Forwarded": "host=e.e"}
    device = farm.device()
    assert device.ask("/sign-in/service?next=/", Host="evil.example").status == 421
    for asked in ("", "&redirect_uri=http://evil.example", "&next=//evil.example"):
        begun = device.ask("/sign-in/service?next=/" + asked, **evil)
        assert begun.headers["location"].startswith("/auth/login?provider=")
        led = device.ask(begun.headers["location"] + asked, **evil)
        assert led.headers["location"].startswith(f"{service.issuer}/authorize?")
        query = parse_qs(urlsplit(led.headers["location"]).query)
        assert query["redirect_uri"] == [service.redirect_uri]
    for after in ("//evil.example", "https://evil.example", "/\\evil.example"):
        back = farm.device().come_back(service, after)
        assert (back.status, back.headers["location"]) == (303, "/")


@pytest.mark.parametrize("query", ["", "?provider=x", "?provider=", "?provider=a&provider=b"])
def test_a_way_there_that_these_pages_did_not_make_leads_nowhere(farm: Farm, query: str) -> None:
    answer = farm.device().ask(f"/auth/login{query}")
    assert answer.status == 502
    assert "does not answer" in answer.body


def test_a_service_that_refuses_or_is_away_is_said(farm: Farm, service: Service) -> None:
    device = farm.device()
    state = device.led_to_service()["state"]
    refused = device.ask(f"/oauth2callback?error=access_denied&state={state}")
    assert refused.status == 401
    assert "did not say who you are" in refused.body
    service.document = {"authorization_endpoint": None}
    away = farm.device().ask(farm.device().ask("/sign-in/service").headers["location"])
    assert away.status == 502
    assert "Sign in another way" in away.body


@pytest.mark.parametrize(
    "path", ["/", "/tally", "/_stcore/health", "/_stcore/host-config", "/media/x.svg", "/auth/x",
             "/auth/logout", "/oauth2callback/", "/oauth2callback/x", "/.streamlit/secrets.toml",
             "/static/../.streamlit/secrets.toml", "/app/static/.streamlit/secrets.toml"],
)  # fmt: skip
def test_a_stranger_still_gets_nothing(farm: Farm, path: str) -> None:
    for method in ("GET", "HEAD", "OPTIONS", "POST"):
        assert farm.device().ask(path, method, Accept="*/*").status == 401
    with pytest.raises(InvalidStatus) as shut:
        connect(f"ws://{HERE}:{farm.port}{path}")
    assert shut.value.response.status_code == 401


def test_the_secrets_are_at_no_address(farm: Farm, service: Service) -> None:
    service.email = "ada@farm.example"
    device = farm.device()
    device.come_back(service)
    for path in (
        "/.streamlit/secrets.toml",
        "/app/static/.streamlit/secrets.toml",
        "/static/%2e%2e/.streamlit/secrets.toml",
        "/media/.streamlit/secrets.toml",
        "/component/x/.streamlit/secrets.toml",
        "/_stcore/metrics",
        "/_stcore/host-config",
        "/_stcore/script-health-check",
        "/auth/logout",
    ):
        answer = device.ask(path)
        told = answer.body + repr(answer.headers)
        assert CLIENT_SECRET not in told
        assert COOKIE_SECRET not in told


# ------------------------------------------------------------------------------ and out again


def test_who_is_shut_out_is_out_and_stays_out(farm: Farm, service: Service) -> None:
    people.add_person(farm.store, "Gone", Role.GROWER, None, "gone@farm.example")
    service.email = "gone@farm.example"
    device = farm.device()
    assert device.come_back(service).status == 303
    assert device.is_in()
    people.end_person(farm.store, "Gone")
    until = time.monotonic() + 15
    while device.is_in() and time.monotonic() < until:
        time.sleep(0.1)
    assert not device.is_in(), "the cookie lives, the session does not"
    assert "Nobody here signs in as" in device.come_back(service).body


def test_signing_out_ends_it_and_the_open_page_with_it(farm: Farm, service: Service) -> None:
    device = farm.device()
    device.come_back(service)
    held = dict(device.cookies)
    stream = connect(
        f"ws://{HERE}:{farm.port}/_stcore/stream",
        additional_headers={"Cookie": f"tallybed_session={held['tallybed_session']}"},
    )
    with stream:
        assert device.ask("/sign-out", "POST", Origin=farm.base).status == 200
        stream.send(b"anything")
        with pytest.raises(ConnectionClosed):
            list(stream)
    assert not farm.device(**held).is_in()
    assert farm.device(**held).ask("/oauth2callback").status == 401


# ------------------------------------------------------------------------------ in Chromium


@pytest.mark.browser
def test_in_a_browser_from_the_form_to_the_pages_and_out(
    farm: Farm, service: Service, chromium: Any
) -> None:
    with chromium.new_context() as context:
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.goto(f"{farm.base}/order")
        page.get_by_role("link", name="Sign in another way").click()
        service.email = "stranger@farm.example"
        page.get_by_role("button", name="Yes").click()
        page.get_by_text("Nobody here signs in as stranger@farm.example").wait_for()
        service.email = "wren@farm.example"
        page.get_by_role("link", name="Sign in another way").click()
        page.get_by_role("button", name="Yes").click()
        page.get_by_text("Wren (adviser)").wait_for()
        assert urlsplit(page.url).path == "/order"
        kept = {cookie["name"]: cookie for cookie in context.cookies(farm.base)}
        assert kept["tallybed_session"]["httpOnly"]
        assert kept["tallybed_session"]["sameSite"] == "Strict"
        assert not any(name.startswith("_streamlit_user") for name in kept)
        page.get_by_role("link", name="Sign out").click()
        page.get_by_role("button", name="Sign out").click()
        page.get_by_text("You are signed out").wait_for()
        page.goto(f"{farm.base}/order")
        page.get_by_label("Your passphrase").wait_for()


# ------------------------------------------------------------------------------ the terminal


def test_the_terminal_shows_no_secret_and_obeys_nobody(farm: Farm, service: Service) -> None:
    """Last, so that it reads what all the others caused."""
    escape = quote("\x1b[2J\x07\n\u202e", safe="")
    farm.device().ask(f"/oauth2callback?error={escape}&error_description={escape}")
    farm.device().ask(f"/oauth2callback?state={escape}&code={escape}")
    said = farm.terminal.read_text(encoding="utf-8")
    assert "OAuth token exchange failed" in said, "what failed is said"
    assert "invalid_claim" in said
    assert "Traceback" not in said
    assert said.replace("\n", "").isprintable()
    for secret in (CLIENT_SECRET, COOKIE_SECRET, *service.said):
        assert secret not in said
