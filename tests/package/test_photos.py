"""The photos of a trial go with its package, without places and, unless asked for, names."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.photographs import photo, photo_with_place
from trials import season
from trials.errors import FileRefused
from trials.model.photo import PhotoOf, StoredPhoto
from trials.model.rows import Signed
from trials.package import package, unpack

TRIAL = "cosmos-2024"
CAPTION = "Ada holds the tallest"


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> Path:
    store = Path(shutil.copy(farm_store, tmp_path_factory.mktemp("farm") / "farm.tallybed"))
    of_plot = PhotoOf(None, "C4222", date(2024, 8, 8), CAPTION)
    season.add_photos(store, [("p.jpg", photo_with_place())], of_plot, Signed("Ada Brook"))
    of_variety = PhotoOf("Wrenlatch", None, date(2024, 8, 8))
    season.add_photos(store, [("v.jpg", photo("blue"))], of_variety, Signed("Ada Brook"))
    return store


@pytest.fixture(scope="module")
def shared(farm: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packed") / TRIAL
    package(farm, TRIAL, folder)
    return folder


@pytest.fixture
def folder(shared: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(shared, tmp_path / "package"))


def of_plot(store: Path) -> StoredPhoto:
    (kept,) = season.photos(store, trial=TRIAL)
    return kept


def resources(folder: Path) -> dict[str, Any]:
    document = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return {each["name"]: each for each in document["resources"]}


def test_no_name_place_or_caption_is_in_a_shared_package(shared: Path) -> None:
    files = list(shared.iterdir())
    assert [path.suffix for path in files].count(".jpg") == 1, "that of the trial's plot"
    for path in files:
        content = path.read_bytes()
        for word in (b"Ada", b"Fennelbrook", b"Exif"):
            assert word not in content, path.name


@pytest.mark.slow
def test_names_go_where_they_are_asked_for(farm: Path, tmp_path: Path) -> None:
    package(farm, TRIAL, tmp_path / "own", names=True)
    assert CAPTION in (tmp_path / "own" / "photos.csv").read_text(encoding="utf-8")
    made = tmp_path / "copy.tallybed"
    unpack(tmp_path / "own", made)
    assert of_plot(made).caption == CAPTION


def test_a_photo_is_described_like_the_other_files(farm: Path, shared: Path) -> None:
    kept = of_plot(farm)
    about = resources(shared)
    assert about[kept.sha256]["hash"] == f"sha256:{kept.sha256}"
    assert about[kept.sha256]["mediatype"] == "image/jpeg"
    fields = {field["name"] for field in about["photos"]["schema"]["fields"]}
    assert fields == {"sha256", "plot", "taken_on"}


@pytest.mark.slow
def test_the_photos_come_back(farm: Path, folder: Path, tmp_path: Path) -> None:
    made = tmp_path / "new" / "other.tallybed"
    done = unpack(folder, made)
    assert done.same_records
    kept, was = of_plot(made), of_plot(farm)
    assert (kept.sha256, kept.plot, kept.taken_on) == (was.sha256, was.plot, was.taken_on)
    assert season.photo(made, kept.sha256) == season.photo(farm, was.sha256)
    assert season.check(made).whole
    unpack(folder, made)
    assert len(season.photos(made)) == 1, "a second time adds nothing"


def test_a_package_of_a_trial_without_photos_says_nothing_of_them(
    farm: Path, tmp_path: Path
) -> None:
    package(farm, "cosmos-2025", tmp_path / "without")
    assert "photos" not in resources(tmp_path / "without")


def test_a_photo_that_is_missing_altered_or_something_else_is_refused(
    farm: Path, folder: Path, tmp_path: Path
) -> None:
    file = folder / f"{of_plot(farm).sha256}.jpg"
    content = file.read_bytes()
    made = tmp_path / "other.tallybed"
    file.unlink()
    with pytest.raises(FileRefused, match="is damaged"):
        unpack(folder, made)
    file.write_bytes(content + b"more")
    with pytest.raises(FileRefused, match="was changed since it was written"):
        unpack(folder, made)
    assert not made.exists()


@pytest.mark.slow
def test_a_photo_with_a_place_in_it_is_refused(folder: Path, farm: Path, tmp_path: Path) -> None:
    """Another program may have written the package."""
    import hashlib

    was, content = of_plot(farm).sha256, photo_with_place()
    now = hashlib.sha256(content).hexdigest()
    (folder / f"{was}.jpg").unlink()
    (folder / f"{now}.jpg").write_bytes(content)
    table = folder / "photos.csv"
    table.write_text(table.read_text(encoding="utf-8").replace(was, now), encoding="utf-8")
    described = folder / "datapackage.json"
    document = json.loads(described.read_text(encoding="utf-8"))
    for each in document["resources"]:
        if each["name"] == was:
            each.update(name=now, path=f"{now}.jpg", hash=f"sha256:{now}")
        if each["name"] == "photos":
            each["hash"] = f"sha256:{hashlib.sha256(table.read_bytes()).hexdigest()}"
    described.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(FileRefused, match="is not a photo as this program writes them"):
        unpack(folder, tmp_path / "other.tallybed")
