"""Takes from the title of a workbook's sheet what no column says: the day, or what grows there."""

from __future__ import annotations

import re
from dataclasses import replace

from trials.records.encoded_column import Cells
from trials.records.mapping.plot_labels import BY, KnownPlots, label_of, plain_label
from trials.records.mapping.reading import DAY, VALUE, Reading
from trials.records.rules.days import looks_like_a_day

_BEFORE_TITLE = ", sheet "


def title_of(cells: Cells) -> str:
    """The title of the sheet that a table stands on; empty where it has none."""
    return cells.file.partition(_BEFORE_TITLE)[2].partition(", table at ")[0].strip()


def by_title(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with the day, or the label of the plots, that the sheet's title alone says."""
    if reading.sheet not in VALUE:
        return reading
    for title in dict.fromkeys(_said(cells)):
        reading = _by(title, reading, plots)
    return reading


def _said(cells: Cells) -> list[str]:
    """What a table's titles may say: each as it is, and without the words before it."""
    found = [title_of(cells)]
    for title in cells.titles:
        if "week" in title.casefold():
            continue
        found.append(title)
        found += [part.strip() for part in re.split(r"[:;,|]\s+|\s[-–]\s", title)]
        words = title.split()
        found += [" ".join(words[place:]) for place in range(1, len(words))]
        found += [" ".join(words[:place]) for place in range(1, len(words))]
    return [text for text in found if text]


def _by(title: str, reading: Reading, plots: KnownPlots) -> Reading:
    had = {column.field for column in reading.columns} | {name for name, _ in reading.always}
    if reading.spread is not None:
        had |= {reading.spread.headings, reading.spread.below}
    day = DAY[reading.sheet]
    if day not in had and looks_like_a_day(title):
        return replace(reading, always=(*reading.always, (day, title)))
    if "plot" in had or not any(label_of(field) is not None for field in had):
        return reading
    for name in plots.names:
        if BY + name not in had and plain_label(title) in plots.levels(name):
            return replace(reading, always=(*reading.always, (BY + name, title)))
    return reading


def lasting(reading: Reading) -> Reading:
    """What of a reading holds for the next table: not the day, and not what a title says."""
    passing = DAY.get(reading.sheet)
    kept = [
        (name, says) for name, says in reading.always if name != passing and label_of(name) is None
    ]
    return replace(reading, always=tuple(kept), once=(), grades=())
