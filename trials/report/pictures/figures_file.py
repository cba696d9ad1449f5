"""The figures of a picture as a CSV file, with no cell that a spreadsheet could run."""

from __future__ import annotations

import csv
from io import StringIO

from trials.drawing.picture import Picture
from trials.model.formula_escaping import inert


def picture_csv(picture: Picture) -> str:
    """One row per row of the picture's figures, in full precision; an empty cell is not recorded.

    A text that a spreadsheet would take for a formula gets a leading apostrophe (OWASP, CSV
    Injection).
    """
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([inert(column) for column in picture.columns])
    for row in picture.rows:
        writer.writerow(
            ["" if cell is None else inert(cell) if isinstance(cell, str) else cell for cell in row]
        )
    return text.getvalue()
