"""What a phone may send of one plot, and what is refused before the season sees it."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboard.tally.phone_record import NoRecord, Sent, sent_record
from trials.season import Tally, TallyEntry

SENT: dict[str, Any] = {
    "token": "0123456789abcdef" * 2,
    "person": "Finn",
    "farm": "f" * 16,
    "plot": "P37",
    "day": "2026-08-05",
    "what": "counted",
    "stems": [[40, "12"], [50, ""]],
    "culls": [["bent", "2"]],
    "words": "",
    "accept": " ",
    "made": 1_785_920_400_000,  # 2026-08-05 09:00 UTC
}


def body(**other: object) -> bytes:
    return json.dumps({**SENT, **other}).encode()


def test_a_record_is_what_was_typed() -> None:
    entry = TallyEntry(
        "P37",
        date(2026, 8, 5),
        Tally.COUNTED,
        stems=((40, "12"), (50, "")),
        culls=(("bent", "2"),),
    )
    made = datetime(2026, 8, 5, 9, tzinfo=UTC)
    assert sent_record(body()) == Sent(SENT["token"], "Finn", "f" * 16, entry, None, made)
    assert sent_record(body(accept=" two rows ")).accept == "two rows"


def test_only_what_comes_later_has_a_time_of_its_own() -> None:
    sent = sent_record(body())
    later = sent.made + timedelta(hours=3)
    assert sent.made_before(later) == datetime(2026, 8, 5, 9)
    assert sent.made_before(sent.made + timedelta(seconds=2)) is None
    assert sent.made_before(sent.made - timedelta(hours=1)) is None, "a clock that is ahead"
    assert sent.made_before(sent.made + timedelta(days=400)) is None, "a clock that was never set"


@pytest.mark.parametrize("what", Tally)
def test_each_fact_stays_one_of_its_own(what: Tally) -> None:
    assert sent_record(body(what=what.value)).entry.what is what


@pytest.mark.parametrize(
    "other",
    [
        {"token": ""},
        {"token": "0123456789ABCDEF" * 2},
        {"token": "../" + "0" * 29},
        {"token": None},
        {"token": ["0" * 32]},
        {"day": "5 August"},
        {"day": ""},
        {"day": 20260805},
        {"what": "picked"},
        {"what": ""},
        {"plot": None},
        {"plot": "x" * 201},
        {"plot": "\ud800"},
        {"words": 3},
        {"accept": {"a": "b"}},
        {"stems": {"40": "1"}},
        {"stems": [[40, 12]]},
        {"stems": [["40", "12"]]},
        {"stems": [[True, "12"]]},
        {"stems": [[40.0, "12"]]},
        {"stems": [[-1, "12"]]},
        {"stems": [[10**30, "12"]]},
        {"stems": [[40, "12", "x"]]},
        {"stems": [[40, "1"], [40, "2"]]},
        {"stems": [[n, "1"] for n in range(61)]},
        {"culls": [[40, "1"]]},
        {"culls": [["x" * 201, "1"]]},
        {"culls": [["bent", "1"], ["bent", "2"]]},
        {"culls": "bent"},
        {"more": ""},
        {"made": "now"},
        {"made": True},
        {"made": 1.5},
        {"made": 10**30},
    ],
    ids=lambda other: json.dumps(other)[:40],
)
def test_what_the_page_never_sends_is_refused(other: dict[str, object]) -> None:
    with pytest.raises(NoRecord):
        sent_record(body(**other))


@pytest.mark.parametrize(
    "raw", [b"", b"\xff", b"[]", b"{}", b"null", b"[" * 15_000, b'{"token": "x"', b"1" * 9_000]
)
def test_what_is_no_record_is_refused(raw: bytes) -> None:
    with pytest.raises(NoRecord):
        sent_record(raw)


PARTS = st.none() | st.booleans() | st.floats() | st.text(max_size=9)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(PARTS | st.lists(PARTS, max_size=3) | st.lists(st.lists(PARTS, max_size=3), max_size=3))
def test_nothing_else_comes_of_a_part_that_is_something_else(part: object) -> None:
    for key in SENT:
        try:
            sent_record(body(**{key: part}))
        except NoRecord:
            continue
