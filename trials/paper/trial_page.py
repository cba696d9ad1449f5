"""The whole trial on one page for the shed: what is asked, where it stands, what to record when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout
from trials.model.trial import MEASURES, Factor, Margin
from trials.model.units import PaperSize, UnitSystem, cm_to_inches
from trials.model.work_safety import WHOLE_TRIAL, cautions
from trials.paper.fitting import Fitted, fit, put
from trials.paper.page import Sheet
from trials.paper.split_blocks import split_blocks_note
from trials.paper.strip_drawing import StripDrawing, bed_words, writing_m
from trials.paper.strips import Strip, beds, groupings
from trials.paper.treatment import level_words
from trials.stats.results import LayoutKind

LARGEST_PT, SMALLEST_PT, STEP_PT = 12.0, 6.0, 0.5
SEVERAL_PAGES_PT = 9.0
LEAD_MM, BED_NAME_MM = 42.0, 20.0
MAP_MM, TALLEST_STRIP_MM, BETWEEN_MM = 70.0, 13.0, 2.2
LABEL_MM, LOWEST_STRIP_MM = 10.0, 3.0
MAP_CODE_PT = 4.5
THIN = 0.35  # the small map's lines, as a share of the large map's
CARE = cautions(*WHOLE_TRIAL)

WHAT_TO_RECORD = (
    ("When planting", "the day, the plants set in each plot, and the seed lot."),
    (
        "Before the first cut",
        (
            "the living plants of every plot, without guards: stems per plant need this count. "
            "Count again after losses."
        ),
    ),
    (
        "Every picking day",
        (
            "for each plot, stems by length and culls by reason. Picked, nothing there: 0. "
            "Due but not picked: missed. Nobody looked: leave it blank."
        ),
    ),
    (
        "Every second or third harvest",
        "the length of a few stems from each plot, taken as they come, not chosen.",
    ),
    (
        "When it happens",
        "a plot lost, and why; pinching, netting, spraying; the first frost; anything odd.",
    ),
    ("At the end", "the last day, and what ended the season."),
)


def write_trial_page(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    calendar: Sequence[tuple[date, str]] = (),
    care: Sequence[str] = CARE,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write the whole trial as a PDF: on one page, on more where that page could not be read.

    Parameters
    ----------
    calendar
        Days with what is due on them; sowing and transplanting of the plan are added.
    care
        The cautions, a sentence or a few each.

    Raises
    ------
    PrintRefused
        A bed or a factor has a name that its place on the page cannot hold.
    FileRefused
        The place cannot be written.
    """
    plan = layout.plan
    title = f"{plan.code}: {plan.crop}, {plan.site}, {plan.season}"
    steps = int((LARGEST_PT - SMALLEST_PT) / STEP_PT)
    one_page = [LARGEST_PT - STEP_PT * step for step in range(steps + 1)]
    for size_pt in (*one_page, SEVERAL_PAGES_PT):
        sheet = Sheet(title, farm, on, size)
        _compose(sheet, layout, size_pt, _days(layout, calendar), care, units)
        if sheet.page_no() == 1:
            break
    sheet.save(path)


def _compose(
    sheet: Sheet,
    layout: PlannedLayout,
    size_pt: float,
    calendar: Sequence[tuple[date, str]],
    care: Sequence[str],
    units: UnitSystem,
) -> None:
    plan = layout.plan
    sheet.say(plan.question, size=size_pt + 3, bold=True)
    sheet.ln(size_pt / 6)
    about = [
        ("Decided by", _measure_words(plan.primary_measure, plan.margin)),
        ("Layout", _layout_words(layout, units)),
        *((_factor_name(factor), _levels(factor, plan.checks)) for factor in plan.factors),
    ]
    if plan.checks:
        about.insert(1, ("Compared with", f"the check: {', '.join(plan.checks)}"))
    _pairs(sheet, about, size_pt)
    _heading(sheet, "Where the plots are", size_pt)
    _small_map(sheet, layout, MAP_MM * size_pt / LARGEST_PT)
    note = split_blocks_note(layout)
    if note:
        sheet.say(note, size=size_pt)
    _heading(sheet, "What to record, and when", size_pt)
    _pairs(sheet, WHAT_TO_RECORD, size_pt)
    if calendar:
        _heading(sheet, "Calendar", size_pt)
        _pairs(sheet, [(day.isoformat(), words) for day, words in calendar], size_pt)
    if care:
        _heading(sheet, "Take care", size_pt)
        sheet.say(" ".join(care), size=size_pt)


def _days(
    layout: PlannedLayout, calendar: Sequence[tuple[date, str]]
) -> Sequence[tuple[date, str]]:
    plan = layout.plan
    own = ((plan.sow_on, "sow"), (plan.transplant_on, "plant out"))
    return sorted({*calendar, *((day, words) for day, words in own if day is not None)})


def _measure_words(key: str, margin: Margin | None) -> str:
    """The measure that decides, and the difference that does not matter."""
    measure = next((measure for measure in MEASURES if measure.key == key), None)
    if measure is None:
        return key
    words = f"{measure.label}: {measure.meaning}."
    if margin is not None:
        unit = "%" if margin.percent else f" {measure.unit}"
        words += f" A difference under {margin.value:g}{unit} does not matter to you."
    return words


def _layout_words(layout: PlannedLayout, units: UnitSystem) -> str:
    plan = layout.plan
    spacing = f"{plan.planting.spacing_cm:g} cm"
    if units is UnitSystem.US:
        spacing = f"{round(cm_to_inches(plan.planting.spacing_cm), 2):g} in"
    guards = ""
    if plan.guard_plants:
        plants = "guard plant" if plan.guard_plants == 1 else "guard plants"
        guards = f", {plan.guard_plants} {plants} at each end of a row, never counted"
    often = f"each treatment {plan.replicates} times"
    if plan.kind is LayoutKind.AUGMENTED_BLOCKS:
        often = "the checks in every block and every other entry once"
    return (
        f"{len(layout.plots)} plots, {plan.kind.value}, {often}; "
        f"{plan.plants_per_plot} plants counted in a plot{guards}; "
        f"{plan.planting.rows} rows, {spacing} apart in the row."
    )


def _factor_name(factor: Factor) -> str:
    name = factor.name.replace("_", " ")
    return f"{name[:1].upper()}{name[1:]} (on {factor.applied_to.value}s)"


def _levels(factor: Factor, checks: Iterable[str]) -> str:
    marked = (
        f"{level_words(factor.name, level)}{' (check)' if level in checks else ''}"
        for level in factor.levels
    )
    return f"{len(factor.levels)}: {'; '.join(marked)}"


def _heading(sheet: Sheet, text: str, size_pt: float) -> None:
    sheet.ln(size_pt / 5)
    sheet.say(text, size=size_pt + 1.5, bold=True)


def _pairs(sheet: Sheet, rows: Iterable[tuple[str, str]], size_pt: float) -> None:
    """Rows of a lead in bold and a text beside it, both wrapped."""
    beside = sheet.epw - LEAD_MM - sheet.c_margin
    for lead, text in rows:
        bold = fit(
            sheet, lead, LEAD_MM - 3, 100, largest_pt=size_pt, smallest_pt=size_pt, bold=True
        )
        plain = fit(sheet, text, beside, 1000, largest_pt=size_pt, smallest_pt=size_pt)
        if bold is None or plain is None:
            raise PrintRefused(f"There is no room to print {lead!r}. Use a shorter name.")
        height = max(bold.height_mm, plain.height_mm)
        if sheet.will_page_break(height):
            sheet.add_page()
        top = sheet.get_y()
        left = sheet.l_margin + sheet.c_margin  # in line with the paragraphs
        put(sheet, bold, left, top, LEAD_MM - 3, bold.height_mm, Align.L)
        put(sheet, plain, left + LEAD_MM, top, beside, plain.height_mm, Align.L)
        sheet.set_xy(sheet.l_margin, top + height + 0.8)


def _small_map(sheet: Sheet, layout: PlannedLayout, height_mm: float) -> None:
    """The beds from end to end with the codes of their plots, to scale along the beds alone."""
    width = sheet.epw - BED_NAME_MM
    strips = _strips(sheet, layout, width)
    scale = max(strip.end_m - strip.start_m for strip in strips) * 1000 / width
    labels = [_strip_label(sheet, strip) for strip in strips]
    shared_mm = min(TALLEST_STRIP_MM, height_mm / len(strips) - BETWEEN_MM)
    strip_mm = max(shared_mm, LOWEST_STRIP_MM, *(label.height_mm for label in labels))
    if sheet.will_page_break(len(strips) * (strip_mm + BETWEEN_MM) + BETWEEN_MM):
        sheet.add_page()
    drawing = StripDrawing(
        sheet,
        scale,
        groupings(layout),
        {plot.code: "" for plot in layout.plots},
        smallest_code_pt=MAP_CODE_PT,
        lines=THIN,
    )
    top = sheet.get_y() + BETWEEN_MM / 2
    for strip, label in zip(strips, labels, strict=True):
        left = sheet.l_margin + sheet.c_margin
        put(sheet, label, left, top, BED_NAME_MM - 2, strip_mm, Align.L)
        # The strip is drawn as high as there is room for, whatever the width of the bed.
        as_high = replace(strip, width_m=strip_mm * scale / 1000)
        drawing.bed(as_high, sheet.l_margin + BED_NAME_MM, top)
        top += strip_mm + BETWEEN_MM
        if top > sheet.page_break_trigger:  # far too many beds: a page more, so smaller type
            sheet.add_page()
            top = sheet.get_y()
    sheet.set_xy(sheet.l_margin, top)


def _strip_label(sheet: Sheet, strip: Strip) -> Fitted:
    part = f" ({strip.part}/{strip.parts})" if strip.parts > 1 else ""
    way = {True: " →", False: " ←", None: ""}[strip.walked_upwards]
    text = f"{bed_words(strip.bed)}{part}{way}"
    label = fit(sheet, text, BED_NAME_MM - 3, LABEL_MM, largest_pt=8, smallest_pt=4)
    if label is None:
        raise PrintRefused(f"There is no room to print {text!r}. Give the bed a shorter name.")
    return label


def _strips(sheet: Sheet, layout: PlannedLayout, width_mm: float) -> tuple[Strip, ...]:
    """The beds, cut only where the codes could not be read otherwise."""
    longest_code = max(sheet.width_mm(plot.code, MAP_CODE_PT, bold=True) for plot in layout.plots)
    narrowest = min(writing_m(plot) for plot in layout.plots)
    longest_plot = max(plot.length_m for plot in layout.plots)
    readable_m = width_mm * narrowest / (longest_code + 1)
    return tuple(
        strip for cut in beds(layout, max(readable_m, longest_plot)) if cut for strip in cut
    )
