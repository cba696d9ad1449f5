"""The paper of a planned trial: map, stakes, sheets to fill in, page for the shed and workbook."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trials.errors import FileRefused, TallybedError
from trials.layout.plan import PlannedLayout
from trials.model.units import PaperSize, UnitSystem
from trials.season.field import as_it_stands, as_staked
from trials.season.planning import drawn_again
from trials.store import Store

# The page for the phone at the plots, with the code of a plot behind it.
TALLY_OF = "/plots?plot="
LONGEST_STEM = 60
_NO_NAME = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')  # in no file's name on one system or another


@dataclass(frozen=True, slots=True)
class Printing:
    """How a trial's sheets are printed.

    ``farm`` and the day ``on`` stand on every sheet. ``blind`` leaves the treatments off stakes and
    picking sheets. ``label_mm`` is the width and height of a label printer's labels, None for
    sheets of labels. ``pages`` is where the dashboard is served: with it a stake has a code that
    opens its plot's tally on a phone. ``units`` are those of every sheet.
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
    """Write all of a planned trial's sheets and its workbook into a folder, or none of them.

    They show what stands there: plants that were swapped, and, but for the stakes themselves, the
    codes of the stakes as they stand on the day of printing. ``days`` are what is due when, for
    the page. The files are drawn in a folder of their own first; a failure leaves the folder as
    it was.

    Raises
    ------
    PrintRefused
        The labels are too small for what must be read on them.
    FileRefused
        The folder cannot be written.
    """
    kept = Store.open(store)
    planted = as_it_stands(store, drawn_again(store, trial))
    layout = as_staked(store, planted, how.on)
    germination = {str(name): float(share) for name, share in kept.germination().items()}
    stem = _NO_NAME.sub("-", layout.plan.code)[:LONGEST_STEM].strip()
    made = _folders_to_make(into)
    try:
        into.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".sheets-", dir=into) as drawn:
            names = _draw(planted, layout, Path(drawn) / stem, how, days, germination)
            _put_in_place(names, Path(drawn), into)
    except OSError as problem:
        _remove(made)
        raise FileRefused(
            f"{into}: {problem.strerror or problem}. Nothing was printed. Choose another folder, "
            "and close its files if they are open."
        ) from None
    except TallybedError:
        _remove(made)
        raise
    return tuple(into / name for name in names)


def _draw(
    planted: PlannedLayout,
    layout: PlannedLayout,
    stem: Path,
    how: Printing,
    days: Sequence[tuple[date, str]],
    germination: Mapping[str, float],
) -> tuple[str, ...]:
    """Draw every sheet beside ``stem``; returns the names of the files."""
    from trials.paper.bed_map import write_bed_map
    from trials.paper.picking_sheets import (
        write_length_sheets,
        write_picking_sheets,
        write_stand_sheets,
    )
    from trials.paper.sowing_list import write_sowing_list
    from trials.paper.stakes import LabelStock, write_stakes
    from trials.paper.treatment import Showing
    from trials.paper.trial_page import write_trial_page
    from trials.paper.workbook import write_workbook

    showing = Showing.CODE_ALONE if how.blind else Showing.TREATMENT
    stock = LabelStock.grid(how.size) if how.label_mm is None else LabelStock.single(*how.label_mm)
    names = (
        *("map.pdf", "stakes.pdf", "sowing.pdf", "stands.pdf", "picking.pdf", "lengths.pdf"),
        *("trial.pdf", "workbook.xlsx"),
    )
    files = tuple(stem.with_name(f"{stem.name}-{each}") for each in names)
    bed_map, stakes, sowing, stands, picking, lengths, page, workbook = files
    farm, on, size = how.farm, how.on, how.size
    write_bed_map(layout, bed_map, farm=farm, on=on, size=size, units=how.units)
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
    write_sowing_list(layout, sowing, farm=farm, on=on, size=size, germination=germination)
    write_stand_sheets(layout, stands, farm=farm, on=on, size=size, showing=showing)
    write_picking_sheets(
        layout, picking, farm=farm, on=on, size=size, showing=showing, units=how.units
    )
    write_length_sheets(
        layout, lengths, farm=farm, on=on, size=size, showing=showing, units=how.units
    )
    write_trial_page(layout, page, farm=farm, on=on, size=size, calendar=days, units=how.units)
    write_workbook(layout, workbook, on=on, showing=showing, units=how.units)
    return tuple(file.name for file in files)


def _put_in_place(names: Sequence[str], drawn: Path, into: Path) -> None:
    """Move files where they belong; where one cannot be moved, those before it go back."""
    before = drawn / "before"
    before.mkdir()
    placed: list[str] = []
    try:
        for name in names:
            if (into / name).exists():
                (into / name).replace(before / name)
            placed.append(name)
            (drawn / name).replace(into / name)
    except OSError:
        for name in placed:
            (into / name).unlink(missing_ok=True)
            if (before / name).exists():
                (before / name).replace(into / name)
        raise


def _folders_to_make(into: Path) -> list[Path]:
    """The folders on the way to a folder that are not there yet, the innermost first."""
    return [folder for folder in (into, *into.parents) if not folder.exists()]


def _remove(made: Sequence[Path]) -> None:
    for folder in made:
        if folder.exists():
            folder.rmdir()
