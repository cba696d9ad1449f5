"""What strangers can cause to be written to the terminal: short, harmless, and not without end."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

WEB_SERVER_LOG = "uvicorn.error"
SERVICE_LOG = "streamlit.web.server.starlette.starlette_auth_routes"
LONGEST_LINE = 300
AGAIN_AFTER_S = 60.0


class OneLine(logging.Filter):
    """What went wrong, on one line: others' words in it are neither traceback nor commands."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Shorten a record; it is always shown."""
        told = record.getMessage()
        fault = record.exc_info[1] if record.exc_info else None
        if fault is not None:
            told += f" ({type(fault).__name__} {getattr(fault, 'error', '')})"
        printable = "".join(sign if sign.isprintable() else "?" for sign in told)
        record.msg, record.args = printable[:LONGEST_LINE], ()
        record.exc_info = record.exc_text = None
        return True


class Seldom(logging.Filter):
    """The same words once a minute; a fault of the program's own always."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._clock = clock
        self._shown: dict[str, float] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a record is shown."""
        if record.exc_info:
            return True
        words, now = str(record.msg), self._clock()  # before anybody's own are put in
        if now - self._shown.get(words, float("-inf")) < AGAIN_AFTER_S:
            return False
        self._shown[words] = now
        return True


def quiet_logs() -> None:
    """Look at what the web server and the way to another sign-in service write."""
    for name, filters in ((WEB_SERVER_LOG, (Seldom,)), (SERVICE_LOG, (Seldom, OneLine))):
        log = logging.getLogger(name)
        for kind in filters:
            if not any(isinstance(each, kind) for each in log.filters):
                log.addFilter(kind())
