"""Values become JSON without losing digits and without NaN."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

import pytest

from trials.model.trial import Outcome
from trials.report.plain import json_text, plain


@dataclass(frozen=True)
class Sample:
    length_cm: float
    on: date
    outcome: Outcome
    note: str | None


def test_every_field_by_name() -> None:
    sample = Sample(0.1 + 0.2, date(2026, 10, 14), Outcome.MISSED, None)
    back = json.loads(json_text(plain(sample)))
    assert back == {
        "length_cm": 0.30000000000000004,
        "on": "2026-10-14",
        "outcome": "missed",
        "note": None,
    }


def test_what_is_not_a_number_is_null() -> None:
    assert plain([float("nan"), float("inf"), 1.0]) == [None, None, 1.0]


def test_unknown_things_are_refused() -> None:
    with pytest.raises(TypeError):
        plain(object())


def test_what_cannot_be_seen_is_written_by_its_number_and_read_back() -> None:
    document = {"a\x9b\u202e": "b\x1b\x7f\u200d\U000e0041ü"}
    text = json_text(plain(document))
    assert json.loads(text) == document
    assert "ü" in text
    assert not set("\x9b\u202e\x1b\x7f\u200d\U000e0041") & set(text)
    assert json.loads(json_text(plain(["\udcff"]))) == ["\udcff"]
