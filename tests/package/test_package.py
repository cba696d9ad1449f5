"""A package can be read by anybody, and the store made of it gives the same figures."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from trials import season
from trials.errors import FileRefused, RecordsRefused, UnknownName
from trials.model.formula_escaping import FORMULA_STARTS, inert, live
from trials.model.rows import Sheet
from trials.package import LICENCES, package, unpack
from trials.package.terms import TERMS
from trials.records.rules.forms import FORMS
from trials.season.comparing import Asked
from trials.store import Store

ROOT = Path(__file__).parents[2]
TRIALS = (
    "cosmos-2024",
    "cosmos-2025",
    "cosmos-2026",
    "cosmos-bed-2026",
    "plume-2025",
    "plume-2026",
)


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> Path:
    store = Path(shutil.copy(farm_store, tmp_path_factory.mktemp("farm")))
    season.close(store, "cosmos-2026", date(2026, 10, 11), "first frost")
    return store


@pytest.fixture(scope="module")
def packed(farm: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packed") / "cosmos-2026"
    season.package(farm, "cosmos-2026", folder, "CC-BY-4.0")
    return folder


@pytest.fixture
def folder(packed: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(packed, tmp_path / "package"))


def document(folder: Path) -> Any:
    return json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))


@contextmanager
def changed(folder: Path) -> Iterator[Any]:
    held = document(folder)
    yield held
    (folder / "datapackage.json").write_text(json.dumps(held), encoding="utf-8")


# ------------------------------------------------------------------------------ what it says


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_standard_s_own_library_finds_no_fault(farm: Path, tmp_path: Path) -> None:
    import frictionless

    for trial in TRIALS:
        season.package(farm, trial, tmp_path / trial)
        report = frictionless.validate(str(tmp_path / trial / "datapackage.json"))
        assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])
        assert report.stats["tasks"] == len(document(tmp_path / trial)["resources"])


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_library_does_find_faults(folder: Path) -> None:
    import frictionless

    file = folder / "scores.csv"
    file.write_text(file.read_text().replace("C", "?", 1))
    assert not frictionless.validate(str(folder / "datapackage.json")).valid


def test_every_field_says_what_it_means_and_in_which_unit(packed: Path) -> None:
    for resource in document(packed)["resources"]:
        assert resource["description"]
        for field in resource["schema"]["fields"]:
            assert field["description"], (resource["name"], field["name"])
            if field["name"].endswith("_cm"):
                assert field["unit"] == "cm"


def test_files_are_those_the_fields_describe_and_load_reads_them(packed: Path) -> None:
    for resource in document(packed)["resources"]:
        with (packed / resource["path"]).open(encoding="utf-8", newline="") as file:
            names = next(csv.reader(file))
        assert names == [field["name"] for field in resource["schema"]["fields"]]


def test_keys_and_references_hold_the_package_together(packed: Path) -> None:
    schemas = {each["name"]: each["schema"] for each in document(packed)["resources"]}
    assert schemas["plots"]["primaryKey"] == ["plot"]
    assert {"fields": ["plot"], "reference": {"resource": "plots", "fields": ["plot"]}} in schemas[
        "cuts"
    ]["foreignKeys"]
    assert {
        "fields": ["variety"],
        "reference": {"resource": "varieties", "fields": ["variety"]},
    } in schemas["plots"]["foreignKeys"]
    assert "primaryKey" not in schemas["cuts"]  # a grade or a reason is empty in every row


def test_it_names_its_licence_or_has_none(packed: Path, farm: Path, tmp_path: Path) -> None:
    (licence,) = document(packed)["licenses"]
    assert licence["name"] == "CC-BY-4.0"
    assert licence["path"].startswith("https://")
    made = package(farm, "cosmos-2024", tmp_path / "none")
    assert made.licence is None
    assert "licenses" not in document(tmp_path / "none")
    with pytest.raises(UnknownName, match=r"CC-BY-4\.0"):
        package(farm, "cosmos-2024", tmp_path / "other", "CC-BY")
    assert "CC0-1.0" in LICENCES


def test_terms_of_the_standard_stand_at_columns_that_exist(packed: Path) -> None:
    for sheet, column in TERMS:
        assert column in FORMS[sheet].names
    held = document(packed)
    assert held["standard"] == {"name": "MIAPPE", "version": "1.1"}
    fields = {
        (each["name"], field["name"]): field.get("miappe")
        for each in held["resources"]
        for field in each["schema"]["fields"]
    }
    assert fields["plots", "plot"] == "Observation unit ID"
    assert fields["plots", "variety"] == "Observation Unit factor value"
    assert fields["cuts", "stems"] is None


def test_only_the_trial_s_own_rows_are_in_it(packed: Path) -> None:
    plots = pd.read_csv(packed / "plots.csv")
    assert set(plots["trial"]) == {"cosmos-2026"}
    for file in ("cuts", "scores", "stand_counts", "stem_samples"):
        assert set(pd.read_csv(packed / f"{file}.csv")["plot"]) <= set(plots["plot"])
    assert set(pd.read_csv(packed / "varieties.csv")["variety"]) >= set(plots["variety"])


# --------------------------------------------------------------------------------- and back


@pytest.mark.parametrize(
    "trial",
    [TRIALS[0], *(pytest.param(trial, marks=pytest.mark.slow) for trial in TRIALS[1:])],
)
def test_a_store_made_of_it_gives_the_same_comparison(
    farm: Path, tmp_path: Path, trial: str
) -> None:
    season.package(farm, trial, tmp_path / "package")
    again = tmp_path / "again.tallybed"
    assert season.unpack(tmp_path / "package", again).same_records
    asked = Asked(second_opinions=False)
    ours, theirs = Store.open(farm), Store.open(again)
    money = ["gross_per_metre", "net_per_metre"]  # the farm's prices are its own
    assert theirs.plots(trial)[money].isna().all(axis=None)
    money += ["premium_per_metre", "seed_per_metre"]
    pd.testing.assert_frame_equal(
        ours.plots(trial).drop(columns=money),
        theirs.plots(trial).drop(columns=money),
        check_exact=True,
    )
    assert replace(ours.trial(trial), closed_on=None) == replace(
        theirs.trial(trial), closed_on=None
    )
    assert ours.closing(trial) == theirs.closing(trial)
    for measure in (ours.trial(trial).primary_measure, "stem_length_cm"):
        one = season.compare_trial(farm, trial, measure, asked)
        other = season.compare_trial(again, trial, measure, asked)
        assert repr(one) == repr(other)  # each figure to its last digit


@pytest.mark.slow
def test_a_planned_trial_keeps_its_plan(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    farm = ROOT / "data" / "farm"
    season.load(store, [farm / "sites.csv", farm / "seasons.csv"])
    season.plan(store, ROOT / "data" / "plan-example.toml")
    season.package(store, "aster-2026", tmp_path / "package")
    season.unpack(tmp_path / "package", tmp_path / "again.tallybed")
    ours, theirs = Store.open(store), Store.open(tmp_path / "again.tallybed")
    assert ours.plan("aster-2026") == theirs.plan("aster-2026")
    pd.testing.assert_frame_equal(ours.plots("aster-2026"), theirs.plots("aster-2026"))


def test_reading_it_twice_adds_nothing(folder: Path, farm: Path) -> None:
    assert unpack(folder, farm).added.nothing_new


def test_a_file_that_was_altered_is_refused(folder: Path, tmp_path: Path) -> None:
    file = folder / "cuts.csv"
    file.write_text(file.read_text().replace("picked", "missed", 1))
    store = tmp_path / "again.tallybed"
    with pytest.raises(FileRefused, match=r"cuts\.csv was changed since it was written"):
        unpack(folder, store)
    assert not store.exists()


@pytest.mark.parametrize("path", ["../farm.tallybed", "/etc/passwd", 7, "sub/sites.csv"])
def test_a_package_cannot_lead_out_of_its_folder(
    folder: Path, tmp_path: Path, path: object
) -> None:
    with changed(folder) as held:
        held["resources"][0]["path"] = path
    with pytest.raises(FileRefused, match="is not a file of the package"):
        unpack(folder, tmp_path / "again.tallybed")


def test_what_is_no_package_is_refused(tmp_path: Path, folder: Path) -> None:
    store = tmp_path / "again.tallybed"
    with pytest.raises(FileRefused, match="is not a package"):
        unpack(tmp_path, store)
    (folder / "cuts.csv").unlink()
    with pytest.raises(FileRefused, match="is damaged"):
        unpack(folder, store)
    (folder / "datapackage.json").write_text("[]")
    with pytest.raises(FileRefused, match="does not describe a package"):
        unpack(folder, store)
    (folder / "datapackage.json").write_text('{"resources": []}')
    with pytest.raises(FileRefused, match="contains 0 trials"):
        unpack(folder, store)


def test_rows_that_clash_are_refused_and_nothing_is_stored(
    folder: Path, farm: Path, tmp_path: Path
) -> None:
    store = tmp_path / "other.tallybed"
    sites = tmp_path / "sites.csv"
    held = pd.read_csv(folder / "sites.csv")
    held["place"] = "on the moon"
    held.to_csv(sites, index=False)
    season.load(store, [sites])
    with pytest.raises(RecordsRefused):
        unpack(folder, store)
    assert Store.open(store).trials() == ()


def test_nothing_is_written_over(packed: Path, farm: Path) -> None:
    before = document(packed)
    with pytest.raises(FileRefused, match="already exists"):
        season.package(farm, "cosmos-2026", packed)
    assert document(packed) == before


def test_a_place_that_cannot_be_written_to_is_refused(farm: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(FileRefused, match="No package can be written"):
        season.package(farm, "cosmos-2026", tmp_path / "file" / "package")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


# ----------------------------------------------------------------------------- harmless text


@pytest.mark.parametrize("start", [*FORMULA_STARTS, "'", "''", "x", ""])
def test_harmless_text_comes_back_as_it_was(start: str) -> None:
    text = f"{start}1+1"
    assert live(inert(text)) == text
    assert not inert(text).startswith(FORMULA_STARTS)


@pytest.mark.slow
def test_no_cell_of_a_package_is_run_by_a_spreadsheet(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    farm = Path(shutil.copytree(ROOT / "data" / "farm", tmp_path / "farm"))
    sites = farm / "sites.csv"
    held = pd.read_csv(sites)
    held["note"] = "=HYPERLINK(1)"
    held.to_csv(sites, index=False)
    season.load(store, [farm])
    season.package(store, "cosmos-2024", tmp_path / "package")
    with (tmp_path / "package" / "sites.csv").open(encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert row["note"] == "'=HYPERLINK(1)"
    season.unpack(tmp_path / "package", tmp_path / "again.tallybed")
    notes = Store.open(tmp_path / "again.tallybed").known().frames[Sheet.SITES]["note"]
    assert list(notes) == ["=HYPERLINK(1)"]


@pytest.mark.slow
def test_stray_ends_of_lines_stay_within_their_cell(farm: Path, tmp_path: Path) -> None:
    store = Path(shutil.copy(farm, tmp_path / "farm.tallybed"))
    reason = "a\rb\r\nc\x1b[2J\x00\u2028d"
    season.close(store, "plume-2025", date(2025, 11, 1), reason)
    season.package(store, "plume-2025", tmp_path / "package")
    done = season.unpack(tmp_path / "package", tmp_path / "again.tallybed")
    assert done.same_records
    closing = season.closing(tmp_path / "again.tallybed", "plume-2025")
    assert closing is not None
    assert closing.reason == reason
