"""Rules of the farm's money: one currency of its own, and one price a stem in any week."""

from __future__ import annotations

from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.field import mask_of
from trials.records.rules.reference_data import World, records
from trials.records.rules.validation import Judged


def one_currency_is_own(judged: Judged, world: World, faults: Faults) -> None:
    """Exactly one currency is the farm's own, and its rate is 1."""
    named = records(world.frames[Sheet.CURRENCIES], "currency", "own", "rate")
    own = sorted({name for name, is_own, _ in named if is_own == "yes"})
    pairs = list(zip(judged.cells("own"), judged.cells("rate"), strict=True))
    judged.fault(
        faults,
        mask_of(is_own == "yes" and rate is not None and rate != 1 for is_own, rate in pairs),
        "rate",
        lambda record: Wrong(
            f"{shown(judged.cell(record, 'currency'))} is the farm's own currency, so its rate "
            "is 1.",
            "Write 1 here. In the other rows, write what one unit is worth in it.",
        ),
    )
    judged.fault(
        faults,
        mask_of(len(own) != 1 and (is_own == "yes" or not own) for is_own, _ in pairs),
        "own",
        lambda record: Wrong(
            f"Several currencies are marked as the farm's own: {', '.join(own)}."
            if own
            else "No currency is marked as the farm's own.",
            "Write yes for the one you keep accounts in, and no for the others.",
        ),
    )


def weeks_are_priced_once(judged: Judged, world: World, faults: Faults) -> None:
    """Weeks run forward, and no week has two prices for one grade at one market."""
    spans: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    names = ("year", "market", "crop", "grade_cm", "from_week", "to_week")
    for *of, start, end in records(world.frames[Sheet.PRICES], *names):
        if start is not None and end is not None:
            spans.setdefault(tuple(of), []).append((int(start), int(end)))
    rows = list(zip(*(judged.cells(name) for name in names), strict=True))
    backward = mask_of(
        start is not None and end is not None and end < start for *_, start, end in rows
    )
    judged.fault(
        faults,
        backward,
        "to_week",
        lambda record: Wrong(
            "The last week is before the first.",
            "For prices that hold over the turn of the year, write two rows.",
        ),
    )

    def overlaps(*of: object, start: int | None, end: int | None) -> bool:
        if start is None or end is None:
            return False
        return sum(a <= end and start <= b for a, b in spans.get(tuple(of), ())) > 1

    judged.fault(
        faults,
        mask_of(overlaps(*of, start=start, end=end) for *of, start, end in rows),
        "from_week",
        lambda record: Wrong(
            "Another row has a price for the same grade, market and weeks.",
            "Correct the weeks so that they do not overlap.",
        ),
    )
