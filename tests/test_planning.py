from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from trials import season
from trials.errors import FileRefused, PrintRefused, TrialState
from trials.season.comparing import Asked
from trials.season.planning import drawn_again
from trials.season.printing import Printing
from trials.stats.results import LayoutKind
from trials.store import Store

EXAMPLE = Path(__file__).parents[1] / "data" / "plan-example.toml"
FARM = EXAMPLE.parent / "farm"
TEXT = EXAMPLE.read_text(encoding="utf-8")
SPLIT = """[[factors]]
name = "pinch"
levels = ["yes", "no"]
on = "whole plot"

[[beds]]"""
THIRD_BED = """[[beds]]
name = "Bed 3"
length_m = 20
width_m = 1.2

[planting]"""
PLANS = {
    LayoutKind.COMPLETE_BLOCKS: TEXT,
    LayoutKind.INCOMPLETE_BLOCKS: TEXT.replace('"complete blocks"', '"incomplete blocks"').replace(
        "replicates = 4", "replicates = 6\nblock_size = 2"
    ),
    LayoutKind.COMPLETELY_RANDOMISED: TEXT.replace('"complete blocks"', '"completely randomised"'),
    LayoutKind.ROW_COLUMN: TEXT.replace('"complete blocks"', '"rows and columns"')
    .replace("replicates = 4", "replicates = 3")
    .replace("[planting]", THIRD_BED),
    LayoutKind.AUGMENTED_BLOCKS: TEXT.replace('"complete blocks"', '"augmented blocks"')
    .replace('checks = ["Our usual"]', 'checks = ["Our usual", "Early white"]')
    .replace('"Late blue"]', '"Late blue", "Red", "Rose", "Gold", "Mauve"]'),
    LayoutKind.SPLIT_PLOT: TEXT.replace('"complete blocks"', '"split-plot"').replace(
        "[[beds]]", SPLIT, 1
    ),
}


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "farm.tallybed"
    season.load(path, [FARM / "sites.csv", FARM / "seasons.csv"])
    return path


@pytest.mark.slow
def test_the_grades_of_the_plan_are_told_at_the_plot(store: Path) -> None:
    season.plan(store, EXAMPLE)
    plot = str(season.plots(store, "aster-2026")["plot"][0])
    told = season.plot_on_day(store, "aster-2026", plot, date(2026, 7, 1))
    assert told.planned_grades_cm == (30, 40, 50)
    assert told.grades_cm == ()


def filled(workbook: Path) -> None:
    """Write a stand and one picked day into every plot's rows."""
    book = openpyxl.load_workbook(workbook)
    for sheet in ("stand_counts", "cuts"):
        page = book[sheet]
        place = {str(cell.value): number for number, cell in enumerate(page[1], start=1)}
        picked = 0
        for row in range(2, page.max_row + 1):
            if page.cell(row, place["plot"]).value is None:
                continue
            values: dict[str, Any] = {"counted_on": date(2026, 6, 1), "living": 18}
            if sheet == "cuts":
                picked += 1
                values = {"cut_on": date(2026, 7, 1), "40 cm": 20 + (7 * picked) % 11}
            for name, value in values.items():
                page.cell(row, place[name]).value = value
    book.save(workbook)


@pytest.mark.slow
@pytest.mark.usefixtures("short_search")
@pytest.mark.parametrize("kind", PLANS)
def test_a_planned_trial_is_compared_as_it_was_laid_out(
    store: Path, tmp_path: Path, kind: LayoutKind
) -> None:
    (tmp_path / "plan.toml").write_text(PLANS[kind].replace("= 20\nwidth", "= 60\nwidth"))
    planned = season.plan(store, tmp_path / "plan.toml")
    assert drawn_again(store, "aster-2026") == planned.layout
    files = season.sheets(
        store, "aster-2026", tmp_path / "out", Printing("Low Field", date(2026, 3, 1))
    )
    assert all(path.stat().st_size for path in files)
    season.planted(store, "aster-2026", date(2026, 4, 5))
    filled(files[-1])
    season.load(store, [files[-1]])
    found = season.compare_trial(store, "aster-2026", asked=Asked(second_opinions=False))
    assert found.plots == len(planned.layout.plots)
    assert found.layout.kind is kind


def test_a_dry_run_stores_nothing(store: Path) -> None:
    season.plan(store, EXAMPLE, dry_run=True)
    assert Store.open(store).trials() == ()


@pytest.mark.slow
def test_a_trial_is_planned_once_and_the_next_takes_the_numbers_after_it(
    store: Path, tmp_path: Path
) -> None:
    first = season.plan(store, EXAMPLE)
    with pytest.raises(TrialState, match="already"):
        season.plan(store, EXAMPLE)
    (tmp_path / "second.toml").write_text(TEXT.replace("aster-2026", "aster-again"))
    second = season.plan(store, tmp_path / "second.toml")
    assert second.layout.plan.first_number == len(first.layout.plots) + 1


def test_a_season_that_is_not_held_is_asked_for(store: Path, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(TEXT.replace("season = 2026", "season = 2027"))
    with pytest.raises(TrialState, match=r"seasons\.csv"):
        season.plan(store, tmp_path / "plan.toml")


@pytest.mark.slow
@pytest.mark.usefixtures("short_search")
def test_all_sheets_are_written_or_none(
    store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.plan(store, EXAMPLE)
    trial = Store.open(store).trials()[0].code
    out = tmp_path / "new" / "out"
    tiny = Printing("F", date(2026, 3, 1), label_mm=(8.0, 5.0))
    with pytest.raises(PrintRefused):
        season.sheets(store, trial, out, tiny)
    assert not (tmp_path / "new").exists()
    how = Printing("F", date(2026, 3, 1))
    files = season.sheets(store, trial, out, how)
    assert sorted(out.iterdir()) == sorted(files)
    before = {file: file.read_bytes() for file in files}
    move = Path.replace

    def refused(self: Path, target: Path) -> Path:
        if self.name.endswith("trial.pdf") and self.parent.name != "before":
            raise PermissionError(13, "Permission denied")
        return move(self, target)

    monkeypatch.setattr(Path, "replace", refused)
    with pytest.raises(FileRefused, match="Nothing was printed"):
        season.sheets(store, trial, out, Printing("Another farm", date(2026, 3, 2)))
    assert {file: file.read_bytes() for file in out.iterdir()} == before
