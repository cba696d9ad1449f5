"""Plot codes: five characters that can be said, written and copied without being mistaken.

A code is a letter, three more characters and a check character, such as ``F2R7K``. It names one
plot of one season on the farm for good.
"""

from __future__ import annotations

from collections.abc import Iterable

from trials.errors import PlanRefused

# Figures and letters that keep apart from one another. 0 and O, 1 and I are left out, all four.
# Further letters left out for their shape: Q, D (O), J (I, L), Z (2), A (4), S (5), G, C (6), T
# (7), B (8), P (R, 9), U, V (Y), E (F), N (M), X (K). For their sound: B, C, D, E, G, P, T, V, Z
# rhyme with one another and with 3; A sounds like 8, and with J like K; S and X like F; N like M;
# Q and U like 2. Without E no code can be read as a number such as 2E5.
ALPHABET = "23456789FHKLMRWY"
# The first character is a letter: no code can be taken for a number, or begin with a lost zero.
FIRST = "FHKLMRWY"

FIRST_SEASON = 2020
PLOTS_A_SEASON = 1000
LENGTH = 5

# The next prime above the 16 characters. What would need a seventeenth check character is no code.
_MODULUS = 17
_RADIX = 3  # whose powers run through every remainder but 0
_LAST_OF_BODY = len(ALPHABET) - 1  # of 16 bodies that differ in the last character 15 are used
_BODIES = len(ALPHABET) ** (LENGTH - 3) * _LAST_OF_BODY
LAST_SEASON = FIRST_SEASON + len(FIRST) * _BODIES // PLOTS_A_SEASON - 1

_VALUE = {character: value for value, character in enumerate(ALPHABET)}


def plot_code(season: int, number: int) -> str:
    """The code of the ``number``-th plot of a season, counted from 1 over all its trials.

    Refuses (PlanRefused) seasons and numbers that five characters do not reach.
    """
    if not FIRST_SEASON <= season <= LAST_SEASON:
        raise PlanRefused(
            f"Plot codes reach from season {FIRST_SEASON} to {LAST_SEASON}; {season} is outside."
        )
    if not 1 <= number <= PLOTS_A_SEASON:
        raise PlanRefused(
            f"A season has plots 1 to {PLOTS_A_SEASON}; there is no plot {number}. "
            f"Lay out fewer plots in {season}."
        )
    first, rest = divmod((season - FIRST_SEASON) * PLOTS_A_SEASON + number - 1, _BODIES)
    rest, last = divmod(rest, _LAST_OF_BODY)
    second, third = divmod(rest, len(ALPHABET))
    return _coded(FIRST[first] + ALPHABET[second] + ALPHABET[third], last)


def is_valid(code: str) -> bool:
    """Whether a code is one of ours and free of any single slip.

    Small letters and spaces around it do not matter. Every change of one character and every swap
    of two characters is caught.
    """
    written = _tidy(code)
    return (
        len(written) == LENGTH
        and written[0] in FIRST
        and all(character in _VALUE for character in written)
        and _remainder(written) == 1
    )


def nearest(code: str, known: Iterable[str]) -> str | None:
    """The known code that differs from ``code`` by the fewest slips, two at most; else None.

    A slip is a character changed, left out or put in, or two neighbours swapped. Of codes equally
    near the first in alphabetical order is given.
    """
    written = _tidy(code)
    slips = sorted((_slips(written, each), each) for each in known)
    return slips[0][1] if slips and slips[0][0] <= 2 else None


def _tidy(code: str) -> str:
    return code.strip().upper()


def _coded(head: str, number: int) -> str:
    """The ``number``-th code that begins with ``head``, its last character the check character.

    A pure system of one check character after ISO/IEC 7064: characters weighted by powers of a
    radix sum to 1 modulo a prime that is larger than every character's value. Then every weight
    counts, so a single change shows; the powers differ, so a swap shows (Verhoeff 1969, Error
    Detecting Decimal Codes, chapter 2). One body of 16 at most needs the value 16, which no
    character has: it is passed over.
    """
    checks = [
        (body, (1 - _remainder(body) * _RADIX) % _MODULUS)
        for body in (head + character for character in ALPHABET)
    ]
    body, check = [each for each in checks if each[1] < len(ALPHABET)][number]
    return body + ALPHABET[check]


def _remainder(code: str) -> int:
    total = 0
    for character in code:
        total = (total * _RADIX + _VALUE[character]) % _MODULUS
    return total


def _slips(a: str, b: str) -> int:
    """Changes, omissions, insertions and swaps of neighbours (Damerau 1964, CACM 7:171)."""
    table = {(-1, -1): 0}
    for i in range(len(a)):
        table[i, -1] = i + 1
    for j in range(len(b)):
        table[-1, j] = j + 1
    for i, x in enumerate(a):
        for j, y in enumerate(b):
            table[i, j] = min(
                table[i - 1, j] + 1, table[i, j - 1] + 1, table[i - 1, j - 1] + (x != y)
            )
            if i and j and x == b[j - 1] and y == a[i - 1]:
                table[i, j] = min(table[i, j], table[i - 2, j - 2] + 1)
    return table[len(a) - 1, len(b) - 1]
