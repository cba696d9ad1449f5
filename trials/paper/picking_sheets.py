"""Sheets to take to the plots: picking days, stand counts and stem lengths."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from pathlib import Path

from trials.layout.plan import PlannedLayout, TrialPlan
from trials.model.saleable import shortest_grade
from trials.model.units import PaperSize, UnitSystem, grade_in_inches
from trials.model.work_safety import AT_THE_PLOTS, IN_THE_PLOTS
from trials.paper.plot_sheets import Boxes, PlotSheet, write_plot_sheets
from trials.paper.treatment import Showing

CULL_REASONS = ("short", "crooked", "insects", "rain", "other")
STEMS_SAMPLED = 6
STAND_COUNTS = 3
_PICKING = (
    ("Nobody looked:", "leave the whole row blank."),
    (
        "Picked, nothing there:",
        "write 0 in the first box. Next to a figure, a blank box means none.",
    ),
    ("Missed:", "tick the box if the plot was due and not picked. Write nothing else."),
    ("Guard plants:", "never count them, and never put their stems into a plot's bunches."),
)
_STANDS = (
    ("When:", "before the first cut, and again after losses. Write the day above each count."),
    ("What:", "the plot's living plants. Never count guard plants."),
    ("Nobody counted:", "leave the box blank. Write 0 only where every plant is dead."),
)
_LENGTHS = (
    ("When:", "on a picking day, from plots picked that day."),
    ("Which stems:", "as they come, short ones too, but no culls. Do not choose the best."),
    ("Not measured:", "leave the box blank."),
)
_DATE, _WHO, _WEATHER = (0.28, "Date"), "Picker", "Weather"


def grade_headings(
    grades_cm: Sequence[int], units: UnitSystem = UnitSystem.METRIC
) -> tuple[str, ...]:
    """The length grades as headings: their span, and in centimetres the inches below it.

    Stems are graded by whole centimetres, so that in cm a grade ends one short of the next.
    """
    steps = sorted(set(grades_cm))
    if units is UnitSystem.US:
        inches = [f"{grade_in_inches(low):g}" for low in steps]
        spans = [f"{low}–{high} in" for low, high in pairwise(inches)]
        spans += [f"{longest}+ in" for longest in inches[-1:]]
        return tuple(spans)
    spans = [f"{low}–{high - 1} cm" for low, high in pairwise(steps)]
    spans += [f"{longest}+ cm" for longest in steps[-1:]]
    return tuple(
        f"{span}\n{grade_in_inches(low):g} in" for low, span in zip(steps, spans, strict=True)
    )


def _by_length(plan: TrialPlan, units: UnitSystem) -> tuple[Boxes, ...]:
    """The boxes of the length grades, those that cannot be sold apart from the stems to sell."""
    steps = sorted(set(plan.grades_cm))
    headings = grade_headings(steps, units)
    short = sum(step < shortest_grade(plan.minimum_length_cm) for step in steps)
    parts = (
        ("Too short to sell", headings[:short]),
        ("Stems to sell, by length", headings[short:]),
    )
    return tuple(Boxes(heading, each) for heading, each in parts if each)


def write_picking_sheets(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    picking_days: Sequence[date | None] = (None,),
    cull_reasons: Sequence[str] = CULL_REASONS,
    showing: Showing = Showing.TREATMENT,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write the sheets to take to the beds on picking days as a PDF.

    Parameters
    ----------
    picking_days
        A sheet is made for each; None leaves its date to be written. Every page of a sheet has
        its own date, so that pages may be shared out.
    cull_reasons
        A box for each.
    showing
        Whether the sheet says what grows in a plot.
    units
        The units in which the farm measures stems; under centimetres the inches are printed.

    Raises
    ------
    PrintRefused
        There are more boxes than the paper is wide.
    FileRefused
        The place cannot be written.
    """
    grades, reasons = layout.plan.grades_cm, tuple(cull_reasons)
    sheet = PlotSheet(
        title=f"Picking sheet, {layout.plan.code}",
        fields=(_DATE, (0.34, _WHO), (0.38, _WEATHER)),
        how=_PICKING,
        boxes=(
            *_by_length(layout.plan, units),
            Boxes("Culls, by reason", reasons),
        ),
        work=AT_THE_PLOTS,
        tick="Missed",
        too_wide=(
            f"{len(grades)} length grades and {len(reasons)} reasons for culling need more boxes "
            "than fit the paper. Name fewer reasons, or use wider grades."
        ),
    )
    write_plot_sheets(
        sheet, layout, path, farm=farm, on=on, size=size, days=picking_days, showing=showing
    )


def write_stand_sheets(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    showing: Showing = Showing.TREATMENT,
) -> None:
    """Write the sheet for counting living plants as a PDF, with boxes for several counts.

    A place that cannot be written is a `FileRefused`.
    """
    sheet = PlotSheet(
        title=f"Stand counts, {layout.plan.code}",
        fields=((0.5, "Counted by"), (0.5, "Notes")),
        how=_STANDS,
        boxes=(
            Boxes(
                "Living plants, under the day of each count",
                ("____-__-__",) * STAND_COUNTS,
                1.8,
            ),
        ),
        work=IN_THE_PLOTS,
    )
    write_plot_sheets(
        sheet, layout, path, farm=farm, on=on, size=size, days=(None,), showing=showing
    )


def write_length_sheets(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    showing: Showing = Showing.TREATMENT,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write the sheet for measuring stems of each plot as a PDF.

    A place that cannot be written is a `FileRefused`.
    """
    unit = "in" if units is UnitSystem.US else "cm"
    sheet = PlotSheet(
        title=f"Stem lengths, {layout.plan.code}",
        fields=(_DATE, (0.72, "Measured by")),
        how=_LENGTHS,
        boxes=(
            Boxes(
                f"Length of each stem, {unit}",
                tuple(f"stem {number}" for number in range(1, STEMS_SAMPLED + 1)),
            ),
        ),
        work=IN_THE_PLOTS,
    )
    write_plot_sheets(
        sheet, layout, path, farm=farm, on=on, size=size, days=(None,), showing=showing
    )
