"""A winter plan on the invented farm, and the files that a grower carries away from it."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from trials.cli import tallybed
from trials.decide.planted import WinterChoice
from trials.errors import FileRefused, TrialState, UnknownName
from trials.model.units import PaperSize
from trials.records.plan.winter_file import winter_wishes
from trials.report.winter_page import winter_page
from trials.season.order_files import write_orders
from trials.season.winter import winter
from trials.season.winter_files import write_winter
from trials.store import Store

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parent.parent
WISHES = ROOT / "data" / "farm" / "winter.toml"


@pytest.fixture(scope="module")
def store(demo_store: Path) -> Path:
    """The invented farm with every trial closed; only read here."""
    return demo_store


@pytest.fixture(scope="module")
def planned(demo_winter: WinterChoice) -> WinterChoice:
    return demo_winter


@pytest.fixture(scope="module")
def files(planned: WinterChoice, tmp_path_factory: pytest.TempPathFactory) -> Path:
    into = tmp_path_factory.mktemp("files")
    write_winter(planned, into, farm="Murrowhask Flowers", on=date(2026, 11, 29))
    return into


def test_the_plan_keeps_to_every_wish(planned: WinterChoice) -> None:
    wishes = winter_wishes(WISHES)
    assert planned.plan.gap < 0.01
    assert len(planned.plan.net) == 200
    assert planned.plan.poor >= 0
    for bed in wishes.beds:
        for week in range(bed.from_week - 1, bed.to_week):
            here = [
                line.metres
                for line in planned.plan.lines
                if line.bed == bed.name and planned.winter.crops[line.place].takes[week]
            ]
            assert sum(here) <= bed.metres + 1e-6
    metres = planned.plan.metres
    assert np.all((metres < 1e-6) | (metres >= 2 - 1e-6))
    assert {each.crop for each in planned.plantings} == {"cosmos", "plume celosia", "zinnia"}
    assert not {each.variety for each in planned.plantings} & {name for name, _ in planned.left_out}


def test_one_order_covers_the_seeds_of_all_crops(planned: WinterChoice) -> None:
    sown = Counter[str]()
    for each in planned.plantings:
        sown[each.variety] += each.seeds
    for need in planned.needs:
        assert need.seeds == sown[need.variety]
        assert planned.order.seeds_of(need.variety) >= need.to_buy
    assert planned.order.most_above_cheapest == 0


def test_every_line_says_its_plots_and_cuts(planned: WinterChoice) -> None:
    page = " ".join(winter_page(planned).split())
    for each in planned.plantings:
        assert each.curve.cuts > 0
        assert all(plot in page for plot in each.curve.plots)


def test_the_calendar_is_read_back_by_a_calendar_library(
    planned: WinterChoice, files: Path
) -> None:
    icalendar = pytest.importorskip("icalendar")
    found = icalendar.Calendar.from_ical((files / "calendar.ics").read_bytes())
    events = [
        (str(event["SUMMARY"]), event["DTSTART"].dt, str(event["LOCATION"]))
        for event in found.walk("VEVENT")
    ]
    for each in planned.plantings:
        of = f"{each.crop} {each.variety} {each.treatment}".strip()
        assert (f"Plant out: {of}", each.days.plant_out, each.bed) in events
        if each.plugs:
            assert (f"Plugs arrive: {of}", each.days.plugs_arrive, each.bed) in events
            continue
        # The farm's own figures of days in trays.
        trays = {"cosmos": 28, "plume celosia": 42, "zinnia": 26}[each.crop]
        assert each.days.sow is not None
        assert (each.days.plant_out - each.days.sow).days == trays
        assert (f"Sow: {of}", each.days.sow, each.bed) in events
    assert len({str(event["UID"]) for event in found.walk("VEVENT")}) == len(events)


def test_no_line_of_the_calendar_is_longer_than_the_standard_allows(files: Path) -> None:
    lines = (files / "calendar.ics").read_bytes().split(b"\r\n")
    assert max(len(line) for line in lines) <= 75  # RFC 5545, 3.1
    assert (lines[0], lines[-2], lines[-1]) == (b"BEGIN:VCALENDAR", b"END:VCALENDAR", b"")


def test_each_house_gets_its_order_as_page_text_and_workbook(
    planned: WinterChoice, files: Path
) -> None:
    for parcel in planned.order.parcels:
        (path,) = [p for p in files.glob("order-*.csv") if parcel.house in p.read_text("utf-8")]
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert sum(float(row["cost"]) for row in rows) == pytest.approx(float(parcel.total))
        book = load_workbook(path.with_suffix(".xlsx")).active
        assert book is not None
        assert [row[1] for row in book.iter_rows(2, values_only=True)] == [r["item"] for r in rows]
        assert path.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
    with (files / "sowing-list.csv").open(encoding="utf-8", newline="") as file:
        listed = list(csv.DictReader(file))
    for column, plugs in (("seeds", False), ("plugs", True)):
        wanted = sum(need.seeds for need in planned.needs if need.plugs == plugs)
        assert sum(float(row[column] or 0) for row in listed) == wanted > 0


def test_a_house_may_be_left_out_and_seed_in_stock_counts(store: Path, tmp_path: Path) -> None:
    shown = CliRunner().invoke(
        tallybed,
        [
            *("winter", str(WISHES), "--store", str(store), "--on-hand", "2026-01=400"),
            *("--without-house", "Pennyquern Seed Barn"),
            *("--tested", "2026-01=88/100,60/100"),
        ],
    )
    assert shown.exit_code == 0, shown.output
    assert "148 of 200 seeds germinated, 74%" in shown.output
    assert "differ more than chance explains" in " ".join(shown.output.split())
    assert "Pennyquern" not in shown.output
    with pytest.raises(UnknownName, match="Did you mean"):
        winter(store, winter_wishes(WISHES), without_houses=["Gorsewhistle Seed Lofts"])


def changed(tmp_path: Path, old: str, new: str) -> Path:
    path = tmp_path / "wishes.toml"
    text = WISHES.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


REFUSALS = (
    ("metres = 24.0", "metres = -1", "bed.* number 1: metres needs metres above 0"),
    ("budget", "budgett", "no key 'budgett'. Did you mean budget"),
    ('site = "Heronlap Field"', "", "site is missing"),
    ("at_least = 60", "at_least = 600", "at_least is more than at_most"),
    ("from_week = 20", "from_week = 50", "from_week comes after to_week"),
    ("season = 2027", "season = ", "not a TOML file"),
    ("plant_out = [2027-06-01, 2027-06-22]", 'plant_out = ["June"]', "list of days"),
)


@pytest.mark.parametrize(("old", "new", "words"), REFUSALS)
def test_a_file_that_cannot_be_is_refused(old: str, new: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match=words):
        winter_wishes(changed(tmp_path, old, new))


def test_wishes_that_the_store_does_not_know_are_refused(store: Path, tmp_path: Path) -> None:
    for old, new, words in (
        ('site = "Heronlap Field"', 'site = "Heronlap"', "Heronlap Field"),
        ('colours = ["white", "pink"]', 'colours = ["ultramarine"]', "colour"),
        ("largest_share = 0.5", 'leave_out = ["Wrenlach"]', "Wrenlatch"),
    ):
        with pytest.raises(UnknownName, match=words):
            winter(store, winter_wishes(changed(tmp_path, old, new)))
    elsewhere = winter_wishes(changed(tmp_path, '"Saturday market"', '"Sunday market"'))
    with pytest.raises(TrialState, match="has no prices"):
        winter(store, elsewhere)


def test_a_sowing_of_another_year_is_refused(store: Path, tmp_path: Path) -> None:
    wishes = winter_wishes(WISHES)
    crop = wishes.sowings[0].crop
    late = replace(wishes.sowings[0], plant_out=(date(wishes.season + 1, 6, 1),))
    with pytest.raises(TrialState) as refused:
        winter(store, replace(wishes, sowings=(late,)))
    assert refused.value.text == (
        f"{crop} is planted out on {wishes.season + 1}-06-01, not in {wishes.season}."
    )


def test_where_every_variety_is_left_out_each_is_named_with_why(store: Path) -> None:
    wishes = winter_wishes(WISHES)
    sowing = wishes.sowings[0]
    grown = set(Store.open(store).varieties(sowing.crop)["variety"])
    none = replace(wishes, sowings=(sowing,), leave_out=tuple(sorted(grown)), wanted={})
    none = replace(none, markets=tuple(m for m in wishes.markets if m.crops == (sowing.crop,)))
    with pytest.raises(TrialState, match="No variety of these sowings is a candidate") as refused:
        winter(store, none)
    assert refused.value.text.endswith(
        "Close a trial of the crop, leave fewer varieties out, or load a seed house's price list."
    )


def test_files_that_cannot_be_written_name_the_folder(
    planned: WinterChoice, tmp_path: Path
) -> None:
    there = tmp_path / "a file"
    there.write_text("not a folder", encoding="utf-8")
    with pytest.raises(FileRefused, match=r"a file: .*Name another folder"):
        write_winter(planned, there, farm="", on=date(2026, 11, 29))
    with pytest.raises(FileRefused, match=r"a file: .*Name another folder"):
        write_orders(planned.order, 2027, there, farm="", on=date(2026, 11, 29), size=PaperSize.A4)
