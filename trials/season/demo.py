"""The invented farm's season from end to end: load, close, compare, choose, order, plan."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from trials import season
from trials.decide import Choice, Ordering, Sowing
from trials.decide.planted import WinterChoice
from trials.errors import FileRefused, StoreBusy, StoreRefused
from trials.model.rows import Signed
from trials.model.trial import Closing
from trials.paper import write_order_sheet
from trials.report.choice_page import choice_page
from trials.report.comparison_page import comparison_page
from trials.report.order_csv import order_csv
from trials.report.order_page import order_page
from trials.stats.results import Comparison
from trials.store import Store
from trials.store.file.private import make_folder

FARM = "Murrowhask Flowers"
CROP = "cosmos"
MAIN_TRIAL = "cosmos-2026"
SIDE_BY_SIDE = "cosmos-bed-2026"
SOWING = Sowing(bed_metres=24, successions=3, trial_plants=64)
ORDERED_ON = date(2026, 11, 20)

STORE_NAME = "demo-farm.tallybed"
# The demo's own list of the files it wrote, in the form that sha256sum writes and checks.
LIST_NAME = "demo-files.sha256"
# Every change of the demo's store is signed with this name, and its load bears this mark.
SIGNED = Signed("tallybed demo", "records of an invented farm")
MARK = "tallybed demo: the invented farm's records"
ELSEWHERE = "Move it away, or choose another folder with --into."

# The wishes lie beside the farm's records, and are copied to be changed.
WISHES_NAME = "winter-wishes.toml"
# An order is written for each of them that the winter's seed is bought from.
HOUSES = ("gorsewhistle-seed-loft", "oddlemarl-seed-room", "pennyquern-seed-barn")

FILES = {
    "comparison.txt": "every mean, pair and caution of the main trial",
    "standings.txt": "every variety's verdict, with the reasons and the rules",
    "seed-order.txt": "from beds to seeds to packets",
    "seed-order.csv": "the order for a spreadsheet",
    "seed-order.pdf": "the order to print and tick off",
    WISHES_NAME: "beds, sowings and markets of next season, to change and plan again",
    "winter-plan.txt": "what to sow of three crops, for whom, and why",
    **{
        f"order-{house}.{kind}": words
        for house in HOUSES
        for kind, words in (
            ("csv", f"the winter's order from {house.replace('-', ' ').title()}"),
            ("xlsx", "the same as a workbook"),
            ("pdf", "the same to print"),
        )
    },
    "sowing-list.csv": "what to sow when and where",
    "sowing-list.xlsx": "the same as a workbook",
    "sowing-list.pdf": "the same to print",
    "calendar.ics": "the days of every sowing, for a calendar program",
}

# An installed wheel carries the files inside the package; a checkout has them beside it.
FARM_FOLDERS = (
    Path(__file__).with_name("demo_farm"),
    Path(__file__).resolve().parents[2] / "data" / "farm",
)


@dataclass(frozen=True, slots=True)
class DemoSeason:
    """What the demo did and the files it left."""

    closings: tuple[Closing, ...]
    comparison: Comparison
    side_by_side: Comparison
    choice: Choice
    ordering: Ordering
    winter: WinterChoice
    store: Path
    files: tuple[tuple[Path, str], ...]  # (file, what it is)


def demo(into: Path, progress: Callable[[str], None] | None = None) -> DemoSeason:
    """Run the whole job on the invented farm, in a folder of its own.

    An earlier demo's store and files are replaced; anything else in the folder is left alone.

    Raises
    ------
    FileRefused
        A file of one of the demo's names was not made by the demo, or was changed since.
    """
    say = progress or (lambda step: None)
    store = _fresh_store(into)
    closings = fill(store, say)
    say("comparing")
    comparison = season.compare_trial(store, MAIN_TRIAL)
    side_by_side = season.compare_trial(store, SIDE_BY_SIDE)
    say("choosing and ordering")
    choice = season.choose(store, CROP)
    ordering = season.order(store, choice, SOWING)
    say("planning the winter")
    wishes = (farm_folder() / "winter.toml").read_text(encoding="utf-8")
    winter = season.winter_of(store, wishes, WISHES_NAME)
    contents = {
        "comparison.txt": comparison_page(comparison, MAIN_TRIAL).encode(),
        "standings.txt": choice_page(choice).encode(),
        "seed-order.txt": order_page(ordering).encode(),
        "seed-order.csv": order_csv(ordering.order).encode(),
        "seed-order.pdf": _order_pdf(ordering),
        WISHES_NAME: wishes.encode(),
        **_winter_files(winter),
    }
    _write(into, contents)
    files = tuple((into / name, FILES[name]) for name in contents)
    return DemoSeason(closings, comparison, side_by_side, choice, ordering, winter, store, files)


def fill(store: Path, say: Callable[[str], None]) -> tuple[Closing, ...]:
    """Make the invented farm's store where nothing is: every record, every trial closed."""
    say("reading three seasons of records")
    season.load(store, [farm_folder()], signed=replace(SIGNED, token=MARK))
    say("closing every trial at its frost")
    return tuple(
        season.close(store, trial, frost, "first frost", SIGNED) for trial, frost in _frosts(store)
    )


def _fresh_store(into: Path) -> Path:
    """The place of the demo's store, with nothing there; refuses before anything is changed."""
    store = into / STORE_NAME
    journal = into / f"{STORE_NAME}.wal"
    try:
        make_folder(into)
        _require_own_files(into)
        if store.exists() or store.is_symlink():
            _require_own_store(store)
        elif journal.exists():
            raise FileRefused(f"{journal} is there without the store it belongs to. {ELSEWHERE}")
        for leftover in (store, journal):
            leftover.unlink(missing_ok=True)
    except OSError as problem:
        raise FileRefused(
            f"{into}: {problem.strerror}. Name a folder you may write in with --into."
        ) from None
    return store


def _require_own_store(store: Path) -> None:
    """Refuse a store that the demo did not make, or in which somebody has recorded since."""
    try:
        kept = Store.open(store)
        marked = kept.submission(MARK) is not None
        others = [entry for entry in kept.history() if entry.who != SIGNED.who]
        people = kept.crew.people()
    except StoreBusy:
        raise
    except StoreRefused as refusal:
        raise FileRefused(
            f"{store} was not made by the demo, so it is left as it is. {ELSEWHERE} ({refusal})"
        ) from refusal
    if not marked:
        raise FileRefused(f"{store} was not made by the demo, so it is left as it is. {ELSEWHERE}")
    if others or people:
        what = "has changes that the demo did not make" if others else "has people who may sign in"
        raise FileRefused(f"{store} {what}, so it is left as it is. {ELSEWHERE}")


def _require_own_files(into: Path) -> None:
    """Refuse files of the demo's names that are not as an earlier demo wrote them."""
    listed = _listed(into / LIST_NAME)
    for name in FILES:
        path = into / name
        if path.is_symlink() or path.exists():
            own = path.is_file() and _sha256(path.read_bytes()) == listed.get(name)
            if not own:
                raise FileRefused(
                    f"{path} was not written by the demo, or was changed since, so it is left as "
                    f"it is. {ELSEWHERE}"
                )


def _listed(path: Path) -> dict[str, str]:
    """The digest of each file in the demo's list; empty where there is no list."""
    if not (path.is_symlink() or path.exists()):
        return {}
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (UnicodeDecodeError, IsADirectoryError):
        lines = [""]
    pairs = [line.partition("  ") for line in lines]
    if any(len(digest) != 64 or name not in FILES for digest, _, name in pairs):
        raise FileRefused(
            f"{path} is not a list the demo wrote, so it is left as it is. {ELSEWHERE}"
        )
    return {name: digest for digest, _, name in pairs}


def _write(into: Path, contents: Mapping[str, bytes]) -> None:
    """Replace the files of an earlier demo; the list comes first, as it says whose they are."""
    listed = [f"{_sha256(content)}  {name}\n" for name, content in contents.items()]
    _require_own_files(into)  # asked again: the demo took a while
    for name in FILES:
        (into / name).unlink(missing_ok=True)
    with tempfile.TemporaryDirectory(prefix=".demo-", dir=into) as folder:
        # Each file is moved there whole, so that one cut short is never taken for a changed one.
        for name, content in {LIST_NAME: "".join(listed).encode(), **contents}.items():
            (Path(folder) / name).write_bytes(content)
            (Path(folder) / name).replace(into / name)


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _order_pdf(ordering: Ordering) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "seed-order.pdf"
        write_order_sheet(
            ordering.order,
            title=f"Seed order {CROP} {ordering.next_season}",
            farm=FARM,
            path=path,
            on=ORDERED_ON,
        )
        return path.read_bytes()


def _winter_files(winter: WinterChoice) -> dict[str, bytes]:
    with tempfile.TemporaryDirectory() as folder:
        written = season.write_winter(winter, Path(folder), farm=FARM, on=ORDERED_ON)
        return {path.name: path.read_bytes() for path in written}


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
        "The invented farm's files are missing from this installation. Install Tallybed again."
    )
