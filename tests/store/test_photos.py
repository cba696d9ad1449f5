"""Photos beside the store: private files under their digests, with a history like other records."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from tests.photographs import photo
from trials.errors import FileRefused, HistoryRefused, TallybedError, UnknownName
from trials.model.photo import PhotoOf, ReducedPhoto
from trials.model.rows import Batch, Signed
from trials.records.files.photo import reduced_photos
from trials.store import Store, kept_copies, look_through, put_back
from trials.store.copies import backup
from trials.store.copies.integrity import Part
from trials.store.file.photo_files import photo_file, photo_folder

DAY = date(2025, 7, 20)
ANN = Signed("Ann")
OF_Z1 = PhotoOf(None, "Z1", DAY, "first open flower")
NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@pytest.fixture
def red() -> ReducedPhoto:
    return reduced_photos([("red.jpg", photo("red"))])[0]


@pytest.fixture
def blue() -> ReducedPhoto:
    return reduced_photos([("blue.jpg", photo("blue"))])[0]


def variety_of(store: Store) -> str:
    return str(store.varieties()["variety"].iloc[0])


def file_in(store: Store, kept: ReducedPhoto) -> Path:
    return photo_file(photo_folder(store.path), kept.sha256)


def test_a_photo_of_a_plot_is_also_one_of_its_variety(store: Store, red: ReducedPhoto) -> None:
    grows = store.plots("Z").set_index("plot").loc["Z1", "variety"]
    (kept,) = store.album.add([red], OF_Z1, ANN)
    assert (kept.plot, kept.trial, kept.variety) == ("Z1", "Z", grows)
    assert (kept.taken_on, kept.caption, kept.added_by) == (DAY, "first open flower", "Ann")
    assert store.album.stored(variety=str(grows)) == (kept,)
    assert store.album.stored(trial="Z") == (kept,)
    assert store.album.stored(trial="Y") == ()
    assert store.album.content(kept.sha256) == red.content


@pytest.mark.skipif(os.name != "posix", reason="rights are those of the folder there")
def test_files_are_the_owners_alone(store: Store, red: ReducedPhoto) -> None:
    store.album.add([red], OF_Z1, ANN)
    folder = store.path.with_name("farm.photos")
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert [path.name for path in folder.iterdir()] == [f"{red.sha256}.jpg"]
    assert stat.S_IMODE(file_in(store, red).stat().st_mode) == 0o600


def test_the_same_photo_is_stored_once(store: Store, red: ReducedPhoto) -> None:
    assert len(store.album.add([red, red], OF_Z1, ANN)) == 1
    changes = len(store.history())
    assert store.album.add([red], OF_Z1, ANN) == ()
    assert len(store.history()) == changes
    with pytest.raises(FileRefused, match="stored already and shows plot Z1"):
        store.album.add([red], PhotoOf(variety_of(store), None, DAY), ANN)


def test_a_submission_sent_twice_counts_once(
    store: Store, red: ReducedPhoto, blue: ReducedPhoto
) -> None:
    signed = Signed("Ann", token="tap")
    store.album.add([red], OF_Z1, signed)
    assert store.album.add([blue], OF_Z1, signed) == ()
    assert len(store.album.stored()) == 1


@pytest.mark.parametrize(
    ("of", "said"),
    [
        (PhotoOf(None, "Z99", DAY), "No plot is called 'Z99'"),
        (PhotoOf("Nobodyseed", None, DAY), "No variety is called 'Nobodyseed'"),
        (PhotoOf(None, "../../Z1", DAY), "No plot is called"),
    ],
)
def test_a_photo_of_nothing_leaves_nothing(
    store: Store, red: ReducedPhoto, of: PhotoOf, said: str
) -> None:
    with pytest.raises(UnknownName, match=said):
        store.album.add([red], of, ANN)
    assert not photo_folder(store.path).exists()
    assert store.album.stored() == ()


def test_it_is_withdrawn_with_a_reason_and_comes_back(store: Store, red: ReducedPhoto) -> None:
    store.album.add([red], OF_Z1, ANN)
    with pytest.raises(TallybedError, match="Give a reason"):
        store.album.withdraw(red.sha256, Signed("Ben", " "))
    gone = store.album.withdraw(red.sha256[:8], Signed("Ben", "a face is in it"))
    assert (gone.what, gone.why, gone.who) == ("withdrawal", "a face is in it", "Ben")
    assert store.album.stored() == ()
    with pytest.raises(UnknownName):
        store.album.content(red.sha256)
    assert store.check().whole, "its file stays"
    store.undo(gone.number, ANN)
    (back,) = store.album.stored()
    assert back.caption == "first open flower"


@pytest.mark.slow
def test_adding_is_undone_unless_it_was_withdrawn_since(store: Store, red: ReducedPhoto) -> None:
    (kept,) = store.album.add([red], OF_Z1, ANN)
    gone = store.album.withdraw(red.sha256, Signed("Ben", "blurred"))
    with pytest.raises(HistoryRefused, match=f"by change {gone.number}"):
        store.undo(kept.entry, ANN)
    (again,) = store.album.add([red], PhotoOf(variety_of(store), None, DAY), ANN)
    with pytest.raises(HistoryRefused, match=f"by change {again.entry}"):
        store.undo(gone.number, ANN)
    store.undo(again.entry, ANN)
    assert store.album.stored() == ()


def test_the_history_and_an_earlier_time_have_it(store: Store, red: ReducedPhoto) -> None:
    before = store.known().last_entry
    (kept,) = store.album.add([red], OF_Z1, ANN)
    store.album.withdraw(red.sha256, Signed("Ben", "blurred"))
    assert [entry.what for entry in store.history("Z1")][-2:] == ["photo", "withdrawal"]
    assert store.as_known_at(before).album.stored() == ()
    assert store.as_known_at(kept.entry).album.stored() == (kept,)


def test_photos_are_no_part_of_a_trials_digest(store: Store, red: ReducedPhoto) -> None:
    before = store.digest("Z").digest
    store.album.add([red], OF_Z1, ANN)
    assert store.digest("Z").digest == before


@pytest.mark.slow
def test_a_closed_trial_still_takes_photos(store: Store, red: ReducedPhoto) -> None:
    store.close("Z", date(2025, 10, 6), "first frost")
    store.album.add([red], OF_Z1, ANN)
    assert store.check().whole


@pytest.mark.slow
@pytest.mark.parametrize(
    ("spoil", "said"),
    [(Path.unlink, "is missing"), (lambda file: file.write_bytes(b"no"), "differs from what was")],
)
def test_a_check_finds_a_file_that_is_missing_or_altered(
    store: Store, red: ReducedPhoto, spoil: Callable[[Path], object], said: str
) -> None:
    store.album.add([red], OF_Z1, ANN)
    found = store.check()
    assert (found.whole, found.photos) == (True, 1)
    spoil(file_in(store, red))
    found = store.check()
    (finding,) = found.findings
    assert finding.part is Part.PHOTOS
    assert red.sha256 in finding.problem
    assert said in finding.problem
    assert found.only_photos
    assert found.readable
    with pytest.raises(FileRefused, match=said):
        store.album.content(red.sha256)
    store.album.add([red], OF_Z1, ANN)
    assert store.check().whole, "the same photo brought again mends it"


@pytest.mark.slow
def test_a_backup_has_the_photos_and_a_restore_brings_them(
    store: Store, red: ReducedPhoto, blue: ReducedPhoto, tmp_path: Path
) -> None:
    store.album.add([red], OF_Z1, ANN)
    store.album.add([blue], OF_Z1, ANN)
    store.album.withdraw(blue.sha256, Signed("Ben", "blurred"))
    made = store.backup()
    assert set(made.photos) == {red.sha256, blue.sha256}
    done = put_back(made.folder, tmp_path / "there" / "again.tallybed", NOW)
    again = Store.open(done.store)
    assert again.check().whole
    assert again.check().photos == 2
    assert again.album.content(red.sha256) == red.content


@pytest.mark.slow
def test_restoring_in_place_mends_a_file_and_keeps_newer_ones(
    store: Store, red: ReducedPhoto, blue: ReducedPhoto
) -> None:
    store.album.add([red], OF_Z1, ANN)
    made = store.backup()
    store.album.add([blue], OF_Z1, ANN)
    file_in(store, red).write_bytes(b"spoilt")
    put_back(made.folder, store.path, NOW)
    assert store.album.content(red.sha256) == red.content
    assert file_in(store, blue).is_file()
    assert Store.open(store.path).check().whole


def test_backups_share_the_room_of_their_photos(store: Store, red: ReducedPhoto) -> None:
    store.album.add([red], OF_Z1, ANN)
    one, two = store.backup(), store.backup()
    files = [photo_file(made.folder / backup.PHOTOS, red.sha256) for made in (one, two)]
    assert files[0].samefile(files[1])
    assert not files[0].samefile(file_in(store, red)), "no copy shares the store's own file"


def test_a_backup_is_made_although_a_photo_is_lost_and_says_so(
    store: Store, red: ReducedPhoto
) -> None:
    store.album.add([red], OF_Z1, ANN)
    file_in(store, red).unlink()
    made = store.backup()
    assert (made.photos, made.photos_missing) == ((), (red.sha256,))


def test_a_backup_whose_photo_is_damaged_is_found_and_not_restored(
    store: Store, red: ReducedPhoto, tmp_path: Path
) -> None:
    store.album.add([red], OF_Z1, ANN)
    made = store.backup()
    photo_file(made.folder / backup.PHOTOS, red.sha256).write_bytes(b"spoilt")
    (copy,) = kept_copies(store.path)
    assert "differs from what was stored" in (look_through(copy).problem or "")
    with pytest.raises(FileRefused, match="is damaged"):
        put_back(made.folder, tmp_path / "again.tallybed", NOW)
    assert not (tmp_path / "again.tallybed").exists()


def test_a_list_of_photos_leads_nowhere_else(
    store: Store, red: ReducedPhoto, tmp_path: Path
) -> None:
    store.album.add([red], OF_Z1, ANN)
    made = store.backup()
    text = (made.folder / backup.LIST).read_text(encoding="utf-8")
    (made.folder / backup.LIST).write_text(text.replace(red.sha256, "../../secret"))
    with pytest.raises(FileRefused, match="does not list a backup"):
        put_back(made.folder, tmp_path / "again.tallybed", NOW)


def test_a_store_made_before_photos_has_none(empty_store: Store, batch: Batch) -> None:
    empty_store.add(batch)
    assert empty_store.album.stored() == ()
    found = empty_store.check()
    assert (found.whole, found.photos) == (True, 0)
    assert not photo_folder(empty_store.path).exists()
