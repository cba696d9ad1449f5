from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import zxingcpp

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout
from trials.model.units import PaperSize
from trials.paper.stakes import LabelStock, write_stakes
from trials.paper.treatment import Showing

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed

BASE = "https://tally.riverbend.example/plot/"
THERMAL = LabelStock.single(100, 30)
STOCKS = {
    "A4": LabelStock.grid(PaperSize.A4),
    "Letter": LabelStock.grid(PaperSize.LETTER, 3, 10, gap_mm=2),
    "thermal": THERMAL,
    "upright": LabelStock.single(30, 100),
}


def written(layout: PlannedLayout, folder: Path, **asked: Any) -> Path:
    path = folder / "stakes.pdf"
    write_stakes(layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1), **asked)
    return path


def read_links(printed: Printed) -> Iterator[str]:
    """The links that a camera would read off the squares drawn on each page."""
    dots_per_point = 6
    for page in printed.reader.pages:
        contents = page.get_contents()
        assert contents is not None
        height, width = float(page.mediabox.height), float(page.mediabox.width)
        picture = np.full((int(height * dots_per_point), int(width * dots_per_point)), 255, "uint8")
        for box in re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) (-[\d.]+) re f", contents.get_data()):
            x, y, w, h = (float(side) * dots_per_point for side in box)
            top = height * dots_per_point - y
            picture[round(top) : round(top - h), round(x) : round(x + w)] = 0
        yield from (found.text for found in zxingcpp.read_barcodes(picture))


@pytest.mark.parametrize("stock", list(STOCKS))
def test_every_plot_has_a_label_in_walking_order(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, stock: str
) -> None:
    layout = layouts.blocks(6, 4)
    words = printed(written(layout, tmp_path, stock=STOCKS[stock])).words
    codes = [plot.code for plot in layout.plots]
    assert re.findall(r"Z\d{3}", words) == codes
    assert all(f"Variety {number:02d}" in words for number in range(1, 7))
    assert "Z27 · Bed A · block 1" in words


@pytest.mark.parametrize("stock", ["A4", "thermal"])
def test_the_links_on_the_labels_are_read_back(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, stock: str
) -> None:
    layout = layouts.blocks(6, 4)
    found = printed(written(layout, tmp_path, stock=STOCKS[stock], base_url=BASE))
    assert sorted(read_links(found)) == sorted(BASE + plot.code for plot in layout.plots)


def test_a_long_name_is_printed_in_full_beside_its_link(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks((layouts.long_name, "Ember"), 2)
    found = printed(written(layout, tmp_path, stock=THERMAL, base_url=BASE))
    assert "".join(found.words.split()).count("".join(layouts.long_name.split())) == 2
    assert found.size_mm == (100.0, 30.0)


@pytest.mark.parametrize("base_url", [None, BASE])
def test_a_label_of_57_by_19_mm_holds_a_plot(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, base_url: str | None
) -> None:
    layout = layouts.blocks(6, 4)
    stock = LabelStock.single(57, 19)
    found = printed(written(layout, tmp_path, stock=stock, base_url=base_url))
    assert found.size_mm == (57.0, 19.0)
    # A label a page, and the cautions on the last.
    *labels, _ = found.pages
    for plot, label in zip(layout.plots, labels, strict=True):
        words = " ".join(label.split())
        assert re.findall(r"Z\d{3}", words) == [plot.code]
        assert dict(plot.levels)["variety"] in words
    links = [] if base_url is None else [base_url + plot.code for plot in layout.plots]
    assert list(read_links(found)) == links
    assert not found.overrun()


def test_a_blind_label_does_not_tell_what_grows_there(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks(("Ember", "Frost Fern"), 2)
    words = printed(written(layout, tmp_path, showing=Showing.CODE_ALONE)).words
    assert "Ember" not in words
    assert "check" not in words
    assert all(plot.code in words for plot in layout.plots)


def test_a_plot_may_have_two_stakes(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks(2, 2)
    words = printed(written(layout, tmp_path, stock=THERMAL, per_plot=2)).words
    assert re.findall(r"Z\d{3}", words) == [p.code for p in layout.plots for _ in range(2)]


def test_a_label_too_small_for_its_link_is_refused(layouts: Layouts, tmp_path: Path) -> None:
    with pytest.raises(PrintRefused, match="link of plot Z101 needs 12 mm"):
        written(layouts.blocks(2, 2), tmp_path, stock=LabelStock.single(100, 8), base_url=BASE)


def test_a_label_too_small_for_its_words_is_refused(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks((layouts.long_name, "Ember"), 2)
    with pytest.raises(PrintRefused, match="code alone"):
        written(layout, tmp_path, stock=LabelStock.single(25, 12))


def test_labels_that_do_not_fit_their_sheet_are_refused() -> None:
    with pytest.raises(PrintRefused, match="do not fit on a page of 210 x 297 mm"):
        LabelStock(210, 297, 80, 30, columns=3)
    with pytest.raises(PrintRefused):
        LabelStock.grid(PaperSize.A4, 2, 0)


def test_the_same_labels_are_the_same_bytes(layouts: Layouts, tmp_path: Path) -> None:
    first = written(layouts.blocks(2, 2), tmp_path, base_url=BASE).read_bytes()
    assert written(layouts.blocks(2, 2), tmp_path, base_url=BASE).read_bytes() == first
