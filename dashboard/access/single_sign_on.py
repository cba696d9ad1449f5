"""What is believed of somebody who comes back from another sign-in service (OpenID Connect).

Streamlit leads there and back, checks the answer's signature and what ties it to this browser, and
writes who it was into a cookie that it signs. Here the claims in it are judged again, more
strictly, against what the secrets said beforehand (OpenID Connect Core 1.0, section 3.1.3.7).
"""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from streamlit.auth_util import encode_provider_token, get_cookie_with_chunks
from streamlit.web.server.server_util import AUTH_COOKIE_NAME, get_cookie_secret
from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value

from dashboard.access.service_file import Service
from trials.errors import SignInRefused

PROVIDER = "default"
TAKEN_WITHIN_S = 600
NOBODY = (
    "The sign-in service did not say who you are. Try again. If it fails again, tell the grower."
)


def login_address() -> str:
    """Where Streamlit's way to the service begins; good for two minutes."""
    return f"/auth/login?provider={quote(encode_provider_token(PROVIDER), safe='')}"


def verified_email(cookies: Mapping[str, str], service: Service) -> str:
    """The address that the service vouches for, from the cookies that Streamlit would set.

    Raises
    ------
    SignInRefused
        Nobody came back, the answer is not for these pages or too old, or the service has not
        verified the address.
    """
    secret = get_cookie_secret()

    def one(name: str) -> bytes | None:
        kept = cookies.get(name)
        return None if kept is None else decode_signed_value(secret, name, kept.encode("latin-1"))

    found = get_cookie_with_chunks(one, AUTH_COOKIE_NAME)
    if not found:
        raise SignInRefused(NOBODY)
    told: dict[str, Any] = json.loads(found)
    if not _is_for_us(told, service):
        raise SignInRefused(NOBODY)
    _require_fresh(told)
    email, verified = told.get("email"), told.get("email_verified")
    if not isinstance(email, str) or not email or verified not in (True, "true"):
        raise SignInRefused(
            "The sign-in service has not verified an e-mail address of yours. Verify it there, "
            "then try again."
        )
    return email


def _is_for_us(told: Mapping[str, Any], service: Service) -> bool:
    """Whether it was issued by that service, to these pages alone, for a question of theirs.

    The library takes an answer meant for somebody else if its ``azp`` names us, and any issuer
    that the service's own document names; neither is taken here.
    """
    audience = told.get("aud")
    return (
        told.get("provider") == PROVIDER
        and str(told.get("iss")).rstrip("/") == service.issuer.rstrip("/")
        and audience in (service.client_id, [service.client_id])
        and bool(told.get("nonce"))
    )


def _require_fresh(told: Mapping[str, Any]) -> None:
    now, issued, ends = time.time(), told.get("iat"), told.get("exp")
    fresh = isinstance(issued, int | float) and abs(now - issued) <= TAKEN_WITHIN_S
    if not (fresh and isinstance(ends, int | float) and now < ends):
        raise SignInRefused(
            "That sign-in is too old. Sign in again. If it fails again, the clock of the "
            "farm's computer may be wrong."
        )
