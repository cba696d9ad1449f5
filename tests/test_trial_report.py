"""A trial's report: every section, the records' own figures, files that stand alone."""

from __future__ import annotations

import re
import shutil
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.photographs import photo
from trials import season
from trials.drawing.document import Document, Grid, Heading, Photos
from trials.drawing.picture import Picture
from trials.errors import FileRefused, UnknownName
from trials.model.photo import PhotoOf
from trials.model.rows import Signed
from trials.model.units import PaperSize, UnitSystem

pytestmark = pytest.mark.slow

SECTIONS = [
    *("Question", "Answer", "Layout", "Methods", "Results", "Pictures", "Cautions"),
    *("Records by plot", "What these figures rest on"),
]
ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def report(demo_store: Path) -> Document:
    return season.trial_report(demo_store, "cosmos-2026", UnitSystem.METRIC)


def test_every_section_is_there_in_its_order(report: Document) -> None:
    heads = [part.text for part in report.parts if isinstance(part, Heading) and part.level == 2]
    assert heads == SECTIONS


def test_the_records_are_those_of_the_store(report: Document, demo_store: Path) -> None:
    (grid,) = [part for part in report.parts if isinstance(part, Grid) and part.small]
    plots = season.plots(demo_store, "cosmos-2026")
    assert [row[0] for row in grid.rows] == plots["plot"].tolist()
    at = grid.headings.index("saleable stems")
    for row, stems in zip(grid.rows, plots["marketable_stems"], strict=True):
        assert row[at] == ("–" if stems != stems else f"{stems:,.0f}")  # noqa: PLR0124 - NaN only


def test_it_shows_the_digest_and_a_map(report: Document, demo_store: Path) -> None:
    digest = season.records_digest(demo_store, "cosmos-2026").digest
    assert any(digest in str(part) for part in report.parts)
    pictures = [part for part in report.parts if isinstance(part, Picture)]
    assert "beds-treatment" in {picture.name for picture in pictures}
    assert len(pictures) == len({picture.name for picture in pictures}) >= 10


class StandsAlone(HTMLParser):
    """Complains of anything that would be fetched or run, and of a heading out of order."""

    level = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in {"script", "link", "img", "iframe", "object", "base", "form", "a"}, tag
        names = dict(attrs)
        assert not {"src", "href", "xlink:href", "onload", "onerror", "onclick"} & names.keys()
        if re.fullmatch(r"h[1-6]", tag):
            assert int(tag[1]) <= self.level + 1
            self.level = int(tag[1])


def test_the_html_file_stands_alone(report: Document, tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    season.write_report_html(report, path, farm="Brook <i>Farm</i>", on=ON)
    text = path.read_text(encoding="utf-8")
    StandsAlone().feed(text)
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", text)
    assert "default-src &#x27;none&#x27;" in text or "default-src 'none'" in text
    assert "Brook &lt;i&gt;Farm&lt;/i&gt;" in text
    assert text.count("<svg") == sum(isinstance(part, Picture) for part in report.parts)


@pytest.mark.parametrize("size", PaperSize)
def test_the_pdf_has_every_section_and_plot(
    report: Document, demo_store: Path, tmp_path: Path, size: PaperSize
) -> None:
    path = tmp_path / "report.pdf"
    season.report_pdf(report, path, farm="Brook Farm", on=ON, size=size)
    pages = [page.extract_text() for page in PdfReader(path).pages]
    text = "\n".join(pages)
    assert all(section in text for section in SECTIONS)
    codes = season.plots(demo_store, "cosmos-2026")["plot"].tolist()
    assert all(code in text for code in codes)
    assert f"Page {len(pages)} of {len(pages)}" in text
    again = tmp_path / "again.pdf"
    season.report_pdf(report, again, farm="Brook Farm", on=ON, size=size)
    assert path.read_bytes() == again.read_bytes()


@pytest.mark.parametrize("code", ["plume-2026", "cosmos-bed-2026", "cosmos-2024"])
def test_other_layouts_have_a_report_too(farm_store: Path, tmp_path: Path, code: str) -> None:
    """Open, unreplicated, of three factors: whatever the records allow is written."""
    document = season.trial_report(farm_store, code, UnitSystem.US)
    assert "still open: figures may change" in document.facts
    season.report_pdf(document, tmp_path / "r.pdf", farm="", on=ON, size=PaperSize.LETTER)
    StandsAlone().feed(season.report_html(document, farm="", on=ON))


def test_an_unknown_trial_and_a_bad_place_are_refused(
    report: Document, demo_store: Path, tmp_path: Path
) -> None:
    with pytest.raises(UnknownName, match="cosmos-2026"):
        season.trial_report(demo_store, "cosmo-2026", UnitSystem.METRIC)
    with pytest.raises(FileRefused, match="Choose another place"):
        season.write_report_html(report, tmp_path / "no" / "r.html", farm="", on=ON)
    with pytest.raises(FileRefused):
        season.report_pdf(report, tmp_path / "no" / "r.pdf", farm="", on=ON)


def test_one_photo_of_each_variety_goes_along(demo_store: Path, tmp_path: Path) -> None:
    farm = Path(shutil.copy(demo_store, tmp_path / "farm.tallybed"))
    day, ann = date(2026, 8, 14), Signed("Ada Brook")
    for colour, taken in (("red", day), ("blue", date(2026, 8, 20))):
        of = PhotoOf("Wrenlatch", None, taken)
        season.add_photos(farm, [("a.jpg", photo(colour, (900, 1200)))], of, ann)
    season.add_photos(farm, [("b.jpg", photo("green"))], PhotoOf("Fennadrift", None, day), ann)
    season.add_photos(farm, [("c.jpg", photo("pink"))], PhotoOf("Quillandry", None, day), ann)
    document = season.trial_report(farm, "cosmos-2026", UnitSystem.METRIC)
    (part,) = [part for part in document.parts if isinstance(part, Photos)]
    words = [each.words for each in part.photos]
    assert words == ["Fennadrift, 2026-08-14", "Wrenlatch, 2026-08-20"]
    assert [(each.width, each.height) for each in part.photos] == [(80, 60), (480, 640)]
    page = season.report_html(document, farm="", on=ON)
    assert page.count("data:image/jpeg;base64,") == 2
    assert 'alt="Photo of Wrenlatch, 2026-08-20"' in page
    assert "Ada Brook" not in page
    season.report_pdf(document, tmp_path / "r.pdf", farm="", on=ON)
    reader = PdfReader(tmp_path / "r.pdf")
    assert sum(len(sheet.images) for sheet in reader.pages) == 2
    assert "Wrenlatch, 2026-08-20" in "".join(sheet.extract_text() for sheet in reader.pages)
    lost = season.photos(farm, variety="Fennadrift")[0].sha256
    farm.with_name("farm.photos").joinpath(f"{lost}.jpg").unlink()
    without = season.trial_report(farm, "cosmos-2026", UnitSystem.METRIC)
    (part,) = [part for part in without.parts if isinstance(part, Photos)]
    assert len(part.photos) == 1, "one whose file is lost is left out"
