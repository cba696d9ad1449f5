"""Keeps the connections to the pages to what people need: silent ones end, one address has few.

Streamlit lets its web server wait for ever for a request, and take as many connections as come;
one phone could so use up every file that the program may open, and shut the whole farm out.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections import Counter
from typing import Any

from uvicorn import config
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

ASKS_WITHIN_S = 20.0
MOST_OF_AN_ADDRESS = 200  # a hotspot may bring many phones, each with a handful
FILES_WANTED = 8_192

_open: Counter[str] = Counter()


class BoundedConnection(H11Protocol):
    """A connection that must ask for something now and then, and is one of not too many."""

    _address = ""
    _watch: asyncio.TimerHandle | None = None
    _seen: RequestResponseCycle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Count it; end it at once where its address has too many."""
        super().connection_made(transport)
        self._address = self.client[0] if self.client else ""
        _open[self._address] += 1
        if _open[self._address] > MOST_OF_AN_ADDRESS and not _is_here(self._address):
            transport.abort()
            return
        self._watch = self.loop.call_later(ASKS_WITHIN_S, self._end_if_silent)

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._let_go()
        super().connection_lost(exc)

    def handle_websocket_upgrade(self, event: Any) -> None:
        """Leave it to the gate, which counts the open pages of a device."""
        self._let_go()
        super().handle_websocket_upgrade(event)

    def _end_if_silent(self) -> None:
        """End it if nothing was asked since the last look, and nothing is being answered."""
        asked: RequestResponseCycle | None = self.cycle
        if asked is self._seen and (asked is None or asked.response_complete):
            self.transport.close()
            return
        self._seen = asked
        self._watch = self.loop.call_later(ASKS_WITHIN_S, self._end_if_silent)

    def _let_go(self) -> None:
        if self._watch is not None:
            self._watch.cancel()
            self._watch = None
        if self._address:
            _open[self._address] -= 1
            if _open[self._address] <= 0:
                del _open[self._address]
            self._address = ""


def bound_connections() -> None:
    """From now on, serve every connection so; and let this program open enough files."""
    # Streamlit starts the web server with its defaults; this is where they stand.
    config.HTTP_PROTOCOLS["auto"] = f"{__name__}:{BoundedConnection.__name__}"
    try:
        import resource
    except ImportError:  # not a Unix: sockets are not counted as files there
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = FILES_WANTED if hard == resource.RLIM_INFINITY else min(FILES_WANTED, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def _is_here(address: str) -> bool:
    """Whether it is this machine itself, where a web server for TLS may stand in front."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
