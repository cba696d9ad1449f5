"""Makes whoever fails to sign in wait longer with each try, by name and by address.

The tries of strangers shut nobody out of the places they are known at: this machine, and the
devices and addresses that a name signed in from before, count a name's tries by themselves.
"""

from __future__ import annotations

import ipaddress
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from trials.errors import SignInRefused

FORGET_AFTER_S = 3600.0
REMEMBERED_AT_MOST = 5_000


@dataclass(frozen=True, slots=True)
class Limit:
    """So many tries are free; the wait after the next is ``first_s`` and doubles up to ``most_s``.

    A name waits a minute at most, as somebody else's tries must not shut its owner out for long.
    """

    free: int
    first_s: float
    most_s: float

    def wait_s(self, failures: int) -> float:
        """How long after so many failures the next try is let in."""
        if failures < self.free:
            return 0.0
        return min(self.first_s * 2.0 ** min(failures - self.free, 30), self.most_s)


Key = tuple[str, str, str]  # what is counted, whose, and where if it is counted apart

NAME_LIMIT = Limit(5, 2.0, 60.0)
ADDRESS_LIMIT = Limit(15, 4.0, 600.0)


class Patience:
    """The tries that failed of late; shared by threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._failed: dict[Key, tuple[int, float]] = {}
        self._known: dict[tuple[str, str], None] = {}

    def admit(self, name: str, address: str, device: str | None = None) -> None:
        """Let a try in, and count it as failed until ``forgive`` says otherwise.

        ``device`` is the mark of a device, as a cookie gives it; one that the name signed in from
        counts by itself.

        Raises
        ------
        SignInRefused
            It comes too early; the text says for how long to wait.
        """
        with self._lock:
            keys = self._keys(name, address, device)
            now = self._clock()
            left = max(self._left(key, limit, now) for key, limit in keys)
            if left > 0:
                raise SignInRefused(f"Too many tries. Wait {left:.0f} seconds, then try again.")
            for key, _ in keys:
                self._failed[key] = (self._failures(key, now) + 1, now)
            if len(self._failed) > REMEMBERED_AT_MOST:
                self._forget(now)

    def forgive(self, name: str, address: str, device: str | None = None) -> None:
        """The try was good: the name starts afresh, its address loses this one try."""
        with self._lock:
            (by_name, _), (by_address, _) = self._keys(name, address, device)
            self._failed.pop(by_name, None)
            failures, since = self._failed.get(by_address, (0, 0.0))
            self._failed[by_address] = (max(failures - 1, 0), since)
            self._know(name, address)

    def know(self, name: str, device: str) -> None:
        """From now on a name's tries from this device count by themselves."""
        with self._lock:
            self._know(name, device)

    def _know(self, name: str, place: str) -> None:
        self._known[_tidy(name), place] = None
        if len(self._known) > REMEMBERED_AT_MOST:
            del self._known[next(iter(self._known))]

    def _keys(self, name: str, address: str, device: str | None) -> tuple[tuple[Key, Limit], ...]:
        tidy = _tidy(name)
        place = ""
        if device is not None and (tidy, device) in self._known:
            place = device
        elif _is_here(address) or (tidy, address) in self._known:
            place = address
        by_name = ("name", tidy, place)
        return (by_name, NAME_LIMIT), (("address", address, ""), ADDRESS_LIMIT)

    def _failures(self, key: Key, now: float) -> int:
        failures, since = self._failed.get(key, (0, now))
        return 0 if now - since > FORGET_AFTER_S else failures

    def _left(self, key: Key, limit: Limit, now: float) -> float:
        _, since = self._failed.get(key, (0, now))
        return since + limit.wait_s(self._failures(key, now)) - now

    def _forget(self, now: float) -> None:
        """Keep the latest half, so that a flood of names cannot fill the memory."""
        latest = sorted(self._failed.items(), key=lambda item: item[1][1])
        self._failed = dict(latest[len(latest) // 2 :])


def _tidy(name: str) -> str:
    return " ".join(name.casefold().split())[:80]


def _is_here(address: str) -> bool:
    """Whether it is this machine's address to itself."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
