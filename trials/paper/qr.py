"""Draws a link as a square of dark and light modules that a phone's camera reads."""

from __future__ import annotations

from urllib.parse import quote

import segno

from trials.errors import PrintRefused
from trials.paper.page import Paper

QUIET_MODULES = 4  # the light border of ISO/IEC 18004, section 6.3.8
SMALLEST_MODULE_MM = 0.33  # common practice for phones and office or label printers


def tally_link(base_url: str, plot_code: str) -> str:
    """The address of a plot's tally page: the base with the plot's code at its end."""
    return base_url + quote(plot_code, safe="")


def modules(link: str) -> tuple[tuple[bool, ...], ...]:
    """The dark modules of the smallest code with correction of level M, row by row.

    Raises
    ------
    PrintRefused
        The link is longer than any code holds.
    """
    try:
        code = segno.make(link, error="m", micro=False, boost_error=False)
    except segno.DataOverflowError:
        raise PrintRefused(
            f"A link of {len(link):,} characters does not fit into a QR code. Give a shorter "
            "address of the pages."
        ) from None
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)


def smallest_side_mm(link: str) -> float:
    """The side below which a code with its border is not read reliably."""
    return (len(modules(link)) + 2 * QUIET_MODULES) * SMALLEST_MODULE_MM


def code_svg(link: str) -> str:
    """The code as a picture for a page: dark on white, whatever lies behind it."""
    rows = modules(link)
    side = len(rows) + 2 * QUIET_MODULES
    dark = "".join(
        f"M{x + QUIET_MODULES} {y + QUIET_MODULES}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, module in enumerate(row)
        if module
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" '
        f'aria-label="QR code" shape-rendering="crispEdges"><rect width="{side}" height="{side}" '
        f'fill="#fff"/><path d="{dark}" fill="#000"/></svg>'
    )


def code_text(link: str) -> str:
    """The code for a terminal, two rows of modules a line, in its own black and white."""
    rows = modules(link)
    border = (False,) * QUIET_MODULES
    empty = (False,) * (len(rows) + 2 * QUIET_MODULES)
    lines = [empty] * QUIET_MODULES + [border + row + border for row in rows]
    lines += [empty] * (QUIET_MODULES + len(lines) % 2)
    signs = {(True, True): "\u2588", (True, False): "\u2580", (False, True): "\u2584"}
    return "".join(
        "\033[30;107m"
        + "".join(signs.get(pair, " ") for pair in zip(upper, lower, strict=True))
        + "\033[0m\n"
        for upper, lower in zip(lines[::2], lines[1::2], strict=True)
    )


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
