"""Another sign-in service's word is taken once, for a verified address, and only if set up."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest
from starlette.requests import Request
from starlette.responses import Response
from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

from dashboard import single_sign_on
from trials.errors import SignInRefused

SECRET = "a secret of this test"
COOKIE = "_streamlit_user"


@pytest.fixture(autouse=True)
def set_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(single_sign_on, "is_set_up", lambda: True)
    monkeypatch.setattr(single_sign_on, "get_cookie_secret", lambda: SECRET)


def told(secret: str = SECRET, **claims: Any) -> Request:
    known = {"email": "wren@farm.example", "email_verified": True, "iat": time.time(), **claims}
    kept = create_signed_value(secret, COOKIE, json.dumps(known)).decode()
    cookie = f"{COOKIE}={kept}".encode()
    return Request({"type": "http", "headers": [(b"cookie", cookie)], "query_string": b""})


def test_a_verified_address_is_taken() -> None:
    assert single_sign_on.verified_email(told()) == "wren@farm.example"


@pytest.mark.parametrize(
    "claims",
    [
        {"email_verified": False},
        {"email_verified": None},
        {"email": None},
        {"iat": time.time() - 3600},
        {"iat": None},
    ],
)
def test_anything_less_is_not(claims: dict[str, Any]) -> None:
    with pytest.raises(SignInRefused):
        single_sign_on.verified_email(told(**claims))


def test_a_cookie_that_streamlit_did_not_sign_is_nothing() -> None:
    with pytest.raises(SignInRefused):
        single_sign_on.verified_email(told(secret="another"))


def test_without_a_service_no_cookie_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(single_sign_on, "is_set_up", lambda: False)
    with pytest.raises(SignInRefused):
        single_sign_on.verified_email(told())
    assert single_sign_on.link() is None


def test_the_word_is_taken_once() -> None:
    cleared = single_sign_on.cleared(Response(), told())
    assert f'{COOKIE}="";' in cleared.headers["set-cookie"]
