"""Seed in stock as words: how much of each lot there is, and what its germination rests on."""

from __future__ import annotations

from collections.abc import Iterable

from trials.decide import Germination, OnHand
from trials.model.trial import SeedSaving
from trials.report.figures import count, per_cent
from trials.report.grid import Column, Table


def stock_table(shelf: Iterable[OnHand]) -> Table:
    """One row per lot: its seeds and its germination."""
    columns = (
        Column("seed lot"),
        Column("variety"),
        Column("packed for"),
        Column("seeds", right=True),
        Column("germination", right=True),
        Column("from"),
    )
    rows = tuple(
        (
            each.lot,
            each.variety,
            "" if each.packed_for is None else str(each.packed_for),
            f"{each.seeds:,}",
            per_cent(each.germination),
            _from(each),
        )
        for each in shelf
    )
    return Table(columns, rows)


def _from(each: OnHand) -> str:
    """What a lot's germination rests on, and whether it is the farm's own."""
    if not each.counts:
        return "own seed, not counted"
    what = "its packet" if each.test is None else f"{each.test.seeds:,} seeds tested"
    if each.own:
        return "own seed" if each.test is None else f"own seed, {what}"
    return what


def stock_sentences(shelf: Iterable[OnHand], season: int) -> tuple[str, ...]:
    """What to know of each lot before its seed is counted on for a season."""
    return tuple(
        words
        for each in shelf
        for words in (
            _untested(each, season) if each.test is None else _tested(each.lot, each.test),
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
        said += f": it costs its cleaning only, about {each.cleaning * each.seeds:,.2f}"
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
    """That an older lot's rate may have fallen; '' for seed packed for the season."""
    if not each.counts or each.packed_for is None or each.packed_for >= season:
        return ""
    years = count(season - each.packed_for, "year")
    return (
        f"Seed lot {each.lot} is {years} old and has no germination test, so it counts at the "
        f"{per_cent(each.germination)} of its {'lot' if each.own else 'packet'}. Old seed "
        "germinates worse: test it before you rely on it."
    )


def _tested(lot: str, test: Germination) -> str:
    """A lot's tested rate with its limits, and whether its replicates agree."""
    said = (
        f"Seed lot {lot}: {test.germinated:,} of {test.seeds:,} seeds germinated, "
        f"{per_cent(test.rate)} (95% limits {per_cent(test.low)} to {per_cent(test.high)})."
    )
    if test.agree is None:
        return f"{said} One replicate only, so nothing shows whether it repeats."
    if test.agree:
        return f"{said} The replicates agree."
    return f"{said} The replicates differ more than chance explains: test the lot again."
