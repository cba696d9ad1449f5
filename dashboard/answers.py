"""Answers that take long: each is calculated once, in a page's thread or behind the pages."""

from __future__ import annotations

import atexit
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator
from concurrent.futures import CancelledError, Future
from contextlib import contextmanager, suppress
from queue import Full, Queue
from typing import Generic, TypeVar

from trials.errors import NotAllowed, SignInRefused, TallybedError

T = TypeVar("T")

AT_ONCE = 2  # so many answers are calculated behind the pages at the same time
WAITING_AT_MOST = 30
REFUSAL_KEPT_S = 30.0  # so long a refusal waits for the visitor who asked
AHEAD_AFTER_S = 1.0  # a page is drawn first
AHEAD_PAUSE_S = 0.05
END_WITHIN_S = 10.0


class Answer(Generic[T]):
    """An answer that waits for its turn, is being calculated, or is there."""

    def __init__(self, ask: Callable[[], T], weigh: Callable[[T], int]) -> None:
        self._ask: Callable[[], T] | None = ask
        self._weigh = weigh
        self._future: Future[T] = Future()
        self._claiming = threading.Lock()
        self._asked_at = time.monotonic()
        self._ended_at = self._asked_at
        self.weight = 1

    def run(self) -> bool:
        """Calculate it here, unless another thread does or did; tells which."""
        with self._claiming:
            ask, self._ask = self._ask, None
        if ask is None:
            return False
        try:
            found = ask()
            self.weight = self._weigh(found)
            self._future.set_result(found)
        except BaseException as failed:  # noqa: BLE001 - given to whoever asks for the result
            self._future.set_exception(failed)
        self._ended_at = time.monotonic()
        return True

    def cancel(self) -> None:
        """Take it off the list of those to calculate; one that has begun goes on."""
        with self._claiming:
            if self._ask is not None:
                self._ask = None
                self._future.cancel()

    def is_done(self, wait_s: float = 0.0) -> bool:
        """Whether there is a result or a refusal, after a wait of so many seconds at most."""
        with suppress(TimeoutError, CancelledError):
            self._future.exception(wait_s)
        return self._future.done()

    def is_there(self) -> bool:
        """Whether there is a result."""
        return self.is_done() and not self._failed()

    def result(self) -> T:
        """The result once it is there; raises what the calculation raised."""
        return self._future.result()

    def seconds(self) -> float:
        """How long ago it was asked for."""
        return time.monotonic() - self._asked_at

    def is_spent(self) -> bool:
        """Whether the next who asks has to begin again: it failed for another, or long ago."""
        if not self.is_done() or not self._failed():
            return False
        if self._future.cancelled():
            return True
        # What another visitor may not see says nothing of this one.
        private = isinstance(self._future.exception(), SignInRefused | NotAllowed)
        return private or time.monotonic() - self._ended_at > REFUSAL_KEPT_S

    def _failed(self) -> bool:
        return self._future.cancelled() or self._future.exception() is not None


class Answers(Generic[T]):
    """The newest answers by the question they answer; shared by all threads.

    Their weights add up to ``most`` at most, unless one alone weighs more; a usual one weighs 1.
    """

    def __init__(self, most: int, weigh: Callable[[T], int] = lambda found: 1) -> None:
        self._most = most
        self._weigh = weigh
        self._kept: OrderedDict[Hashable, Answer[T]] = OrderedDict()
        self._lock = threading.Lock()

    def answer(self, key: Hashable, ask: Callable[[], T]) -> Answer[T]:
        """The answer under a key; a new one, not begun, where there is none."""
        with self._lock:
            found = self._kept.get(key)
            if found is None or found.is_spent():
                found = self._kept[key] = Answer(ask, self._weigh)
            self._kept.move_to_end(key)
            weight = sum(each.weight for each in self._kept.values())
            while weight > self._most and len(self._kept) > 1:
                weight -= self._kept.popitem(last=False)[1].weight
            return found

    def now(self, key: Hashable, ask: Callable[[], T]) -> T:
        """The result, calculated here unless it is there or another thread is at it.

        What failed in another thread is tried again here, and a failure is not kept.
        """
        here = False
        while True:
            answer = self.answer(key, ask)
            try:
                if answer.is_there():
                    return answer.result()
                with _PACE.for_visitor():
                    here = answer.run()
                    return answer.result()
            except BaseException:
                self.forget(key, answer)
                if here:
                    raise

    def is_there(self, key: Hashable) -> bool:
        """Whether the result can be had without calculating."""
        with self._lock:
            found = self._kept.get(key)
        return found is not None and found.is_there()

    def forget(self, key: Hashable, answer: Answer[T]) -> None:
        """Drop an answer, as a refusal that was seen."""
        with self._lock:
            if self._kept.get(key) is answer:
                del self._kept[key]

    def clear(self) -> None:
        """Drop all: those that are being calculated end, and nobody gets them."""
        with self._lock:
            self._kept.clear()


class _Pace:
    """Lets visitors' calculations go before those ahead, and the program end between two of them.

    A thread that is cut off within a library's own code takes the whole program down with it.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._visitors = 0
        self._ahead = 0
        self._ending = False
        atexit.register(self._end)

    @contextmanager
    def for_visitor(self) -> Iterator[None]:
        with self._changed:
            self._visitors += 1
        try:
            yield
        finally:
            with self._changed:
                self._visitors -= 1
                self._changed.notify_all()

    @contextmanager
    def ahead(self) -> Iterator[None]:
        with self._changed:
            self._changed.wait_for(lambda: not self._visitors)
            self._ahead += 1
        try:
            yield
        finally:
            with self._changed:
                self._ahead -= 1
                self._changed.notify_all()

    def is_ending(self) -> bool:
        return self._ending

    def _end(self) -> None:
        self._ending = True
        with self._changed:
            self._changed.wait_for(lambda: not self._visitors + self._ahead, END_WITHIN_S)


class _Behind:
    """Threads that calculate what visitors wait for, in order."""

    def __init__(self, pace: _Pace) -> None:
        self._pace = pace
        self._queue: Queue[Callable[[], object]] = Queue(WAITING_AT_MOST)
        self._starting = threading.Lock()
        self._threads: list[threading.Thread] = []

    def do(self, run: Callable[[], object]) -> None:
        with self._starting:
            while len(self._threads) < AT_ONCE:
                # They end with the program: nobody waits for an answer then.
                thread = threading.Thread(target=self._work, name="answers", daemon=True)
                self._threads.append(thread)
                thread.start()
        try:
            self._queue.put_nowait(run)
        except Full:
            raise TallybedError(
                "Too many calculations are waiting already. Try again in a minute."
            ) from None

    def _work(self) -> None:
        while not self._pace.is_ending():
            run = self._queue.get()
            with self._pace.for_visitor():
                run()


class _Ahead:
    """One thread that calculates what may be asked for next; a newer list replaces an older one."""

    def __init__(self, pace: _Pace) -> None:
        self._pace = pace
        self._changed = threading.Condition()
        self._wanted: list[Callable[[], bool]] = []
        self._thread: threading.Thread | None = None

    def want(self, runs: Iterable[Callable[[], bool]]) -> None:
        with self._changed:
            self._wanted = list(runs)[::-1]
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="ahead", daemon=True)
                self._thread.start()
            self._changed.notify()

    def _work(self) -> None:
        while not self._pace.is_ending():
            with self._changed:
                if not self._wanted:
                    self._changed.wait_for(lambda: self._wanted)
                    self._changed.wait(AHEAD_AFTER_S)
                run = self._wanted.pop() if self._wanted else None
            if run is not None:
                with self._pace.ahead():
                    worked = run()
                if worked:
                    time.sleep(AHEAD_PAUSE_S)


_PACE = _Pace()
_BEHIND, _AHEAD = _Behind(_PACE), _Ahead(_PACE)


def begin(answer: Answer[T]) -> Answer[T]:
    """Have an answer calculated behind the pages, unless it is there or has been begun.

    Raises
    ------
    TallybedError
        Too many are waiting.
    """
    if not answer.is_done():
        _BEHIND.do(answer.run)
    return answer


def calculate_ahead(runs: Iterable[Callable[[], bool]]) -> None:
    """Do these one after the other, in the place of the last such list; each tells if it worked."""
    _AHEAD.want(runs)
