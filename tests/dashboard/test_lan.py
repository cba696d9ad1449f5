"""The pages served to a network, asked from outside: nothing of the farm's without signing in.

A server of its own, started as ``tallybed dashboard --lan`` starts it, but listening here alone.
"""

from __future__ import annotations

import http.client
import re
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from argon2 import PasswordHasher
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from google.protobuf.message import Message
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from tests.plans import small_plan
from trials import season
from trials.model.rows import Signed
from trials.model.trial import Role
from trials.season import people

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
STARTS_WITHIN_S = 60
PASSPHRASE = "seven green buckets"
PHONE = {"width": 390, "height": 844}
START = """
import sys
from pathlib import Path
from dashboard.access import connections
from dashboard.access.network import Network
from dashboard.serve import serve
connections.ASKS_WITHIN_S = 1.0
files = [Path(name) for name in sys.argv[3:]] or [None, None]
network = Network("127.0.0.1", ("trials.farm.example",), *files)
serve(Path(sys.argv[1]), int(sys.argv[2]), open_browser=False, network=network)
"""
PAGES = (
    "/",
    "/plan",
    "/tally",
    "/tally?plot=P1",
    "/plots",
    "/plots?plot=P1",
    "/home",
    "/compare",
    "/choose",
    "/order",
    "/history",
    "/people",
    "/backups",
    "/varieties",
    "/varieties?variety=x",
)
OTHERS = (
    "/_stcore/health",
    "/_stcore/host-config",
    "/_stcore/metrics",
    "/_stcore/script-health-check",
    "/_stcore/allowed-message-origins",
    "/_stcore/stream",
    "/_stcore/upload_file/x/y",
    "/_stcore/agent/openapi.json",
    "/_stcore/agent/interact",
    "/_stcore/agent/mcp",
    "/_stcore/bidi-components/x",
    "/component/x/index.html",
    "/plots/day",
    "/plots/record",
    "/plots/photo",
    f"/photo/{'0' * 64}",
    "/photo/x",
    "/plots/page.js",
    "/plots/worker.js",
    "/plots/",
    "/media/x.pdf",
    "/media/x.svg",
    "/app/static/x",
    "/static/js/index.js",
    "/favicon.png",
    "/manifest.json",
    "/auth/login",
    "/auth/logout",
    "/oauth2callback",
    "/sign-in/service",
    "/join",
    "/join/",
    "/join/a/b",
    "//",
    "/.//tally",
    "/sign-in/",
    "/sign-in/../tally",
    "/%2e%2e/%2e%2e/etc/passwd",
    "/farm.tallybed",
    "/dashboard/app.py",
)
METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH")


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes
    pairs: list[tuple[str, str]]  # of a header that comes several times too


@dataclass
class Served:
    """A server and what it may never say to strangers."""

    port: int
    store: Path
    open_trial: str
    secrets: tuple[str, ...]
    cookies: dict[Role, str] = field(default_factory=dict)
    trusted: ssl.SSLContext | None = None  # the certificate of pages served over TLS

    @property
    def origin(self) -> str:
        return f"{'http' if self.trusted is None else 'https'}://{HERE}:{self.port}"

    def ask(
        self,
        path: str,
        method: str = "GET",
        *,
        cookie: str | None = None,
        form: dict[str, str] | None = None,
        **headers: str,
    ) -> Answer:
        connection = (
            http.client.HTTPConnection(HERE, self.port, timeout=20)
            if self.trusted is None
            else http.client.HTTPSConnection(HERE, self.port, timeout=20, context=self.trusted)
        )
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if cookie is not None:
            sent["Cookie"] = cookie
        body = None
        if form is not None:
            body = urlencode(form)
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            connection.request(method, path, body=body, headers=sent)
            answer = connection.getresponse()
            pairs = [(name.lower(), value) for name, value in answer.getheaders()]
            return Answer(answer.status, dict(pairs), answer.read(), pairs)
        finally:
            connection.close()

    def post(self, path: str, form: dict[str, str], origin: str | None = None) -> Answer:
        sent = self.origin if origin is None else origin
        return self.ask(path, "POST", form=form, Origin=sent)

    def sign_in(self, name: str) -> str:
        answer = self.post("/sign-in", {"name": name, "passphrase": PASSPHRASE, "next": "/"})
        assert answer.status == 303
        return answer.headers["set-cookie"].partition(";")[0]

    def says_nothing(self, answer: Answer) -> bool:
        told = answer.body.decode("utf-8", "replace") + repr(answer.headers)
        return not any(secret in told for secret in self.secrets)


@pytest.fixture(scope="module")
def served(hostile_original: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(hostile_original.copied_to(tmp_path_factory.mktemp("lan"))) as found:
        yield found


@contextmanager
def serving(
    farm: Any, certificate: Path | None = None, key: Path | None = None
) -> Iterator[Served]:
    """The pages of a farm; encrypted where there is a certificate."""
    with pytest.MonkeyPatch.context() as patch:
        cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(people, "_hasher", lambda: cheap)
        for name, role in (("Ada", Role.GROWER), ("Finn", Role.PICKER), ("Wren", Role.ADVISER)):
            people.add_person(farm.store, name, role, PASSPHRASE)
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        port = int(lookout.getsockname()[1])
    parts = 2 if certificate is None else 4
    process = subprocess.Popen(
        [sys.executable, "-c", START, *map(str, (farm.store, port, certificate, key)[:parts])],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    secrets = (*farm.varieties, farm.crop, farm.closed_trial, farm.open_trial, str(farm.store))
    found = Served(port, farm.store, farm.open_trial, (*secrets, "Ada", "Finn", "Wren"))
    if certificate is not None:
        found.trusted = ssl.create_default_context(cafile=certificate)
    try:
        _wait_for(process, found)
        yield found
    finally:
        process.terminate()
        said = process.communicate(timeout=20)[0].decode()
        assert "Traceback" not in said, said


def _wait_for(process: subprocess.Popen[bytes], served: Served) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        if process.poll() is not None:
            pytest.fail(f"the pages ended at once: {process.communicate()[0].decode()}")
        try:
            served.ask("/sign-in")
        except OSError:
            time.sleep(0.1)
            continue
        for name, role in (("Ada", Role.GROWER), ("Finn", Role.PICKER), ("Wren", Role.ADVISER)):
            served.cookies[role] = served.sign_in(name)
        return
    pytest.fail(f"the pages did not answer within {STARTS_WITHIN_S} s")


# ------------------------------------------------------------------------------ strangers


@pytest.mark.parametrize("path", [*PAGES, *OTHERS])
def test_a_stranger_gets_nothing_from_any_address(served: Served, path: str) -> None:
    for method in METHODS:
        for accept in ("text/html", "*/*"):
            answer = served.ask(path, method, Accept=accept)
            assert answer.status in (401, 303), (method, accept)
            assert served.says_nothing(answer)
            if answer.status == 303:
                assert answer.headers["location"].startswith("/sign-in?next=")


@pytest.mark.parametrize(
    "cookie",
    [
        "tallybed_session=",
        "tallybed_session=" + "x" * 43,
        "tallybed_session=" + "x" * 5000,
        "tallybed_session=../../etc/passwd",
        "_streamlit_user=x; tallybed_session=x",
        "tallybed_session\x80=x",
        ";;;=;",
    ],
)
def test_a_made_up_cookie_opens_nothing(served: Served, cookie: str) -> None:
    for path in ("/", "/_stcore/health", "/media/x.svg"):
        assert served.ask(path, cookie=cookie).status == 401


@pytest.mark.parametrize("other", ['{"a": [1]}', "a[b]=1", "a=b c, d", "a=\x80", "=", 'a="'])
def test_cookies_of_other_programs_on_the_machine_shut_nobody_out(
    served: Served, other: str
) -> None:
    own = served.cookies[Role.GROWER]
    for cookie in (f"{other}; {own}", f"{own}; {other}"):
        assert served.ask("/", cookie=cookie).status == 200


@pytest.mark.parametrize("cookie", [None, "tallybed_session=" + "x" * 43])
def test_the_websocket_is_shut_to_strangers(served: Served, cookie: str | None) -> None:
    headers = {} if cookie is None else {"Cookie": cookie}
    for path in ("/_stcore/stream", "/_stcore/stream/", "/", "/sign-in", "/join/x"):
        with pytest.raises(InvalidStatus) as refused:
            connect(f"ws://{HERE}:{served.port}{path}", additional_headers=headers)
        assert refused.value.response.status_code == 401


def test_the_forms_before_the_pages_hold_nothing_of_the_farm(served: Served) -> None:
    for path in ("/sign-in", "/sign-in?own=1", "/sign-in?own=1&next=/tally", "/join/" + "x" * 43):
        answer = served.ask(path)
        assert served.says_nothing(answer)
        assert answer.headers["cache-control"] == "no-store"
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["x-frame-options"] == "DENY"
        assert b"<script" not in answer.body


# ------------------------------------------------------------------------------ signing in


def test_the_cookie_is_for_these_pages_alone(served: Served) -> None:
    answer = served.post("/sign-in", {"name": "ada", "passphrase": PASSPHRASE, "next": "/tally"})
    assert (answer.status, answer.headers["location"]) == (303, "/tally")
    parts = {part.strip().lower() for part in answer.headers["set-cookie"].split(";")[1:]}
    assert {"httponly", "samesite=strict", "path=/"} <= parts


def test_over_tls_the_cookies_are_for_tls_alone(hostile_original: Any, tmp_path: Path) -> None:
    """By RFC 6265bis, section 5.7: Secure."""
    certificate, key = self_signed(tmp_path)
    with serving(hostile_original.copied_to(tmp_path), certificate, key) as pages:
        form = {"name": "Ada", "passphrase": PASSPHRASE, "next": "/"}
        answer = pages.post("/sign-in", form)
        set_cookies = [value for name, value in answer.pairs if name == "set-cookie"]
        assert {value.partition("=")[0] for value in set_cookies} == {
            "tallybed_session",
            "tallybed_device",
        }
        assert all({"Secure", "HttpOnly"} <= set(value.split("; ")) for value in set_cookies)
        own = set_cookies[0].partition(";")[0]
        out = pages.ask("/sign-out", "POST", cookie=own, form={}, Origin=pages.origin)
        assert "Secure" in out.headers["set-cookie"].split("; ")
        with pytest.raises((OSError, http.client.HTTPException)):
            Served(pages.port, pages.store, "", ()).ask("/sign-in")  # in the clear


def self_signed(folder: Path) -> tuple[Path, Path]:
    """A certificate of this address for a day, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HERE)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ip_address(HERE))]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    files = folder / "farm.pem", folder / "farm-key.pem"
    files[0].write_bytes(made.public_bytes(Encoding.PEM))
    files[1].write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return files


@pytest.mark.parametrize(
    "after",
    [
        "//evil.example",
        "https://evil.example",
        "/\\evil.example",
        "javascript:x",
        "/\n/x",
        "/sign-out",
    ],
)
def test_signing_in_leads_to_no_other_site(served: Served, after: str) -> None:
    form = {"name": "Ada", "passphrase": PASSPHRASE, "next": after}
    assert served.post("/sign-in", form).headers["location"] == "/"


def test_what_is_typed_is_shown_as_text(served: Served) -> None:
    name = '"><script>alert(1)</script>'
    answer = served.post("/sign-in", {"name": name, "passphrase": "x", "next": '/"><b>'})
    assert answer.status == 401
    assert b"<script" not in answer.body
    assert b'"><b>' not in answer.body


def test_a_form_of_another_site_signs_nobody_in_or_out(served: Served) -> None:
    form = {"name": "Ada", "passphrase": PASSPHRASE, "next": "/"}
    for origin in ("http://evil.example", "null", "http://[", "", "x"):
        answer = served.post("/sign-in", form, origin)
        assert answer.status == 401
        assert "set-cookie" not in answer.headers
    cookie = served.sign_in("Ada")
    answer = served.ask("/sign-out", "POST", cookie=cookie, form={}, Origin="http://evil.example")
    assert answer.status == 401
    assert served.ask("/_stcore/health", cookie=cookie).status == 200


def test_an_endless_form_is_not_read(served: Served) -> None:
    answer = served.post("/sign-in", {"name": "x" * 100_000, "passphrase": "x"})
    assert answer.status == 401


def test_who_connects_and_says_nothing_is_sent_away(served: Served) -> None:
    for half in (b"", b"GET / HTTP/1.1\r\nHost: x\r\n"):
        with socket.create_connection((HERE, served.port), timeout=20) as silent:
            silent.sendall(half)
            assert silent.recv(1) == b""


def test_signing_out_ends_the_session_for_good(served: Served) -> None:
    cookie = served.sign_in("Ada")
    assert served.ask("/", cookie=cookie).status == 200
    own = f"http://{HERE}:{served.port}"
    assert served.ask("/sign-out", cookie=cookie).status == 200
    assert served.ask("/", cookie=cookie).status == 200, "a link alone signs nobody out"
    assert served.ask("/sign-out", "POST", cookie=cookie, form={}, Origin=own).status == 200
    assert served.ask("/", cookie=cookie).status == 401


def test_guessing_is_slowed_down(served: Served) -> None:
    form = {"name": "Nobody", "passphrase": "x", "next": "/"}
    said = [served.post("/sign-in", form).body for _ in range(7)]
    assert b"Name or passphrase is wrong" in said[0]
    assert b"Too many tries" in said[-1]


def test_an_invitation_lets_in_once(served: Served) -> None:
    token, _ = people.invite(served.store, "<b>New</b>", Role.PICKER)
    shown = served.ask(f"/join/{token}")
    assert shown.status == 200
    assert b"&lt;b&gt;New" in shown.body
    chosen = {"passphrase": PASSPHRASE, "again": PASSPHRASE}
    assert served.post(f"/join/{token}", {**chosen, "again": "x"}).status == 401
    assert served.post(f"/join/{token}", chosen, "http://evil.example").status == 401
    answer = served.post(f"/join/{token}", chosen)
    assert answer.status == 303
    cookie = answer.headers["set-cookie"].partition(";")[0]
    assert served.ask("/", cookie=cookie).status == 200
    assert served.ask(f"/join/{token}").status == 401
    assert served.post(f"/join/{token}", chosen).status == 401


def test_who_is_shut_out_at_the_command_line_is_out_within_seconds(served: Served) -> None:
    people.add_person(served.store, "Gone", Role.GROWER, PASSPHRASE)
    cookie = served.sign_in("Gone")
    people.end_person(served.store, "Gone")
    until = time.monotonic() + 15
    while served.ask("/", cookie=cookie).status == 200 and time.monotonic() < until:
        time.sleep(0.5)
    assert served.ask("/", cookie=cookie).status == 401


# ------------------------------------------------------------------------------ what browsers obey


@pytest.mark.parametrize("path", ["/", "/tally", "/static/x.js", "/_stcore/health", "/media/x.svg"])
def test_every_answer_forbids_frames_foreign_scripts_and_referrers(
    served: Served, path: str
) -> None:
    """By the W3C's Content Security Policy Level 3 and Referrer Policy."""
    for cookie in (None, served.cookies[Role.PICKER]):
        headers = served.ask(path, cookie=cookie).headers
        parts = (part.partition(" ") for part in headers["content-security-policy"].split("; "))
        policy = {name: sources for name, _, sources in parts}
        assert policy["default-src"] == "'none'"
        assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert policy["connect-src"] == policy["form-action"] == "'self'"
        assert "unsafe" not in policy["script-src"]
        assert not re.search(r"https?:|\*", headers["content-security-policy"])
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"


@pytest.mark.parametrize("host", ["evil.example", "evil.example:{port}", "192.0.2.7:{port}", "["])
def test_only_the_announced_names_are_answered(served: Served, host: str) -> None:
    host = host.format(port=served.port)
    for path in ("/", "/sign-in", "/join/x", "/_stcore/health", "/media/x.svg"):
        for cookie in (None, served.cookies[Role.GROWER]):
            answer = served.ask(path, cookie=cookie, Host=host)
            assert answer.status == 421
            assert served.says_nothing(answer)
    headers = {"Cookie": served.cookies[Role.GROWER], "Host": host}
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://{HERE}:{served.port}/_stcore/stream", additional_headers=headers)
    assert refused.value.response.status_code in (400, 421)


def test_a_name_that_was_given_is_answered(served: Served) -> None:
    for host in ("trials.farm.example", f"TRIALS.farm.example:{served.port}"):
        assert served.ask("/sign-in", Host=host).status == 200


@pytest.mark.parametrize(
    ("path", "length"), [("/_stcore/upload_file/x/y", 60_000_000), ("/sign-in", 2_000_000)]
)
def test_what_is_too_large_is_refused_before_it_is_sent(
    served: Served, path: str, length: int
) -> None:
    """Only the head of the request goes out; an answer means that nothing more was waited for."""
    cookie = served.cookies[Role.GROWER]
    head = f"PUT {path} HTTP/1.1\r\nHost: {HERE}\r\nCookie: {cookie}\r\n"
    for told in (f"Content-Length: {length}", "Content-Length: 1" + "0" * 30):
        with socket.create_connection((HERE, served.port), timeout=20) as sending:
            sending.sendall(f"{head}{told}\r\n\r\n".encode())
            assert sending.recv(100).startswith((b"HTTP/1.1 413", b"HTTP/1.1 400"))


def test_where_the_program_lies_reaches_no_page(served: Served) -> None:
    rerun = BackMsg()
    rerun.rerun_script.query_string = ""
    for role in Role:
        said = b"".join(heard(served, role, rerun))
        assert b"app.py" in said
        for place in (ROOT, served.store.parent, Path.home()):
            assert str(place).encode() not in said


def test_who_signed_in_before_is_not_shut_out_by_strangers(served: Served) -> None:
    """The device is known by its cookie, whatever address it has today."""
    own = f"http://{HERE}:{served.port}"
    form = {"name": "Finn", "passphrase": PASSPHRASE, "next": "/"}
    first = served.post("/sign-in", form)
    marks = [value for name, value in first.pairs if name == "set-cookie"]
    (mark,) = [value for value in marks if value.startswith("tallybed_device=")]
    assert {"HttpOnly", "Path=/sign-in", "SameSite=strict"} <= set(mark.split("; "))
    known = mark.partition(";")[0]
    assert served.ask("/sign-in", "POST", form=form, cookie=known, Origin=own).status == 303


# ------------------------------------------------------------------------------ roles


@pytest.mark.parametrize("role", Role)
def test_a_person_is_served(served: Served, role: Role) -> None:
    cookie = served.cookies[role]
    assert served.ask("/", cookie=cookie).status == 200
    assert served.ask("/_stcore/health", cookie=cookie).status == 200
    with connect(
        f"ws://{HERE}:{served.port}/_stcore/stream", additional_headers={"Cookie": cookie}
    ):
        pass


def test_another_site_s_page_gets_no_websocket(served: Served) -> None:
    headers = {"Cookie": served.cookies[Role.GROWER], "Origin": "http://evil.example"}
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://{HERE}:{served.port}/_stcore/stream", additional_headers=headers)
    assert refused.value.response.status_code == 403


def test_an_open_page_goes_dead_when_its_session_ends(served: Served) -> None:
    cookie = served.sign_in("Wren")
    address = f"ws://{HERE}:{served.port}/_stcore/stream"
    with connect(address, additional_headers={"Cookie": cookie}) as stream:
        own = f"http://{HERE}:{served.port}"
        served.ask("/sign-out", "POST", cookie=cookie, form={}, Origin=own)
        stream.send(b"anything")
        with pytest.raises(ConnectionClosed) as closed:
            list(stream)  # until it ends
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1008


@pytest.mark.browser
def test_a_picker_s_phone_goes_from_the_stake_to_the_record(served: Served, chromium: Any) -> None:
    base = f"http://{HERE}:{served.port}"
    with chromium.new_page(viewport=PHONE) as page:
        page.set_default_timeout(30_000)
        page.goto(f"{base}/tally?plot=P40&day=2026-08-05")
        page.get_by_label("Your name").fill("finn")
        page.get_by_label("Your passphrase").fill(PASSPHRASE)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_text("P40", exact=True).first.wait_for()
        page.get_by_role("button", name="Nothing to cut").click()
        page.get_by_text("By Finn.").wait_for()
        page.goto(base)
        page.get_by_text("You tally as Finn.").wait_for()
        for path in ("/home", "/compare?trial=x", "/people"):
            page.goto(base + path)
            page.get_by_text("Units", exact=True).first.wait_for()
            page.get_by_text("Heat: drink water").wait_for()
            said = page.locator("[data-testid=stMain]").inner_text()
            assert not any(name in said for name in (*served.secrets[:-3], "Add records"))
    told = season.plot_on_day(served.store, served.open_trial, "P40", date(2026, 8, 5))
    assert (told.outcome, told.stems, told.who) == ("picked", (), "Finn")


def heard(served: Served, role: Role, rerun: BackMsg) -> list[bytes]:
    """What an open page is told when it asks to be run, message by message."""
    said: list[bytes] = []
    with connect(
        f"ws://{HERE}:{served.port}/_stcore/stream",
        additional_headers={"Cookie": served.cookies[role]},
        max_size=None,
    ) as stream:
        stream.send(rerun.SerializeToString())
        while not said or ForwardMsg.FromString(said[-1]).WhichOneof("type") != "script_finished":
            message = stream.recv(timeout=60)
            assert isinstance(message, bytes)
            said.append(message)
    return said


def widgets_in(message: Message) -> Iterator[str]:
    """The names by which a page's buttons and fields are told from one another."""
    for field_of, value in message.ListFields():
        for each in value if field_of.is_repeated else (value,):
            if isinstance(each, Message):
                yield from widgets_in(each)
            elif field_of.name == "id" and str(each).startswith("$$ID"):
                yield each


@pytest.mark.parametrize(
    "page", [path.strip("/") for path in PAGES if "plot" not in path and path != "/tally"]
)
def test_a_picker_s_session_runs_no_page_of_the_grower_s(served: Served, page: str) -> None:
    """Neither by the page's name nor with every one of the grower's own buttons tapped."""

    def held() -> tuple[object, ...]:
        files = sorted(served.store.parent.rglob("*"))
        return season.records_mark(served.store), season.everybody(served.store), files

    asked = BackMsg()
    asked.rerun_script.page_name = page
    told = heard(served, Role.GROWER, asked)
    assert any(secret.encode() in b"".join(told) for secret in served.secrets)
    widgets = {name for one in told for name in widgets_in(ForwardMsg.FromString(one))}
    assert widgets
    before = held()
    for name in sorted(widgets):
        state = asked.rerun_script.widget_states.widgets.add()
        state.id, state.trigger_value = name, True
    said = b"".join(heard(served, Role.PICKER, asked))
    assert not any(secret.encode() in said for secret in served.secrets[:-3])
    assert held() == before


def test_uploads_are_the_grower_s(served: Served) -> None:
    said = {
        role: served.ask("/_stcore/upload_file/x/y", "PUT", cookie=cookie).body
        for role, cookie in served.cookies.items()
    }
    assert said[Role.PICKER] == said[Role.ADVISER] == b"Your role does not allow this."
    assert said[Role.GROWER] != b"Your role does not allow this.", (
        "Streamlit asks for its own token next"
    )


def test_downloads_are_not_the_picker_s(served: Served) -> None:
    status = {
        role: served.ask("/media/x.pdf", cookie=cookie).status
        for role, cookie in served.cookies.items()
    }
    assert status == {Role.PICKER: 403, Role.GROWER: 404, Role.ADVISER: 404}


def test_no_program_drives_the_pages_past_them(served: Served) -> None:
    cookie = served.cookies[Role.GROWER]
    assert served.ask("/_stcore/agent/interact", "POST", cookie=cookie).status == 403


def test_a_page_comes_back_to_what_was_asked_for(served: Served) -> None:
    away = served.ask("/tally?plot=P1", Accept="text/html")
    assert away.headers["location"] == f"/sign-in?next={quote('/tally?plot=P1', safe='')}"
    reopened = served.ask(away.headers["location"])
    again = re.search(r'url=([^"]+)"', reopened.body.decode())
    assert again is not None
    link = again[1].replace("&amp;", "&")
    signed_in = served.ask(link, cookie=served.cookies[Role.PICKER])
    assert (signed_in.status, signed_in.headers["location"]) == (303, "/tally?plot=P1")
    assert b'value="/tally?plot=P1"' in served.ask(link).body


# ------------------------------------------------------------------------------ hostile text

HIT = "<script>window.__hit=1</script>"
NAME = '<img src=x onerror="window.__hit=1"> ![x](http://e.example/x)'[:60]
WORST = (
    f"{HIT} {NAME} [x](javascript:window.__hit=1) <svg/onload=window.__hit=1> $\\LaTeX$ :red[x] "
    f":material/home: \u202eevil\u202c a\u200bb {'e' + chr(0x301) * 60} {'x' * 150} "
    "https://e.example/x www.e.example a@e.example -> `c` **b** # h | =1+1 {{7*7}}"
)


@pytest.fixture
def hostile_records(served: Served, tmp_path: Path) -> None:
    """A person, reasons, a note and a trial of the worst texts."""
    plan = tmp_path / "plan.toml"
    worst = small_plan(
        **dict.fromkeys(("question", "site", "crop"), WORST),
        trial=NAME,
        factors=[{"name": "variety", "levels": [NAME, WORST]}],
        beds=[{"name": WORST, "length_m": 30, "width_m": 1.2}],
    )
    plan.write_text(worst, "utf-8")
    season.plan(served.store, plan, signed=Signed(WORST, WORST))
    people.add_person(served.store, NAME, Role.ADVISER, None, "a@e.example")
    note = season.TallyEntry("P37", date(2026, 8, 5), season.Tally.NOTE, words=WORST)
    season.tally(served.store, note, Signed(NAME))
    culls = ((WORST, "1"),)
    count = season.TallyEntry(
        "P43", date(2026, 8, 5), season.Tally.COUNTED, stems=((40, "7"),), culls=culls
    )
    season.tally(served.store, count, Signed(NAME))


@pytest.mark.browser
def test_hostile_text_is_only_text_on_a_phone(
    served: Served, hostile_records: None, chromium: Any
) -> None:
    """Last in the file: it closes the trial that others tally."""
    outside: list[str] = []
    dialogs: list[str] = []
    told: list[str] = []
    with chromium.new_page(viewport=PHONE) as page:
        page.set_default_timeout(45_000)

        def dismiss(dialog: Any) -> None:
            dialogs.append(dialog.message)
            dialog.dismiss()

        page.on("dialog", dismiss)
        page.on("request", lambda request: outside.append(request.url))
        page.on("console", lambda message: told.append(message.text))
        base = f"http://{HERE}:{served.port}"
        page.goto(f"{base}/history")
        page.get_by_label("Your name").fill("Ada")
        page.get_by_label("Your passphrase").fill(PASSPHRASE)
        page.get_by_role("button", name="Sign in").click()
        for path, shown in HOSTILE_PAGES.items():
            page.goto(base + path)
            page.get_by_text("Units", exact=True).first.wait_for()
            page.wait_for_timeout(400)
            for summary in page.locator("[data-testid=stMain] summary").all()[:4]:
                summary.click()
            page.wait_for_timeout(300)
            main = page.locator("[data-testid=stMain]")
            main.filter(has_text=shown).wait_for()  # some pages calculate first
            assert shown in main.inner_text(), path
            assert page.evaluate("window.__hit") is None
            made = main.locator(
                "script, iframe, object, svg[onload], [onerror], strong, em, "
                "a[href^='javascript'], .katex, "
                "img:not(.tb-scan, .tb-picture[src^='data:image/svg+xml'])"
            )
            hosts = main.locator("a").evaluate_all("links => links.map(link => link.hostname)")
            assert set(hosts) <= {page.evaluate("location.hostname")}, (path, hosts)
            assert made.count() == 0, (path, made.first.evaluate("e => e.outerHTML"))
            wide = page.evaluate(
                """() => [document.documentElement,
                          document.querySelector('[data-testid=stMain]')]
                         .map(element => element.scrollWidth - element.clientWidth)"""
            )
            assert wide == [0, 0], path
            if path.startswith("/tally"):  # the others show the trial as it was closed
                reason, who = WORST, Signed(WORST)
                season.close(served.store, served.open_trial, date(2026, 10, 1), reason, who)
    assert dialogs == []
    assert [text for text in told if "Content Security Policy" in text] == []
    assert [url for url in outside if HERE not in url and url.startswith(("http", "ws"))] == []


HOSTILE_PAGES = {
    "/tally?plot=P37&day=2026-08-05": "onerror",
    "/": "evil",
    "/plan": "evil",
    f"/compare?trial={quote('_b_-2026')}": "onerror",
    "/choose": "onerror",
    "/order": ":smile:",
    "/history": "onerror",
    "/people": "onerror",
    "/varieties": "onerror",
    f"/varieties?variety={quote(NAME)}": "onerror",
}
