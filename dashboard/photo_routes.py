"""The address of a photo, behind the same gate as every page: a JPEG and never anything else."""

from __future__ import annotations

import re

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from dashboard import variety_data
from dashboard.access.gate import token_of
from dashboard.access.visitor import READERS, require, showing
from trials import TallybedError
from trials.errors import NotAllowed, SignInRefused, StoreBusy

ADDRESS = "/photo"
DIGEST = re.compile(r"[0-9a-f]{64}")
HEADERS = {
    "cache-control": "no-store",  # nobody sees it on this device after signing out
    "x-content-type-options": "nosniff",
    "content-disposition": "inline",
    "content-security-policy": "default-src 'none'; sandbox",
}
NONE = "There is no such photo."


def routes() -> list[BaseRoute]:
    """The address, to stand before Streamlit's own."""
    return [Route(f"{ADDRESS}/{{sha256}}", show_photo, methods=["GET"])]


async def show_photo(request: Request) -> Response:
    """A stored photo, to whoever may read the records."""
    sha256 = str(request.path_params["sha256"])

    def answer() -> bytes:
        with showing(token_of(request.headers)):
            require(READERS)
            return variety_data.photo(sha256) if DIGEST.fullmatch(sha256) else b""

    try:
        content = await run_in_threadpool(answer)
    except SignInRefused as refusal:
        return _says(401, str(refusal))
    except NotAllowed as refusal:
        return _says(403, str(refusal))
    except StoreBusy as refusal:
        return _says(503, str(refusal))
    except TallybedError:
        return _says(404, NONE)
    if not content:
        return _says(404, NONE)
    return Response(content, media_type="image/jpeg", headers=HEADERS)


def _says(status: int, words: str) -> Response:
    return PlainTextResponse(words, status_code=status, headers={"cache-control": "no-store"})
