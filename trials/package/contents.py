"""Which rows of the store are a trial's own, sheet by sheet."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING

from trials.model.rows import Sheet
from trials.records.rules.forms import FORMS

if TYPE_CHECKING:
    import pandas as pd

    from trials.model.rows import Known

_OF_PLOTS = (Sheet.STAND_COUNTS, Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.SCORES)


def contents(
    known: Known, trial: str, lots_then: AbstractSet[str] = frozenset()
) -> Mapping[Sheet, pd.DataFrame]:
    """The trial's rows and those they refer to, in the columns of the sheets.

    Sheets without a row are left out, and so are the columns of other trials' factors. Seed lots
    are those that plots are said to be sown from, and ``lots_then``: those they once were.
    """
    frames = known.frames
    own = _where(frames[Sheet.TRIALS], "trial", {trial})
    plots = _where(frames[Sheet.PLOTS], "trial", {trial})
    plots = plots.drop(columns=[name for name in _factors(plots) if plots[name].isna().all()])
    sites = set(own["site"])
    seasons = _where(_where(frames[Sheet.SEASONS], "site", sites), "season", set(own["season"]))
    lots = _where(frames[Sheet.SEED_LOTS], "lot", lots_then | set(plots["lot"].dropna()))
    sold = frames[Sheet.SEED_ITEMS]
    bought = set(zip(lots["house"], lots["item"], strict=True))
    keys = zip(sold["house"], sold["item"], strict=True)
    items = sold.loc[[place for place, key in zip(sold.index, keys, strict=True) if key in bought]]
    grown = set(plots["variety"].dropna()) if "variety" in plots else set()
    found = {
        Sheet.SITES: _where(frames[Sheet.SITES], "site", sites),
        Sheet.SEASONS: seasons,
        Sheet.VARIETIES: _varieties(
            frames[Sheet.VARIETIES], grown | set(items["variety"]), str(own["crop"].iloc[0])
        ),
        Sheet.SEED_HOUSES: _where(frames[Sheet.SEED_HOUSES], "house", set(lots["house"])),
        Sheet.SEED_ITEMS: items,
        Sheet.SEED_LOTS: lots,
        Sheet.TRIALS: own,
        Sheet.PLOTS: plots,
        Sheet.EVENTS: _where(frames[Sheet.EVENTS], "trial", {trial}),
    }
    codes = set(plots["plot"])
    found |= {sheet: _where(frames[sheet], "plot", codes) for sheet in _OF_PLOTS}
    return {sheet: found[sheet] for sheet in Sheet if sheet in found and len(found[sheet])}


def _varieties(held: pd.DataFrame, wanted: set[str], crop: str) -> pd.DataFrame:
    """The varieties; one that a plan named and nobody described yet is of the trial's crop."""
    import pandas as pd

    found = _where(held, "variety", wanted)
    new = sorted(wanted - set(found["variety"]))
    if not new:
        return found
    rows = pd.DataFrame({"variety": new, "crop": crop}, dtype=object)
    return pd.concat([found, rows.reindex(columns=held.columns, fill_value=None)])


def _where(table: pd.DataFrame, column: str, values: AbstractSet[object]) -> pd.DataFrame:
    return table[table[column].isin(values)]


def _factors(plots: pd.DataFrame) -> list[str]:
    fixed = FORMS[Sheet.PLOTS].names
    return [str(name) for name in plots.columns if name not in fixed]
