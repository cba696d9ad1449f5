"""Judges new rows against each other, against other files, and against what the store holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trials.batch import Sheet
from trials.records import events, ground, levels, picking, purchases, swaps
from trials.records.faults import Faults, Wrong, hint, shown
from trials.records.judging import Judged
from trials.records.plausible import hold_unlikely
from trials.records.sheets import Column
from trials.records.world import World

Rule = Callable[[Judged, World, Faults], None]

RULES: Mapping[Sheet, tuple[Rule, ...]] = {
    Sheet.SITES: (),
    Sheet.SEASONS: (ground.season_runs_forward,),
    Sheet.VARIETIES: (),
    Sheet.SEED_HOUSES: (),
    Sheet.SEED_ITEMS: (purchases.item_is_one_packet,),
    Sheet.SEED_LOTS: (purchases.house_sells_item,),
    Sheet.TRIALS: (ground.season_is_known, levels.check_is_a_level),
    Sheet.PLOTS: (
        ground.trial_is_open,
        levels.levels_are_filled,
        levels.levels_are_spelled_alike,
        levels.larger_units_are_whole,
        ground.places_are_taken_once,
        ground.rows_have_columns,
        levels.stored_check_is_a_level,
        purchases.lot_is_of_the_variety,
    ),
    Sheet.STAND_COUNTS: (
        picking.trial_is_open,
        picking.plot_is_planted,
    ),
    Sheet.CUTS: (
        picking.trial_is_open,
        picking.plot_is_planted,
        picking.missed_has_nothing,
        picking.picked_has_stems,
        picking.picked_or_missed,
        picking.nothing_after_loss,
    ),
    Sheet.STEM_SAMPLES: (
        picking.trial_is_open,
        picking.sample_has_a_cut,
    ),
    Sheet.EVENTS: (
        ground.trial_is_open,
        events.plot_is_of_the_trial,
        events.event_within_season,
        events.loss_has_plot_and_reason,
        events.planted_once,
        swaps.swap_has_two_plots_and_reason,
        swaps.swaps_can_be_followed,
        swaps.loss_under_its_own_stake,
    ),
    Sheet.SCORES: (
        picking.trial_is_open,
        picking.plot_is_planted,
    ),
}

_ONE_OF: Mapping[Sheet, str] = {
    Sheet.SITES: "site",
    Sheet.VARIETIES: "variety",
    Sheet.SEED_HOUSES: "seed house",
    Sheet.SEED_LOTS: "seed lot",
    Sheet.TRIALS: "trial",
    Sheet.PLOTS: "plot",
}


def cross(judged: Judged, world: World, faults: Faults) -> None:
    """Judge the new rows of one sheet by all that concerns more than one cell."""
    for name in judged.columns:
        names_exist(judged, world, faults, judged.form.column(name))
    for rule in RULES[judged.sheet]:
        rule(judged, world, faults)
    hold_unlikely(judged, world, faults)


def names_exist(judged: Judged, world: World, faults: Faults, column: Column) -> None:
    """The cells of a column name rows of another sheet."""
    sheet = column.sheet
    if sheet is None or sheet in world.unsure:
        return
    names = world.names(sheet)
    unknown = judged.columns[column.name].where(lambda name: name not in names)
    said: dict[str, Wrong] = {}

    def words(record: int) -> Wrong:
        name = judged.cell(record, column.name)
        if name not in said:
            said[name] = Wrong(
                f"There is no {_ONE_OF[sheet]} {shown(name)}.",
                hint(name, names, f"Add it to a file of {sheet.value.replace('_', ' ')}."),
            )
        return said[name]

    judged.fault(faults, unknown, column.name, words)
