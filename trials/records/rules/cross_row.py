"""Judges new rows against each other, against other files, and against what the store holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong, hint, shown
from trials.records.mapping.plot_codes import spelled_alike
from trials.records.rules import crops, events, levels, money, picking, purchases, swaps
from trials.records.rules import field as ground
from trials.records.rules.forms import Column
from trials.records.rules.plausibility import hold_unlikely
from trials.records.rules.reference_data import World
from trials.records.rules.validation import Judged

Rule = Callable[[Judged, World, Faults], None]

RULES: Mapping[Sheet, tuple[Rule, ...]] = {
    Sheet.SITES: (),
    Sheet.SEASONS: (ground.season_runs_forward,),
    Sheet.VARIETIES: (levels.varieties_are_spelled_alike,),
    Sheet.CROPS: (crops.crops_are_spelled_alike, crops.value_is_possible),
    Sheet.CURRENCIES: (money.one_currency_is_own,),
    Sheet.PRICES: (crops.crops_are_spelled_alike, money.weeks_are_priced_once),
    Sheet.COSTS: (crops.crops_are_spelled_alike,),
    Sheet.SEED_HOUSES: (),
    Sheet.SEED_ITEMS: (purchases.item_is_one_packet,),
    Sheet.SEED_LOTS: (purchases.house_sells_item,),
    Sheet.SEED_STOCK: (),
    Sheet.GERMINATION_TESTS: (purchases.no_more_germinate_than_were_laid_out,),
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
        events.spray_is_told_whole,
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


def _remedy(name: str, names: frozenset[str], sheet: Sheet) -> str:
    """What to do about a name that is not known; of a plot never another plot's code."""
    if sheet is not Sheet.PLOTS:
        return hint(name, names, f"Add it to a file of {sheet.value.replace('_', ' ')}.")
    alike = spelled_alike(name, names)
    if alike is not None:
        return f"Did you mean {shown(alike)}?"
    few = f"The plots are: {', '.join(sorted(names))}. " if 0 < len(names) <= 8 else ""
    return f"{few}Write the code on the plot's stake, or add the plot to a file of plots."


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
                _remedy(name, names, sheet),
            )
        return said[name]

    judged.fault(faults, unknown, column.name, words)
