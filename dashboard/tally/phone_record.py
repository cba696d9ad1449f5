"""What a phone sends of one plot: read strictly here, and checked as a record by the season."""

from __future__ import annotations

import json
import re
from base64 import b64decode
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, TypeVar

from trials import TallybedError
from trials.season import Tally, TallyEntry

KEYS = frozenset(
    {"token", "person", "farm", "plot", "day", "what", "stems", "culls", "words", "accept", "made"}
)
PHOTO_KEYS = frozenset({"token", "person", "farm", "plot", "day", "made", "photo"})
MOST_FIELDS = 60
LONGEST_TEXT = 200
LONGEST_GRADE_CM = 1_000
# What comes within a moment needs no time of its own; an older time than this is a wrong clock.
SENT_AT_ONCE = timedelta(minutes=1)
SENT_AT_LAST = timedelta(days=100)
TOKEN = re.compile(r"[0-9a-f]{32}")

Key = TypeVar("Key", int, str)


class NoRecord(TallybedError):
    """What came is not a record that the page for the phone makes."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One record as a phone sent it.

    ``token`` marks the tap, so that a record sent twice is stored once. ``person`` and ``farm``
    are those for which it was made. ``accept`` says why the unlikely is true, None if it does not.
    ``made`` is when it was tapped (UTC), by the phone.
    """

    token: str
    person: str
    farm: str
    entry: TallyEntry
    accept: str | None
    made: datetime

    def made_before(self, now: datetime) -> datetime | None:
        """When it was tapped (UTC without a zone), if that was a while before now; else None."""
        late = now - self.made
        return self.made.replace(tzinfo=None) if SENT_AT_ONCE < late < SENT_AT_LAST else None


@dataclass(frozen=True, slots=True)
class SentPhoto:
    """A photo of a plot as a phone sent it; the rest is as of a record."""

    token: str
    person: str
    farm: str
    plot: str
    day: date
    content: bytes


def sent_photo(body: bytes) -> SentPhoto:
    """The photo in a request's body.

    Raises
    ------
    NoRecord
        It is none that the page makes; the text says what is wrong.
    """
    told = _told(body, PHOTO_KEYS)
    try:
        content = b64decode(_str(told["photo"]), validate=True)
    except ValueError:
        raise NoRecord("The photo of this record cannot be read.") from None
    _made(told)
    return SentPhoto(
        _token(told),
        _text(told, "person"),
        _text(told, "farm"),
        _text(told, "plot"),
        _day(told),
        content,
    )


def sent_record(body: bytes) -> Sent:
    """The record in a request's body.

    Raises
    ------
    NoRecord
        It is none that the page makes; the text says what is wrong.
    """
    told = _told(body, KEYS)
    token = _token(told)
    entry = TallyEntry(
        _text(told, "plot"),
        _day(told),
        _what(told),
        stems=tuple(_pairs(told, "stems", int)),
        culls=tuple(_pairs(told, "culls", str)),
        words=_text(told, "words"),
    )
    accept = _text(told, "accept").strip() or None
    return Sent(token, _text(told, "person"), _text(told, "farm"), entry, accept, _made(told))


def _str(found: object) -> str:
    if not isinstance(found, str):
        raise NoRecord("The photo of this record cannot be read.")
    return found


def _told(body: bytes, keys: frozenset[str]) -> dict[str, Any]:
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        raise NoRecord("This record cannot be read.") from None
    if not isinstance(told, dict) or told.keys() != keys:
        raise NoRecord("This record does not have the parts that it should have.")
    return told


def _token(told: dict[str, Any]) -> str:
    token = _text(told, "token")
    if not TOKEN.fullmatch(token):
        raise NoRecord("This record has no key of its own.")
    return token


def _day(told: dict[str, Any]) -> date:
    try:
        return date.fromisoformat(_text(told, "day"))
    except ValueError:
        raise NoRecord("The day of this record is no date.") from None


def _made(told: dict[str, Any]) -> datetime:
    made = told["made"]
    if type(made) is not int:
        raise NoRecord("This record does not say when it was made.")
    try:
        return datetime.fromtimestamp(made / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        raise NoRecord("This record was made at no time that there is.") from None


def _what(told: dict[str, Any]) -> Tally:
    try:
        return Tally(_text(told, "what"))
    except ValueError:
        raise NoRecord("This record does not say what was found.") from None


def _text(told: dict[str, Any], key: str) -> str:
    return _as_text(told[key], key)


def _as_text(found: object, key: str) -> str:
    if not isinstance(found, str) or len(found) > LONGEST_TEXT or not _is_unicode(found):
        raise NoRecord(f"The part {key} of this record is no short text.")
    return found


def _is_unicode(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:  # half of a pair, as JSON may spell it
        return False
    return True


def _pairs(told: dict[str, Any], key: str, kind: type[Key]) -> Iterator[tuple[Key, str]]:
    found = told[key]
    if not isinstance(found, list) or len(found) > MOST_FIELDS:
        raise NoRecord(f"The part {key} of this record is no short list.")
    seen: set[Key] = set()
    for each in found:
        if not isinstance(each, list) or len(each) != 2 or type(each[0]) is not kind:
            raise NoRecord(f"The part {key} of this record is no list of pairs.")
        name: Key = each[0]
        if isinstance(name, str):
            _as_text(name, key)
        elif not 0 <= name <= LONGEST_GRADE_CM:
            raise NoRecord("A grade of this record is no length in cm.")
        if name in seen:
            raise NoRecord(f"The part {key} of this record names {name!r} twice.")
        seen.add(name)
        yield name, _as_text(each[1], key)
