"""Takes from the title of a workbook's sheet what no column says: the day, or what grows there."""

from __future__ import annotations

from dataclasses import replace

from trials.records.plot_labels import BY, KnownPlots, label_of, plain_label
from trials.records.reading import DAY, VALUE, Reading
from trials.records.reading_days import looks_like_a_day
from trials.records.spellings import Cells

_BEFORE_TITLE = ", sheet "


def title_of(cells: Cells) -> str:
    """The title of the sheet that a table stands on; empty where it has none."""
    return cells.file.partition(_BEFORE_TITLE)[2].strip()


def by_title(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with the day, or the label of the plots, that the sheet's title alone says."""
    title = title_of(cells)
    if not title or reading.sheet not in VALUE:
        return reading
    had = {column.field for column in reading.columns} | {name for name, _ in reading.always}
    if reading.spread is not None:
        had.add(reading.spread.headings)
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
    return replace(reading, always=tuple(kept))
