"""The farm's own figures of its crops, from the file to the calendar and the history."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from trials import season
from trials.cli import tallybed
from trials.errors import RecordsRefused
from trials.layout.calendar import TaskKind
from trials.layout.crops import CropFigure, figures_of
from trials.model.crop_facts import Fact, FactSource
from trials.model.rows import Signed

pytestmark = pytest.mark.slow

DATA = Path(__file__).parents[1] / "data"
HEADING = "crop,figure,value,source"
ASTER = (
    (DATA / "plan-example.toml")
    .read_text("utf-8")
    .replace("days_to_bloom = 110", "")
    .replace("Late blue", "Late sky")
)
ANN = Signed("Ann", "counted again")


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    path = tmp_path / "farm.tallybed"
    season.load(path, [DATA / "farm" / "sites.csv", DATA / "farm" / "seasons.csv"])
    return path


def crops(folder: Path, *rows: str) -> Path:
    path = folder / "crops.csv"
    path.write_text("\n".join([HEADING, *rows]) + "\n", "utf-8")
    return path


def first_cut(farm: Path, text: str = ASTER) -> tuple[date, date]:
    """The days of the first sowing and of its first cut."""
    tasks = season.propose(farm, text).dates.tasks
    return tuple(
        next(task.on for task in tasks if task.kind is kind and task.part is None)
        for kind in (TaskKind.SOW, TaskKind.FIRST_CUT)
    )  # type: ignore[return-value]


def own(figures: Mapping[Fact, float]) -> Mapping[Fact, CropFigure]:
    return {
        fact: CropFigure(value, value, FactSource.OWN_RECORDS) for fact, value in figures.items()
    }


def test_own_figures_come_before_those_shipped_and_only_where_they_are() -> None:
    found = figures_of("zinnia", {"Zinnia": own({Fact.DAYS_TO_BLOOM: 66})})
    assert found[Fact.DAYS_TO_BLOOM] == CropFigure(66, 66, FactSource.OWN_RECORDS)
    assert found[Fact.GERMINATION_C] == figures_of("zinnia")[Fact.GERMINATION_C]
    assert figures_of("aster", {"zinnia": own({Fact.FLUSHES: 2})}) == {}


def test_a_crop_s_own_figures_come_before_those_of_the_crop_its_name_ends_in() -> None:
    table = {
        "plume celosia": own({Fact.DAYS_TO_BLOOM: 98}),
        "celosia": own({Fact.DAYS_TO_BLOOM: 85, Fact.FLUSHES: 2}),
    }
    found = figures_of("plume celosia", table)
    assert (found[Fact.DAYS_TO_BLOOM].low, found[Fact.FLUSHES].low) == (98, 2)
    assert figures_of("celosia", table)[Fact.DAYS_TO_BLOOM].low == 85


def test_the_calendar_takes_the_farm_s_figure_and_the_plan_s_before_it(
    farm: Path, tmp_path: Path
) -> None:
    assert season.propose(farm, ASTER).dates.tasks == ()
    season.load(farm, [crops(tmp_path, "aster,days_to_bloom,100,own records")])
    sown, cut = first_cut(farm)
    assert (cut - sown).days == 100
    sown, cut = first_cut(farm, ASTER.replace("[calendar]", "[calendar]\ndays_to_bloom = 120"))
    assert (cut - sown).days == 120


def test_every_page_says_where_the_figure_comes_from(farm: Path, tmp_path: Path) -> None:
    rows = ("aster,days_to_bloom,100,own records", "aster,flushes,2,seed packet")
    season.load(farm, [crops(tmp_path, *rows)])
    plan = tmp_path / "plan.toml"
    plan.write_text(ASTER, "utf-8")
    code = re.search(r'^trial = "(.*)"', ASTER, re.MULTILINE)
    assert code is not None
    for line in (
        ["plan", str(plan), "--propose"],
        ["plan", str(plan)],
        ["calendar", code[1]],
    ):
        ran = CliRunner().invoke(tallybed, [*line, "--store", str(farm)])
        assert ran.exit_code == 0, ran.output
        said = " ".join(ran.output.split())
        assert "aster, from your own records: 100 days from sowing to the first cut" in said, line
        assert "aster, from the seed packet: 2 cuts" in said, line


def test_a_correction_changes_the_calendar_and_keeps_the_old_value(
    farm: Path, tmp_path: Path
) -> None:
    season.load(farm, [crops(tmp_path, "aster,days_to_bloom,100,seed packet")])
    entry = season.correct(farm, [crops(tmp_path, "aster,days_to_bloom,93,own records")], ANN)
    assert entry is not None
    (change,) = entry.changes
    assert (change.before, change.after) == (
        (("value", 100.0), ("source", "seed packet")),
        (("value", 93.0), ("source", "own records")),
    )
    sown, cut = first_cut(farm)
    assert (cut - sown).days == 93
    season.undo(farm, entry.number, ANN)
    sown, cut = first_cut(farm)
    assert (cut - sown).days == 100
    season.withdraw(farm, [crops(tmp_path, "aster,days_to_bloom,100,seed packet")], ANN)
    assert season.propose(farm, ASTER).dates.tasks == ()


def test_another_value_is_no_load(farm: Path, tmp_path: Path) -> None:
    season.load(farm, [crops(tmp_path, "aster,days_to_bloom,100,seed packet")])
    with pytest.raises(RecordsRefused, match="tallybed correct"):
        season.load(farm, [crops(tmp_path, "aster,days_to_bloom,93,own records")])


def test_a_trial_s_package_has_none_of_them(tmp_path: Path) -> None:
    path = tmp_path / "farm.tallybed"
    season.load(path, [DATA / "farm"])
    season.package(path, "cosmos-2024", tmp_path / "package")
    text = (tmp_path / "package" / "datapackage.json").read_text("utf-8")
    assert "crop_figure" not in text
    assert not list((tmp_path / "package").glob("**/*crops*"))
