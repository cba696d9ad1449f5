"""Signing in through another service (OpenID Connect) that Streamlit's secrets were set up for.

Streamlit leads there and back and leaves who it was in a cookie that it has signed. Here that
cookie is read once, its verified e-mail address is looked up among the people of the farm, and the
cookie is thrown away: from then on a session of our own holds, with its role and its end.
"""

from __future__ import annotations

import json
import time
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from streamlit.auth_util import (
    encode_provider_token,
    get_cookie_with_chunks,
    get_secrets_auth_section,
)
from streamlit.web.server.server_util import (
    AUTH_COOKIE_NAME,
    TOKENS_COOKIE_NAME,
    get_cookie_secret,
)
from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value

from trials.errors import SignInRefused

PROVIDER = "default"
TAKEN_WITHIN_S = 600


def is_set_up() -> bool:
    """Whether Streamlit's secrets name a sign-in service."""
    section = get_secrets_auth_section()
    return bool(section) and "client_id" in section


def link() -> str | None:
    """Where the service's sign-in begins; None without one."""
    if not is_set_up():
        return None
    return f"/auth/login?provider={quote(encode_provider_token(PROVIDER), safe='')}"


def verified_email(request: Request) -> str:
    """The address that the service vouches for.

    Raises
    ------
    SignInRefused
        Nobody came back from the service, or it has not verified the address.
    """
    secret = get_cookie_secret()

    def one(name: str) -> bytes | None:
        kept = request.cookies.get(name)
        if kept is None:
            return None
        return decode_signed_value(secret, name, kept.encode("latin-1"))

    found = get_cookie_with_chunks(one, AUTH_COOKIE_NAME) if is_set_up() else None
    if not found:
        raise SignInRefused("Nobody came back from the sign-in service. Try again.")
    told = json.loads(found)
    email, verified = told.get("email"), told.get("email_verified")
    told_at = told.get("iat")
    if not isinstance(told_at, int | float) or abs(time.time() - told_at) > TAKEN_WITHIN_S:
        raise SignInRefused("That sign-in is too old to be taken. Sign in once more.")
    if not isinstance(email, str) or verified not in (True, "true"):
        raise SignInRefused("The sign-in service has not verified an e-mail address of yours.")
    return email


def cleared(response: Response, request: Request) -> Response:
    """Without Streamlit's cookies: its word was taken, and must not outlast the session."""
    for name in request.cookies:
        if name.startswith((AUTH_COOKIE_NAME, TOKENS_COOKIE_NAME)):
            response.delete_cookie(name, path="/")
    return response
