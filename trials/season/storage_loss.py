"""What storage takes from a crop's seed: the grower's figure, else what the farm's tests show."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

from trials import decide
from trials.decide.seed_age import AgedTest, FigureLoss, Loss, measured_loss
from trials.model.crop_facts import SeedFact
from trials.model.seed_lot import SeedLot
from trials.store import Store

DAYS_PER_YEAR = 365.25
SOWN_IN, SOWN_ON = 4, 1  # the month and day to which a test's age is counted: judgement


def storage_losses(kept: Store) -> dict[str, Loss]:
    """The loss per year by crop; a crop of which neither figure nor tests tell it has none.

    A figure is that of the crop's own row, never of a crop that its name ends in.
    """
    lots = {each.lot: each for each in kept.seed_lots()}
    crops = crops_of(kept)
    tests: defaultdict[str, list[AgedTest]] = defaultdict(list)
    for lot, day, seeds, germinated in kept.germination_tests():
        crop = crops.get(lots[lot].variety)
        if crop is not None:
            tests[crop].append(AgedTest(lot, _age(lots[lot], day), seeds, germinated))
    shown = {crop: loss for crop, own in tests.items() if (loss := measured_loss(own)) is not None}
    losses: dict[str, Loss] = {crop: loss for crop, loss in shown.items() if loss.shown}
    names = {crop.casefold(): crop for crop in set(crops.values())}
    for row in kept.crops().to_dict("records"):
        if row["figure"] == SeedFact.GERMINATION_POINTS_LOST_PER_YEAR:
            crop = names.get(row["crop"].casefold(), row["crop"])
            losses[crop] = FigureLoss(float(row["value"]) / 100)
    return losses


def crops_of(kept: Store) -> dict[str, str]:
    """The crop of each variety."""
    table = kept.varieties()
    return dict(zip(table["variety"], table["crop"], strict=True))


def years_stored(each: SeedLot, season: int, *, tested_now: bool) -> float:
    """Years from what a lot's rate rests on to the sowing of a season.

    A packet's rate holds for the year that it was packed for. A test of the last twelve months
    before the sowing counts as it is.
    """
    if tested_now:
        return 0.0
    if each.tested_on is None:
        return float(max(season - each.packed_for, 0))
    years = (date(season, SOWN_IN, SOWN_ON) - each.tested_on).days / DAYS_PER_YEAR
    return years if years >= 1 else 0.0


def aged(lot: decide.OnHand, loss: Loss | None) -> decide.OnHand:
    """The lot at the rate that its age leaves; as it is where no loss is known."""
    if loss is None or not lot.years:
        return lot
    then = loss.after(lot.germination, lot.years)
    ageing = decide.Ageing(lot.germination, lot.years, loss, then)
    return replace(lot, germination=then.rate, ageing=ageing)


def _age(each: SeedLot, day: date) -> float:
    """Years since the year that a lot was packed for began."""
    return (day - date(each.packed_for, 1, 1)).days / DAYS_PER_YEAR
