"""How to grow it: what pinching, netting or spacing did in the newest trial, measure by measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.model.trial import Measure
from trials.stats.results import Comparison, NotReplicated, Pair


@dataclass(frozen=True, slots=True)
class Finding:
    """One measure's answer: a pair of levels, and whether the answer depends on the variety."""

    measure: Measure
    pair: Pair
    depends_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Practice:
    """Everything found about one way of growing; without replication there are no findings."""

    factor: str
    trial: str
    findings: tuple[Finding, ...]
    not_replicated: NotReplicated | None


def practices(
    trial: str, entries: str, compared: Sequence[tuple[Measure, Comparison]]
) -> tuple[Practice, ...]:
    """What each factor beside ``entries`` did, from the trial's comparisons.

    ``compared`` holds one comparison for each measure of the same trial.
    """
    if not compared:
        return ()
    layout = compared[0][1].layout
    unanswered = {item.factor: item for item in layout.not_replicated}
    return tuple(
        Practice(
            factor=factor.name,
            trial=trial,
            findings=tuple(
                Finding(measure, pair, _depends_on(comparison, factor.name))
                for measure, comparison in compared
                for pair in comparison.all_pairs
                if pair.term == factor.name and not pair.within
            ),
            not_replicated=unanswered.get(factor.name),
        )
        for factor in layout.factors
        if factor.name != entries
    )


def _depends_on(comparison: Comparison, factor: str) -> tuple[str, ...]:
    """The factors with which this one interplays beyond luck."""
    found: dict[str, None] = {}
    for test in comparison.tests:
        names = test.term.split(":")
        if len(names) > 1 and factor in names and test.p < comparison.alpha:
            found.update(dict.fromkeys(name for name in names if name != factor))
    return tuple(found)
