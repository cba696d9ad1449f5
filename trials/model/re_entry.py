"""When a sprayed plot may be entered again: local times of recording, compared in UTC."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta


@dataclass(frozen=True, slots=True)
class Spray:
    """A spray whose label sets a re-entry time.

    ``on`` and ``at`` are local, by the clock of the computer that runs the program. ``hours`` is
    the re-entry time on the label. Without a time of day nobody enters on that day at all, and
    the hours count from its end.
    """

    product: str
    on: date
    at: time | None
    hours: float

    @property
    def begins(self) -> datetime:
        """When the plot closes (UTC)."""
        return min(_instants(datetime.combine(self.on, self.at or time())))

    @property
    def until(self) -> datetime:
        """When the plot may be entered again (UTC); the later one where the clock shows two."""
        if self.at is None:
            start = datetime.combine(self.on + timedelta(1), time())
        else:
            start = datetime.combine(self.on, self.at)
        return max(_instants(start)) + timedelta(hours=self.hours)

    def closes_at(self, now: datetime) -> bool:
        """Whether the plot is closed at a moment, which has a time zone."""
        return self.begins <= now < self.until

    def was_broken_by(self, cut_on: date, tallied_at: datetime | None) -> bool:
        """Whether a cut fell into the time when the plot was closed.

        Days between the spray and the end are closed whole. On the day of either one, only a tally
        of that very day tells: ``tallied_at`` is when it was recorded (UTC), None for a file.
        """
        until = self.until.astimezone()
        if self.on < cut_on < until.date():
            return True
        if tallied_at is None or tallied_at.astimezone().date() != cut_on:
            return False
        return self.closes_at(tallied_at)

    @property
    def until_words(self) -> str:
        """The end by the clock where the spray was recorded, whatever a reader's zone is called."""
        local = self.until.astimezone()
        if local.second or local.microsecond:
            local += timedelta(minutes=1)  # never a minute too early
        return f"{local:%Y-%m-%d %H:%M} local time"


def closing_spray(sprays: Iterable[Spray], now: datetime) -> Spray | None:
    """The spray that keeps a plot closed longest from now, None where it is open."""
    closing = [spray for spray in sprays if spray.closes_at(now)]
    return max(closing, key=lambda spray: spray.until, default=None)


def _instants(local: datetime) -> list[datetime]:
    """The moments a local time can mean: two where clocks are put back or forward."""
    return [local.replace(fold=fold).astimezone(UTC) for fold in (0, 1)]
