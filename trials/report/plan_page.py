"""A layout in words: how many plots and plants, on how much bed, and what it will tell."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.layout.detectable import Detectable
from trials.layout.plan import PlannedLayout
from trials.report.figures import count
from trials.report.grid import wrapped


def plan_page(layout: PlannedLayout, tells: Sequence[Detectable], *, dry_run: bool) -> str:
    """What was laid out, and the smallest differences it will be able to tell."""
    plan = layout.plan
    title = f"{plan.code}: {plan.question}"
    plants = sum(plot.plants_set for plot in layout.plots)
    guards = sum(plot.guards_set for plot in layout.plots)
    metres = sum(plot.length_m for plot in layout.plots)
    there = sum(bed.length_m for bed in plan.beds)
    lines = [
        f"Layout      {plan.kind}, {count(plan.replicates, 'replicate')}",
        f"Plots       {len(layout.plots)}, from {layout.plots[0].code} to {layout.plots[-1].code}",
        f"Plants      {plants:,} that are picked and counted, and {count(guards, 'guard plant')}",
        f"Beds        {metres:.1f} m of the {there:g} m there are",
        f"Seed        {plan.seed} of the lot: the same seed draws the same layout",
    ]
    told = "\n".join(wrapped(_tells(row)) for row in tells)
    stored = "Nothing was stored." if dry_run else f"Stored. Print it: tallybed sheets {plan.code}"
    head = f"{title}\n{'═' * len(title)}"
    tell = f"What it will be able to tell, if plots vary as usual\n{told}"
    return "\n\n".join([head, "\n".join(lines), tell, stored]) + "\n"


def sheets_page(files: Sequence[Path]) -> str:
    """Which files were written."""
    return "Written\n" + "\n".join(f"  {path}" for path in files) + "\n"


def _tells(row: Detectable) -> str:
    between = row.difference.comparing
    if row.difference.within:
        between += f" within {', '.join(row.difference.within)}"
    between += f" ({row.difference.between})"
    if not row.found:
        return f"{between}: nothing, there are too few plots to judge luck by."
    figures = "; ".join(f"{each.family}: {each.found_percent:.0f} %" for each in row.found)
    return f"{between}: a difference is found {row.chance * 100:.0f} times in 100 from {figures}."
