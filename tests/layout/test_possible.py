"""What is possible where a difference is wanted: against the noncentral t, and against the beds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from scipy import stats

from trials.errors import PlanRefused
from trials.layout.fit_to_beds import fits
from trials.layout.plan import TrialPlan
from trials.layout.power.plot_size_variation import SizedSpread, sized_spread
from trials.layout.power.power import Family
from trials.layout.power.sample_size import Possible, family_of, headline, possible, wanted_of
from trials.layout.power.variation import Spread, SpreadSource
from trials.layout.proposals import proposals
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner

K = LayoutKind


def at_15(plan: TrialPlan) -> SizedSpread:
    return sized_spread(Spread(15.0, SpreadSource.STATED), plan.plants_per_plot)


def answer(plan: TrialPlan, percent: float, family: Family = Family.ONE_PAIR) -> Possible:
    return possible(plan, at_15(plan), wanted_of(plan, percent, 0.80, family))


def chance_of_20(replicates: int) -> float:
    """Six entries in complete blocks, CV 15 %, one pair chosen beforehand."""
    df = 5 * (replicates - 1)
    shift = 20 / (15 * (2 / replicates) ** 0.5)
    critical = stats.t.ppf(0.975, df)
    both = stats.nct.sf(critical, df, shift) + stats.nct.cdf(-critical, df, shift)
    return float(both)


def test_two_plots_each_do_not_find_20_per_cent(planner: Planner) -> None:
    """Six entries, 2 plots each; the plots wanted are the fewest whose chance is 80 %."""
    plan = planner.plan(
        K.COMPLETE_BLOCKS, planner.factor(6), replicates=2, beds=planner.beds(2, 30)
    )
    found = answer(plan, 20)
    assert found.needs.chance == pytest.approx(chance_of_20(2), abs=1e-6)
    needed = next(r for r in range(2, 60) if chance_of_20(r) >= 0.80)
    assert found.needs.needed == needed
    assert found.bed_m_needed == pytest.approx(needed * 6 * 1.8)
    assert not found.fits
    assert found.most_here is not None
    assert found.most_here.replicates == 5  # 60 m hold 2 x 16 plots of 1.8 m: 32, or 5 of each
    assert found.most_here.chance == pytest.approx(chance_of_20(5), abs=1e-6)


def test_what_is_enough_is_said_to_be(planner: Planner) -> None:
    found = answer(planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), replicates=4), 40)
    assert found.needs.chance is not None
    assert found.needs.chance >= 0.80
    assert found.needs.needed is not None
    assert found.needs.needed <= 4
    assert found.fits


def test_smaller_plots_are_offered_where_they_find_more_on_the_same_beds(planner: Planner) -> None:
    plan = planner.plan(
        K.COMPLETE_BLOCKS,
        planner.factor(6),
        replicates=2,
        plants_per_plot=40,
        beds=planner.beds(2, 30),
    )
    found = answer(plan, 20)
    assert found.best_here is not None
    assert found.most_here is not None
    assert found.best_here.plants_per_plot < 40
    assert (found.best_here.chance or 0) > (found.most_here.chance or 1)


def test_the_joint_test_notices_a_pair_as_the_noncentral_f_says(planner: Planner) -> None:
    """Two of six 30 % apart, the others midway: noncentrality 4 x (15^2 + 15^2) / 15^2 = 8."""
    found = answer(planner.plan(K.COMPLETE_BLOCKS, planner.factor(6)), 30)
    expected = stats.ncf.sf(stats.f.ppf(0.95, 5, 15), 5, 15, 8.0)
    assert found.joint_chance == pytest.approx(expected, abs=1e-6)


@pytest.mark.slow
@pytest.mark.usefixtures("short_search")
def test_every_kind_of_layout_has_an_answer(planner: Planner) -> None:
    for plan in planner.one_of_each_kind():
        family = family_of(plan)
        offers = proposals(plan, at_15(plan))
        found = possible(plan, at_15(plan), wanted_of(plan, 20, 0.8, family), offers)
        assert found.needs.chance is not None
        assert fits(plan)
        assert headline(plan, offers[0].tells) is not None


@pytest.mark.parametrize(
    ("kind", "replicates"), [(K.SIDE_BY_SIDE, 1), (K.LATIN_SQUARE, 4), (K.COMPLETE_BLOCKS, 1)]
)
def test_what_cannot_be_laid_out_has_an_answer_too(
    planner: Planner, kind: LayoutKind, replicates: int
) -> None:
    found = answer(planner.plan(kind, planner.factor(6), replicates=replicates), 20)
    assert found.needs.needed is not None


def test_the_check_is_compared_with_where_there_is_one(planner: Planner) -> None:
    factor = planner.factor(6)
    plan = planner.plan(K.COMPLETE_BLOCKS, factor, checks=factor.levels[:1])
    assert family_of(plan) is Family.WITH_CHECK
    bare = planner.plan(K.COMPLETE_BLOCKS, factor)
    assert family_of(bare) is Family.ALL_PAIRS
    with pytest.raises(PlanRefused, match="Name it in checks"):
        family_of(bare, Family.WITH_CHECK)
