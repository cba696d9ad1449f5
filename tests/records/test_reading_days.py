from __future__ import annotations

from datetime import date

import pytest

from trials.records.rules.days import lacks_year, readings_of, serial_day

JULY_3, MARCH_7 = date(2026, 7, 3), date(2026, 3, 7)


@pytest.mark.parametrize(
    "text",
    [
        *("2026-07-03", "2026/7/3", "3 Jul 2026", "3-Jul-26", "Jul 3, 2026", "July 3rd 2026"),
        *("3. Juli 2026", "3 juillet 2026", "Fri 3 Jul 2026", "2026-07-03 00:00:00"),
    ],
)
def test_a_day_that_can_be_read_in_one_way(text: str) -> None:
    assert readings_of(text) == (JULY_3, JULY_3)


@pytest.mark.parametrize("text", ["03/07/2026", "3.7.26", "3-7-2026", "03 07 2026"])
def test_a_day_that_can_be_read_in_two_ways(text: str) -> None:
    assert readings_of(text) == (JULY_3, MARCH_7)


def test_a_day_past_the_twelfth_is_read_in_the_way_there_is() -> None:
    assert readings_of("13/07/2026") == (date(2026, 7, 13), None)
    assert readings_of("07/13/2026") == (None, date(2026, 7, 13))


@pytest.mark.parametrize("text", ["3 Jul", "3/7", "3.7.", "July 3"])
def test_a_day_without_its_year(text: str) -> None:
    assert lacks_year(text)
    assert readings_of(text) is None
    assert JULY_3 in (readings_of(text, 2026) or ())


@pytest.mark.parametrize("text", ["", "3.7", "30-40", "32/13/2026", "ma 3", "soon", "2026"])
def test_what_is_no_day(text: str) -> None:
    assert readings_of(text, 2026) is None


def test_a_spreadsheets_day_number() -> None:
    # Day 1 is 1900-01-01 and 1900 counted as a leap year: 2026-07-03 is 46206 (ECMA-376, 18.17.4).
    assert serial_day("46206") == JULY_3
    assert serial_day("12") is None
