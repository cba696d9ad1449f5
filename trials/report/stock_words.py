"""Seed in stock as words: how much of each lot there is, and what its germination rests on."""

from __future__ import annotations

from collections.abc import Iterable

from trials.decide import Ageing, Germination, OnHand
from trials.decide.seed_age import FigureLoss
from trials.model.trial import SeedSaving
from trials.report.figures import count, per_cent
from trials.report.grid import Column, Table


def stock_table(shelf: Iterable[OnHand]) -> Table:
    """One row per lot: its seeds, the germination it counts at, and what that rests on.

    The age is that of the packet's rate or of an old test; empty for this season's.
    """
    columns = (
        Column("seed lot"),
        Column("variety"),
        Column("packed for"),
        Column("seeds", right=True),
        Column("germination", right=True),
        Column("age", right=True),
        Column("from"),
    )
    rows = tuple(
        (
            each.lot,
            each.variety,
            "" if each.packed_for is None else str(each.packed_for),
            f"{each.seeds:,}",
            per_cent(each.germination),
            _years(each.years) if each.years else "",
            _from(each),
        )
        for each in shelf
    )
    return Table(columns, rows)


def _from(each: OnHand) -> str:
    """What a lot's germination rests on, and whether it is the farm's own."""
    if not each.counts:
        return "own seed, not counted"
    what = "packet" if each.test is None else f"{each.test.seeds:,} seeds tested"
    if each.own:
        what = "own seed" if each.test is None else f"own seed, {what}"
    if each.ageing is None:
        return what
    return f"{what} {per_cent(each.ageing.rate)}, less age by {_source(each.ageing)}"


def _source(ageing: Ageing) -> str:
    return "your figure" if isinstance(ageing.loss, FigureLoss) else "your own tests"


def _years(years: float) -> str:
    whole = round(years)
    return count(whole, "year") if abs(years - whole) < 0.05 else f"{years:.1f} years"


def stock_sentences(shelf: Iterable[OnHand], season: int) -> tuple[str, ...]:
    """What to know of each lot before its seed is counted on for a season."""
    return tuple(
        words
        for each in shelf
        for words in (
            _untested(each, season) if each.test is None else _tested(each, each.test),
            _own(each),
        )
        if words
    )


def _own(each: OnHand) -> str:
    """What to mind of seed that the farm saved itself; '' for bought seed."""
    if not each.own:
        return ""
    if not each.counts:
        return (
            f"Seed lot {each.lot} is your own seed of {each.variety}. A price list says that the "
            "variety is protected, so this seed is not counted: buy seed of it."
        )
    said = f"Seed lot {each.lot} is your own seed"
    if each.cleaning and each.seeds:
        cost = f"{each.cleaning * each.seeds:,.2f} {each.currency}".rstrip()
        said += f": it costs its cleaning only, about {cost}"
    said += "."
    if each.saving is SeedSaving.HYBRID:
        said += (
            f" {each.variety} is a hybrid: many of its seedlings will be off-types, plants unlike "
            "it. Sow more and pull them out, or buy seed."
        )
    if each.saving is not SeedSaving.ALLOWED:
        said += f" Check that you may save seed of {each.variety}."
    return said


def _untested(each: OnHand, season: int) -> str:
    """What age does to a lot that was not tested; '' for seed packed for the season."""
    if not each.counts or each.packed_for is None or each.packed_for >= season:
        return ""
    years = count(season - each.packed_for, "year")
    said = f"Seed lot {each.lot} is {years} old and has no germination test."
    whose = "lot" if each.own else "packet"
    if each.ageing is not None:
        return (
            f"{said} Its {whose}'s {per_cent(each.ageing.rate)} counts as {_aged(each.ageing)} "
            "Test it before you rely on it."
        )
    return (
        f"{said} {UNKNOWN_LOSS}, so it counts at the {per_cent(each.germination)} of its {whose}. "
        "Old seed germinates worse: test it before you rely on it."
    )


UNKNOWN_LOSS = "Your records do not show what this crop's seed loses per year"


def _aged(ageing: Ageing) -> str:
    """The rate that age leaves, and by what, to the end of the sentence."""
    then, loss = ageing.then, ageing.loss
    if isinstance(loss, FigureLoss):
        points = f"{100 * loss.share:g}"
        noun = "percentage point" if points == "1" else "percentage points"
        return f"{per_cent(then.rate)}, by your figure of {points} {noun} lost per year."
    lots = count(loss.lots, "lot")
    how = f"{lots} tested again at a later age" if loss.again else f"{lots} of different ages"
    return (
        f"{per_cent(then.rate)} (95% limits {per_cent(then.low or 0.0)} to "
        f"{per_cent(then.high or 0.0)}), by your own tests of this crop's seed ({how})."
    )


def _tested(each: OnHand, test: Germination) -> str:
    """A lot's tested rate with its limits, whether its replicates agree, and an old test's age."""
    said = (
        f"Seed lot {each.lot}: {test.germinated:,} of {test.seeds:,} seeds germinated, "
        f"{per_cent(test.rate)} (95% limits {per_cent(test.low)} to {per_cent(test.high)}). "
    )
    if test.agree is None:
        said += "One replicate only, so nothing shows whether it repeats."
    elif test.agree:
        said += "The replicates agree."
    else:
        said += "The replicates differ more than chance explains: test the lot again."
    if not each.counts or not each.years:
        return said
    said += f" The test will be {_years(each.years)} old when the seed is sown."
    if each.ageing is None:
        return f"{said} {UNKNOWN_LOSS}, so {per_cent(test.rate)} still counts: test it again."
    return f"{said} So it counts as {_aged(each.ageing)}"
