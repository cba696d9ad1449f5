"""Tallying at the bed: judged like every other record, recorded once, put right with a trace."""

from __future__ import annotations

import shutil
import subprocess
import sys
import threading
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trials import season
from trials.errors import ChangedMeanwhile, RecordsHeld, RecordsRefused, TrialState, UnknownName
from trials.model.re_entry import closing_spray
from trials.model.rows import Sheet, Signed
from trials.model.trial import EventKind, Outcome
from trials.report.history_page import entry_lines
from trials.report.pages import load_page
from trials.season import tallying
from trials.season.tallying import SprayEntry, Tally, TallyEntry
from trials.store import Store

DAY = date(2026, 8, 5)
FINN = Signed("Finn", token="one")


FILES = {
    "sites": "site,place,bed_width_m\nTop,Hill,1.2\n",
    "seasons": "season,site,starts_on,ends_on\n2026,Top,2026-03-01,2026-11-30\n",
    "varieties": "variety,crop\nOne,aster\nTwo,aster\n",
    "trials": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
    "equivalence_margin,minimum_length_cm\n"
    "open,2026,Top,aster,Which?,variety on plots,,stems_per_plant,0.05,,40\n"
    "shut,2026,Top,aster,Which?,variety on plots,,stems_per_plant,0.05,,40\n",
    "plots": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
    "transplanted_on\n"
    + "".join(
        f"{trial},{trial[0]}{n},1,{bed}{letter},{n},{variety},12,1.2,1.44,2026-05-20\n"
        for trial, letter in (("open", ""), ("shut", "b"))
        for n, bed, variety in ((1, "Bed 10", "Two"), (2, "Bed 2", "One"), (3, "Bed 2", "Two"))
    ),
}


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bed")
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    season.close(store, "shut", date(2026, 8, 1), "frost")
    return store


@pytest.fixture
def store(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made_once, tmp_path))


def counted(plot: str = "o1", **stems: str) -> TallyEntry:
    grades = tuple((int(grade.removeprefix("g")), text) for grade, text in stems.items())
    return TallyEntry(plot, DAY, Tally.COUNTED, stems=grades)


def cuts(store: Path) -> list[tuple[Any, ...]]:
    held = Store.open(store).known().frames[Sheet.CUTS]
    columns = ["plot", "outcome", "grade_cm", "stems", "cull_reason"]
    table = held[columns].astype(object).where(held[columns].notna(), None)
    return [tuple(row) for row in table.to_numpy().tolist()]


def test_the_walk_is_that_of_the_beds_and_of_open_trials(store: Path) -> None:
    walk = tallying.walk(store, DAY)
    assert [(p.plot, p.bed, p.treatment) for p in walk] == [
        ("o2", "Bed 2", "One"),
        ("o3", "Bed 2", "Two"),
        ("o1", "Bed 10", "Two"),
    ]
    assert all(plot.is_left for plot in walk)


@pytest.mark.parametrize("day", [date(2026, 5, 19), date(2026, 12, 1), date(2025, 8, 5)])
def test_nothing_is_tallied_before_planting_or_out_of_season(store: Path, day: date) -> None:
    assert tallying.walk(store, day) == ()


def test_stems_culls_and_lengths_are_recorded_as_typed(store: Path) -> None:
    entry = TallyEntry(
        "o1", DAY, Tally.COUNTED,
        stems=((40, " 12 "), (50, "0"), (60, "")),
        culls=(("bent, and \"worse\"", "2"), ("insects", "")),
        lengths=("44,5", "", "51"),
    )  # fmt: skip
    assert season.tally(store, entry, FINN) == tallying.Recorded("o1", DAY, again=False)
    told = tallying.plot_on_day(store, "open", "o1", DAY)
    assert told.outcome is Outcome.PICKED
    assert told.stems == ((40, 12), (50, 0))
    assert told.culls == (('bent, and "worse"', 2),)
    assert told.lengths_cm == (44.5, 51.0)
    assert told.who == "Finn"
    (plot,) = [plot for plot in tallying.walk(store, DAY) if not plot.is_left]
    assert (plot.plot, plot.stems, plot.culls) == ("o1", 12, 2)


def test_a_blank_a_zero_and_a_missed_pick_are_three_things(store: Path) -> None:
    tallying.tally(store, TallyEntry("o1", DAY, Tally.NOTHING), Signed("Finn", token="a"))
    tallying.tally(store, TallyEntry("o2", DAY, Tally.NOT_PICKED), Signed("Finn", token="b"))
    assert cuts(store) == [
        ("o1", "picked", None, 0, None),
        ("o2", "missed", None, None, None),
    ]
    plots = Store.open(store).plots("open").set_index("plot")
    assert plots.loc["o1", "marketable_stems"] == 0
    assert bool(plots["marketable_stems"].isna()["o2"])
    assert plots.loc["o2", "missed_picks"] == 1
    left = [plot.plot for plot in tallying.walk(store, DAY) if plot.is_left]
    assert left == ["o3"]


def test_one_submission_is_recorded_once_however_often_it_comes(store: Path) -> None:
    entry = counted(g40="12")
    tallying.tally(store, entry, FINN)
    assert tallying.tally(store, entry, FINN).again
    other = counted(g40="99")
    assert tallying.tally(store, other, FINN).again, "the same mark is the same submission"
    assert cuts(store) == [("o1", "picked", 40, 12, None)]


def test_two_people_do_not_add_up_one_plot(store: Path) -> None:
    tallying.tally(store, counted(g40="12"), FINN)
    with pytest.raises(TrialState, match="o1 is recorded for 2026-08-05 already"):
        tallying.tally(store, counted(g50="3"), Signed("Wren", token="two"))
    assert len(cuts(store)) == 1


def test_two_phones_at_one_plot_at_once_record_it_once(store: Path) -> None:
    told: list[str] = []

    def phone(number: int) -> None:
        try:
            entry = counted(**{f"g{40 + 10 * number}": "5"})
            tallying.tally(store, entry, Signed(None, token=f"phone {number}"))
        except TrialState:
            told.append("recorded already")

    phones = [threading.Thread(target=phone, args=(number,)) for number in range(3)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    assert len(cuts(store)) == 1
    assert told == ["recorded already"] * 2


AT_ONE_PLOT = """
import sys, time
from datetime import date, datetime, timedelta
from pathlib import Path
from trials.season import tallying
from trials.model.rows import Signed
from trials.model.plot_day import RecordedMeanwhile
from trials.season.tallying import SprayEntry, Tally, TallyEntry

store, who, other, grade = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
judge = tallying._judged

def judged_by_both_before_either_stores(*given):
    batch = judge(*given)
    store.with_name(f"{who} judged").touch()
    until = time.monotonic() + 60
    while not store.with_name(f"{other} judged").exists() and time.monotonic() < until:
        time.sleep(0.01)
    return batch

tallying._judged = judged_by_both_before_either_stores
entry = TallyEntry("o1", date(2026, 8, 5), Tally.COUNTED, stems=((grade, "7"),))
try:
    tallying.tally(store, entry, Signed(who, token=f"by {who}"))
    print("recorded")
except RecordedMeanwhile as meanwhile:
    print(meanwhile.held.who, meanwhile.held.stems, meanwhile)
"""


@pytest.mark.slow
@pytest.mark.parametrize("grades", [("40", "50"), ("40", "40")], ids=["other", "same"])
def test_two_processes_at_one_plot_at_once_record_it_once(
    store: Path, grades: tuple[str, str]
) -> None:
    """Both have judged it good before either stores it; also where both typed the very same."""
    phones = {
        who: subprocess.Popen(
            [sys.executable, "-c", AT_ONE_PLOT, str(store), who, other, grade],
            stdout=subprocess.PIPE,
            text=True,
        )
        for who, other, grade in (("Finn", "Wren", grades[0]), ("Wren", "Finn", grades[1]))
    }
    said = {who: phone.communicate(timeout=120)[0] for who, phone in phones.items()}
    (first,) = [who for who, words in said.items() if words == "recorded\n"]
    (second,) = [who for who in said if who != first]
    stems = ((int(grades[first == "Wren"]), 7),)
    assert said[second].startswith(f"{first} {stems} Somebody else recorded this plot at ")
    assert f": {first}, 7 stems graded, 0 culled." in said[second]
    assert len(cuts(store)) == 1
    told = tallying.plot_on_day(store, "open", "o1", DAY)
    assert (told.who, told.stems) == (first, stems)
    assert [entry.who for entry in season.history(store) if entry.what == "tally"] == [first]


@pytest.mark.slow
def test_ten_phones_at_once_lose_and_double_nothing(store: Path) -> None:
    def phone(number: int) -> None:
        day = date(2026, 8, 6 + number)
        entry = TallyEntry("o1", day, Tally.COUNTED, stems=((40, str(number)),))
        for _ in range(2):
            tallying.tally(store, entry, Signed(f"phone {number}", token=f"t{number}"))

    phones = [threading.Thread(target=phone, args=(number,)) for number in range(10)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    assert sorted(row[3] for row in cuts(store)) == list(range(10))


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["x", "-1", "1.5", "1e9", "=1+1", "١٢", "1 2", "9" * 30])
def test_what_is_no_count_is_refused_by_the_judge_of_all_records(store: Path, typed: str) -> None:
    with pytest.raises(RecordsRefused) as refused:
        tallying.tally(store, counted(g40=typed), FINN)
    assert all(words.startswith("Stems: ") for words in tallying.said_of_fields(refused.value))
    assert cuts(store) == []


def test_a_closed_trial_takes_no_tally(store: Path) -> None:
    with pytest.raises(RecordsRefused, match="closed"):
        tallying.tally(store, counted("s1", g40="1"), FINN)
    with pytest.raises(TrialState, match="tallybed correct"):
        tallying.correct_tally(store, counted("s1", g40="1"), Signed("Finn", "why", "x"), 1)


def test_an_unknown_plot_is_told_the_nearest(store: Path) -> None:
    with pytest.raises(UnknownName, match="o1"):
        tallying.tally(store, counted("o11", g40="1"), FINN)


def test_a_lost_plot_and_a_note_are_events(store: Path) -> None:
    tallying.tally(
        store, TallyEntry("o1", DAY, Tally.NOTE, words="hail"), Signed("Finn", token="a")
    )
    tallying.tally(
        store, TallyEntry("o1", DAY, Tally.LOST, words="voles"), Signed("Finn", token="b")
    )
    told = tallying.plot_on_day(store, "open", "o1", DAY)
    assert told.events == ((EventKind.LOST, "voles"), (EventKind.NOTE, "hail"))
    (lost,) = [plot for plot in tallying.walk(store, DAY) if plot.plot == "o1"]
    assert lost.lost_reason == "voles"
    assert not lost.is_left
    with pytest.raises(RecordsRefused):
        tallying.tally(store, TallyEntry("o2", DAY, Tally.LOST, words=" "), FINN)


@pytest.mark.slow
def test_a_correction_replaces_the_day_and_keeps_what_was(store: Path) -> None:
    tallying.tally(store, counted(g40="12", g50="3"), FINN)
    seen = tallying.plot_on_day(store, "open", "o1", DAY).last_entry
    signed = Signed("Wren", "misread", "two")
    tallying.correct_tally(store, counted(g40="21"), signed, seen)
    assert tallying.correct_tally(store, counted(g40="21"), signed, seen).again
    assert cuts(store) == [("o1", "picked", 40, 21, None)]
    newest = season.history(store)[-1]
    assert (newest.who, newest.why, newest.what) == ("Wren", "misread", "correction")
    not_picked = TallyEntry("o1", DAY, Tally.NOT_PICKED)
    tallying.correct_tally(store, not_picked, Signed("Wren", "other bed", "three"), newest.number)
    assert cuts(store) == [("o1", "missed", None, None, None)]


@pytest.mark.slow
def test_an_unlikely_correction_waits_for_somebody_to_answer_for_it(store: Path) -> None:
    tallying.tally(store, counted(g40="12"), FINN)
    seen = tallying.plot_on_day(store, "open", "o1", DAY).last_entry
    signed = Signed("Wren", "misread", "two")
    with pytest.raises(RecordsHeld):
        tallying.correct_tally(store, counted(g40="90000"), signed, seen)
    assert cuts(store) == [("o1", "picked", 40, 12, None)]
    tallying.correct_tally(store, counted(g40="90000"), signed, seen, "counted twice")
    assert cuts(store) == [("o1", "picked", 40, 90000, None)]


def test_two_people_correcting_one_day_are_told(store: Path) -> None:
    tallying.tally(store, counted(g40="12"), FINN)
    seen = tallying.plot_on_day(store, "open", "o1", DAY).last_entry
    tallying.correct_tally(store, counted(g40="13"), Signed("Wren", "recounted", "two"), seen)
    with pytest.raises(ChangedMeanwhile):
        tallying.correct_tally(store, counted(g40="14"), Signed("Finn", "misread", "three"), seen)
    assert cuts(store) == [("o1", "picked", 40, 13, None)]


def test_no_files_are_noted_that_nobody_loaded(store: Path) -> None:
    tallying.tally(store, counted(g40="12"), FINN)
    assert season.history(store)[-1].files == ()


def test_what_is_unlikely_waits_for_a_reason_that_is_kept(store: Path) -> None:
    long = TallyEntry("o1", DAY, Tally.COUNTED, stems=((40, "3"),), lengths=("210",))
    with pytest.raises(RecordsHeld) as held:
        tallying.tally(store, long, FINN)
    assert any("210" in words for words in tallying.said_of_fields(held.value))
    assert cuts(store) == []
    tallying.tally(store, long, FINN, accept="a sunflower, measured twice")
    assert tallying.plot_on_day(store, "open", "o1", DAY).lengths_cm == (210.0,)
    assert tallying.tally(store, long, FINN).again


def test_more_stems_than_a_plot_can_bear_are_held(store: Path) -> None:
    with pytest.raises(RecordsHeld, match="stems so far from"):
        tallying.tally(store, counted(g40="1200"), FINN)


def test_a_spray_closes_its_plots_and_a_cut_made_anyway_is_stored_and_flagged(store: Path) -> None:
    entry = SprayEntry("open", date(2026, 8, 4), "soap 2%", "48", "18:00", ("o1",), "aphids")
    assert not tallying.record_spray(store, entry, FINN)
    assert tallying.record_spray(store, entry, FINN)  # a second tap records nothing
    noon = datetime(2026, 8, 5, 12).astimezone()
    plots = {plot.plot: plot for plot in tallying.walk(store, DAY)}
    assert {code for code, plot in plots.items() if closing_spray(plot.sprays, noon)} == {"o1"}
    assert closing_spray(plots["o1"].sprays, noon + timedelta(days=3)) is None
    cut = TallyEntry("o1", DAY, Tally.COUNTED, stems=((40, "7"),))
    tallying.tally(store, cut, Signed("Finn", token="two"))
    ((plot, day, spray),) = Store.open(store).cuts_before_re_entry("open")
    assert (plot, day, spray.product) == ("o1", DAY, "soap 2%")
    flagged = [entry for entry in season.history(store, "open") if entry.early_cuts]
    assert [entry.who for entry in flagged] == ["Finn"]
    (line,) = [line for line in entry_lines(flagged[0]) if "Flagged" in line]
    assert "o1 was cut on 2026-08-05" in line
    assert "before the re-entry time after a spray with soap 2% had passed" in line
    told = [
        each
        for each in season.compare_trial(store, "open", "stems_per_plant_set").cautions
        if "re-entry" in each.code
    ]
    assert told[0].plots == ("o1",)
    assert "soap 2%" in told[0].text


def test_a_spray_of_the_whole_trial_closes_every_plot(store: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "events.csv"
    sheet.write_text(
        "trial,plot,happened_on,kind,product,sprayed_at,re_entry_hours\n"
        "open,,2026-08-05,sprayed,oil,,4\n"
    )
    season.load(store, [sheet])
    assert season.load(store, [sheet]).nothing_new
    evening = datetime(2026, 8, 6, 3).astimezone()  # no time of day: 4 hours from midnight
    assert all(closing_spray(plot.sprays, evening) for plot in tallying.walk(store, DAY))


def test_a_spray_without_a_re_entry_time_is_stored_with_a_caution(
    store: Path, tmp_path: Path
) -> None:
    sheet = tmp_path / "events.csv"
    sheet.write_text(
        "trial,plot,happened_on,kind,reason,product,re_entry_hours\n"
        "open,,2026-08-05,sprayed,aphids,,\n"
        "open,o1,2026-08-06,sprayed,,oil,4\n"
    )
    added = season.load(store, [sheet])
    said = "1 spray without a re-entry time: see the label before anyone enters the plots"
    assert said in load_page(added)
    assert "label" not in load_page(season.load(store, [sheet]))  # nothing new


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("sprayed,,18:00,12", "product", "no product"),
        ("sprayed,oil,6pm,12", "sprayed_at", "not a time of day"),
        ("sprayed,oil,25:00,12", "sprayed_at", "not a time of day"),
        ("sprayed,oil,18:00,-1", "re_entry_hours", "at least 0"),
        ("pinched,oil,,", "product", "Only a spray"),
    ],
)
def test_a_spray_that_cannot_be_right_is_refused(
    store: Path, tmp_path: Path, row: str, column: str, words: str
) -> None:
    sheet = tmp_path / "events.csv"
    heading = "trial,plot,happened_on,kind,product,sprayed_at,re_entry_hours"
    sheet.write_text(f"{heading}\nopen,o1,2026-08-04,{row}\n")
    with pytest.raises(RecordsRefused, match=words) as refused:
        season.load(store, [sheet])
    assert [fault.column for fault in refused.value.faults] == [column]


@pytest.mark.parametrize("typed", [(), ((40, ""), (50, "  "))])
def test_what_has_no_figure_is_not_called_recorded(
    store: Path, typed: tuple[tuple[int, str], ...]
) -> None:
    nothing = TallyEntry("o1", DAY, Tally.COUNTED, stems=typed)
    before = season.history(store)
    with pytest.raises(RecordsRefused, match="No stems are filled in"):
        season.tally(store, nothing, FINN)
    season.tally(store, counted(g40="3"), FINN)
    with pytest.raises(RecordsRefused, match="No stems are filled in"):
        season.correct_tally(store, nothing, Signed("Finn", "wrong", token="two"), 10**6)
    assert len(season.history(store)) == len(before) + 1
    assert cuts(store)[-1] == ("o1", "picked", 40, 3, None)
