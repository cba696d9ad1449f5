"""A picture on a page, with its heading and its files to save."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from dashboard.theme import markup
from trials.drawing.picture import Picture
from trials.drawing.svg import svg_file
from trials.paper.png import png_file
from trials.report.pictures.figures_file import picture_csv
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.of_trial import Draw


def show_picture(draw: Draw, place: str, wide_px: int = WIDE_PX) -> None:
    """A picture drawn for a wide page and for a phone; ``place`` is its name on the page.

    ``wide_px`` is about the width that it has on a wide page.
    """
    wide = draw(wide_px)
    st.html(markup.caption(wide.title, wide.note) + markup.picture(wide, draw(NARROW_PX)))
    show_files(wide, place)


def show_where_any(draw: Callable[[int], Picture | None], wide_px: int = WIDE_PX) -> None:
    """Show a picture as ``show_picture`` does, or nothing where there is nothing to draw."""
    wide, narrow = draw(wide_px), draw(NARROW_PX)
    if wide is not None and narrow is not None:
        show_picture(lambda width: wide if width == wide_px else narrow, wide.name, wide_px)


def show_files(picture: Picture, place: str) -> None:
    """What of a picture can be saved; each file is made when it is asked for."""
    with st.container(key=f"files-{place}", horizontal=True, gap="small"):
        for kind, mime, make in (
            ("PNG", "image/png", partial(png_file, picture)),
            ("SVG", "image/svg+xml", partial(svg_file, picture)),
            ("CSV", "text/csv", partial(picture_csv, picture)),
        ):
            st.download_button(
                f"Save {kind}",
                make,
                file_name=f"{picture.name}.{kind.lower()}",
                mime=mime,
                key=f"{kind} {place} {picture.name}",
                on_click="ignore",
            )
