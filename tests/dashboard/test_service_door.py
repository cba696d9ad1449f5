"""The way to another sign-in service is not walked without end, and who came by it is let out."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from starlette.types import Message, Receive, Scope, Send

from dashboard.access.service_door import ServiceDoor
from dashboard.access.service_file import Service
from dashboard.access.who import Door
from trials.model.trial import Role
from trials.season import people

AWAY = "https://id.coop.example/authorize"


async def leads_away(scope: Scope, receive: Receive, send: Send) -> None:
    headers = [(b"location", AWAY.encode())]
    await send({"type": "http.response.start", "status": 302, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


def gone(door: Door, address: str, times: int) -> list[int]:
    """What somebody at an address is told, who goes and goes and never comes back."""
    service = ServiceDoor(leads_away, door, Service("the-farm", AWAY, "farm.example"), secure=True)
    told: list[int] = []

    async def send(message: Message) -> None:
        if message["type"] == "http.response.start":
            told.append(message["status"])

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    async def asked() -> None:
        for _ in range(times):
            scope: Scope = {"type": "http", "method": "GET", "path": "/auth/login", "headers": []}
            scope.update(
                {"client": (address, 1), "server": ("10.0.0.1", 8501), "query_string": b""}
            )
            await service(scope, receive, send)

    asyncio.run(asked())
    return told


def test_a_stranger_does_not_make_this_machine_ask_there_without_end(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    people.add_person(store, "Wren", Role.ADVISER, None, "wren@farm.example")
    door = Door(store)
    told = gone(door, "10.0.0.7", 20)
    assert told[0] == 302
    assert told[-10:] == [429] * 10
    assert gone(door, "10.0.0.8", 1) == [302], "others go meanwhile"


@pytest.mark.slow
def test_who_comes_back_as_somebody_may_go_again(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    people.add_person(store, "Wren", Role.ADVISER, None, "wren@farm.example")
    door = Door(store)
    for _ in range(8):
        assert gone(door, "10.0.0.7", 1) == [302]
        door.sign_in_by_email("wren@farm.example", "10.0.0.7")


def test_who_is_shut_out_on_the_page_is_out_at_once(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    people.add_person(store, "Wren", Role.ADVISER, None, "wren@farm.example")
    door = Door(store)
    token = door.sign_in_by_email("wren@farm.example", "10.0.0.7")
    assert door.session(token) is not None
    people.end_person(store, "Wren")
    door.forget()
    assert door.session(token) is None
