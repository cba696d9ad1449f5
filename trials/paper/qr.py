"""Draws a link as a square of dark and light modules that a phone's camera reads."""

from __future__ import annotations

from urllib.parse import quote

import segno

from trials.paper.page import Paper

QUIET_MODULES = 4  # the light border of ISO/IEC 18004, section 6.3.8
SMALLEST_MODULE_MM = 0.33  # common practice for phones and office or label printers


def tally_link(base_url: str, plot_code: str) -> str:
    """The address of a plot's tally page: the base with the plot's code at its end."""
    return base_url + quote(plot_code, safe="")


def modules(link: str) -> tuple[tuple[bool, ...], ...]:
    """The dark modules of the smallest code with correction of level M, row by row."""
    code = segno.make(link, error="m", micro=False, boost_error=False)
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)


def smallest_side_mm(link: str) -> float:
    """The side below which a code with its border is not read reliably."""
    return (len(modules(link)) + 2 * QUIET_MODULES) * SMALLEST_MODULE_MM


def draw_code(paper: Paper, link: str, left_mm: float, top_mm: float, side_mm: float) -> None:
    """Draw the code with its border into a square."""
    rows = modules(link)
    module = side_mm / (len(rows) + 2 * QUIET_MODULES)
    paper.set_fill_color(0)
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = 0
            while x + run < len(row) and row[x + run]:
                run += 1
            if run:
                paper.rect(
                    left_mm + (QUIET_MODULES + x) * module,
                    top_mm + (QUIET_MODULES + y) * module,
                    run * module,
                    module,
                    style="F",
                )
            x += run + 1
