"""Tells what a corrected sheet puts in the place of what is held, and what is to be taken out.

A correction gives all rows of what belongs together: of a picking day every grade and cull, of a
measured day every stem. What it does not change is left alone; what it has nothing to put in the
place of is no correction. A withdrawal names rows word for word as they are held.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from trials.errors import Remedy, Verb
from trials.model.columns import Mask, Numbers
from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong
from trials.records.rules.pending import refuse_twice, say
from trials.records.rules.validation import Judged, codes

# The columns whose rows are put right in one go, by sheet.
TOGETHER: Mapping[Sheet, tuple[str, ...]] = {
    Sheet.CROPS: ("crop", "figure"),
    Sheet.CURRENCIES: ("currency",),
    Sheet.PRICES: ("year", "market", "crop", "grade_cm", "from_week"),
    Sheet.COSTS: ("year", "crop", "cost"),
    Sheet.SEED_ITEMS: ("house", "item", "price_year", "from_packs"),
    Sheet.SEED_STOCK: ("lot", "counted_on"),
    Sheet.GERMINATION_TESTS: ("lot", "tested_on"),
    Sheet.PLOTS: ("plot",),
    Sheet.STAND_COUNTS: ("plot", "counted_on"),
    Sheet.CUTS: ("plot", "cut_on"),
    Sheet.STEM_SAMPLES: ("plot", "cut_on"),
    Sheet.SCORES: ("plot", "scored_on", "trait"),
}
# Where only these may differ: the others are names that other records stand on.
MENDABLE: Mapping[Sheet, frozenset[str]] = {
    Sheet.SEED_ITEMS: frozenset({"price", "available", "seed_saving"}),
    Sheet.PLOTS: frozenset({"lot", "plants_set", "net_length_m", "net_area_m2", "transplanted_on"}),
}
WITHDRAWN = frozenset(
    {
        Sheet.CROPS,
        Sheet.CURRENCIES,
        Sheet.PRICES,
        Sheet.COSTS,
        Sheet.SEED_STOCK,
        Sheet.GERMINATION_TESTS,
        Sheet.STAND_COUNTS,
        Sheet.CUTS,
        Sheet.STEM_SAMPLES,
        Sheet.EVENTS,
        Sheet.SCORES,
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class Amended:
    """Rows to bring or to take out, the held rows beside them, and how many stay as they are."""

    rows: Judged
    held: pd.DataFrame
    same: int

    @classmethod
    def beside(cls, held: pd.DataFrame, rows: Judged, same: int) -> Amended:
        """New rows beside all that is held."""
        return cls(rows, held, same)


def corrected(judged: Judged, held: pd.DataFrame, faults: Faults) -> Amended:
    """The rows to put in the place of held ones; ``held`` comes back without those replaced."""
    if judged.sheet not in TOGETHER:
        return _unchangeable(judged, held, faults)
    refuse_twice(judged, faults)
    together = TOGETHER[judged.sheet]
    there, here = codes([(held[name], judged.frame[name]) for name in together])
    clear = judged.clear(*together)
    nothing = clear & ~np.isin(here, there)
    judged.fault(faults, nothing, together[0], lambda record: _nothing_held(judged, record))
    _refuse_names(judged, held, faults, there, here)
    everything = [(_of(held, name), judged.frame[name]) for name in judged.columns]
    row_there, row_here = codes(everything)
    changed = set(here[~np.isin(row_here, row_there)]) | set(there[~np.isin(row_there, row_here)])
    changed &= set(here[clear & ~nothing])
    replaced, brought = np.isin(there, list(changed)), np.isin(here, list(changed))
    return Amended(
        judged.keep(brought),
        held[~replaced].reset_index(drop=True),
        int((~brought & ~nothing).sum()),
    )


def withdrawn(judged: Judged, held: pd.DataFrame, faults: Faults) -> Amended:
    """The rows to take out; ``held`` comes back without them."""
    refuse_twice(judged, faults)
    everything = [(_of(held, name), judged.frame[name]) for name in judged.columns]
    there, here = codes(everything)
    clear = judged.clear(*judged.columns)
    if judged.sheet not in WITHDRAWN:
        wrong = Wrong(
            f"Rows of {_words(judged.sheet)} cannot be withdrawn, as other records need them.",
            "Leave this file out.",
        )
        judged.fault(faults, np.ones(len(judged), dtype=bool), None, wrong)
    else:
        wrong = Wrong.mended_by(
            "No stored row is exactly like this one.",
            Remedy("Copy the row exactly. See what is stored for a plot", Verb.HISTORY, "PLOT"),
        )
        judged.fault(faults, clear & ~np.isin(here, there), None, wrong)
    going = np.isin(there, here)
    return Amended(judged, held[~going].reset_index(drop=True), 0)


def _unchangeable(judged: Judged, held: pd.DataFrame, faults: Faults) -> Amended:
    """Of sheets whose rows are not put right in place, only what is held already may come."""
    refuse_twice(judged, faults)
    everything = [(_of(held, name), judged.frame[name]) for name in judged.columns]
    there, here = codes(everything)
    same = np.isin(here, there)
    other = ~same & judged.clear(*judged.columns)
    if judged.sheet is Sheet.EVENTS:
        wrong = Wrong(
            "No such event is stored, and an event cannot be corrected.",
            "Withdraw the stored event, then load the right one.",
        )
    else:
        wrong = Wrong(
            f"This differs from the stored {_words(judged.sheet)}, which cannot be corrected.",
            "Restore the stored value, or leave the file out.",
        )
    judged.fault(faults, other, None, wrong)
    return Amended(judged.keep(np.zeros(len(judged), dtype=bool)), held, int(same.sum()))


def _refuse_names(
    judged: Judged, held: pd.DataFrame, faults: Faults, there: Numbers, here: Numbers
) -> None:
    """Refuse another block, bed or treatment of a plot, or another variety of a packet."""
    mendable = MENDABLE.get(judged.sheet)
    if mendable is None:
        return
    place = {int(code): row for row, code in enumerate(there)}
    at = np.array([place.get(int(code), -1) for code in here])
    for name in judged.columns:
        if name in mendable:
            continue
        was, now = codes([(_of(held, name), judged.frame[name])])
        other: Mask = (at >= 0) & judged.clear(name)
        other[other] &= now[other] != was[at[other]]
        judged.fault(faults, other, name, partial(_is_a_name, _of(held, name), at))


def _is_a_name(there: pd.Series[Any], at: Numbers, record: int) -> Wrong:
    was = say(there.iloc[at[record]])
    return Wrong(
        f"This cannot be corrected: {was} is stored, and other records need it.",
        "Restore the stored value. Record swaps in the field as events.",
    )


def _nothing_held(judged: Judged, record: int) -> Wrong:
    cells = [(name, judged.cell(record, name)) for name in TOGETHER[judged.sheet]]
    said = ", ".join(f"{name} {say(cell)}" for name, cell in cells if cell is not None)
    return Wrong.mended_by(
        f"Nothing is stored for {said} in {_words(judged.sheet)}, so there is nothing to correct.",
        Remedy("Correct the row, or bring new records", Verb.LOAD, "FILE"),
    )


def _of(held: pd.DataFrame, name: str) -> pd.Series[Any]:
    if name in held.columns:
        return held[name]
    return pd.Series(np.full(len(held), None, dtype=object))


def _words(sheet: Sheet) -> str:
    return sheet.value.replace("_", " ")
