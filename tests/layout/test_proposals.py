"""Proposals: what fits the beds, and what it takes."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from trials.errors import PlanRefused
from trials.layout.fit_to_beds import fitted
from trials.layout.laying_out import lay_out
from trials.layout.plan import Planting
from trials.layout.power.assumptions import Assumptions
from trials.layout.power.plot_size_variation import sized_spread
from trials.layout.power.variation import assumed_spread
from trials.layout.proposals import SeedRates, Way, proposals
from trials.model.trial import AppliedTo, Factor
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner

K = LayoutKind


@pytest.mark.slow
@pytest.mark.usefixtures("short_search")
def test_every_proposal_can_be_laid_out_with_what_it_says(planner: Planner) -> None:
    for plan in planner.one_of_each_kind():
        found = proposals(plan)
        assert found
        assert found[0].plan.kind is plan.kind
        for proposal in found:
            layout = lay_out(proposal.plan)
            assert proposal.plots == len(layout.plots)
            assert proposal.plants_set == sum(plot.plants_set for plot in layout.plots)
            assert proposal.guards_set == sum(plot.guards_set for plot in layout.plots)
            assert proposal.plants == sum(entry.plants for entry in proposal.entries)
            assert proposal.bed_m == pytest.approx(sum(p.length_m for p in layout.plots))
            assert proposal.bed_m <= proposal.bed_m_there
            if layout.efficiency is not None:
                assert proposal.efficiency is not None
                assert layout.efficiency <= proposal.efficiency + 1e-9


def test_seeds_follow_from_plants(planner: Planner) -> None:
    """400 plants at germination 0.80, usable 0.90 and 10 % overage: 612 seeds, worked by hand."""
    rates = SeedRates(germination={"variety 1": 0.80})
    assert rates.seeds("variety 1", 400) == 612
    assert rates.seeds("variety 2", 675) == 1100  # 675 / (0.75 x 0.90) x 1.10


def test_spacings_take_their_own_plants(planner: Planner) -> None:
    """Plots 1.2 m net and 0.3 m of guards each way, 4 rows: at 15 cm 48 plants, at 30 cm 24."""
    spacing = Factor("spacing_cm", ("15", "30"), AppliedTo.WHOLE_PLOT)
    found = proposals(planner.plan(K.SPLIT_PLOT, spacing, planner.factor(3), replicates=3))
    first = found[0]
    assert first.plan.replicates == 3
    assert {entry.plants for entry in first.entries} == {3 * (48 + 24)}
    assert first.plants == 3 * 3 * (48 + 24)


def test_checks_take_more_plots_than_new_entries(planner: Planner) -> None:
    varieties = planner.factor(23)
    plan = planner.plan(K.AUGMENTED_BLOCKS, varieties, checks=varieties.levels[:3])
    found = next(each for each in proposals(plan) if each.plan.replicates == 4)
    assert {entry.plots for entry in found.entries[:3]} == {4}
    assert {entry.plots for entry in found.entries[3:]} == {1}


def test_two_replicates_are_proposed_only_where_no_more_fit(planner: Planner) -> None:
    roomy = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6))
    assert min(each.plan.replicates for each in proposals(roomy)) == 3
    tight = planner.plan(
        K.COMPLETE_BLOCKS, planner.factor(6), beds=planner.beds(2, 12), plants_per_plot=4
    )
    assert min(each.plan.replicates for each in proposals(tight)) == 3
    tighter = replace(tight, beds=planner.beds(2, 6))
    assert {each.plan.replicates for each in proposals(tighter)} == {2}


def test_the_plan_as_written_comes_first_where_it_fits(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), replicates=2)
    found = proposals(plan)
    assert (found[0].way, found[0].plan) == (Way.AS_WRITTEN, plan)
    assert all(each.way is not Way.AS_WRITTEN for each in found[1:])


def test_smaller_plots_buy_more_of_them_on_the_same_bed(planner: Planner) -> None:
    """24 m hold 13 plots of 16 plants (1.8 m), 20 of 8 (1.2 m), 26 of 4 (0.9 m): 2, 3, 4 each."""
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), beds=planner.beds(1, 24))
    small = [each for each in proposals(plan) if each.way is Way.SMALLER_PLOTS]
    assert [(each.plan.plants_per_plot, each.plan.replicates) for each in small] == [(8, 3), (4, 4)]


def test_blocks_too_long_to_be_even_are_offered_in_pieces(planner: Planner) -> None:
    kinds = {
        each.plan.kind for each in proposals(planner.plan(K.COMPLETE_BLOCKS, planner.factor(12)))
    }
    assert K.INCOMPLETE_BLOCKS in kinds


def test_several_factors_on_plots_may_be_split(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), planner.factor(2, "pinch"))
    (split,) = [each for each in proposals(plan) if each.way is Way.SPLIT_PLOTS]
    assert split.plan.kind is K.SPLIT_PLOT
    assert [f.applied_to for f in split.plan.factors] == [AppliedTo.PLOT, AppliedTo.WHOLE_PLOT]


def test_hours_of_picking_follow_from_plots_and_stems(planner: Planner) -> None:
    """24 plots of 16 plants: 384 x 10 / 8 / 150 = 3.2 h of cutting, 24 x 2 / 60 = 0.8 h walking."""
    assumed = Assumptions(stems_per_plant=10)
    found = proposals(planner.plan(K.COMPLETE_BLOCKS, planner.factor(6)), assumed=assumed)
    assert found[0].picking_hours_per_week == pytest.approx(4.0)


def test_nothing_that_fits_is_refused_in_words(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), beds=planner.beds(1, 9))
    with pytest.raises(PlanRefused, match=r"need 43\.2 m of bed; the beds have 9 m"):
        proposals(plan)


def test_fewer_replicates_of_smaller_plots_are_offered_where_nothing_else_fits(
    planner: Planner,
) -> None:
    """12 plots of 0.9 m, 4 plants and 8 guards each, stand on 12 m; 18 of them do not."""
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), beds=planner.beds(1, 12))
    (only,) = proposals(plan)
    assert (only.plan.replicates, only.plan.plants_per_plot) == (2, 4)
    lay_out(only.plan)


def test_every_layout_that_a_refusal_names_is_offered(planner: Planner) -> None:
    for metres in (12, 16, 20, 30):
        plan = planner.plan(
            K.COMPLETE_BLOCKS,
            planner.factor(6),
            beds=planner.beds(1, metres),
            planting=Planting(3, 20),
            plants_per_plot=18,
        )
        offered = {(each.plan.replicates, each.plan.plants_per_plot) for each in proposals(plan)}
        with pytest.raises(PlanRefused) as refused:
            fitted(plan)
        named = re.search(r"would fit: (.+?)\.", str(refused.value))
        assert named is not None
        for layout in named[1].split(", or "):
            replicates = re.search(r"(\d+) replicates", layout)
            plants = re.search(r"(\d+) plants", layout)
            numbers = (
                plan.replicates if replicates is None else int(replicates[1]),
                plan.plants_per_plot if plants is None else int(plants[1]),
            )
            assert numbers in offered, (metres, layout)


def test_faults_of_the_plan_are_refused(planner: Planner) -> None:
    with pytest.raises(PlanRefused, match="No factor has stranger"):
        proposals(planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), checks=("stranger",)))


def test_treatments_side_by_side_are_answered_with_layouts_that_can_tell(planner: Planner) -> None:
    plan = planner.plan(K.SIDE_BY_SIDE, planner.factor(6), replicates=1)
    assert proposals(plan)[0].plan.kind is K.COMPLETE_BLOCKS


def test_what_each_can_tell_stands_beside_it(planner: Planner) -> None:
    """More replicates find smaller differences."""
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(6))
    sized = sized_spread(assumed_spread(), plan.plants_per_plot)
    ways = (Way.AS_WRITTEN, Way.REPLICATES)
    found = sorted(
        (each for each in proposals(plan, sized) if each.way in ways),
        key=lambda each: each.plan.replicates,
    )
    finds = [each.tells[0].found[0].found_percent for each in found]
    assert finds == sorted(finds, reverse=True)
    assert len(found) == 4
    assert proposals(plan)[0].tells == ()
