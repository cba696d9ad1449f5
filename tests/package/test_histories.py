"""A package brings its history along: who changed what, when and why, and what was known when."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from trials import season
from trials.errors import HistoryRefused, RecordsRefused, TallybedError
from trials.model.rows import Sheet, Signed
from trials.model.trial import Entry
from trials.records.mapping.agreement import Agreed
from trials.season.comparing import Asked
from trials.store import Store

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
FARM = ROOT / "data" / "farm"
TRIAL = "cosmos-2024"
ADA, FINN = "Ada Brook", "Finn Reed"
MONEY = ["gross_per_metre", "net_per_metre", "premium_per_metre", "seed_per_metre"]
ASKED = Asked(second_opinions=False)


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> Path:
    """A farm on which a trial was closed, corrected, opened again, and corrected back and forth."""
    folder = tmp_path_factory.mktemp("farm")
    store = Path(shutil.copy(farm_store, folder))
    season.close(store, TRIAL, date(2024, 10, 14), "frost", Signed(ADA))  # entry 2
    season.correct(store, [ROOT / "data" / "recounted.csv"], Signed(ADA, "3 was 13"))  # 3
    season.undo(store, 3, Signed(FINN, "it was 3"))  # 4
    season.undo(store, 4, Signed(ADA, "it was 13"))  # 5
    season.undo(store, 2, Signed(ADA, "one more day"))  # 6
    events = pd.read_csv(FARM / "events.csv", dtype=str)
    gone = events[events["trial"] == TRIAL].head(1)
    gone.to_csv(folder / "gone.csv", index=False)
    season.withdraw(store, [folder / "gone.csv"], Signed(FINN, "another bed"))  # 7
    season.close(store, "cosmos-2025", date(2025, 10, 6), "frost", Signed(ADA))  # 8
    season.close(store, TRIAL, date(2024, 10, 15), "frost indeed", Signed(ADA))  # 9
    return store


@pytest.fixture(scope="module")
def packed(farm: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packed") / TRIAL
    season.package(farm, TRIAL, folder)
    return folder


@pytest.fixture(scope="module")
def again(packed: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store that is made of the package alone."""
    store = tmp_path_factory.mktemp("again") / "again.tallybed"
    unpacked = season.unpack(packed, store)
    assert unpacked.same_records
    assert unpacked.entries == 8
    return store


@pytest.fixture
def folder(packed: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(packed, tmp_path / "package"))


def known(store: Path, moment: datetime | int | None = None) -> str:
    """What a comparison is made of, to the last digit, and the digest; or why there is neither.

    Not its money: prices and costs are the farm's own and go into no package.
    """
    try:
        kept = Store.open(store) if moment is None else Store.open(store).as_known_at(moment)
        plots = kept.plots(TRIAL).drop(columns=MONEY)
        return repr((plots.map(repr).to_csv(), kept.closing(TRIAL), kept.digest(TRIAL)))
    except TallybedError as refusal:
        return repr(refusal)


def moments(store: Path) -> list[datetime | int | None]:
    """Now, when some entries had been made, and exactly when others were."""
    times = {entry.number: entry.recorded_at for entry in season.history(store, TRIAL)}
    return [None, 1, 4, 6, times[2], times[5], times[9]]


def told(entry: Entry) -> tuple[Any, ...]:
    """An entry but for its number, its place of origin, and the prices that other trials share."""
    rows = [each for each in entry.rows if each[0] != "seed_price"]
    return entry.recorded_at, entry.what, entry.why, rows, entry.changes


def rewritten(folder: Path, name: str, change: Callable[[list[dict[str, str]]], None]) -> None:
    """A package whose file says something else, and whose list of files goes along with it."""
    path = folder / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = list(rows[0])
    change(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    document = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    for resource in document["resources"]:
        if resource["name"] == name:
            resource["hash"] = f"sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}"
    (folder / "datapackage.json").write_text(json.dumps(document), encoding="utf-8")


# ---------------------------------------------------------------------------- the same again


def test_the_comparison_is_the_same_now_and_as_known_at_every_entry_and_time(
    farm: Path, again: Path
) -> None:
    for entry in (None, 4):
        ours = season.compare_trial(farm, TRIAL, None, ASKED, entry)
        theirs = season.compare_trial(again, TRIAL, None, ASKED, entry)
        assert repr(ours) == repr(theirs)  # each figure to its last digit
    answers = [(moment, known(farm, moment)) for moment in moments(farm)]
    assert len({answer for _, answer in answers}) == 5  # the records did change
    for moment, answer in answers:
        assert known(again, moment) == answer, moment


def test_the_history_says_the_same_of_the_trial(farm: Path, again: Path) -> None:
    ours, theirs = season.history(farm, TRIAL), season.history(again, TRIAL)
    assert [told(entry) for entry in theirs] == [told(entry) for entry in ours]
    assert [entry.number for entry in theirs] == [entry.number for entry in ours]
    assert [entry.undone_by for entry in theirs] == [entry.undone_by for entry in ours]
    assert {entry.origin for entry in theirs} == {TRIAL}
    assert season.check(again).whole


def test_before_its_first_entry_nothing_is_known(farm: Path, again: Path) -> None:
    first = season.history(again)[0].recorded_at - timedelta(seconds=1)
    for store in (farm, again):
        with pytest.raises(HistoryRefused, match="does not reach back"):
            season.compare_trial(store, TRIAL, None, ASKED, first)


def test_packed_again_it_is_the_same_package(packed: Path, again: Path, tmp_path: Path) -> None:
    season.package(again, TRIAL, tmp_path / "second")
    files = sorted(path.name for path in packed.glob("*.csv"))
    assert sorted(path.name for path in (tmp_path / "second").glob("*.csv")) == files
    for file in files:
        assert (tmp_path / "second" / file).read_bytes() == (packed / file).read_bytes(), file


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_standard_s_own_library_finds_no_fault(packed: Path) -> None:
    import frictionless

    report = frictionless.validate(str(packed / "datapackage.json"))
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])
    document = json.loads((packed / "datapackage.json").read_text(encoding="utf-8"))
    named = {resource["name"] for resource in document["resources"]}
    assert {"changes", "history_cuts", "history_closings", "history_events"} <= named
    for resource in document["resources"]:
        for field in resource["schema"]["fields"]:
            assert field["description"]


def test_what_was_known_when_can_be_told_by_the_rule_it_states(packed: Path, farm: Path) -> None:
    rows = pd.read_csv(packed / "history_cuts.csv")
    at = 4  # the correction was taken back
    held = rows[(rows["change"] <= at) & ~(rows["superseded_by"] <= at)]
    cuts = Store.open(farm).as_known_at(at).cuts(TRIAL)
    assert held["stems"][held["grade_cm"].notna()].sum() == cuts["stems"].sum()
    now = rows[rows["superseded_by"].isna()]
    assert now["stems"].sum() == held["stems"].sum() + 10  # 3 was 13


# -------------------------------------------------------------------------------- of persons


def test_persons_are_numbered_unless_the_grower_names_them(
    packed: Path, farm: Path, tmp_path: Path
) -> None:
    for file in packed.iterdir():
        text = file.read_text(encoding="utf-8")
        assert ADA not in text
        assert FINN not in text
    changes = pd.read_csv(packed / "changes.csv")
    who = dict(zip(changes["change"], changes["who"], strict=True))
    assert (who[2], who[3], who[4]) == (f"person 1 of {TRIAL}",) * 2 + (f"person 2 of {TRIAL}",)
    season.package(farm, TRIAL, tmp_path / "named", names=True)
    assert set(pd.read_csv(tmp_path / "named" / "changes.csv")["who"].dropna()) == {ADA, FINN}


def test_the_newest_entry_of_somebody_of_that_name_elsewhere_is_not_theirs(
    farm: Path, tmp_path: Path
) -> None:
    season.package(farm, TRIAL, tmp_path / "named", names=True)
    season.unpack(tmp_path / "named", tmp_path / "again.tallybed")
    with pytest.raises(HistoryRefused, match=f"No change by {ADA} is left"):
        season.undo(tmp_path / "again.tallybed", None, Signed(ADA, "a slip"))
    undone = season.undo(tmp_path / "again.tallybed", 7, Signed(ADA, "it did happen"))
    assert undone.undoes == 7


# ---------------------------------------------------------------------- several in one store


def test_several_packages_keep_their_own_order_in_one_store(
    farm: Path, packed: Path, tmp_path: Path
) -> None:
    both = tmp_path / "both.tallybed"
    season.package(farm, "cosmos-2025", tmp_path / "other")
    season.unpack(tmp_path / "other", both)
    season.unpack(packed, both)
    entries = season.history(both)
    assert [(entry.origin, entry.origin_number) for entry in entries] == [
        ("cosmos-2025", 1),
        ("cosmos-2025", 8),
        (None, None),  # what unpacking did
        *((TRIAL, number) for number in (1, 2, 3, 4, 5, 6, 7, 9)),
        (None, None),
    ]
    numbers = [entry.number for entry in entries]
    assert numbers == sorted(set(numbers))
    assert season.check(both).whole
    assert known(both) == known(farm)
    ours, theirs = season.history(farm, TRIAL), season.history(both, TRIAL)
    for here, there in list(zip(theirs, ours, strict=True))[1:5:3]:
        answer = known(farm, there.number)
        assert known(both, here.number) == answer
        assert known(both, there.recorded_at) == answer  # at that time both knew the same


def test_a_trial_that_is_held_keeps_the_history_it_has(packed: Path, farm: Path) -> None:
    before = season.history(farm)
    unpacked = season.unpack(packed, farm)
    assert unpacked.entries == 0
    assert unpacked.added.nothing_new
    assert season.history(farm) == before


def test_a_package_without_a_history_is_read_as_ever(folder: Path, tmp_path: Path) -> None:
    document = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    document["resources"] = [
        each
        for each in document["resources"]
        if each["name"] != "changes" and not each["name"].startswith("history_")
    ]
    (folder / "datapackage.json").write_text(json.dumps(document), encoding="utf-8")
    unpacked = season.unpack(folder, tmp_path / "again.tallybed")
    assert unpacked.entries is None
    assert unpacked.same_records
    assert [entry.what for entry in season.history(tmp_path / "again.tallybed")] == [
        "load",
        "closing",
    ]


def test_unlikely_records_come_with_the_reason_why_they_are_true(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    named = ("sites", "seasons", "varieties", "trials", "plots", "seed_lots")
    seed = ("seed_houses", "seed_items", "plugs_and_own_seed")
    files = [FARM / f"{name}.csv" for name in (*named, *seed)]
    season.load(store, files)
    plot = pd.read_csv(FARM / "plots.csv").iloc[0]
    counts = tmp_path / "stand.csv"
    counts.write_text(
        f"plot,counted_on,living\n{plot['plot']},2024-09-30,{plot['plants_set'] + 1}\n"
    )
    with pytest.raises(RecordsRefused):
        season.load(store, [counts])
    season.load(store, [counts], agreed=Agreed(accept="self-sown"))
    season.package(store, plot["trial"], tmp_path / "package")
    again = tmp_path / "again.tallybed"
    assert season.unpack(tmp_path / "package", again).same_records
    assert season.check(again).whole


# --------------------------------------------------------------------------- what is refused


def _foreign_plot(rows: list[dict[str, str]]) -> None:
    next(row for row in rows if row["superseded_by"])["plot"] = "P5222"


def _held_twice(rows: list[dict[str, str]]) -> None:
    then = [row for row in rows if row["superseded_by"] == "3"]
    rows += [dict(row, superseded_by="4") for row in then]


def _odd_day(rows: list[dict[str, str]]) -> None:
    row = next(row for row in rows if row["superseded_by"])
    row["grade_cm"], row["cull_reason"] = "40", "bent"


def _of_no_entry(rows: list[dict[str, str]]) -> None:
    next(row for row in rows if row["superseded_by"])["change"] = "77"


def _other_figures(rows: list[dict[str, str]]) -> None:
    row = next(row for row in rows if row["stems"] not in {"", "0"} and not row["superseded_by"])
    row["stems"] = str(int(row["stems"]) + 1)


def _altered_past(rows: list[dict[str, str]]) -> None:
    row = next(row for row in rows if row["superseded_by"] and row["stems"] == "3")
    row["stems"] = "4"


def _lacking(rows: list[dict[str, str]]) -> None:
    rows.pop()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_foreign_plot, "P5222 in cuts does not belong to this trial"),
        (_held_twice, "was stored twice at the same time"),
        (_odd_day, "contradict one another"),
        (_of_no_entry, "belong to change 77, which is missing"),
        (_other_figures, "belong to no change of the history"),
        (_altered_past, "its records are not those it was closed with"),
        (_lacking, "belong to no change of the history"),
    ],
)
def test_a_history_that_cannot_be_is_refused_and_nothing_is_stored(
    folder: Path,
    tmp_path: Path,
    change: Callable[[list[dict[str, str]]], None],
    words: str,
) -> None:
    rewritten(folder, "history_cuts", change)
    store = tmp_path / "again.tallybed"
    with pytest.raises(HistoryRefused, match=words):
        season.unpack(folder, store)
    assert not store.exists()


def test_cells_of_the_past_are_judged_like_those_of_today(folder: Path, tmp_path: Path) -> None:
    def spoil(rows: list[dict[str, str]]) -> None:
        rows[0]["stems"], rows[1]["cut_on"] = "many", "2024-02-30"

    rewritten(folder, "history_cuts", spoil)
    with pytest.raises(RecordsRefused) as refusal:
        season.unpack(folder, tmp_path / "again.tallybed")
    assert {(fault.file, fault.row, fault.column) for fault in refusal.value.faults} == {
        ("history_cuts.csv", 2, "stems"),
        ("history_cuts.csv", 3, "cut_on"),
    }


def test_entries_out_of_order_or_still_to_come_are_refused(folder: Path, tmp_path: Path) -> None:
    store = tmp_path / "again.tallybed"

    def later(rows: list[dict[str, str]]) -> None:
        rows[-1]["recorded_at"] = "2190-01-01T00:00:00Z"

    def swapped(rows: list[dict[str, str]]) -> None:
        rows[1]["recorded_at"], rows[2]["recorded_at"] = (
            rows[2]["recorded_at"],
            rows[1]["recorded_at"],
        )

    rewritten(folder, "changes", later)
    with pytest.raises(HistoryRefused, match="a date in the future"):
        season.unpack(folder, store)
    rewritten(folder, "changes", lambda rows: rows[-1].update(recorded_at=rows[-2]["recorded_at"]))
    rewritten(folder, "changes", swapped)
    with pytest.raises(HistoryRefused, match="comes before change"):
        season.unpack(folder, store)


def test_names_of_sheets_and_columns_stay_those_of_the_sheets(packed: Path) -> None:
    with (packed / "history_cuts.csv").open(encoding="utf-8") as file:
        assert next(csv.reader(file)) == [
            "plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason",
            "change", "superseded_by",
        ]  # fmt: skip
    assert (packed / f"history_{Sheet.PLOTS.value}.csv").exists()
