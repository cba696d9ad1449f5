"""The sowing list: how many seeds of each entry to sow, so that every plot gets its plants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trials.decide.seeds import Raising, seeds_for_plants
from trials.decide.sowing import ASSUMED_GERMINATION, Sowing
from trials.layout.plan import PlannedLayout
from trials.model.units import PaperSize
from trials.model.work_safety import SOWING, cautions
from trials.paper.page import TICK_BOX, Column, Sheet
from trials.paper.treatment import level_words

ENTRY = "variety"


@dataclass(frozen=True, slots=True)
class SowingLine:
    """The seed of one entry; ``germination`` is assumed where no lot in the store says."""

    entry: str
    plots: int
    plants: int
    germination: float
    assumed: bool
    seeds: int


def sowing_lines(
    layout: PlannedLayout, germination: Mapping[str, float], usable: float, overage: float
) -> tuple[SowingLine, ...]:
    """The seeds for each variety, guard plants included; for the crop where none is compared.

    ``germination`` is that of the newest lot, by variety. ``usable`` is the share of seedlings fit
    to plant out, ``overage`` the share sown on top.
    """
    plan = layout.plan
    plants: dict[str, list[int]] = {}
    for plot in layout.plots:
        entry = dict(plot.levels).get(ENTRY, plan.crop)
        plants.setdefault(entry, []).append(plot.plants_set + plot.guards_set)
    order = next((f.levels for f in plan.factors if f.name == ENTRY), (plan.crop,))
    lines = []
    for entry in order:
        rate = germination.get(entry)
        share = ASSUMED_GERMINATION if rate is None else rate
        count = sum(plants.get(entry, ()))
        raising = Raising(survival=1.0, germination=share, usable=usable, overage=overage)
        seeds = seeds_for_plants(count, raising)
        lines.append(
            SowingLine(entry, len(plants.get(entry, ())), count, share, rate is None, seeds)
        )
    return tuple(lines)


def write_sowing_list(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    germination: Mapping[str, float],
) -> None:
    """Write the sowing list as a PDF. A place that cannot be written is a `FileRefused`."""
    plan = layout.plan
    usable, overage = Sowing(1.0).usable, Sowing(1.0).overage
    lines = sowing_lines(layout, germination, usable, overage)
    sheet = Sheet(f"Sowing list of {plan.code}: {plan.crop}, {plan.season}", farm, on, size)
    when = f"Sow on {plan.sow_on.isoformat()}." if plan.sow_on else "Sow on ____________________."
    guards = " Plants include guard plants." if plan.guard_plants else ""
    sheet.say(f"{when}{guards}")
    sheet.ln(2)
    sheet.grid(
        (
            Column("", 3),
            Column("Entry", 22),
            Column("Plots", 6, figures=True),
            Column("Plants", 7, figures=True),
            Column("Germination", 13, figures=True),
            Column("Seeds to sow", 9, figures=True),
            Column("Seed lot, day sown", 16),
        ),
        [
            (
                TICK_BOX,
                level_words(ENTRY, line.entry),
                f"{line.plots}",
                f"{line.plants:,}",
                f"{line.germination:.0%}{' assumed' if line.assumed else ''}",
                f"{line.seeds:,}",
                "",
            )
            for line in lines
        ],
        [
            (
                "",
                "Total",
                "",
                f"{sum(x.plants for x in lines):,}",
                "",
                f"{sum(x.seeds for x in lines):,}",
                "",
            )
        ],
    )
    sheet.ln(2)
    assumed = (
        " 'Assumed' means that no seed lot in the store has a germination. "
        f"{ASSUMED_GERMINATION:.0%} is a cautious guess; check the packet."
        if any(line.assumed for line in lines)
        else ""
    )
    sheet.say(
        f"Seeds = plants ÷ germination ÷ {usable:.0%} (seedlings fit to plant out), plus "
        f"{overage:.0%} extra. Both figures are common practice; change them by hand if yours "
        f"differ.{assumed}"
    )
    sheet.ln(2)
    sheet.say(" ".join(cautions(*SOWING)))
    sheet.save(path)
