"""The paper of a planned trial: its map, stakes, picking sheets, page for the shed and workbook."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trials.errors import FileRefused
from trials.field import as_it_stands, as_staked
from trials.planning import drawn_again
from trials.units import PaperSize, UnitSystem

# The page of the crew at the bed, with the code of a plot behind it.
TALLY_OF = "/tally?plot="
LONGEST_STEM = 60
_NO_NAME = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')  # in no file's name on one system or another


@dataclass(frozen=True, slots=True)
class Printing:
    """How a trial's sheets are printed.

    ``farm`` and the day ``on`` stand on every sheet. ``blind`` leaves the treatments off stakes and
    picking sheets. ``label_mm`` is the width and height of a label printer's labels, None for
    sheets of labels. ``pages`` is where the dashboard is served: with it a stake has a code that
    opens its plot's tally on a phone. ``units`` are those in which stems are measured.
    """

    farm: str
    on: date
    blind: bool = False
    size: PaperSize = PaperSize.A4
    label_mm: tuple[float, float] | None = None
    stakes_per_plot: int = 2
    pages: str | None = None
    units: UnitSystem = UnitSystem.METRIC


def sheets(
    store: Path,
    trial: str,
    into: Path,
    how: Printing,
    days: Sequence[tuple[date, str]] = (),
) -> tuple[Path, ...]:
    """Write a planned trial's map, stakes, picking sheets, page and workbook into a folder.

    They show what stands there: plants that were swapped, and, but for the stakes themselves, the
    codes of the stakes as they stand on the day of printing. ``days`` are what is due when, for
    the page.

    Raises
    ------
    PrintRefused
        The labels are too small for what must be read on them.
    FileRefused
        The folder cannot be written.
    """
    from trials.paper.bed_map import write_bed_map
    from trials.paper.picking_sheets import write_picking_sheets
    from trials.paper.stakes import LabelStock, write_stakes
    from trials.paper.treatment import Showing
    from trials.paper.trial_page import write_trial_page
    from trials.paper.workbook import write_workbook

    planted = as_it_stands(store, drawn_again(store, trial))
    layout = as_staked(store, planted, how.on)
    showing = Showing.CODE_ALONE if how.blind else Showing.TREATMENT
    stock = LabelStock.grid(how.size) if how.label_mm is None else LabelStock.single(*how.label_mm)
    try:
        into.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise FileRefused(f"{into}: {problem.strerror}. Choose another folder.") from None
    stem = _NO_NAME.sub("-", layout.plan.code)[:LONGEST_STEM].strip()
    names = ("map.pdf", "stakes.pdf", "picking.pdf", "trial.pdf", "workbook.xlsx")
    bed_map, stakes, picking, page, workbook = (into / f"{stem}-{each}" for each in names)
    farm, on, size = how.farm, how.on, how.size
    write_bed_map(layout, bed_map, farm=farm, on=on, size=size)
    write_stakes(
        planted,
        stakes,
        farm=farm,
        on=on,
        stock=stock,
        showing=showing,
        per_plot=how.stakes_per_plot,
        base_url=None if how.pages is None else f"{how.pages.rstrip('/')}{TALLY_OF}",
    )
    write_picking_sheets(
        layout, picking, farm=farm, on=on, size=size, showing=showing, units=how.units
    )
    write_trial_page(layout, page, farm=farm, on=on, size=size, calendar=days)
    write_workbook(layout, workbook, on=on)
    return bed_map, stakes, picking, page, workbook
