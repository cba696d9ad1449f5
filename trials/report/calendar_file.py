"""The days of a winter plan as an iCalendar file (RFC 5545), which calendar programs open."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from trials.decide.planted import Planting, WinterChoice
from trials.model.work_safety import Work, cautions

_WORKS = {
    "Sow": (Work.SEED,),
    "Plugs arrive": (),
    "Plant out": (Work.LIFTING,),
    "Pinch": (Work.BLADES,),
    "Net": (Work.POSTS,),
    "First cut expected": (Work.BLADES, Work.HEAT),
    "Last cut expected": (),
}


def calendar_file(found: WinterChoice, made: datetime) -> str:
    """One all-day event per piece of work and planting; ``made`` is when the file was written."""
    stamp = made.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Tallybed//Winter plan//EN",
        "CALSCALE:GREGORIAN",
    ]
    for each in found.plantings:
        for work, day in _works(each):
            lines += _event(work, day, each, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))


def _works(each: Planting) -> Iterator[tuple[str, date]]:
    days = each.days
    for work, day in (
        ("Sow", days.sow),
        ("Plugs arrive", days.plugs_arrive),
        ("Plant out", days.plant_out),
        ("Net", days.net),
        ("Pinch", days.pinch),
        ("First cut expected", days.first_cut),
        ("Last cut expected", days.last_cut),
    ):
        if day is not None:
            yield work, day


def _event(work: str, day: date, each: Planting, stamp: str) -> list[str]:
    of = f"{each.crop} {each.variety} {each.treatment}".strip()
    amount = {
        "Sow": f"{each.seeds} seeds for {each.plants} plants",
        "Plugs arrive": f"{each.seeds} plugs, to harden off before they are planted out",
    }.get(work, f"{each.metres:.1f} m, {each.plants} plants")
    said = " ".join([f"{amount}, bed {each.bed}.", *cautions(*_WORKS[work])])
    mark = f"{work}|{of}|{each.bed}|{each.days.plant_out}"
    return [
        "BEGIN:VEVENT",
        f"UID:{hashlib.sha256(mark.encode()).hexdigest()[:32]}@tallybed",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(1):%Y%m%d}",
        f"SUMMARY:{_escaped(f'{work}: {of}')}",
        f"LOCATION:{_escaped(each.bed)}",
        f"DESCRIPTION:{_escaped(said)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _escaped(text: str) -> str:
    """Text as RFC 5545, 3.3.11 writes it."""
    for mark in ("\\", ";", ","):
        text = text.replace(mark, f"\\{mark}")
    return "\\n".join(text.splitlines())


def _folded(line: str) -> Iterator[str]:
    """Lines of at most 75 octets, the later ones begun with a space (RFC 5545, 3.1)."""
    part = ""
    for character in line:
        if len((part + character).encode()) > 75:
            yield part
            part = " "
        part += character
    yield part
