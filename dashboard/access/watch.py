"""Watches over the messages of one open page: only while its session holds, and only its own."""

from __future__ import annotations

from pathlib import Path

from google.protobuf.message import DecodeError
from starlette.concurrency import run_in_threadpool
from starlette.types import Message, Receive, Send
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from dashboard.access.who import Door
from trials import TallybedError

# Policy violation, protocol error, message too big: RFC 6455, section 7.4.1.
ENDED, NOT_OURS, TOO_LARGE = 1008, 1002, 1009
LARGEST_MESSAGE = 5_000_000  # bytes; files come another way
# What a page says in use. The rest is for whoever develops it: to empty everybody's caches, to run
# at each change of the program, to tell of its repository, or to stop it.
HEARD = (
    "rerun_script",
    "stop_script",
    "app_heartbeat",
    "file_urls_request",
    "backend_operation_request",
)

APP = Path(__file__).parents[1] / "app.py"
_FOLDER = str(APP.parent).encode()


class Watch:
    """The messages that a page sends, as the pages may hear them, and those that it is sent."""

    def __init__(self, receive: Receive, send: Send, door: Door, token: str | None) -> None:
        self._receive = receive
        self._send = send
        self._door = door
        self._token = token

    async def receive(self) -> Message:
        """The next message; the end, once the session has ended or it was none of a page's."""
        while True:
            message = await self._receive()
            if message["type"] != "websocket.receive":
                return message
            if not await self._is_signed_in():
                return await self._end(ENDED)
            content = message.get("bytes")
            if content is not None and len(content) > LARGEST_MESSAGE:
                return await self._end(TOO_LARGE)
            kind = kind_of(content)
            if kind is None:
                return await self._end(NOT_OURS)
            if kind in HEARD:
                return message

    async def send(self, message: Message) -> None:
        """Send a message on; where the program lies on this machine is no page's concern."""
        content = message.get("bytes")
        if content is not None and _FOLDER in content:
            message = {**message, "bytes": without_folder(content)}
        await self._send(message)

    async def _is_signed_in(self) -> bool:
        try:
            return await run_in_threadpool(self._door.session, self._token) is not None
        except TallybedError:  # the store is held by another program, or gone
            return False

    async def _end(self, code: int) -> Message:
        await self._send({"type": "websocket.close", "code": code})
        return {"type": "websocket.disconnect", "code": code}


def without_folder(content: bytes) -> bytes:
    """A message to a page without the folder of the program's files."""
    message = ForwardMsg.FromString(content)
    if message.WhichOneof("type") == "new_session":
        message.new_session.main_script_path = APP.name
    return bytes(message.SerializeToString())


def kind_of(content: bytes | None) -> str | None:
    """What kind of message it is; None where it is none that a page sends."""
    if content is None:
        return None
    try:
        kind = BackMsg.FromString(content).WhichOneof("type")
    except DecodeError:
        return None
    return None if kind is None else str(kind)
