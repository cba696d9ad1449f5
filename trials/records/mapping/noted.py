"""Readings of a cell that says a number in another way: a sum, a range, a tally, a look-alike."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

NOT_RECORDED = "not recorded"
# Kinds of cells that the readings below name.
BUNCHES, TALLIES, ALIKE = "bunches", "tallies", "look-alikes"
STEMS, PLANTS = "numbers of stems", "numbers of plants"
WORDS, DAYS = "numbers with words", "days in place of numbers"
SUMS_WITH_WORDS = "sums with words"
SECOND_CULLED = "the second culled"  # of cuts: of 12 + 3 short the 3 are culls, and 12 the stems
PLOTS = "plots"  # whose codes are written otherwise
REPEATS = "rows of one plot and day"
LONGEST = 60
_N = r"(\d{1,7}(?:[.,]\d{1,4})?)"
_WHOLE = r"(\d{1,7})"
_SPACES = str.maketrans(dict.fromkeys("\u00a0\u2007\u2009\u202f\u3000", " ") | {"\u2212": "-"})
# Letters and signs that are easily typed, or read by a scanner, in place of a digit.
_ALIKE = str.maketrans(
    {
        **dict.fromkeys("OoΟοОо", "0"),
        **dict.fromkeys("lI|ІіӀı", "1"),
        **dict.fromkeys("SЅ", "5"),
        **dict.fromkeys("BВ", "8"),
        **dict.fromkeys("Зз", "3"),
        "Z": "2",
    }
)
_STROKES = frozenset("|/\\Il1¦ǀ!")
_GATES = frozenset("卌𝍸")
_DOTS = frozenset("x×*•●#✓✗.")
_STEMS = (
    r"(?:stems?|stms?|stalks?|stks?|st|pcs?|pieces?|flowers?|blooms?|stiele?|tiges?|tallos?)\.?"
)
_PLANTS = r"(?:plants?|plts?|alive|living|pflanzen|plantes?|plantas?)\.?"
_WORDS = """
one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
seventeen eighteen nineteen twenty
""".split()  # noqa: SIM905 (it reads as it is said)
_ABOUT_BEFORE = (
    r"(?:~|≈|±|about|abt\.?|approx(?:imately|\.)?|appr\.?|circa|ca\.?|c\.?|around|est\.?)"
)
_ABOUT_AFTER = r"(?:\?+|ish|or so|approx\.?|est\.?|\*+|!+|~)"

Readings = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class Noted:
    """A cell that says a number in another way.

    Attributes
    ----------
    kind
        Which of ``KINDS`` it is; also the name of the question about it.
    readings
        The numbers that it may mean, by the answer that chooses each.
    times, plus
        Of bunches: how many there are, and the stems beyond them; the answer is a bunch's size.
    """

    kind: str
    readings: Readings
    times: Decimal | None = None
    plus: Decimal = Decimal(0)

    def value(self, answer: str | None) -> Decimal | None:
        """The number that an answer chooses; None where it chooses none for this cell."""
        if answer is None:
            return None
        if self.times is not None and answer.isascii() and answer.isdigit():
            return self.times * int(answer) + self.plus
        return self.readings.get(answer)


def plain_text(text: str) -> str:
    """The text with full-width characters, unusual blanks and the minus sign as on a keyboard."""
    if text.isascii():
        return text.strip()
    wide = "".join(
        unicodedata.normalize("NFKC", c) if "\uff01" <= c <= "\uff5e" else c for c in text
    )
    return wide.translate(_SPACES).strip()


def _number(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _sum(found: re.Match[str]) -> Readings:
    return {"added up": sum(map(_number, re.findall(_N, found[0])), Decimal(0))}


def _sum_and_words(found: re.Match[str]) -> Readings:
    first, second = _number(found[1]), _number(found[2])
    readings = {"the first": first, "added up": first + second}
    if re.fullmatch(f"{_STEMS}|{_PLANTS}", found[3]) is None:
        readings[SECOND_CULLED] = first
    return readings


def culled_behind(text: str) -> tuple[str, str, str] | None:
    """Of a sum with words: the first number, the second, and the words, as a reason for culls."""
    found = _SUM_WITH_WORDS.fullmatch(" ".join(plain_text(text).casefold().split()))
    return None if found is None else (found[1], found[2], found[3].strip(" ."))


def _range(found: re.Match[str]) -> Readings:
    low, high = sorted((_number(found[1]), _number(found[2])))
    return {"low": low, "high": high, "middle": (low + high) / 2}


def _pair(found: re.Match[str]) -> Readings:
    first, second = [_number(part) for part in found.groups() if part]
    return {"added up": first + second, "the first": first, "the second": second}


def _the_number(found: re.Match[str]) -> Readings:
    return {"the number": _number(next(part for part in found.groups() if part))}


def _product(found: re.Match[str]) -> Readings:
    return {"multiplied": _number(found[1]) * _number(found[2]) + _number(found[3] or "0")}


def _dozens(found: re.Match[str]) -> Readings:
    half = Decimal("0.5")
    said = {"": Decimal(1), "a": Decimal(1), "half a": half, "half": half}.get(found[1] or "")
    number = _number(found[1]) if said is None else said
    return {"twelve each": number * 12 + _number(found[2] or "0")}


def _word(found: re.Match[str]) -> Readings:
    return {"the number": Decimal(_WORDS.index(found[0]) + 1)}


def _day(found: re.Match[str]) -> Readings:
    low, high = sorted((_number(found[1]), _number(found[2])))
    return {"low": low, "high": high}


@dataclass(frozen=True, slots=True)
class NotedKind:
    """One way of saying a number: its name, and what each answer makes of a matching text.

    ``asked`` is False where there is but one meaning, so that showing it is enough.
    """

    name: str
    pattern: re.Pattern[str]
    readings: Callable[[re.Match[str]], Readings]
    asked: bool = True


def _kind(
    name: str, pattern: str, readings: Callable[[re.Match[str]], Readings], *, asked: bool = True
) -> NotedKind:
    return NotedKind(name, re.compile(pattern, re.IGNORECASE | re.ASCII), readings, asked)


_SUM_WITH_WORDS = re.compile(rf"{_WHOLE}\s*(?:\+|and|&|,)\s*{_WHOLE}\s*([a-z][a-z .'-]*)", re.ASCII)
# The first that matches has it; the patterns meet text in small letters.
_PATTERNS = (
    _kind(STEMS, rf"{_WHOLE}\s*{_STEMS}", _the_number),
    _kind(PLANTS, rf"{_WHOLE}\s*{_PLANTS}", _the_number),
    _kind("numbers with a mark behind", rf"{_WHOLE}[.,;:]", _the_number, asked=False),
    _kind("number words", "|".join(_WORDS), _word, asked=False),
    _kind(
        "dozens",
        rf"(a|half a|half|\d{{1,4}}(?:\.5)?)?\s*(?:dozens?|doz\.?|dz\.?)(?:\s*\+\s*{_WHOLE})?",
        _dozens,
        asked=False,
    ),
    _kind("sums", rf"{_N}(?:\s*\+\s*{_N})+", _sum),
    _kind(
        SUMS_WITH_WORDS,
        _SUM_WITH_WORDS.pattern,
        _sum_and_words,
    ),
    _kind(
        "products",
        rf"{_WHOLE}\s*(?:(?:bunches|bunch|bu\.?|b)\s*of|(?:bunches|bunch|bu\.?|b)?\s*[x×@])\s*"
        rf"{_WHOLE}(?:\s*\+\s*{_WHOLE})?",
        _product,
    ),
    _kind(DAYS, r"\d{4}-(\d\d)-(\d\d)(?:[ t].*)?", _day),
    _kind("ranges", rf"{_N}\s*(?:-|–|—|to|bis|\.\.\.?)\s*{_N}", _range),
    _kind("pairs", rf"{_N}\s*(?:/|;|,\s|&|and|of|out of|\s)\s*{_N}|{_N}\s*\({_N}\)", _pair),
    _kind(
        "about",
        rf"{_ABOUT_BEFORE}\s*{_N}|{_N}\s*{_ABOUT_AFTER}|[(\[]\s*{_N}\s*[)\]]",
        _the_number,
    ),
    _kind(
        "more or fewer",
        rf"{_N}\s*(?:\+|plus|or more|and up)|(?:>=?|≥|over|more than|at least|min\.?)\s*{_N}|"
        rf"(?:<=?|≤|under|less than|at most|up to|max\.?|nearly|almost)\s*{_N}",
        _the_number,
    ),
    _kind(WORDS, rf"{_WHOLE}\s*[(,:-]?\s*[a-z][a-z .,'/-]*\)?", _the_number),
)
_BUNCHES = re.compile(
    rf"{_WHOLE}\s*(?:bunches|bunch|bnch|bch|bun|bu|b)\.?(?:\s*\+\s*{_WHOLE})?", re.ASCII
)
_UNIT_BEHIND = re.compile(r"\d\s*(?:cm|mm|m|in|inch|inches|ft|feet|[\"'″′”%€$£])\.?$", re.ASCII)
KINDS = (*(kind.name for kind in _PATTERNS), BUNCHES, TALLIES, ALIKE, PLOTS, REPEATS)
UNDERSTOOD = frozenset(kind.name for kind in _PATTERNS if not kind.asked)
# What the cells of a kind hold, for the words of its question.
SAYS: Mapping[str, str] = {
    STEMS: "a number of stems",
    PLANTS: "a number of plants",
    "numbers with a mark behind": "a number with a mark behind it",
    "number words": "a number in words",
    "dozens": "a number of dozens",
    "sums": "a sum",
    "products": "a product",
    "ranges": "a range",
    SUMS_WITH_WORDS: "a sum and words",
    DAYS: "a day; a spreadsheet makes one of 3-4",
    "pairs": "two numbers",
    "about": "about a number",
    "more or fewer": "more or fewer than a number",
    WORDS: "a number and words",
    TALLIES: "a tally",
    ALIKE: "letters among digits",
}


_BUNCH_HEADING = re.compile(r"\b(?:bunch|bunches|bun)\b(?:\s*(?:of|x|×|\(|@)?\s*(\d{1,3}))?")
_DOZEN_HEADING = re.compile(r"\b(?:dozens?|doz)\b")


def said_under(heading: str, text: str) -> str:
    """A number with what its heading counts: 3 under 'Bunches of 10' is 3 bunches of 10."""
    if not (text.strip().isascii() and text.strip().isdigit()):
        return text
    counted = heading_counts(heading)
    return f"{text.strip()} {counted}" if counted else text


def heading_counts(heading: str) -> str:
    """What a heading says is counted, where it is not stems one by one."""
    small = heading.casefold()
    if found := _BUNCH_HEADING.search(small):
        return f"bunches of {found[1]}" if found[1] else "bunches"
    return "dozen" if _DOZEN_HEADING.search(small) else ""


def noted(text: str) -> Noted | None:
    """What a text that is no plain number may mean; None where no number can be made out."""
    text = plain_text(text)
    if not text or len(text) > LONGEST:
        return None
    if (tally := _tally(text)) is not None:
        return Noted(TALLIES, tally)
    if _UNIT_BEHIND.search(text.lower()) or not any(c.isalnum() for c in text):
        return None
    if (digits := _like_digits(text)) is not None:
        return Noted(ALIKE, {"the digits": digits})
    small = " ".join(text.casefold().split())
    if found := _BUNCHES.fullmatch(small):
        return Noted(BUNCHES, {}, Decimal(found[1]), Decimal(found[2] or 0))
    for kind in _PATTERNS:
        if found := kind.pattern.fullmatch(small):
            return Noted(kind.name, kind.readings(found))
    return None


def _like_digits(text: str) -> Decimal | None:
    """The number that a text would be if its letters were the digits that they look like."""
    digits = text.translate(_ALIKE)
    if digits == text or not any(c.isdigit() and c.isascii() for c in text):
        return None
    return Decimal(digits) if digits.isascii() and digits.isdigit() and len(digits) < 8 else None


def _tally(text: str) -> Readings | None:
    """The counts that strokes, or repeated signs, may stand for; None of any other text."""
    if "1" in text or (len(text) < 2 and text not in {"I", "l", "|", *_GATES}):
        return None
    groups = text.replace("+", " ").split() if set(text) - {"+"} else [text]
    signs = set("".join(groups))
    if signs <= _STROKES | _GATES and any(c in "|Il¦ǀ卌𝍸" for c in text):
        lengths = [sum(5 if c in _GATES else 1 for c in group) for group in groups]
        fives = sum(5 if length == 4 else length for length in lengths)
        return {
            "each stroke is one": Decimal(sum(lengths)),
            "four strokes are five": Decimal(fives),
        }
    if len(signs) == 1 and signs <= _DOTS | {"+"} and signs != {"."}:
        many = sum(map(len, groups))
        return {"each sign is one": Decimal(many), "each sign is five": Decimal(many * 5)}
    return None
