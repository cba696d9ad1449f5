"""How much of a request's body is read; more is refused by its stated length or as it comes."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import Message, Receive, Scope

UPLOADS = "/_stcore/upload_file"
MOST_OF_A_FILE_MB = 50
_FRAMING_BYTES = 64 * 1024  # what a form puts around a file
MOST_OF_A_FILE = MOST_OF_A_FILE_MB * 1024 * 1024 + _FRAMING_BYTES
MOST_OF_A_FORM = 1024 * 1024
RECORDS = "/plots/record"  # what a phone sends of one plot
MOST_OF_A_RECORD = 16 * 1024
PHOTOS = "/plots/photo"  # a photo of a plot that a phone sends, as text
MOST_OF_A_PHOTO = 24 * 1024 * 1024


class TooLarge(Exception):
    """More came than a request of its kind may bring."""


def limit_of(scope: Scope) -> int:
    """How many bytes a request to this address may bring."""
    path = str(scope["path"])
    if path == RECORDS:
        return MOST_OF_A_RECORD
    if path == PHOTOS:
        return MOST_OF_A_PHOTO
    return MOST_OF_A_FILE if path.startswith(UPLOADS) else MOST_OF_A_FORM


def says_too_much(scope: Scope) -> bool:
    """Whether a request itself says that it brings more, so that none of it need be read."""
    told = Headers(scope=scope).get("content-length", "0")
    return not (told.isascii() and told.isdigit() and int(told) <= limit_of(scope))


def counted(scope: Scope, receive: Receive) -> Receive:
    """The body as it comes; the first piece beyond the limit raises ``TooLarge``."""
    left = limit_of(scope)

    async def received() -> Message:
        nonlocal left
        message = await receive()
        if message["type"] == "http.request":
            left -= len(message.get("body", b""))
            if left < 0:
                raise TooLarge
        return message

    return received
