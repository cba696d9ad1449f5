"""Every file to print: what stands in it, and where."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from pypdf import PdfReader

from tests.output.registry import DAY, US, choosing_once, output, with_a_plan
from trials import season
from trials.decide import Sowing
from trials.model.units import PaperSize, UnitSystem


def page_text(page: Any) -> str:
    """The words of a printed page, each line with its place in points."""
    lines: list[str] = []

    def note(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        if text.strip():
            lines.append(f"{tm[4] + cm[4]:.1f} {tm[5] + cm[5]:.1f} {size:g} {text.strip()}")

    page.extract_text(visitor_text=note)
    return "\n".join(lines)


def file_text(path: Path) -> str:
    """What stands in a file, whatever its kind."""
    if path.suffix == ".pdf":
        return "\n".join(page_text(page) for page in PdfReader(path).pages)
    if path.suffix == ".xlsx":
        book = load_workbook(path)
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
        return "\n".join(f"{c.coordinate} {c.value}" for c in cells if c.value is not None)
    return path.read_text("utf-8")


def files_text(files: tuple[Path, ...]) -> str:
    return "\n".join(f"== {path.name}\n{file_text(path)}" for path in files)


@output
def sheets_of_a_plan(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = with_a_plan(store, folder)
        hows = (
            season.Printing("Heronlap", DAY),
            season.Printing(
                "Heronlap", DAY, blind=True, size=PaperSize.LETTER, label_mm=(89, 36),
                stakes_per_plot=1, pages="http://10.0.0.5:8501", units=US,
            ),
        )  # fmt: skip
        return "\n".join(
            files_text(season.sheets(own, "aster-2026", Path(folder) / f"printed {place}", how))
            for place, how in enumerate(hows)
        )


@output
@choosing_once()
def orders_and_report_to_print(store: Path) -> str:
    choice = season.choose(store, "zinnia")
    order = season.order(store, choice, Sowing(24.0)).order
    with tempfile.TemporaryDirectory() as folder:
        into = Path(folder)
        written = season.write_orders(order, 2027, into, farm="Heronlap", on=DAY)
        report = into / "report.pdf"
        season.report_pdf(
            season.trial_report(store, "cosmos-bed-2026", UnitSystem.US),
            report, farm="Heronlap", on=DAY,
        )  # fmt: skip
        return files_text((*written, report))


def winter_files(found: Any) -> str:
    """The files of a winter plan."""
    with tempfile.TemporaryDirectory() as folder:
        return files_text(season.write_winter(found, Path(folder), farm="Heronlap", on=DAY))
