"""How to grow each variety: what the newest trial's treatments earn on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from trials import decide
from trials.model.trial import Better, Trial
from trials.season import net
from trials.season.comparing import measure_named
from trials.season.plot_values import plot_table
from trials.stats.design.table import Question
from trials.stats.effects_within import effects_within

if TYPE_CHECKING:
    import pandas as pd

    from trials.store import Store

VARIETY = "variety"


def growing(
    kept: Store, newest: Trial, plots: pd.DataFrame, varieties: Sequence[str]
) -> tuple[decide.Growing, ...]:
    """Per variety what each treatment of the newest trial earns, next to its other levels."""
    found: list[decide.Growing] = []
    prices = _premium(kept, newest)
    for factor in newest.factors:
        if factor.name == VARIETY or len(factor.levels) < 2:
            continue
        first = factor.levels[0]
        of_factor = [
            row
            for other in factor.levels[1:]
            for row in _between(newest, plots, factor.name, (other, first), varieties, prices)
        ]
        for variety in varieties:
            rows = [row for row in of_factor if row.variety == variety]
            # Against the first level: the largest gain over it, or the smallest lead it has.
            over = [row for row in rows if row.level != first]
            if over:
                found.append(max(over, key=lambda row: row.gain))
            elif rows:
                found.append(min(rows, key=lambda row: row.gain))
    return tuple(found)


def _between(
    newest: Trial,
    plots: pd.DataFrame,
    factor: str,
    levels: tuple[str, str],
    varieties: Sequence[str],
    prices: decide.Premium | None,
) -> tuple[decide.Growing, ...]:
    measure = measure_named(net.NET)
    question = Question(alpha=newest.alpha, check=None, better=Better.HIGHER)
    table = plot_table(newest, plots, measure)
    effects = effects_within(table, question, factor, VARIETY, levels)
    if effects is None or effects.df < 2 or not np.isfinite(effects.cov).all():
        return ()
    premium = plots.groupby([VARIETY, factor])[net.PREMIUM].mean()
    premiums = {
        name: float(premium[name, levels[0]] - premium[name, levels[1]])
        for name in effects.levels
        if (name, levels[0]) in premium and (name, levels[1]) in premium
    }
    means = decide.SeasonMeans(
        newest.season, newest.code, effects.levels, effects.means, effects.cov, effects.df
    )
    usual = float(plots[net.GROSS].mean())
    return decide.growing(
        factor, levels, means, premiums, usual=usual, prices=prices, varieties=varieties
    )


def _premium(kept: Store, trial: Trial) -> decide.Premium | None:
    """The longest and the shortest saleable grade, and their prices where stems are paid least."""
    rows = [row for row in kept.prices(trial.crop) if row.grade_cm >= trial.minimum_length_cm]
    least: dict[int, float] = {}
    for row in rows:
        least[row.grade_cm] = min(row.stem_price, least.get(row.grade_cm, row.stem_price))
    if len(least) < 2 or least[min(least)] <= 0:
        return None
    long_cm, short_cm = max(least), min(least)
    return decide.Premium(long_cm, short_cm, least[long_cm] / least[short_cm])
