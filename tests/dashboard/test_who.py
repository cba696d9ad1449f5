"""Who is signed in: an ended session is over at once, whoever asks meanwhile."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dashboard.access import who
from trials import season
from trials.model.trial import Person, Role, Session


def test_who_asks_while_a_session_ends_does_not_keep_it(monkeypatch: pytest.MonkeyPatch) -> None:
    now = datetime.now(UTC).replace(tzinfo=None)
    finn = Person("Finn", Role.PICKER, email=None, has_passphrase=True)
    held = [Session(season.token_digest("token"), finn, now, now, now + timedelta(days=1))]
    monkeypatch.setattr(who, "UNKNOWN_FRESH_S", 0.0)
    monkeypatch.setattr(season, "sessions", lambda store: tuple(held))
    door = who.Door(Path("farm.tallybed"))

    def ended(store: Path, token: str) -> None:
        assert door.session("token") is not None  # another request, before the store has it
        held.clear()

    monkeypatch.setattr(season, "sign_out", ended)
    assert door.session("token") is not None
    door.sign_out("token")
    assert door.session("token") is None
