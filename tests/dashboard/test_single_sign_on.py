"""What is believed of another sign-in service: an answer for us, from it, fresh, and verified."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest
from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

from dashboard.access import single_sign_on
from dashboard.access.service_file import Service
from trials.errors import SignInRefused

SECRET = "a secret of this test"
COOKIE = "_streamlit_user"
SERVICE = Service("the-farm", "https://id.coop.example", "farm.example")


BEGUN = time.time()


def _spelled(value: object) -> str:
    """A value as a test may be called by it: the same in each process that collects the tests."""
    if isinstance(value, float) and value > 1e9:
        return f"{value - BEGUN:+.0f} s"
    return str(value)


@pytest.fixture(autouse=True)
def set_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(single_sign_on, "get_cookie_secret", lambda: SECRET)


def told(secret: str = SECRET, **claims: Any) -> dict[str, str]:
    known = {
        "email": "wren@farm.example",
        "email_verified": True,
        "iat": time.time(),
        "exp": time.time() + 300,
        "iss": SERVICE.issuer,
        "aud": SERVICE.client_id,
        "nonce": "n",
        "provider": "default",
        **claims,
    }
    return {COOKIE: create_signed_value(secret, COOKIE, json.dumps(known)).decode()}


def test_a_verified_address_is_taken() -> None:
    for claims in ({}, {"aud": ["the-farm"]}, {"iss": "https://id.coop.example/"}):
        assert single_sign_on.verified_email(told(**claims), SERVICE) == "wren@farm.example"


@pytest.mark.parametrize(
    "claims",
    [
        {"email_verified": False},
        {"email_verified": None},
        {"email_verified": "yes"},
        {"email": None},
        {"email": ""},
        {"email": ["wren@farm.example"]},
        {"iat": BEGUN - 3600},
        {"iat": BEGUN + 3600},
        {"iat": None},
        {"exp": BEGUN - 1},
        {"exp": None},
        {"exp": float("nan")},
        {"iss": "https://other.example"},
        {"iss": None},
        {"aud": "another", "azp": "the-farm"},
        {"aud": ["the-farm", "another"]},
        {"aud": None},
        {"nonce": None},
        {"provider": "another"},
    ],
    ids=lambda claims: ", ".join(f"{name} {_spelled(value)}" for name, value in claims.items()),
)
def test_anything_less_is_not(claims: dict[str, Any]) -> None:
    with pytest.raises(SignInRefused):
        single_sign_on.verified_email(told(**claims), SERVICE)


def test_a_cookie_that_streamlit_did_not_sign_is_nothing() -> None:
    for cookies in (told(secret="another"), {COOKIE: "x"}, {COOKIE: "é"}, {}):
        with pytest.raises(SignInRefused, match="did not say who you are"):
            single_sign_on.verified_email(cookies, SERVICE)
