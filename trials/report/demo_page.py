"""The demo's page: one season's answers at a glance, and where to read on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.decide import Advice, Choice, Ordering
from trials.decide.planted import WinterChoice
from trials.errors import quoted
from trials.report.choice_page import VERDICT_WORDS
from trials.report.figures import count, listed
from trials.report.grid import Column, grid, wrapped
from trials.report.order_page import total_sentence
from trials.report.winter_page import earns_sentence, order_sentence
from trials.report.words import plain_words
from trials.stats.results import Comparison


def demo_page(
    closed: int,
    comparison: Comparison,
    side_by_side: Comparison,
    choice: Choice,
    ordering: Ordering,
    winter: WinterChoice,
    store: Path,
    files: Sequence[tuple[Path, str]],
) -> str:
    """What a grower learns from the invented farm, in the order in which it is decided."""
    words = plain_words(comparison)
    title = "An invented farm, three seasons, and the seed for the next"
    parts = [
        f"{title}\n{'═' * len(title)}",
        f"1  Closed {count(closed, 'trial')} at the first frost.",
        f"2  Compared {comparison.measure} in the {comparison.layout.kind} trial of "
        f"{comparison.plots} plots.\n"
        + "\n".join(
            _labelled(label, text)
            for label, text in (
                ("differs", words.differs),
                ("too close", words.not_told),
                *(
                    ("untested", f"One bed, half of it pinched. {item.reason} {item.remedy}")
                    for item in side_by_side.layout.not_replicated
                ),
            )
        ),
        f"3  Chose {choice.crop} for {choice.next_season}.\n{_verdicts(choice)}",
        f"4  Ordered seed for {ordering.sowing.bed_metres:g} m of bed, sown "
        f"{count(ordering.sowing.successions, 'time')}.\n"
        + "\n".join(wrapped(line, "   ") for line in total_sentence(ordering).splitlines()),
        f"5  Planned the winter of {count(len({each.crop for each in winter.plantings}), 'crop')}"
        f" for {count(len({each.market for each in winter.winter.outlets}), 'market')}.\n"
        + wrapped(f"{earns_sentence(winter)} {order_sentence(winter)}", "   "),
        "Read more in\n"
        + grid([Column("file"), Column("what it is")], [[str(path), what] for path, what in files]),
        f"See it as pages:  tallybed dashboard --store {quoted(store)}",
    ]
    return "\n\n".join(parts) + "\n"


def _labelled(label: str, text: str) -> str:
    """A paragraph with its label in the margin."""
    return f"   {label:<10}" + wrapped(text, indent=" " * 13).lstrip()


def _verdicts(choice: Choice) -> str:
    lines = []
    for verdict in Advice:
        names = [s.entry for s in choice.standings if s.verdict is verdict]
        if names:
            lines.append(_labelled(VERDICT_WORDS[verdict], listed(names, most=20)))
    return "\n".join(lines)
