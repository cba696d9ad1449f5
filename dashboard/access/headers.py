"""What every answer tells the browser: the pages run their own scripts, and nobody frames them."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from pathlib import Path

import streamlit
from starlette.datastructures import MutableHeaders
from starlette.types import Message, Send

_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


@cache
def page_policy() -> str:
    """The Content-Security-Policy of the pages (W3C, level 3), as tight as Streamlit bears.

    Its page has a script of its own, allowed by its digest. Only styles are made as a page runs
    and so left open.
    """
    page = Path(streamlit.__file__).with_name("static") / "index.html"
    digests = [
        base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        for script in _SCRIPT.findall(page.read_text(encoding="utf-8"))
    ]
    scripts = " ".join(f"'sha256-{digest}'" for digest in digests)
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src 'self' {scripts}".rstrip(),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "media-src 'self'",
            "connect-src 'self'",
            "manifest-src 'self'",
            "form-action 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        ]
    )


def with_headers(send: Send) -> Send:
    """Answers with these headers; a form of ours keeps the policies that it has."""

    async def answered(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("content-security-policy", page_policy())
        await send(message)

    return answered
