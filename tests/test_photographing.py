"""Photos as a grower adds them, and everything the store has about a variety."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.photographs import opened, photo, photo_with_place
from trials import season
from trials.errors import FileRefused, RecordsRefused, TallybedError, UnknownName
from trials.model.photo import PhotoOf
from trials.model.rows import Sheet, Signed

DAY, TODAY = date(2026, 8, 14), date(2026, 9, 1)
ANN = Signed("Ann")
WRENLATCH = PhotoOf("Wrenlatch", None, DAY)


@pytest.fixture
def farm(farm_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(farm_store, tmp_path / "farm.tallybed"))


def test_a_photo_is_stored_without_what_the_camera_added(farm: Path) -> None:
    of = PhotoOf("Wrenlatch", None, DAY, "  two \n lines ")
    done = season.add_photos(farm, [("IMG_1.jpg", photo_with_place(6))], of, ANN, today=TODAY)
    (kept,) = done.added
    assert (kept.variety, kept.caption, kept.added_by) == ("Wrenlatch", "two lines", "Ann")
    content = season.photo(farm, kept.sha256)
    assert b"Ada" not in content
    assert opened(content).size == (60, 80)
    again = season.add_photos(farm, [("IMG_1.jpg", photo_with_place(6))], of, ANN, today=TODAY)
    assert (again.added, again.already) == ((), 1)


def test_ten_photos_are_added_in_one_change(farm: Path) -> None:
    files = [(f"{n}.png", photo(size=(20 + n, 20), kind="PNG")) for n in range(10)]
    done = season.add_photos(farm, files, WRENLATCH, ANN, today=TODAY)
    assert len(done.added) == 10
    assert len({kept.entry for kept in done.added}) == 1


def test_one_bad_file_stores_nothing(farm: Path) -> None:
    files = [("good.jpg", photo()), ("bad.jpg", b"no photo")]
    with pytest.raises(RecordsRefused, match=r"bad\.jpg: This is no photo"):
        season.add_photos(farm, files, WRENLATCH, ANN, today=TODAY)
    assert season.photos(farm) == ()
    assert not farm.with_name("farm.photos").exists()


@pytest.mark.parametrize(
    ("of", "said"),
    [
        (PhotoOf(None, None, DAY), "either a variety or a plot"),
        (PhotoOf("Wrenlatch", "C4222", DAY), "either a variety or a plot"),
        (PhotoOf("Wrenlatch", None, date(2026, 9, 2)), "Photos cannot be of 2026-09-02"),
        (PhotoOf("Wrenlatch", None, date(1949, 1, 1)), "Photos cannot be of 1949-01-01"),
        (PhotoOf("Wrenlatch", None, DAY, "x" * 201), "has 201 characters. Shorten it to 200"),
    ],
)
def test_what_a_photo_cannot_be_of(farm: Path, of: PhotoOf, said: str) -> None:
    with pytest.raises(TallybedError, match=said):
        season.add_photos(farm, [("a.jpg", photo())], of, ANN, today=TODAY)


def test_no_photo_and_no_file(farm: Path, tmp_path: Path) -> None:
    with pytest.raises(TallybedError, match="No photo is chosen"):
        season.add_photos(farm, [], WRENLATCH, ANN, today=TODAY)
    with pytest.raises(FileRefused, match=r"gone\.jpg"):
        season.read_photo_files([tmp_path / "gone.jpg"])


def test_an_unknown_name_is_refused_with_the_nearest(farm: Path) -> None:
    with pytest.raises(UnknownName, match="Did you mean 'Wrenlatch'"):
        season.photos(farm, variety="Wrenlach")
    with pytest.raises(UnknownName, match="No trial is called"):
        season.photos(farm, trial="rose-1999")


def test_the_list_of_varieties_has_what_was_measured(farm_store: Path) -> None:
    found = {each.variety: each for each in season.varieties(farm_store)}
    wrenlatch = found["Wrenlatch"]
    described = (wrenlatch.crop, wrenlatch.colour, wrenlatch.habit)
    assert described == ("cosmos", "white", "tall cutting")
    assert wrenlatch.trials[0].endswith("2026")
    assert wrenlatch.newest_season == 2026
    assert set(found) == set(season.stored(farm_store, Sheet.VARIETIES)["variety"])


@pytest.mark.slow
def test_height_and_vase_life_are_means_of_plot_means(farm_store: Path) -> None:
    """Worked from the files of the invented farm with pandas."""
    import pandas as pd

    folder = Path(__file__).parents[1] / "data" / "farm"
    plots = pd.read_csv(folder / "plots.csv", dtype=str)
    samples, scores = pd.read_csv(folder / "stem_samples.csv"), pd.read_csv(folder / "scores.csv")
    events = pd.read_csv(folder / "events.csv", dtype=str)
    lost = set(events[events["kind"] == "lost"]["plot"])
    swapped = set(events[events["kind"] == "plants swapped"]["plot"])
    for name in ("Wrenlatch", "Drumbelaine"):
        for measured in season.variety(farm_store, name).measured:
            grown = plots[(plots["trial"] == measured.trial) & (plots["variety"] == name)]
            codes = set(grown["plot"]) - lost
            assert not codes & swapped, "else its plants stood elsewhere"
            lengths = samples[samples["plot"].isin(codes)].groupby("plot")["length_cm"].mean()
            vase = scores[scores["plot"].isin(codes) & scores["trait"].str.startswith("vase_life")]
            lives = vase.groupby("plot")["value"].mean()
            expected = [None if each.empty else each.mean() for each in (lengths, lives)]
            assert [measured.height_cm, measured.vase_life_days] == pytest.approx(expected)


@pytest.mark.slow
def test_a_variety_has_its_trials_lots_prices_and_photos(farm: Path) -> None:
    season.add_photos(farm, [("a.jpg", photo())], WRENLATCH, ANN, today=TODAY)
    found = season.variety(farm, "Wrenlatch")
    in_trials = season.variety_in_trials(farm, "Wrenlatch")
    assert [each.trial.code for each in in_trials] == list(found.listed.trials)
    assert any(each.comparison is not None for each in in_trials)
    assert all(lot.variety == "Wrenlatch" for lot in found.lots)
    assert found.lots
    assert {item.variety for item in found.offers} == {"Wrenlatch"}
    assert [kept.variety for kept in found.photos] == ["Wrenlatch"]
    assert found.listed.photos == 1
    with pytest.raises(UnknownName, match="Did you mean 'Wrenlatch'"):
        season.variety(farm, "Wrenlach")
