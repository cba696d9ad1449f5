from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from trials.decide import Need, OrderLine, Parcel, SeedOrder, Unfilled, UnfilledReason
from trials.errors import FileRefused
from trials.model.trial import SeedItem
from trials.model.units import PaperSize
from trials.paper.order_sheet import WHY_UNFILLED, write_order_sheet

LONG = "Long-stemmed Invented Mixture of Apricot, Salmon and Rosé for Tunnels and Open Ground"
UNBROKEN = "Donaudampfschifffahrtsgesellschaftskapitänsblume"
needs_reader = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler) reads the printed sheet back"
)


def an_order(lines_each: int = 2) -> SeedOrder:
    def parcel(house: str, shipping: str) -> Parcel:
        lines = tuple(
            OrderLine(house, f"{house[0]}-{i}", LONG if i == 0 else f"Variety {i}", 3, 250, price)
            for i, price in enumerate([Decimal("4.35")] * lines_each)
        )
        return Parcel(house, lines, Decimal(shipping))

    return SeedOrder(
        parcels=(parcel("Hollow Lane Seeds", "6.90"), parcel("Petal & Pod", "0.00")),
        needs=(Need("Variety 1", 1500),),
        unfilled=(Unfilled(UNBROKEN, 300, 100, UnfilledReason.OVER_BUDGET),),
        unavailable=(SeedItem("Petal & Pod", "P-9", "Čačak Żółć", 50, 3.0, 1, False),),
        currency="EUR",
        budget=Decimal("65.00"),
        cost_in_full=Decimal("71.10"),
    )


def written(path: Path, order: SeedOrder, size: PaperSize = PaperSize.A4) -> Path:
    write_order_sheet(
        order, "Seed order for 2027", "Murrowhask Flowers", path, on=date(2026, 11, 2), size=size
    )
    return path


def read_back(path: Path) -> str:
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return done.stdout.decode()


@needs_reader
def test_seed_sold_by_weight_is_ordered_by_weight(tmp_path: Path) -> None:
    line = OrderLine("Petal & Pod", "P-9", "Ash", 2, 1200, Decimal("4.35"), 2.5)
    parcel = Parcel("Petal & Pod", (line,), Decimal("0.00"))
    order = SeedOrder((parcel,), (), (), (), "EUR", None, Decimal("8.70"))
    assert "P-9 (2.5 g)" in read_back(written(tmp_path / "order.pdf", order))


@needs_reader
@pytest.mark.parametrize("size", list(PaperSize))
def test_every_line_and_sum_is_on_the_sheet(tmp_path: Path, size: PaperSize) -> None:
    text = read_back(written(tmp_path / "order.pdf", an_order(), size))
    words = " ".join(text.split())
    for expected in (
        "Seed order for 2027",
        "Murrowhask Flowers · 2026-11-02",
        "Hollow Lane Seeds",
        "Petal & Pod",
        "H-1",
        "Variety 1",
        "750",
        "13.05",
        "free",
        "26.10 6.90 33.00",
        "Total 52.20 6.90 59.10",
        "Budget 65.00 EUR; left 5.90 EUR.",
        "71.10 EUR, 12.00 EUR more",
        "cut to stay within the budget",
        "Čačak Żółć",
        "Page 1 of",
    ):
        assert expected in words
    assert text.count("\u2610") == 4


@needs_reader
def test_long_names_are_wrapped_and_nothing_is_cut_off(tmp_path: Path) -> None:
    text = read_back(written(tmp_path / "order.pdf", an_order()))
    for word in LONG.split():
        assert word in text
    letters = re.sub(r"\s", "", text)
    start, end = UNBROKEN[:12], UNBROKEN[-6:]
    assert start in letters
    assert end in letters


@needs_reader
def test_pages_are_numbered_and_headings_repeated(tmp_path: Path) -> None:
    pages = read_back(written(tmp_path / "order.pdf", an_order(60))).split("\f")[:-1]
    assert len(pages) > 3
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
    assert "Murrowhask Flowers · Seed order for 2027" in pages[1]
    assert "Variety" in pages[1]
    assert sum(page.count("\u2610") for page in pages) == 120


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "box"), [(PaperSize.A4, (595.28, 841.89)), (PaperSize.LETTER, (612.0, 792.0))]
)
def test_the_paper_is_the_size_asked_for(
    tmp_path: Path, size: PaperSize, box: tuple[float, float]
) -> None:
    # ISO 216 A4 is 210 x 297 mm; US Letter is 8.5 x 11 in; a point is 1/72 in.
    pdf = written(tmp_path / "order.pdf", an_order(), size).read_bytes()
    found = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert found is not None
    assert tuple(float(side) for side in found.groups()) == pytest.approx(box, abs=0.01)


def test_the_same_order_gives_the_same_bytes_dated_by_the_caller(tmp_path: Path) -> None:
    first = written(tmp_path / "one.pdf", an_order()).read_bytes()
    second = written(tmp_path / "two.pdf", an_order()).read_bytes()
    assert hashlib.sha256(first).digest() == hashlib.sha256(second).digest()
    assert b"/CreationDate (D:20261102000000" in first


@needs_reader
def test_an_empty_order_says_so(tmp_path: Path) -> None:
    empty = SeedOrder((), (), (), (), None, None, Decimal("0.00"))
    assert "Nothing is ordered." in read_back(written(tmp_path / "order.pdf", empty))


def test_a_place_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="folder that you can write to"):
        written(tmp_path / "nowhere" / "order.pdf", an_order())


def test_every_reason_has_its_words() -> None:
    assert set(WHY_UNFILLED) == set(UnfilledReason)
