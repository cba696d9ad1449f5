"""What is being typed at the beds, kept here until it is recorded: a reload loses none of it."""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass, field
from datetime import date

KEPT_AT_MOST = 2_000

Place = tuple[str, str, date]


@dataclass(slots=True)
class Draft:
    """The fields of one plot and day as typed, and the mark under which they will be recorded."""

    token: str = field(default_factory=lambda: secrets.token_hex(16))
    typed: dict[str, str] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed."""
        return not any(text.strip() for text in self.typed.values())


class Drafts:
    """The drafts of everybody, each by who types, the plot and the day; shared by threads.

    They live as long as the pages are served. The oldest make room for new ones.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[Place, Draft] = {}

    def at(self, who: str, plot: str, day: date) -> Draft:
        """The draft of somebody for a plot and day; a new one if there is none."""
        place = (who, plot, day)
        with self._lock:
            if place not in self._kept:
                while len(self._kept) >= KEPT_AT_MOST:
                    del self._kept[next(iter(self._kept))]
                self._kept[place] = Draft()
            return self._kept[place]

    def type_in(self, who: str, plot: str, day: date, key: str, text: str) -> None:
        """Keep what was typed into a field."""
        draft = self.at(who, plot, day)
        with self._lock:
            draft.typed[key] = text

    def begun(self, who: str, day: date) -> frozenset[str]:
        """The plots for which somebody has typed something that is not recorded."""
        with self._lock:
            return frozenset(
                plot
                for (by, plot, on), draft in self._kept.items()
                if by == who and on == day and not draft.is_empty
            )

    def done(self, who: str, plot: str, day: date) -> None:
        """The draft was recorded, or thrown away."""
        with self._lock:
            self._kept.pop((who, plot, day), None)
