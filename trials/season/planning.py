"""From a plan to a trial in the store, and back to the layout it was drawn as."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import StoreDamaged, TrialState
from trials.layout.calendar import TaskKind
from trials.layout.field.codes import PLOTS_A_SEASON, plot_code
from trials.layout.field.neighbours import neighbours
from trials.layout.laying_out import digest, lay_out
from trials.layout.plan import PlannedLayout
from trials.layout.proposals import told
from trials.model.rows import NOBODY, Batch, Sheet, Signed
from trials.model.trial import EventKind, Margin
from trials.records.plan.file import plan_text, stored_plan, written_plan
from trials.records.plan.proposed import Dates, Planned
from trials.records.plan.text import with_taken
from trials.records.rules.factors import say_factors
from trials.season.plan_names import new_names
from trials.season.proposing import plan_dates, proposed
from trials.store import Store
from trials.store.plans import KeptPlan

if TYPE_CHECKING:
    from trials.model.rows import Known


def plan(
    store: Path,
    plan_file: Path,
    *,
    take: int | None = None,
    dry_run: bool = False,
    signed: Signed = NOBODY,
) -> Planned:
    """Lay the trial of a plan's file out; see ``plan_from_text``."""
    text = plan_text(plan_file)
    return plan_from_text(store, text, plan_file.name, take=take, dry_run=dry_run, signed=signed)


def plan_from_text(
    store: Path,
    text: str,
    file: str = "the plan",
    *,
    take: int | None = None,
    dry_run: bool = False,
    signed: Signed = NOBODY,
) -> Planned:
    """Lay a trial out and store it with its plots, its plan and its new names, all or nothing.

    A site, season or variety that the store lacks is checked like a typed row and stored too.

    A form goes the same way as a file: ``text = plan_text_of(values)`` from what was filled in, by
    the keys of the file; ``asked = propose(store, text)`` and ``proposals_table(asked)`` to choose
    from; ``plan_from_text(store, text, take=number)``; then ``sheets`` and ``calendar`` by the
    trial's code. A refusal's faults carry the key they belong to in ``fault.column``.

    ``take`` is the number of one of ``propose(store, text).offers``; None lays the plan out as it
    is written. What was taken is kept in the stored plan's part ``[taken]``. The plots are numbered
    after those of the season that the store holds. A store is made where there is none. A dry run
    stores nothing and needs no store.

    Raises
    ------
    FileRefused, RecordsRefused
        The text cannot be read as a plan or cannot be right.
    PlanRefused
        It does not fit the beds, or there is no such proposal.
    TrialState
        There is a trial of that code, or neither store nor plan has the season at that site.
    """
    written = written_plan(text, file)
    kept = Store.open(store) if store.exists() else None
    asked = proposed(kept, written)
    chosen = asked.taken(take)
    whole_text = with_taken(text, written, chosen.plan)
    known = None if kept is None else kept.known()
    if known is not None and written.plan.code in set(known.frames[Sheet.TRIALS]["trial"]):
        raise TrialState(
            f"There is already a trial {written.plan.code}, and its layout cannot change. "
            "Give the plan another code. Record changes in the field as events."
        )
    first = 1 if known is None else _first_number(written.plan.season, known)
    layout = lay_out(replace(chosen.plan, first_number=first))
    sized = asked.spread
    tells = told(layout.plan, sized, layout.efficiency)
    number = 1 + asked.offers.index(chosen)
    planned = Planned(
        layout, digest(layout), tells, asked, number, neighbours(layout), not store.exists()
    )
    if not dry_run:
        batch = _batch(layout, new_names(kept, written), written.happened.get(TaskKind.TRANSPLANT))
        (Store.create(store) if kept is None else kept).add_planned(
            written.plan.code,
            batch,
            KeptPlan(whole_text, first, planned.digest),
            signed,
        )
    return planned


def planned(store: Path) -> tuple[str, ...]:
    """The trials that were laid out from a plan, the newest first."""
    return Store.open(store).planned()


def calendar(store: Path, trial: str) -> Dates:
    """The calendar of a planned trial, moved by what its plan's file and the records say happened.

    From the records: the day of planting out, pinching, netting,
    the first cut, and the closing as the last one.
    """
    kept = Store.open(store)
    written = stored_plan(kept.plan(trial).text, f"the plan of {trial}")
    return plan_dates(kept, written, _seen(kept, trial))


def _seen(kept: Store, trial: str) -> dict[TaskKind, date]:
    """What the records say was done: the first day of each piece of work."""
    plots, events = kept.plots(trial), kept.events(trial)
    closing = kept.closing(trial)
    days = {
        TaskKind.TRANSPLANT: list(plots["transplanted_on"].dropna()),
        TaskKind.PINCH: list(events["happened_on"][events["kind"] == EventKind.PINCHED]),
        TaskKind.NET: list(events["happened_on"][events["kind"] == EventKind.NETTED]),
        TaskKind.FIRST_CUT: list(plots["first_cut"].dropna()),
        TaskKind.LAST_CUT: [] if closing is None else [closing.closed_on],
    }
    return {kind: min(found) for kind, found in days.items() if found}


def drawn_again(store: Path, trial: str) -> PlannedLayout:
    """The layout of a planned trial, drawn from its plan and proved to be the one stored."""
    kept = Store.open(store).plan(trial)
    asked = stored_plan(kept.text, f"the plan of {trial}")
    layout = lay_out(replace(asked.plan, first_number=kept.first_number))
    if digest(layout) != kept.digest:
        raise StoreDamaged(
            f"The plan of trial {trial} no longer gives the stored layout. Its plots are "
            "unchanged. Restore a backup to print from."
        )
    return layout


def _first_number(season: int, known: Known) -> int:
    held = set(known.frames[Sheet.PLOTS]["plot"])
    numbers = range(1, PLOTS_A_SEASON)
    return 1 + max((n for n in numbers if plot_code(season, n) in held), default=0)


def _batch(layout: PlannedLayout, names: Batch, planted_on: date | None) -> Batch:
    """The trial and its plots as rows of the sheets they would have come in, with new names.

    ``planted_on`` is the day it was planted out, if it was: a day that is planned is no record.
    """
    import pandas as pd

    asked = layout.plan
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
        "equivalence_margin": _margin_text(asked.margin),
        "minimum_length_cm": asked.minimum_length_cm,
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
            "transplanted_on": planted_on,
        }
        for plot in layout.plots
    ]
    frames = {
        **names.frames,
        Sheet.TRIALS: pd.DataFrame([trial]),
        Sheet.PLOTS: pd.DataFrame(plots),
    }
    return Batch(frames, (), {})


def _margin_text(margin: Margin | None) -> str | None:
    if margin is None:
        return None
    return f"{margin.value:g} %" if margin.percent else f"{margin.value:g}"
