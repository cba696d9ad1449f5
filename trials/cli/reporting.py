"""The command that writes a trial's report to a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trials.cli.options import (
    paper_option,
    readers_units,
    show,
    store_option,
    store_path,
    units_option,
)
from trials.model.units import PaperSize


@click.command()
@click.argument("trial")
@click.option(
    "--pdf",
    "pdf_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the report as a PDF to print, such as cosmos-2026.pdf.",
)
@click.option(
    "--html",
    "html_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the report as one web page that needs no network, such as cosmos-2026.html.",
)
@click.option("--farm", default="", show_default=False, help="Farm name to print on the report.")
@paper_option
@units_option
@store_option
def report(
    trial: str,
    pdf_path: Path | None,
    html_path: Path | None,
    farm: str,
    paper: PaperSize,
    units: str | None,
    store: Path | None,
) -> None:
    """Write a trial's report: layout, results, pictures and records."""
    from trials import season

    if pdf_path is None and html_path is None:
        raise click.UsageError("Name a file: --pdf cosmos-2026.pdf or --html cosmos-2026.html.")
    document = season.trial_report(store_path(store), trial, readers_units(units, store))
    if pdf_path is not None:
        season.report_pdf(document, pdf_path, farm=farm, on=date.today(), size=paper)
    if html_path is not None:
        season.write_report_html(document, html_path, farm=farm, on=date.today())
    written = [str(path) for path in (pdf_path, html_path) if path is not None]
    show("\n".join(f"Written: {path}" for path in written) + "\n")
