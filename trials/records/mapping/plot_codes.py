"""Finds the plot whose code somebody wrote in another way: small letters, blanks, no letters."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trials.records.mapping.noted import plain_text

SPELLED_ALIKE = "spelled alike"
# Letters of other alphabets that look like Latin ones.
_LATIN = str.maketrans("АВЕКМНОРСТУХаеорсухΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTYXaeopcyxABEZHIKMNOPTYX")
_BEFORE = re.compile(r"^(?:plot|parcel|parzelle|parcelle|tag|stake|no|nr)[\W_]*(?=\w*\d)")


def plain_code(text: str) -> str:
    """A code as it is compared: small Latin letters and digits, no noughts before a number."""
    small = plain_text(text).translate(_LATIN).casefold().strip("# ")
    bare = re.sub(r"[\W_]+", "", _BEFORE.sub("", small))
    return re.sub(r"(?<!\d)0+(?=\d)", "", bare)


def numbers_of(code: str) -> frozenset[str]:
    """The numbers by which a code may be told without its letters."""
    groups = [group.lstrip("0") or "0" for group in re.findall(r"[0-9]+", code)]
    return frozenset({groups[-1], "".join(groups)}) if groups else frozenset()


@lru_cache(maxsize=8)
def _by_plain(codes: frozenset[str]) -> Mapping[str, tuple[str, ...]]:
    """The codes by the way they are compared."""
    found: dict[str, tuple[str, ...]] = {}
    for code in sorted(codes):
        found[plain_code(code)] = (*found.get(plain_code(code), ()), code)
    return found


@lru_cache(maxsize=64)
def _by_numbers(codes: frozenset[str]) -> Mapping[str, tuple[str, ...]]:
    """The codes by the numbers in them."""
    found: dict[str, tuple[str, ...]] = {}
    for code in sorted(codes):
        for number in numbers_of(code):
            found[number] = (*found.get(number, ()), code)
    return found


def spelled_alike(text: str, codes: frozenset[str]) -> str | None:
    """The one code that differs from a text in its spelling alone."""
    if text in codes:
        return text
    plain = plain_code(text)
    found = _by_plain(codes).get(plain, ()) if plain else ()
    return found[0] if len(found) == 1 else None


def by_number(text: str, codes: frozenset[str]) -> str | None:
    """The one code that has the number which a text without letters is."""
    plain = plain_code(text)
    found = _by_numbers(codes).get(plain, ()) if plain.isascii() and plain.isdigit() else ()
    return found[0] if len(found) == 1 else None


def trials_numbered(texts: Sequence[str], codes: Mapping[str, frozenset[str]]) -> Mapping[str, str]:
    """The trials in which most of these numbers are a plot's, with the plot of the first."""
    plots = {
        trial: [plot for text in texts if (plot := by_number(text, its)) is not None]
        for trial, its in codes.items()
    }
    most = max(map(len, plots.values()), default=0)
    return {trial: its[0] for trial, its in plots.items() if its and len(its) == most}
