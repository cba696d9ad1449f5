"""Who is signed in, as the gate and the pages ask it at every touch."""

from __future__ import annotations

import secrets
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.access.sign_in_delay import Patience
from trials import season as front
from trials.errors import SignInRefused, StoreBusy
from trials.model.trial import Invitation, Session

FRESH_S = 5.0  # so long may somebody shut out at the command line still look in
UNKNOWN_FRESH_S = 1.0  # tokens nobody has are looked up once a second, however many come
BUSY_FRESH_S = 120.0  # while another program holds the store, what was read last holds on
NOTE_SEEN_AFTER = timedelta(minutes=10)
LONGEST_TOKEN = 100


class Door:
    """The sessions of a store, read anew every few seconds; shared by threads."""

    def __init__(self, store: Path) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._live: dict[str, Session] = {}
        self._read_at = float("-inf")
        self._patience = Patience()

    def session(self, token: str | None) -> Session | None:
        """The session of a token, or None if it ended or never was."""
        if not token or len(token) > LONGEST_TOKEN:
            return None
        key = front.token_digest(token)
        with self._lock:
            age = time.monotonic() - self._read_at
            if age > (FRESH_S if key in self._live else UNKNOWN_FRESH_S):
                self._read()
            found = self._live.get(key)
            if found is None or not front.is_live(found):
                return None
            now = datetime.now(UTC).replace(tzinfo=None)
            due = now - found.seen_at > NOTE_SEEN_AFTER
            if due:
                self._live[key] = replace(found, seen_at=now)
        if due:
            front.note_seen(self._store, found)
        return found

    def _read(self) -> None:
        try:
            self._live = {session.key: session for session in front.sessions(self._store)}
        except StoreBusy:
            # A long load by the command line must not sign the crew out.
            if time.monotonic() - self._read_at > BUSY_FRESH_S:
                raise
            return
        self._read_at = time.monotonic()

    def sign_in(
        self, name: str, passphrase: str, address: str, device: str | None = None
    ) -> tuple[str, str]:
        """Sign somebody in; returns the token for the device, and the mark to know it by later.

        Raises
        ------
        SignInRefused
            Name and passphrase do not go together, or there were too many tries.
        """
        self._patience.admit(name, address, device)
        token, session = front.sign_in(self._store, name, passphrase)
        self._patience.forgive(name, address, device)
        device = secrets.token_urlsafe(16)
        self._patience.know(name, device)
        return self._opened(token, session), device

    def send_to_service(self, address: str) -> None:
        """Let somebody go to another service: each one who goes makes this machine ask there.

        Raises
        ------
        SignInRefused
            Too many went from there of late and did not come back as somebody.
        """
        self._patience.admit(_to_service(address), address)

    def sign_in_by_email(self, email: str, address: str) -> str:
        """Sign in whom another service has verified; returns the token for the device."""
        token, session = front.sign_in_by_email(self._store, email)
        self._patience.forgive(_to_service(address), address)
        return self._opened(token, session)

    def invitation(self, token: str, address: str) -> Invitation:
        """The invitation of a link.

        Raises
        ------
        SignInRefused
            It was used, taken back or ran out, or never was.
        """
        self._patience.admit(f"invitation {token[:16]}", address)
        found = front.invitation(self._store, token[:LONGEST_TOKEN])
        if found is None:
            raise SignInRefused("This invitation was already used or has expired. Ask for another.")
        self._patience.forgive(f"invitation {token[:16]}", address)
        return found

    def accept(self, token: str, passphrase: str) -> str:
        """Choose a passphrase by an invitation; returns the token for the device."""
        return self._opened(*front.accept_invitation(self._store, token, passphrase))

    def sign_out(self, token: str | None) -> None:
        """End the session of a token."""
        if token and len(token) <= LONGEST_TOKEN:
            try:
                front.sign_out(self._store, token)
            finally:
                # Last: who asks while the store is being told would read the session once more.
                with self._lock:
                    self._live.pop(front.token_digest(token), None)

    def forget(self) -> None:
        """Read the sessions anew at the next question: somebody was shut out."""
        with self._lock:
            self._read_at = float("-inf")

    def _opened(self, token: str, session: Session) -> str:
        with self._lock:
            self._live[session.key] = session
        return token


def _to_service(address: str) -> str:
    """Under what the ways from an address to another service are counted."""
    return f"to the service from {address}"
