"""The time zone is set in each test; the changes of the clock in Berlin are from the IANA data."""

from __future__ import annotations

import time as clock
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trials.model.re_entry import Spray, closing_spray

DAY = date(2026, 7, 24)


@pytest.fixture(autouse=True, scope="module")
def berlin() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "Europe/Berlin")
        clock.tzset()
        yield
    clock.tzset()


def test_hours_count_from_the_end_of_spraying_by_the_local_clock() -> None:
    spray = Spray("soap", DAY, time(18, 5), 12)
    assert spray.begins == datetime(2026, 7, 24, 16, 5, tzinfo=UTC)
    assert spray.until == datetime(2026, 7, 25, 4, 5, tzinfo=UTC)
    assert spray.until_words == "2026-07-25 06:05 local time"
    assert spray.closes_at(spray.begins)
    assert not spray.closes_at(spray.until)


def test_without_a_time_of_day_the_whole_day_is_closed_and_hours_count_from_its_end() -> None:
    spray = Spray("soap", DAY, None, 12)
    assert spray.closes_at(datetime(2026, 7, 23, 22, 0, tzinfo=UTC))  # midnight in Berlin
    assert spray.until == datetime(2026, 7, 25, 10, 0, tzinfo=UTC)


def test_a_night_in_which_clocks_are_put_back_or_forward_shortens_nothing() -> None:
    # On 2026-10-25 at 03:00 CEST clocks go back to 02:00 CET: 02:30 comes twice.
    twice = Spray("soap", date(2026, 10, 25), time(2, 30), 1)
    assert twice.until == datetime(2026, 10, 25, 2, 30, tzinfo=UTC)
    over = Spray("soap", date(2026, 10, 24), time(20, 0), 12)
    assert over.until_words == "2026-10-25 07:00 local time"
    # On 2026-03-29 at 02:00 CET clocks go forward to 03:00 CEST.
    spring = Spray("soap", date(2026, 3, 28), time(20), 12)
    assert spring.until_words == "2026-03-29 09:00 local time"


def test_a_cut_is_flagged_on_closed_days_and_by_the_time_of_its_tally() -> None:
    spray = Spray("soap", DAY, time(18, 0), 48)  # until 26 July 18:00, 16:00 UTC
    morning = datetime(2026, 7, 24, 7, 0, tzinfo=UTC)
    assert not spray.was_broken_by(DAY, morning)  # picked first, sprayed in the evening
    assert not spray.was_broken_by(DAY, None)
    assert spray.was_broken_by(DAY, morning.replace(hour=17))
    assert spray.was_broken_by(date(2026, 7, 25), None)
    assert spray.was_broken_by(date(2026, 7, 26), datetime(2026, 7, 26, 6, 0, tzinfo=UTC))
    assert not spray.was_broken_by(date(2026, 7, 26), datetime(2026, 7, 26, 17, 0, tzinfo=UTC))
    assert not spray.was_broken_by(date(2026, 7, 27), None)


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)),
    st.floats(0, 300),
)
def test_it_is_never_shorter_than_the_label_says(start: datetime, hours: float) -> None:
    spray = Spray("soap", start.date(), start.time().replace(second=0, microsecond=0), hours)
    # Times that long are rounded to the microsecond.
    assert spray.until - spray.begins >= timedelta(hours=hours)


def test_of_several_sprays_the_one_that_lasts_longest_closes_the_plot() -> None:
    short, long = Spray("soap", DAY, time(8), 4), Spray("oil", DAY, time(7), 24)
    assert closing_spray([short, long], datetime(2026, 7, 24, 8, tzinfo=UTC)) == long
    assert closing_spray([short], datetime(2026, 7, 26, 8, tzinfo=UTC)) is None
