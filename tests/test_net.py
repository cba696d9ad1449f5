"""What a net rests on: prices and costs that the records lack are named, each with its remedy."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trials.model.money import CostKind
from trials.season import net

PLOTS = pd.DataFrame(
    {
        "variety": ["Ember", "Fern", "Fern"],
        "marketable_stems": [10.0, 8.0, None],
        net.GROSS: [5.0, 4.0, None],
        net.NET: [3.0, 2.5, None],
        net.SEED: [0.5, 0.25, None],
    }
)
TRIAL = SimpleNamespace(code="Z26", crop="zinnia", factors=())


def kept(**changed: Any) -> Any:
    """A store that has a price, every cost and no event."""
    answers = {
        "prices": lambda crop: ("a price",),
        "costs": lambda crop: [SimpleNamespace(kind=kind, amount=1.0) for kind in CostKind],
        "events": lambda code: {"kind": []},
    }
    return SimpleNamespace(**{**answers, **changed})


def lacking(frame: pd.DataFrame = PLOTS, **changed: Any) -> tuple[str, ...]:
    return net.lacking(kept(**changed), [TRIAL], {"Z26": frame})  # type: ignore[list-item]


def test_a_plot_that_was_never_picked_lacks_nothing() -> None:
    assert lacking() == ()


def test_seed_and_stems_without_a_price_are_named() -> None:
    (seed,) = lacking(PLOTS.assign(**{net.SEED: np.array([np.nan, 0.25, np.nan])}))
    assert seed.startswith("The seed of Ember is on no price list")
    (stems,) = lacking(PLOTS.assign(**{net.GROSS: np.array([5.0, np.nan, np.nan])}))
    assert "Some stems of Z26 have no price" in stems
    (none,) = lacking(
        PLOTS.assign(**{net.GROSS: np.array([5.0, np.nan, np.nan])}), prices=lambda crop: ()
    )
    assert "No stem of zinnia has a price" in none


@pytest.mark.parametrize(("kinds", "missing"), [([], "bed"), (["pinched"], "pinching")])
def test_what_a_treatment_costs_is_asked_where_it_was_given(kinds: list[str], missing: str) -> None:
    some = [kind for kind in CostKind if kind is not CostKind(missing)]
    costs = [SimpleNamespace(kind=kind, amount=1.0) for kind in some]
    (said,) = lacking(costs=lambda crop: costs, events=lambda code: {"kind": kinds})
    assert said == f"These have no cost: {missing}. Add them to costs.csv."
    if kinds:
        assert lacking(costs=lambda crop: costs) == ()


def test_seed_is_added_back_and_counts_as_a_cost_of_the_newest_trial() -> None:
    assert net.before_seed(PLOTS)[net.NET].tolist()[:2] == [3.5, 2.75]
    older = PLOTS.assign(**{net.SEED: np.array([9.0, 0.75, np.nan])})
    assert net.seed_costs([older, PLOTS]) == {"Ember": -0.5, "Fern": -0.25}
    assert net.seed_costs([older, PLOTS[1:]]) == {"Ember": -9.0, "Fern": -0.25}


@pytest.mark.parametrize(
    ("own", "houses", "expected"),
    [("GBP", ("EUR",), "GBP"), (None, ("EUR", "EUR"), "EUR"), (None, ("EUR", "USD"), "money")],
)
def test_money_is_in_the_farms_currency_or_in_the_one_of_all_its_seed_houses(
    own: str | None, houses: tuple[str, ...], expected: str
) -> None:
    names = {*houses, *filter(None, [own])}
    store = SimpleNamespace(
        currencies=lambda: [SimpleNamespace(name=name, own=name == own) for name in sorted(names)],
        seed_houses=lambda: [SimpleNamespace(currency=name) for name in houses],
    )
    assert net.own_currency(store) == expected  # type: ignore[arg-type]
