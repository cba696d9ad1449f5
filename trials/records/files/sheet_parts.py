"""Tables on one sheet: titles above, a heading of two rows, tables below or beside another."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from trials.model.rows import Sheet
from trials.records.mapping.numbers import unit_of_grade, unit_word
from trials.records.mapping.reading import TWO
from trials.records.mapping.words import TOTALS, field_of, heading_words
from trials.records.rules.days import is_a_week, looks_like_a_day
from trials.records.rules.factors import plain_heading

Lines = Sequence[Sequence[str]]
_LOOKED_AT = 40
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?", re.ASCII)
_FACT = re.compile(r".*\d.*", re.DOTALL)
_RECORDS = (Sheet.CUTS, Sheet.STAND_COUNTS, Sheet.STEM_SAMPLES, Sheet.SCORES, Sheet.EVENTS)


@dataclass(frozen=True, slots=True)
class Part:
    """One table of a sheet.

    Attributes
    ----------
    top, start, stop
        The row of its heading (the lower, of two), its first row and the row behind its last.
    left, right
        Its first column, and the one behind its last.
    heading
        For each of these columns.
    titles
        What is written above it, row by row.
    repeated
        Rows in which its heading is repeated.
    """

    top: int
    start: int
    stop: int
    left: int
    right: int
    heading: tuple[str, ...]
    titles: tuple[str, ...] = ()
    repeated: tuple[int, ...] = ()


def is_known_heading(text: str) -> bool:
    """Whether a text is a word that growers write above a column of records."""
    if not text.strip() or _NUMBER.fullmatch(text.strip()):
        return False
    words = heading_words(text).words
    plots = {"variety", "cultivar", "block", "rep", "replicate", "bed", "treatment", "sort"}
    return words in plots or any(field_of(text, sheet) is not None for sheet in _RECORDS)


def is_heading(line: Sequence[str]) -> bool:
    """Whether a row names columns: two of its cells are such words, and none is a count."""
    filled = [cell.strip() for cell in line if cell.strip()]
    return sum(map(is_known_heading, filled)) >= 2 and not any(
        _NUMBER.fullmatch(cell) and len(cell) < 2 for cell in filled
    )


def parts_of(lines: Lines, top: int, *, beyond: bool = False) -> tuple[Part, ...]:
    """The tables of a sheet.

    Parameters
    ----------
    lines
        Its cells.
    top
        The row (from 0) in which its first heading is thought to stand.
    beyond
        Whether what stands right of every heading is part of a table, as in a workbook.
    """
    top = _better_top(lines, top)
    widest = max(map(len, lines), default=0)
    found: list[Part] = []
    for start, stop in _below(lines, top):
        width = widest if beyond else len(lines[start])
        for left, right in _beside(lines, start, stop, width):
            found.append(_part(lines, start, stop, left, right))
    return tuple(found)


def _filled(line: Sequence[str], left: int = 0, right: int | None = None) -> list[int]:
    end = len(line) if right is None else min(right, len(line))
    return [place for place in range(left, end) if line[place].strip()]


def _better_top(lines: Lines, top: int) -> int:
    """The first row that names columns, where what stands above it are titles."""
    if is_heading(lines[top]):
        return top
    for place in range(top + 1, min(len(lines), top + _LOOKED_AT)):
        above = [len(_filled(line)) for line in lines[top:place]]
        if is_heading(lines[place]) and max(above) < len(_filled(lines[place])):
            return place
    return top


def _below(lines: Lines, top: int) -> Iterator[tuple[int, int]]:
    """The heading and the end of the first table, and of others under it."""
    starts = [top]
    first = {plain_heading(cell) for cell in lines[top] if plain_heading(cell)}
    for place in range(top + 2, len(lines)):
        filled = _filled(lines[place])
        if len(filled) < 2:
            continue
        plain = {plain_heading(lines[place][column]) for column in filled} - {""}
        alike = len(plain & first)
        again = alike >= 2 and alike * 2 >= len(first)
        if again and _same(lines[starts[-1]], lines[place]):
            continue  # the same table goes on
        alone = len(_filled(lines[place - 1])) < 2
        if again or (alone and is_heading(lines[place])):
            starts.append(place)
            first = plain
    return zip(starts, [*starts[1:], len(lines)], strict=True)


def _same(heading: Sequence[str], line: Sequence[str]) -> bool:
    """Whether a row says what the heading says, so that nothing but the page goes on."""
    said = [plain_heading(cell) for cell in heading]
    here = [plain_heading(cell) for cell in line]
    return said[: len(here)] == here[: len(said)] and not any(here[len(said) :])


def _beside(lines: Lines, top: int, stop: int, width: int) -> list[tuple[int, int]]:
    """The columns of each table that stands beside others under one row of headings."""
    heading = [*lines[top], *[""] * (width - len(lines[top]))]
    named = [place for place, name in enumerate(heading) if name.strip()]
    if len(named) < 2:
        return [(0, width)]
    plain = [plain_heading(heading[place]) for place in named]
    starts = [place for place, name in zip(named, plain, strict=True) if name == plain[0]]
    if len(starts) == 1:
        starts = [named[0], *_after_gaps(lines, top, stop, heading, named)]
    bounds = [0, *starts[1:], width]
    pairs = list(pairwise(bounds))
    if any(sum(1 for place in named if left <= place < right) < 2 for left, right in pairs):
        return [(0, width)]
    return pairs


def _after_gaps(
    lines: Lines, top: int, stop: int, heading: Sequence[str], named: Sequence[int]
) -> list[int]:
    """Columns behind an empty one at which another table begins: its first heading tells rows."""
    found = []
    for before, place in pairwise(named):
        gap = range(before + 1, place)
        empty = gap and not any(
            line[c].strip() for line in lines[top:stop] for c in gap if c < len(line)
        )
        if empty and is_heading(heading[place:]):
            found.append(place)
    return found


def _part(lines: Lines, top: int, stop: int, left: int, right: int) -> Part:
    heading = [cell.strip() for cell in lines[top][left:right]]
    heading += [""] * (right - left - len(heading))
    start = top + 1
    titles_to = top
    upper = _row(lines, top - 1, left, right)
    lower = _row(lines, top + 1, left, right) if top + 1 < stop else []
    if _spans(upper, heading):
        heading, titles_to = _two(upper, heading), top - 1
    elif _goes_under(heading, lower):
        heading, start = _two(heading, lower), top + 2
    said = [cell.strip() for cell in lines[top][left:right]]
    repeated = tuple(
        place
        for place in range(start, stop)
        if len(_filled(lines[place], left, right)) > 1 and _same(said, lines[place][left:right])
    )
    return Part(top, start, stop, left, right, tuple(heading), _titles(lines, titles_to), repeated)


def _row(lines: Lines, place: int, left: int, right: int) -> list[str]:
    if place < 0:
        return []
    cells = [cell.strip() for cell in lines[place][left:right]]
    return cells + [""] * (right - left - len(cells))


def _is_fact(text: str) -> bool:
    """Whether a text over columns says what holds for them: a day, a week, a length, a word."""
    return looks_like_a_day(text) or is_a_week(text) or is_known_heading(text)


def _spans(upper: Sequence[str], heading: Sequence[str]) -> bool:
    """Whether a row above the headings says more of some of them, as a day over its grades."""
    over = [place for place, cell in enumerate(upper) if cell]
    named = [place for place, cell in enumerate(heading) if cell]
    if not over or len(named) < 3 or over[0] <= named[0]:
        return False
    if not all(heading[place] for place in over) or not all(_is_fact(upper[p]) for p in over):
        return False
    # Else it is a title with a day: over columns that say all there is to say.
    under = heading[over[0] :]
    return len(over) > 1 or sum(bool(_FACT.fullmatch(cell)) for cell in under) > 1


def _goes_under(heading: Sequence[str], lower: Sequence[str]) -> bool:
    """Whether the row under the headings says more of some of them, as units or grades."""
    under = [place for place, cell in enumerate(lower) if cell]
    named = [place for place, cell in enumerate(heading) if cell]
    if not under or not named or lower[named[0]]:
        return False
    words = all(not _FACT.fullmatch(lower[place]) for place in under)
    if words:  # units, weekdays and the like: two of them, or one that is a unit
        return all(_is_unit(lower[place]) or not heading[place] for place in under)
    spread = [place for place in under if not heading[place]]
    said = [lower[place] for place in under]
    return bool(spread) and len(under) > 1 and (all(map(_is_length, said)) or _are_steps(said))


def _is_length(text: str) -> bool:
    """Whether a text is a day, or a length with its unit, as over the columns of a wide table."""
    return looks_like_a_day(text) or unit_of_grade(text) is not None


def _are_steps(texts: Sequence[str]) -> bool:
    """Whether numbers can be length grades: three or more, rising, in steps of five."""
    bare = [text.rstrip("+ ") for text in texts]
    if len(bare) < 3 or not all(text.isascii() and text.isdigit() for text in bare):
        return False
    numbers = [int(text) for text in bare if len(text) < 4]
    rising = all(first < second for first, second in pairwise(numbers))
    return len(numbers) == len(bare) and rising and all(n % 5 == 0 for n in numbers)


def _is_unit(text: str) -> bool:
    return unit_word(text.strip("() ")) is not None or text.strip("() ").casefold() in {
        *("no", "no.", "number", "count", "#", "n", "dd/mm", "d/m", "m/d", "date", "stems"),
    }


def _two(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """One heading of two rows: what spans several columns is said of each."""
    found, last = [], ""
    for above, below in zip(upper, lower, strict=True):
        last = above or (last if below else "")
        found.append(_joined(last if below or above else "", below))
    return found


def _joined(above: str, below: str) -> str:
    if not above or not below:
        return above or below
    if _is_unit(below):
        return f"{above} ({below.strip('() ')})"
    grade = field_of(above, Sheet.CUTS) == "grade_cm"
    if grade and (unit := heading_words(above).unit) is not None and _NUMBER.fullmatch(below):
        return f"{below} {unit}"
    if is_known_heading(above) and not looks_like_a_day(above):
        return below  # 'Stems' or 'Grade' over the grades says nothing more of each
    return f"{above}{TWO}{below}"


def _titles(lines: Lines, top: int) -> tuple[str, ...]:
    """The rows above a heading that are its titles, as far up as they have few cells."""
    found = []
    for place in range(top - 1, max(-1, top - 12), -1):
        filled = [cell.strip() for cell in lines[place] if cell.strip()]
        if len(filled) > 4:
            break
        if filled:
            found.append(" ".join(filled))
    return tuple(reversed(found))


_TOTAL = re.compile(r"[^\W\d_][\w .:&/-]*")
_TOTALS = frozenset({"total", "totals", "subtotal", "subtotals"})
_LONGEST_TOTAL = 4


def is_total(text: str) -> bool:
    """Whether a text says that its row, or column, is a total or a mean of others."""
    if not _TOTAL.fullmatch(text.strip()):
        return False
    words = re.findall(r"[^\W\d_]+", text.casefold())
    if not words or len(words) > _LONGEST_TOTAL:
        return False
    return (len(words) == 1 and words[0] in TOTALS) or words[0] in _TOTALS or words[-1] in _TOTALS
