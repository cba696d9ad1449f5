"""Finds the spellings that stand for one level: spaces, look-alike signs, capitals."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

# Signs that print like a hyphen or an apostrophe, and are typed or pasted for one.
_LOOK_ALIKES = str.maketrans(
    dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d", "-")
    | dict.fromkeys("\u2018\u2019\u201b\u02bc\u00b4\u0060\uff07", "'")
)
# Marks pasted along that nothing shows; joiners stay, as some scripts and pictures need them.
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u200b\u200e\u200f\u2060\ufeff"))
_JOINERS = dict.fromkeys(map(ord, "\u200c\u200d"))
_DECIMAL = re.compile(r"[+-]?\d+\.\d+", re.ASCII)
_JOINED = re.compile(r"[ _-]+")


def tidy(text: str) -> str:
    """The text without marks that cannot be seen, one plain space between its words."""
    return " ".join(unicodedata.normalize("NFC", text.translate(_UNSEEN)).split())


def looks(text: str) -> str:
    """What a text looks like: the same for spellings that a reader cannot tell apart.

    Forms of one character, look-alike hyphens and apostrophes, and a fraction of nothing (30.0)
    make no difference.
    """
    plain = unicodedata.normalize("NFKC", tidy(text).translate(_LOOK_ALIKES).translate(_JOINERS))
    plain = " ".join(plain.translate(_LOOK_ALIKES).split())
    if _DECIMAL.fullmatch(plain):
        return format(Decimal(plain).normalize(), "f")
    return plain


def reads(text: str) -> str:
    """What a text is read as: also the same whatever its capitals, and its hyphens or spaces."""
    plain = looks(text).casefold()
    return _JOINED.sub(" ", plain) if any(c.isalpha() for c in plain) else plain


@dataclass(frozen=True, slots=True)
class Variants:
    """The spellings of a column's levels.

    Attributes
    ----------
    level_of
        For each text as written, the level it stands for: the spelling most often used.
    look_alike
        Levels that have spellings which cannot be told apart by eye.
    respelled
        For each level, its other spellings: those that differ in capitals, hyphens or spaces.
    """

    level_of: Mapping[str, str]
    look_alike: tuple[str, ...]
    respelled: Mapping[str, tuple[str, ...]]


def variants_of(counts: Mapping[str, int]) -> Variants:
    """Group the texts of a column, each with how often it is there, by the level they stand for."""
    groups: dict[str, dict[str, dict[str, int]]] = {}
    for text, count in counts.items():
        groups.setdefault(reads(text), {}).setdefault(looks(text), {})[text] = count
    level_of: dict[str, str] = {}
    alike: list[str] = []
    respelled: dict[str, tuple[str, ...]] = {}
    for group in groups.values():
        usual = {
            looked: tidy(max(texts, key=lambda text: (texts[text], tidy(text) == text)))
            for looked, texts in group.items()
        }
        often = {looked: sum(texts.values()) for looked, texts in group.items()}
        level = usual[max(often, key=lambda looked: often[looked])]
        for looked, texts in group.items():
            level_of |= dict.fromkeys(texts, level)
            if len({text.strip() for text in texts}) > 1:
                alike.append(usual[looked])
        others = tuple(spelled for spelled in usual.values() if spelled != level)
        if others:
            respelled[level] = others
    return Variants(level_of, tuple(alike), respelled)
