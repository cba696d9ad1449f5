"""Connections that say nothing, or are too many of one address, end."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any

import pytest
import uvicorn
from uvicorn.server import ServerState

from dashboard.access import connections
from dashboard.access.connections import (
    MOST_OF_AN_ADDRESS,
    BoundedConnection,
    bound_connections,
)

STRANGER = "10.0.0.7"


class Line(asyncio.Transport):
    """A connection without a network."""

    def __init__(self, address: str) -> None:
        super().__init__({"peername": (address, 5), "sockname": ("10.0.0.1", 8501)})
        self.ended = ""

    def close(self) -> None:
        self.ended = self.ended or "closed"

    def abort(self) -> None:
        self.ended = self.ended or "refused"

    def is_closing(self) -> bool:
        return bool(self.ended)

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Nobody reads it."""


@pytest.fixture(autouse=True)
def nobody_else() -> Iterator[None]:
    connections._open.clear()
    yield
    connections._open.clear()


async def unanswered(scope: Any, receive: Any, send: Any) -> None:
    await asyncio.sleep(3600)


def connected(address: str) -> tuple[BoundedConnection, Line]:
    settings = uvicorn.Config(unanswered, lifespan="off")
    settings.load()
    made = BoundedConnection(settings, ServerState(), {}, asyncio.get_running_loop())
    line = Line(address)
    made.connection_made(line)
    return made, line


def test_an_address_has_so_many_and_others_are_let_in_meanwhile() -> None:
    async def asked() -> None:
        many = [connected(STRANGER) for _ in range(MOST_OF_AN_ADDRESS)]
        assert not any(line.ended for _, line in many)
        assert connected(STRANGER)[1].ended == "refused"
        assert connected("10.0.0.8")[1].ended == ""
        here = [connected("127.0.0.1") for _ in range(MOST_OF_AN_ADDRESS + 1)]
        assert not any(line.ended for _, line in here), "a web server for TLS may stand there"

    asyncio.run(asked())


def test_who_left_is_not_counted() -> None:
    async def asked() -> None:
        for _ in range(2 * MOST_OF_AN_ADDRESS):
            made, line = connected(STRANGER)
            assert line.ended == ""
            made.connection_lost(None)
        assert not connections._open

    asyncio.run(asked())


@pytest.mark.parametrize("half", [b"", b"GET / HTTP/1.1\r\nHost: x\r\n"], ids=["silent", "half"])
def test_who_asks_for_nothing_is_sent_away(monkeypatch: pytest.MonkeyPatch, half: bytes) -> None:
    monkeypatch.setattr(connections, "ASKS_WITHIN_S", 0.01)

    async def asked() -> str:
        made, line = connected(STRANGER)
        if half:  # nothing at all would be its end
            made.data_received(half)
        await asyncio.sleep(0.1)
        return line.ended

    assert asyncio.run(asked()) == "closed"


def test_who_waits_for_an_answer_may_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "ASKS_WITHIN_S", 0.01)

    async def asked() -> str:
        made, line = connected(STRANGER)
        made.data_received(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        await asyncio.sleep(0.1)
        return line.ended

    assert asyncio.run(asked()) == ""


def test_the_web_server_is_started_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uvicorn.config, "HTTP_PROTOCOLS", dict(uvicorn.config.HTTP_PROTOCOLS))
    bound_connections()
    settings = uvicorn.Config(unanswered)
    settings.load()
    assert settings.http_protocol_class is BoundedConnection
