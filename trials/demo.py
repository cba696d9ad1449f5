"""The invented farm's season from end to end: load, close, compare, choose, order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trials import season
from trials.decide import Choice, Ordering, Sowing
from trials.errors import FileRefused
from trials.model import Closing
from trials.paper import write_order_sheet
from trials.report.choice_page import choice_page
from trials.report.comparison_page import comparison_page
from trials.report.order_csv import order_csv
from trials.report.order_page import order_page
from trials.stats.results import Comparison
from trials.store import Store

CROP = "cosmos"
MAIN_TRIAL = "cosmos-2026"
SIDE_BY_SIDE = "cosmos-bed-2026"
SOWING = Sowing(bed_metres=24, successions=3, trial_plants=64)
ORDERED_ON = date(2026, 11, 20)

# An installed wheel carries the files inside the package; a checkout has them beside it.
FARM_FOLDERS = (
    Path(__file__).with_name("demo_farm"),
    Path(__file__).resolve().parents[1] / "data" / "farm",
)


@dataclass(frozen=True, slots=True)
class DemoSeason:
    """What the demo did and the files it left."""

    closings: tuple[Closing, ...]
    comparison: Comparison
    side_by_side: Comparison
    choice: Choice
    ordering: Ordering
    store: Path
    files: tuple[tuple[Path, str], ...]  # (file, what it is)


def demo(into: Path, progress: Callable[[str], None] | None = None) -> DemoSeason:
    """Run the whole job on the invented farm, in a folder of its own.

    An earlier demo's files are made anew; anything else in the folder is left alone.
    """
    say = progress or (lambda step: None)
    store = _fresh_store(into)
    say("reading three seasons of records")
    season.load(store, [farm_folder()])
    say("closing every trial at its frost")
    closings = tuple(
        season.close(store, trial, frost, "first frost") for trial, frost in _frosts(store)
    )
    say("comparing")
    comparison = season.compare(store, MAIN_TRIAL)
    side_by_side = season.compare(store, SIDE_BY_SIDE)
    say("choosing and ordering")
    choice = season.choose(store, CROP)
    ordering = season.order(store, choice, SOWING)
    files = (
        (into / "comparison.txt", "every mean, pair and caution of the main trial"),
        (into / "standings.txt", "every variety's verdict, with the reasons and the rules"),
        (into / "seed-order.txt", "from beds to seeds to packets"),
        (into / "seed-order.csv", "the order for a spreadsheet"),
        (into / "seed-order.pdf", "the order to print and tick off"),
    )
    texts = (
        comparison_page(comparison, MAIN_TRIAL),
        choice_page(choice),
        order_page(ordering),
        order_csv(ordering.order),
    )
    for (path, _), text in zip(files, texts, strict=False):
        path.write_text(text, encoding="utf-8")
    write_order_sheet(
        ordering.order,
        title=f"Seed order {CROP} {ordering.next_season}",
        farm="Murrowhask Flowers",
        path=files[-1][0],
        on=ORDERED_ON,
    )
    return DemoSeason(closings, comparison, side_by_side, choice, ordering, store, files)


def _fresh_store(into: Path) -> Path:
    try:
        into.mkdir(parents=True, exist_ok=True)
        store = into / "farm.tallybed"
        for leftover in (store, into / "farm.tallybed.wal"):
            leftover.unlink(missing_ok=True)
    except OSError as problem:
        raise FileRefused(
            f"{into}: {problem.strerror}. Name a folder you may write in with --into."
        ) from None
    return store


def _frosts(store: Path) -> list[tuple[str, date]]:
    """Every trial with the day of its recorded frost."""
    kept = Store.open(store)
    days = []
    for trial in kept.trials():
        events = kept.events(trial.code)
        frost = events.loc[events["kind"] == "frost", "happened_on"]
        days.append((trial.code, max(frost)))
    return days


def farm_folder() -> Path:
    """The folder that holds the invented farm's files."""
    for folder in FARM_FOLDERS:
        if folder.is_dir():
            return folder
    raise FileRefused(
        "The invented farm's files are missing from this installation. Install it again."
    )
