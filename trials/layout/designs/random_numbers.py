"""Drawing by lot: a small published generator, so that a seed means the same on any machine.

The generator is PCG32 (XSH-RR 64/32) of M. E. O'Neill 2014, "PCG: a family of simple fast
space-efficient statistically good algorithms for random number generation", Harvey Mudd College
HMC-CS-2014-0905. Its stream is fixed by that text; no library's stream is relied upon.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256
from typing import Self, TypeVar

T = TypeVar("T")

_MASK_64 = 2**64 - 1
_MASK_32 = 2**32 - 1
_MULTIPLIER = 6364136223846793005


class Lot:
    """A stream of lots, begun at a ``state`` and running along one ``sequence`` of the 2^63."""

    __slots__ = ("_increment", "_state")

    def __init__(self, state: int, sequence: int) -> None:
        self._increment = (sequence << 1 | 1) & _MASK_64
        self._state = 0
        self.next32()
        self._state = (self._state + state) & _MASK_64
        self.next32()

    @classmethod
    def of(cls, seed: int, purpose: str) -> Self:
        """The lots of a stored ``seed`` for one ``purpose``.

        State and sequence are taken from a SHA-256 digest: the generator's first words would
        resemble one another for seeds that lie side by side.
        """
        digest = sha256(f"{seed} {purpose}".encode()).digest()
        return cls(int.from_bytes(digest[:8], "big"), int.from_bytes(digest[8:16], "big"))

    def next32(self) -> int:
        """The next whole number from 0 to 2^32 - 1."""
        old = self._state
        self._state = (old * _MULTIPLIER + self._increment) & _MASK_64
        word = ((old >> 18 ^ old) >> 27) & _MASK_32
        turn = old >> 59
        return (word >> turn | word << (-turn & 31)) & _MASK_32

    def below(self, count: int) -> int:
        """A whole number from 0 to ``count`` - 1, each equally likely.

        Words that would favour the small numbers are thrown away and drawn again.
        """
        unfair = (2**32 - count) % count
        while True:
            word = self.next32()
            if word >= unfair:
                return word % count

    def shuffled(self, things: Iterable[T]) -> list[T]:
        """The things in an order drawn by lot, every order equally likely.

        Fisher & Yates's shuffle in the form of Durstenfeld 1964, Communications of the ACM 7:420.
        """
        order = list(things)
        for last in range(len(order) - 1, 0, -1):
            chosen = self.below(last + 1)
            order[chosen], order[last] = order[last], order[chosen]
        return order
