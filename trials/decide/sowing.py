"""From the beds to be sown to each variety's plants and seeds."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from trials.decide.curve import SowingShare
from trials.decide.germination import Germination
from trials.decide.seed_age import Aged, Loss
from trials.decide.seeds import (
    Raising,
    SeedsWanted,
    seeds_for_beds,
    seeds_for_plants,
    seeds_for_stems,
    seeds_to_buy,
)
from trials.model.trial import SeedSaving

ASSUMED_GERMINATION = 0.75  # common practice: packets germinate at 70 to 95 %
PLANTED_AS_BOUGHT = Raising(survival=1.0, germination=1.0)  # of plugs: a plant each


@dataclass(frozen=True, slots=True)
class Ageing:
    """How a lot's rate was lowered for its age: from ``rate``, over so many ``years``."""

    rate: float
    years: float
    loss: Loss
    then: Aged


@dataclass(frozen=True, slots=True)
class OnHand:
    """Seed in stock: so many of a variety, at the germination of their own lot.

    ``test`` is the lot's newest germination test; None where its packet is all that is known.
    ``years`` passed since then, up to the sowing that the seed is counted for. ``ageing`` says how
    ``germination`` was lowered for them; None where it was not.
    ``own`` seed was saved by the farm: it costs ``cleaning`` a seed in ``currency``, and ``saving``
    is what the price lists say of saving seed of its variety.
    """

    variety: str
    seeds: int
    germination: float
    lot: str = ""
    packed_for: int | None = None
    test: Germination | None = None
    own: bool = False
    cleaning: float = 0.0
    saving: SeedSaving | None = None
    years: float = 0.0
    ageing: Ageing | None = None
    currency: str = ""

    @property
    def counts(self) -> bool:
        """Whether it may be sown: own seed of a protected variety may not be saved."""
        return not (self.own and self.saving is SeedSaving.PROTECTED)


@dataclass(frozen=True, slots=True)
class StemsWanted:
    """The way from stems to bed: at ``stems_per_plant`` at least, and as plants lived before.

    ``stems_per_plant`` are a plant's of a whole season. ``shares`` say which share of them each
    sowing gives in the weeks that it has; every one of ``plants`` counts in one sowing.
    ``recorded`` are the plots planted so late that say so, 0 where the share is assumed.
    """

    stems: float
    stems_per_plant: float
    survival: float
    plants: int
    plants_set: int
    shares: tuple[float, ...] = (1.0,)
    recorded: tuple[int, ...] = (0,)


@dataclass(frozen=True, slots=True)
class Sowing:
    """What is to be sown next season: bed for each succession, shared evenly by the varieties.

    ``plants_per_metre`` of bed is None where the newest trial's spacing holds. ``most`` limits
    how many of the reordered varieties share the bed; ``varieties`` names them instead.
    ``trial_plants`` are set of each variety that is to be tried again, for next season's plots.
    ``wanted`` says what the bed was worked out of; None where it was named.
    """

    bed_metres: float
    successions: int = 1
    varieties: tuple[str, ...] = ()
    most: int | None = None
    plants_per_metre: float | None = None
    usable: float = 0.90
    overage: float = 0.10
    trial_plants: int = 0
    wanted: StemsWanted | None = None


@dataclass(frozen=True, slots=True)
class VarietyNeed:
    """The way from bed to seed for one variety; ``germination`` is assumed where no lot says.

    ``bed_metres`` is None for a variety that only gets next season's trial plots. ``seeds`` are to
    be sown of new seed alone, ``to_buy`` what is left of them beside ``on_hand``. With ``plugs``
    both count young plants that are bought: one for each plant set.
    """

    variety: str
    bed_metres: float | None
    plants_set: int
    seeds: int
    germination: float
    germination_assumed: bool
    to_buy: int
    on_hand: int = 0
    plugs: bool = False


def sowing_for_stems(
    stems: float,
    at_least: Sequence[float],
    survival: float,
    plants_per_metre: float,
    sowing: Sowing,
    of_sowings: Sequence[SowingShare] = (),
) -> Sowing:
    """The sowing with the bed that ``stems`` take over all its successions.

    ``of_sowings`` are the shares of a whole season's stems that each succession gives; by default
    all.

    ``at_least`` are the stems a plant that each variety gives when next season turns out poor; as
    the varieties share the bed evenly their mean counts. ``survival`` is the share of plants set
    that live at the first cut.
    """
    each = sum(at_least) / len(at_least)
    of_sowings = tuple(of_sowings) or (SowingShare(1.0),) * sowing.successions
    shares = tuple(one.share for one in of_sowings)
    recorded = tuple(one.plots for one in of_sowings)
    share = sum(shares) / len(shares)
    found = seeds_for_stems(stems, each * share, Raising(survival=survival, germination=1.0))
    wanted = StemsWanted(
        stems, each, survival, found.plants or 0, found.plants_set, shares, recorded
    )
    metres = found.plants_set / plants_per_metre / sowing.successions
    # Rounded up to what a tape shows; stray digits of binary fractions aside.
    return replace(sowing, bed_metres=ceil(round(10 * metres, 9)) / 10, wanted=wanted)


def bed_needs(
    sowing: Sowing,
    varieties: Sequence[str],
    plants_per_metre: float,
    germination: Mapping[str, float],
    plugs: Collection[str] = (),
) -> tuple[VarietyNeed, ...]:
    """Each variety's even share of the bed, its plants and its seeds.

    ``germination`` gives the newest lot's rate by variety; ``plugs`` are bought as plants.
    """
    share = sowing.bed_metres / len(varieties)
    return tuple(
        _need(
            variety,
            sowing,
            germination.get(variety),
            lambda raising: seeds_for_beds(share, plants_per_metre, sowing.successions, raising),
            share,
            plugs=variety in plugs,
        )
        for variety in varieties
    )


def trial_needs(
    sowing: Sowing,
    varieties: Sequence[str],
    germination: Mapping[str, float],
    plugs: Collection[str] = (),
) -> tuple[VarietyNeed, ...]:
    """Plants and seeds of varieties that only get next season's trial plots."""
    return tuple(
        _need(
            variety,
            sowing,
            germination.get(variety),
            lambda raising: SeedsWanted(
                None, sowing.trial_plants, seeds_for_plants(sowing.trial_plants, raising)
            ),
            plugs=variety in plugs,
        )
        for variety in varieties
        if sowing.trial_plants
    )


def less_on_hand(needs: Sequence[VarietyNeed], shelf: Sequence[OnHand]) -> tuple[VarietyNeed, ...]:
    """The needs with what the seed on the shelf leaves to buy; it is sown first.

    Seed that germinates worse than new seed counts for less of it, so old lots are discounted by
    their own germination. What is bought as plugs is not sown, so no seed counts towards it.
    """
    return tuple(
        need
        if need.plugs
        else _beside(need, [lot for lot in shelf if lot.counts and lot.variety == need.variety])
        for need in needs
    )


def stock_of(needs: Sequence[VarietyNeed], shelf: Sequence[OnHand]) -> tuple[OnHand, ...]:
    """The lots in stock of the varieties that are needed."""
    wanted = {need.variety for need in needs if not need.plugs}
    return tuple(lot for lot in shelf if lot.variety in wanted)


def _beside(need: VarietyNeed, lots: Sequence[OnHand]) -> VarietyNeed:
    left = need.to_buy
    for lot in lots:
        left = seeds_to_buy(left, lot.seeds, lot.germination, need.germination)
    return replace(need, to_buy=left, on_hand=sum(lot.seeds for lot in lots))


def _need(
    variety: str,
    sowing: Sowing,
    rate: float | None,
    wanted: Callable[[Raising], SeedsWanted],
    bed_metres: float | None = None,
    *,
    plugs: bool = False,
) -> VarietyNeed:
    """Every place is set, so plants that die later cost stems, not seed: survival is not asked."""
    germination = ASSUMED_GERMINATION if rate is None else rate
    raising = (
        PLANTED_AS_BOUGHT
        if plugs
        else Raising(1.0, germination, usable=sowing.usable, overage=sowing.overage)
    )
    seeds = wanted(raising)
    return VarietyNeed(
        variety=variety,
        bed_metres=bed_metres,
        plants_set=seeds.plants_set,
        seeds=seeds.seeds,
        germination=germination,
        germination_assumed=rate is None,
        to_buy=seeds.seeds,
        plugs=plugs,
    )
