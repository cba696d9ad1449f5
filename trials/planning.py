"""From a plan to a trial in the store, and from there to its paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.batch import Batch, Sheet
from trials.errors import FileRefused, PlanRefused, StoreDamaged, TrialState
from trials.layout.codes import PLOTS_A_SEASON, plot_code
from trials.layout.detectable import Detectable, detectable
from trials.layout.drawing import digest, lay_out
from trials.layout.plan import PlannedLayout, TrialPlan
from trials.layout.spread import assumed_spread
from trials.model import Margin
from trials.records.factors import say_factors
from trials.records.plan_file import plan_of, plan_text
from trials.store import Store
from trials.store.plans import KeptPlan

if TYPE_CHECKING:
    from trials.batch import Known


@dataclass(frozen=True, slots=True)
class Planned:
    """A layout with its digest and what it will be able to tell."""

    layout: PlannedLayout
    digest: str
    tells: tuple[Detectable, ...]


def plan(store: Path, plan_file: Path, *, dry_run: bool = False) -> Planned:
    """Lay a trial out and store it with its plots and its plan, all or nothing.

    The plots are numbered after those of the season that the store holds. A dry run stores
    nothing and needs no store.

    Raises
    ------
    FileRefused, RecordsRefused
        The plan's file cannot be read or cannot be right.
    PlanRefused
        It does not fit the beds, or lacks the day of planting out.
    TrialState
        There is a trial of that code, or the store lacks the season at that site.
    """
    text = plan_text(plan_file)
    asked = plan_of(text, plan_file.name)
    if dry_run and not store.exists():
        return _planned(asked)
    kept = Store.open(store)
    known = kept.known()
    if asked.code in set(known.frames[Sheet.TRIALS]["trial"]):
        raise TrialState(f"There is a trial {asked.code} already. Give the plan another code.")
    numbered = replace(asked, first_number=_first_number(asked.season, known))
    planned = _planned(numbered)
    if not dry_run:
        _require_season(asked, known)
        kept.add_planned(
            asked.code,
            _batch(planned.layout),
            KeptPlan(text, numbered.first_number, planned.digest),
        )
    return planned


def drawn_again(store: Path, trial: str) -> PlannedLayout:
    """The layout of a planned trial, drawn from its plan and proved to be the one stored."""
    kept = Store.open(store).plan(trial)
    asked = plan_of(kept.text, f"the plan of {trial}")
    layout = lay_out(replace(asked, first_number=kept.first_number))
    if digest(layout) != kept.digest:
        raise StoreDamaged(
            f"The plan of trial {trial} no longer gives the layout that was stored. "
            "Its plots are as they were; bring back a copy of the store to print from."
        )
    return layout


def sheets(
    store: Path, trial: str, into: Path, *, farm: str, on: date, blind: bool = False
) -> tuple[Path, ...]:
    """Write a planned trial's map, stakes, picking sheets, page and workbook into a folder.

    ``blind`` leaves the treatments off the stakes and picking sheets.
    """
    from trials.paper.bed_map import write_bed_map
    from trials.paper.picking_sheets import write_picking_sheets
    from trials.paper.stakes import write_stakes
    from trials.paper.treatment import Showing
    from trials.paper.trial_page import write_trial_page
    from trials.paper.workbook import write_workbook

    layout = drawn_again(store, trial)
    showing = Showing.CODE_ALONE if blind else Showing.TREATMENT
    try:
        into.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise FileRefused(f"{into}: {problem.strerror}. Choose another folder.") from None
    name = f"{layout.plan.code}-{{}}".replace("/", "-").replace("\\", "-")
    names = ("map.pdf", "stakes.pdf", "picking.pdf", "trial.pdf", "workbook.xlsx")
    bed_map, stakes, picking, page, workbook = (into / name.format(each) for each in names)
    write_bed_map(layout, bed_map, farm=farm, on=on)
    write_stakes(layout, stakes, farm=farm, on=on, showing=showing)
    write_picking_sheets(layout, picking, farm=farm, on=on, showing=showing)
    write_trial_page(layout, page, farm=farm, on=on)
    write_workbook(layout, workbook, on=on)
    return bed_map, stakes, picking, page, workbook


def _planned(asked: TrialPlan) -> Planned:
    layout = lay_out(asked)
    tells = detectable(asked, assumed_spread(), efficiency=layout.efficiency)
    return Planned(layout, digest(layout), tells)


def _first_number(season: int, known: Known) -> int:
    held = set(known.frames[Sheet.PLOTS]["plot"])
    numbers = range(1, PLOTS_A_SEASON)
    return 1 + max((n for n in numbers if plot_code(season, n) in held), default=0)


def _require_season(asked: TrialPlan, known: Known) -> None:
    seasons = known.frames[Sheet.SEASONS]
    held = set(zip(seasons["season"], seasons["site"], strict=True))
    if (asked.season, asked.site) not in held:
        raise TrialState(
            f"The store has no season {asked.season} at {asked.site!r}. "
            "Load sites.csv and seasons.csv with them first: tallybed load FILE"
        )


def _batch(layout: PlannedLayout) -> Batch:
    """The trial and its plots as rows of the sheets they would have come in."""
    import pandas as pd

    asked = layout.plan
    if asked.transplant_on is None:
        raise PlanRefused(
            "The plan has no day of planting out. Add transplant_on = YYYY-MM-DD to it."
        )
    trial: Mapping[str, object] = {
        "trial": asked.code,
        "season": asked.season,
        "site": asked.site,
        "crop": asked.crop,
        "question": asked.question,
        "factors": say_factors([(each.name, each.applied_to) for each in asked.factors]),
        "check": asked.checks[0] if asked.checks else None,
        "primary_measure": asked.primary_measure,
        "alpha": asked.alpha,
        "margin": _margin_text(asked.margin),
        "shortest_length_cm": asked.shortest_length_cm,
    }
    plots = [
        {
            "trial": asked.code,
            "plot": plot.code,
            "block": plot.block,
            "whole_plot": plot.whole_plot,
            "split_plot": plot.split_plot,
            "incomplete_block": plot.incomplete_block,
            "row": plot.row,
            "column": plot.column,
            "bed": plot.bed,
            "position": plot.position,
            **dict(plot.levels),
            "lot": None,
            "plants_set": plot.plants_set,
            "net_length_m": plot.net_length_m,
            "net_area_m2": plot.net_area_m2,
            "transplanted_on": asked.transplant_on,
        }
        for plot in layout.plots
    ]
    frames = {Sheet.TRIALS: pd.DataFrame([trial]), Sheet.PLOTS: pd.DataFrame(plots)}
    return Batch(frames, (), {})


def _margin_text(margin: Margin | None) -> str | None:
    if margin is None:
        return None
    return f"{margin.value:g} %" if margin.percent else f"{margin.value:g}"
