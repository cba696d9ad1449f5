"""Rules of the farm's own figures of its crops: one spelling of a crop, and possible values."""

from __future__ import annotations

from collections.abc import Mapping

from trials.model.crop_facts import Fact, SeedFact
from trials.model.rows import Sheet
from trials.model.units import fahrenheit_to_celsius
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.field import mask_of
from trials.records.rules.forms import Range
from trials.records.rules.one_level import reads
from trials.records.rules.reference_data import World, records
from trials.records.rules.validation import Judged

_DAYS, _SOME_DAYS, _HEIGHT_CM = Range(0, 365), Range(1, 365), Range(0, 400, above=True)
# What a value can be at all, generously: trade judgement.
LIMITS: Mapping[Fact | SeedFact, Range] = {
    Fact.DAYS_TO_BLOOM: Range(1, 730),
    Fact.DIRECT_SOWN: Range(0, 1),
    Fact.DAYS_IN_TRAYS: _SOME_DAYS,
    Fact.GERMINATION_C: Range(1, 45),
    Fact.DAYS_TO_PINCH: _DAYS,
    Fact.PINCH_HEIGHT_CM: _HEIGHT_CM,
    Fact.PINCH_LEAF_PAIRS: Range(1, 30),
    Fact.DAYS_PINCHING_DELAYS: _DAYS,
    Fact.DAYS_TO_NET: _DAYS,
    Fact.NET_HEIGHT_CM: _HEIGHT_CM,
    Fact.DAYS_BETWEEN_FLUSHES: _SOME_DAYS,
    Fact.FLUSHES: Range(1, 50),
    Fact.DAYS_BETWEEN_SOWINGS: _SOME_DAYS,
    SeedFact.GERMINATION_POINTS_LOST_PER_YEAR: Range(0, 100),
}
_FRACTIONS = frozenset(
    {
        Fact.GERMINATION_C,
        Fact.PINCH_HEIGHT_CM,
        Fact.NET_HEIGHT_CM,
        SeedFact.GERMINATION_POINTS_LOST_PER_YEAR,
    }
)
LEAST_POINTS = 0.5  # below it, and above 0, somebody wrote a share (0.05) for points (5)


def value_is_possible(judged: Judged, world: World, faults: Faults) -> None:
    """The value lies within what its figure can be."""
    pairs = zip(judged.cells("figure"), judged.cells("value"), strict=True)
    wrong = mask_of(
        figure is not None and value is not None and not _can_be(_fact(figure), value)
        for figure, value in pairs
    )

    def words(record: int) -> Wrong:
        fact, value = _fact(judged.cell(record, "figure")), judged.cell(record, "value")
        return Wrong(f"{fact} cannot be {value:g}.", _remedy(fact, value))

    judged.fault(faults, wrong, "value", words)


def _fact(figure: str) -> Fact | SeedFact:
    return SeedFact(figure) if figure in set(SeedFact) else Fact(figure)


def _can_be(fact: Fact | SeedFact, value: float) -> bool:
    if fact is SeedFact.GERMINATION_POINTS_LOST_PER_YEAR and 0 < value < LEAST_POINTS:
        return False
    return LIMITS[fact].holds(value) and (fact in _FRACTIONS or float(value).is_integer())


def _remedy(fact: Fact | SeedFact, value: float) -> str:
    if fact is SeedFact.GERMINATION_POINTS_LOST_PER_YEAR:
        return (
            "Write percentage points, 0 to 100: 5 where 90% falls to 85% in a year. Remove the row "
            "where you do not know it."
        )
    if fact is Fact.DIRECT_SOWN:
        return "Write 1 for sown direct, 0 for raised in trays."
    celsius = fahrenheit_to_celsius(value)
    if fact is Fact.GERMINATION_C and LIMITS[fact].holds(celsius):
        return f"Write degrees Celsius: {value:g} °F is {celsius:.0f} °C."
    kind = "a number" if fact in _FRACTIONS else "a whole number"
    return f"Write {kind}, {LIMITS[fact]}."


def crops_are_spelled_alike(judged: Judged, world: World, faults: Faults) -> None:
    """One crop is written in one way, as a plan finds its figures by the name."""
    first: dict[str, str] = {}
    for sheet in (Sheet.VARIETIES, Sheet.TRIALS, Sheet.CROPS, Sheet.PRICES, Sheet.COSTS):
        for (name,) in records(world.frames[sheet], "crop"):
            if name is not None:
                first.setdefault(reads(name), name)
    judged.fault(
        faults,
        mask_of(name is not None and first[reads(name)] != name for name in judged.cells("crop")),
        "crop",
        lambda record: Wrong(
            f"{shown(judged.cell(record, 'crop'))} is written "
            f"{shown(first[reads(judged.cell(record, 'crop'))])} elsewhere.",
            "Write each crop in one way.",
        ),
    )
