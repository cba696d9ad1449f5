"""What the winter page asks of the season: the plan, its files and the seed in stock."""

from __future__ import annotations

import io
import tempfile
import threading
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

from dashboard.access.visitor import READERS, WRITERS, require
from dashboard.kept import Kept, store_path
from trials import season as front
from trials.decide import OnHand
from trials.decide.planted import WinterChoice
from trials.errors import FileRefused
from trials.model.rows import Added, Signed
from trials.model.units import PaperSize
from trials.report.calendar_file import calendar_file

_one_at_a_time = threading.Lock()


@Kept
def winter_start() -> front.WinterStart:
    """What the form of a winter plan begins with."""
    return front.winter_start(store_path())


@Kept
def winter(text: str, where: str) -> WinterChoice:
    """The winter plan for the wishes in a text; ``where`` is what a refusal calls it."""
    return front.winter_of(store_path(), text, where)


def winter_files(found: WinterChoice, farm: str, size: PaperSize) -> Callable[[], bytes]:
    """Returns a function that packs every file of a winter plan, dated today, once asked for."""
    require(READERS)
    return partial(_winter_files, found, farm, size)


def _winter_files(found: WinterChoice, farm: str, size: PaperSize) -> bytes:
    packed = io.BytesIO()
    with tempfile.TemporaryDirectory() as folder, zipfile.ZipFile(packed, "w") as archive:
        for path in front.write_winter(found, Path(folder), farm=farm, on=date.today(), size=size):
            archive.write(path, path.name, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def winter_calendar(found: WinterChoice) -> str:
    """The days of a winter plan for a calendar program."""
    require(READERS)
    return calendar_file(found, datetime.now(UTC))


def wishes_text(name: str, content: bytes) -> str:
    """The text of a file of wishes that was brought along."""
    require(READERS)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileRefused(f"{name} is no text in UTF-8. Save it as UTF-8 and try again.") from None


@Kept
def seed_in_stock(season: int) -> tuple[OnHand, ...]:
    """The seed in stock by the newest counts, as it is to be sown in a season."""
    return front.seed_in_stock(store_path(), season)


@Kept
def seed_lots() -> tuple[tuple[str, str], ...]:
    """Every seed lot and its variety, the newest first."""
    return front.seed_lots(store_path())


def record_stock(entry: front.StockEntry) -> Added:
    """Record a count of a seed lot or its germination test; the same again changes nothing."""
    who = require(WRITERS)
    with _one_at_a_time:
        return front.record_stock(store_path(), entry, Signed(who.name))
