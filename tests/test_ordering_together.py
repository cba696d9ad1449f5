"""One seed order for several crops: what it saves, and what is written of it."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from trials import season
from trials.cli import tallybed
from trials.decide import Choice, JointOrdering, Sowing
from trials.errors import UnknownName
from trials.report.order_page import joint_page
from trials.season import Buying, CropPlan

pytestmark = pytest.mark.slow

CROPS = ("cosmos", "plume celosia", "zinnia")
METRES = {"cosmos": 24.0, "plume celosia": 12.0, "zinnia": 10.0}


@pytest.fixture(scope="module")
def choices(demo_store: Path) -> tuple[Choice, ...]:
    return tuple(season.choose(demo_store, crop) for crop in CROPS)


@pytest.fixture(scope="module")
def joint(demo_store: Path, choices: tuple[Choice, ...]) -> JointOrdering:
    return season.order_together(demo_store, plans(choices))


def plans(choices: tuple[Choice, ...]) -> list[CropPlan]:
    return [CropPlan(each, Sowing(bed_metres=METRES[each.crop])) for each in choices]


def test_one_order_covers_every_crop_and_saves_shipping(
    demo_store: Path, choices: tuple[Choice, ...], joint: JointOrdering
) -> None:
    for ordering in joint.crops:
        assert ordering.order is joint.order
        for need in ordering.needs:
            assert joint.order.seeds_of(need.variety) >= need.to_buy
    alone = [season.order(demo_store, plan.choice, plan.sowing) for plan in plans(choices)]
    assert joint.apart == sum((each.order.total for each in alone), Decimal(0))
    assert joint.order.total < joint.apart
    for here, there in zip(joint.crops, alone, strict=True):
        assert here.needs == there.needs
    page = joint_page(joint)
    assert f"one order saves {joint.apart - joint.order.total:.2f} EUR" in " ".join(page.split())


def test_of_one_crop_nothing_is_compared(demo_store: Path, choices: tuple[Choice, ...]) -> None:
    assert season.order_together(demo_store, plans(choices)[:1]).apart is None


def test_a_house_may_be_left_out_of_it(demo_store: Path, choices: tuple[Choice, ...]) -> None:
    how = Buying(without_houses=("Pennyquern Seed Barn",))
    bought = season.order_together(demo_store, plans(choices), how)
    assert "Pennyquern Seed Barn" not in {parcel.house for parcel in bought.order.parcels}
    with pytest.raises(UnknownName, match="Did you mean"):
        season.order_together(demo_store, plans(choices), Buying(without_houses=("Pennyquern",)))


def ordered(store: Path, *words: str) -> Result:
    return CliRunner().invoke(tallybed, ["order", *words, "--store", str(store)])


def test_it_is_ordered_from_the_command_line_with_files_for_each_house(
    demo_store: Path, tmp_path: Path, joint: JointOrdering
) -> None:
    metres = [word for crop in CROPS for word in ("--bed-metres", f"{crop}={METRES[crop]}")]
    shown = ordered(demo_store, *CROPS, *metres, "--into", str(tmp_path / "orders"), "--json")
    assert shown.exit_code == 0, shown.output
    found = json.loads(shown.output)
    assert [each["crop"] for each in found["crops"]] == list(CROPS)
    assert found["total"] == float(joint.order.total)
    for parcel in joint.order.parcels:
        (path,) = [
            p for p in (tmp_path / "orders").glob("*.csv") if parcel.house in p.read_text("utf-8")
        ]
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert sum(float(row["cost"]) for row in rows) == pytest.approx(float(parcel.total))
        book = load_workbook(path.with_suffix(".xlsx")).active
        assert book is not None
        assert [row[1] for row in book.iter_rows(2, values_only=True)] == [r["item"] for r in rows]
        assert path.with_suffix(".pdf").read_bytes().startswith(b"%PDF")


def test_varieties_named_go_to_their_crops(demo_store: Path) -> None:
    words = ("--bed-metres", "5", "--variety", "Wrenlatch", "--variety", "Umberholt")
    shown = ordered(demo_store, "cosmos", "zinnia", *words)
    assert shown.exit_code == 0, shown.output
    assert "Wrenlatch" in shown.output
    assert "Umberholt" in shown.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--bed-metres", "zinia=3"), "'zinia' is none of the crops named"),
        (("--bed-metres", "cosmos=3"), "Name either --bed-metres or --stems for zinnia"),
        (("--bed-metres", "cosmos=many"), "is not a figure above 0"),
        (("--bed-metres", "3", "--variety", "Wrenlach"), "Did you mean 'Wrenlatch'"),
    ],
)
def test_what_cannot_be_is_refused(demo_store: Path, words: tuple[str, ...], said: str) -> None:
    shown = ordered(demo_store, "cosmos", "zinnia", *words)
    assert shown.exit_code != 0
    assert said in " ".join(f"{shown.output} {shown.exception}".split())
