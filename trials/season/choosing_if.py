"""Choosing under other prices: the standings if stems brought more or less, or beds cost more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trials import decide
from trials.model.money import CostKind
from trials.model.trial import Trial
from trials.season import net
from trials.season.choosing import OutlookBasis, outlook_of, read_basis
from trials.season.comparing import measure_named
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class MoneyBasis:
    """All that a choice under other prices needs of the store; ``bed_cost`` is per metre now."""

    choice: decide.Choice
    trials: tuple[Trial, ...]
    plots: Mapping[str, pd.DataFrame]
    outlook: OutlookBasis
    bed_cost: float


@dataclass(frozen=True, slots=True)
class MoneyIf:
    """What is different: ``price`` multiplies each stem's price, ``bed_cost`` is per metre."""

    price: float
    bed_cost: float


def money_basis(store: Path, choice: decide.Choice) -> MoneyBasis | None:
    """What the store holds for ``choose_if``; None where the choice was not made in money."""
    if choice.measure.key != net.NET:
        return None
    kept = Store.open(store).remembering()
    trials, plots, outlook = read_basis(kept, choice.crop, choice.rules, kept.plots)
    costs = {cost.kind: cost.amount for cost in kept.costs(choice.crop)}
    return MoneyBasis(choice, trials, plots, outlook, costs[CostKind.BED])


def choose_if(
    basis: MoneyBasis, what_if: MoneyIf, rules: decide.Rules
) -> tuple[decide.Standing, ...]:
    """The standings if each stem brought ``price`` times as much and beds cost something else.

    Formula: a plot's net = net now + (price - 1) x gross - (bed cost then - now), all per metre.
    Limits: As many stems are sold; seed, raising and work cost the same.
    """
    more = what_if.bed_cost - basis.bed_cost
    plots = {
        code: net.with_prices(frame, what_if.price, more) for code, frame in basis.plots.items()
    }
    found = outlook_of(basis.trials, plots, measure_named(net.NET), basis.outlook)
    return decide.standings(found, rules, basis.choice.trial_cost)
