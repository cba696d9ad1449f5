"""A plan on the farm: its own spread, what the store knows of it, and its calendar."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from trials import season
from trials.errors import PlanRefused, TrialState
from trials.layout.calendar import DateSource, Task, TaskKind
from trials.layout.power.variation import SpreadSource
from trials.layout.proposals import Way
from trials.records.plan.proposed import Note, NoteKind, Proposed
from trials.report.plan_words import note_words
from trials.season.planning import drawn_again
from trials.store import Store

pytestmark = pytest.mark.slow

DATA = Path(__file__).parents[1] / "data"
FARM = DATA / "farm"
TEXT = (DATA / "plan-example.toml").read_text(encoding="utf-8")
COSMOS = TEXT.replace('crop = "aster"', 'crop = "cosmos"')
OWN_SEASON = """
last_spring_frost = 2026-05-01
first_autumn_frost = 2026-10-05
season_starts_on = 2026-03-01
season_ends_on = 2026-10-31
"""


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> Path:
    """The invented farm after two of its cosmos trials were closed."""
    path = Path(shutil.copy(farm_store, tmp_path_factory.mktemp("farm")))
    season.close(path, "cosmos-2024", date(2024, 10, 14), "frost")
    season.close(path, "cosmos-2025", date(2025, 10, 6), "frost")
    return path


def kinds(asked: Proposed) -> set[NoteKind]:
    return {note.kind for note in asked.notes}


def test_the_farms_own_closed_trials_give_the_spread(farm: Path) -> None:
    """Pooled by hand: each trial's residual mean square from its plots, as a square of its CV."""
    squares, weights = [], []
    for code in ("cosmos-2024", "cosmos-2025"):
        plots = season.plots(farm, code).dropna(subset=["stems_per_plant"])
        y = plots["stems_per_plant"].to_numpy(float)
        columns = [np.ones(len(y))]
        for name in ("variety", "block"):
            columns += [(plots[name] == level).to_numpy(float) for level in set(plots[name])]
        x = np.column_stack(columns)
        rank = int(np.linalg.matrix_rank(x))
        rest = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
        squares.append(float(rest @ rest) / y.mean() ** 2)
        weights.append(len(y) - rank)
    asked = season.propose(farm, COSMOS)
    spread = asked.spread.spread
    assert spread.source is SpreadSource.OWN_TRIALS
    assert [trial.trial for trial in asked.spread.trials] == ["cosmos-2024", "cosmos-2025"]
    assert spread.cv_percent == pytest.approx(100 * (sum(squares) / sum(weights)) ** 0.5, rel=0.01)
    assert spread.df == sum(weights)


def test_without_trials_of_the_crop_a_usual_spread_is_assumed(farm: Path, tmp_path: Path) -> None:
    for store in (farm, tmp_path / "none.tallybed"):
        assert season.propose(store, TEXT).spread.spread.source is SpreadSource.ASSUMED
    stated = season.propose(farm, f"{COSMOS}\n[assume]\ncv_percent = 12\n").spread.spread
    assert (stated.cv_percent, stated.source) == (12.0, SpreadSource.STATED)


def test_the_store_says_what_it_does_not_know(farm: Path, tmp_path: Path) -> None:
    asked = season.propose(farm, COSMOS)
    (unknown,) = [note for note in asked.notes if note.kind is NoteKind.UNKNOWN_VARIETIES]
    assert unknown.names == ("Our usual", "Early white", "Tall pink", "Late blue")
    known = COSMOS.replace('"Late blue"', '"Wrenlatch"')
    (fewer,) = [n for n in season.propose(farm, known).notes if n.kind is unknown.kind]
    assert "Wrenlatch" not in fewer.names
    other = season.propose(farm, TEXT.replace('"Late blue"', '"Wrenlatch"'))
    assert NoteKind.OF_OTHER_CROPS in kinds(other)
    assert NoteKind.NO_STORE in kinds(season.propose(tmp_path / "none.tallybed", TEXT))


def test_tested_lots_set_the_seed(farm: Path) -> None:
    """96 plants at 0.84 x 0.90 and 10 % more: 139.7, so 140 seeds."""
    rate = float(season.propose(farm, TEXT).written.assumed.usable)
    assert rate == 0.90
    asked = season.propose(farm, COSMOS.replace('"Late blue"', '"Cinderhaw"'))
    (needs,) = [e for e in asked.offers[0].entries if e.entry == "Cinderhaw"]
    assert (needs.plants, needs.seeds) == (96, 140)


def test_the_frosts_are_the_sites_own_of_that_season_or_the_newest(farm: Path) -> None:
    asked = season.propose(farm, TEXT)
    assert asked.dates.frost is not None
    assert asked.dates.frost.first_autumn == date(2026, 10, 11)
    later = TEXT.replace("2026", "2027")
    moved = season.propose(farm, later)
    assert moved.dates.frost is not None
    assert moved.dates.frost.first_autumn == date(2027, 10, 11)
    assert NoteKind.FROST_OF_OTHER_YEAR in kinds(moved)
    bare = season.propose(farm, TEXT.replace("Heronlap Field", "Elsewhere"))
    assert bare.dates.tasks == ()
    assert NoteKind.NO_FROST in kinds(bare)
    unknown = season.propose(farm, TEXT.replace("days_to_bloom = 110", ""))
    assert Note(NoteKind.NO_CROP_FIGURES, ("aster", "days_to_bloom")) in unknown.notes


def test_sowings_and_seasons_that_do_not_fit_are_said(farm: Path) -> None:
    text = TEXT.replace("successions = 1", "successions = 9\ndays_between_sowings = 21")
    (fewer,) = [each for each in season.propose(farm, text).notes if each.names[0] == "9"]
    said = note_words(fewer)
    assert "You asked for 9 sowings;" in said
    assert "lower days_between_sowings or weeks_of_cutting" in said
    late = TEXT.replace("days_to_bloom = 110", "days_to_bloom = 220")
    (short,) = [
        each for each in season.propose(farm, late).notes if each.kind is NoteKind.SEASON_TOO_SHORT
    ]
    assert "The season is too short for aster sown on 2026-02-20" in note_words(short)


def test_where_no_sowing_fits_only_earlier_sowing_is_advised(farm: Path) -> None:
    """240 days from 20 February is 18 October, a week after the average frost."""
    text = TEXT.replace("successions = 1", "successions = 9\ndays_between_sowings = 21")
    found = season.propose(farm, text.replace("days_to_bloom = 110", "days_to_bloom = 240"))
    assert {NoteKind.SEASON_TOO_SHORT, NoteKind.NO_SOWING_FITS} <= kinds(found)
    said = " ".join(note_words(note) for note in found.notes)
    assert "None of the 9 sowings you asked for fits." in said
    assert "lower days_between_sowings" not in said


def test_days_that_cannot_be_are_refused(farm: Path) -> None:
    with pytest.raises(PlanRefused, match="calendar's days are not in order"):
        season.propose(farm, TEXT.replace("days_to_bloom = 110", "days_to_bloom = 20"))


def test_looking_stores_nothing(farm: Path) -> None:
    before = season.trials(farm)
    assert season.propose(farm, TEXT).as_written == 1
    assert season.trials(farm) == before


def test_a_plan_that_does_not_fit_is_answered_with_what_does(farm: Path) -> None:
    text = TEXT.replace("replicates = 4", "replicates = 9")
    asked = season.propose(farm, text)
    assert asked.as_written is None
    assert asked.refused is not None
    assert all(offer.way is not Way.AS_WRITTEN for offer in asked.offers)
    with pytest.raises(PlanRefused, match="--propose"):
        season.plan_from_text(farm, text, dry_run=True)
    with pytest.raises(PlanRefused, match="no proposal 99"):
        season.plan_from_text(farm, text, take=99, dry_run=True)


def test_a_store_is_made_with_the_season_the_plan_gives(tmp_path: Path) -> None:
    path = tmp_path / "new.tallybed"
    with pytest.raises(TrialState, match="season_starts_on"):
        season.plan_from_text(path, TEXT)
    assert not path.exists()
    planned = season.plan_from_text(path, TEXT + OWN_SEASON)
    assert planned.store_made
    assert [trial.code for trial in season.trials(path)] == ["aster-2026"]
    assert len(Store.open(path).seasons()) == 1


def test_what_was_taken_is_drawn_again(tmp_path: Path) -> None:
    path = tmp_path / "new.tallybed"
    text = TEXT + OWN_SEASON
    asked = season.propose(path, text)
    number = next(i for i, o in enumerate(asked.offers, 1) if o.way is Way.SMALLER_PLOTS)
    planned = season.plan_from_text(path, text, take=number)
    assert planned.layout.plan.plants_per_plot == asked.offers[number - 1].plan.plants_per_plot
    assert drawn_again(path, "aster-2026") == planned.layout


def test_the_calendar_follows_what_was_recorded(tmp_path: Path) -> None:
    path = tmp_path / "new.tallybed"
    planned = season.plan_from_text(path, f"{TEXT}{OWN_SEASON}pinched = true\ndays_to_pinch = 14\n")
    before = {task.kind: task for task in season.calendar(path, "aster-2026").tasks}
    (tmp_path / "events.csv").write_text(
        "trial,plot,happened_on,kind,reason\naster-2026,,2026-05-20,pinched,\n", encoding="utf-8"
    )
    season.load(path, [tmp_path / "events.csv"])
    after: dict[TaskKind, Task] = {}
    for task in season.calendar(path, "aster-2026").tasks:
        after.setdefault(task.kind, task)
    assert after[TaskKind.PINCH].source is DateSource.HAPPENED
    moved = date(2026, 5, 20) - before[TaskKind.PINCH].on
    first = next(t for t in planned.proposed.dates.tasks if t.kind is TaskKind.FIRST_CUT)
    assert after[TaskKind.FIRST_CUT].on - first.on == moved
