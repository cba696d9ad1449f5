from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trials.errors import (
    FileRefused,
    NotAStore,
    StoreMissing,
    UnknownName,
)
from trials.model.trial import AppliedTo, Factor, Margin, SeedHouse, SeedItem, TrialStage
from trials.model.units import UnitSystem
from trials.store import Store


def test_trials_come_by_season_and_code(store: Store) -> None:
    assert [trial.code for trial in store.trials()] == ["X", "Y", "Z"]


def test_a_trial_is_read_back_whole(store: Store) -> None:
    trial = store.trial("Z")
    assert trial.season == 2025
    assert trial.site == "Long field"
    assert trial.crop == "zinnia"
    assert trial.check == "Amberwick"
    assert trial.primary_measure == "stems_per_plant"
    assert trial.alpha == 0.05
    assert trial.minimum_length_cm == 40
    assert trial.plots == 7
    assert trial.margin == Margin(10, percent=True)


def test_factors_keep_their_order_and_levels_go_by_value(store: Store) -> None:
    assert store.trial("Z").factors == (
        Factor("spacing_cm", ("9", "12", "30"), AppliedTo.WHOLE_PLOT),
        Factor("variety", ("Amberwick", "Brindlecup"), AppliedTo.PLOT),
    )


def test_a_margin_is_in_the_unit_or_per_cent_or_not_stated(store: Store) -> None:
    assert store.trial("Y").margin == Margin(3)
    assert store.trial("X").margin is None


def test_the_stage_follows_the_records(store: Store) -> None:
    assert store.trial("X").stage is TrialStage.LAID_OUT
    assert store.trial("Z").stage is TrialStage.PICKING
    store.close("Z", date(2025, 9, 30), "frost")
    closed = store.trial("Z")
    assert closed.stage is TrialStage.CLOSED
    assert closed.closed_on == date(2025, 9, 30)


def test_a_trial_without_plots_has_factors_without_levels(store: Store) -> None:
    trial = store.trial("X")
    assert trial.plots == 0
    assert trial.factors == (Factor("variety", (), AppliedTo.PLOT),)


def test_an_unknown_trial_names_those_that_are(store: Store) -> None:
    with pytest.raises(UnknownName, match="There are: X, Y, Z"):
        store.trial("something else")


def test_of_many_names_only_some_are_said() -> None:
    many = [f"P{number}" for number in range(340)]
    assert str(UnknownName("plot", "Z", many)).endswith("There are 340, such as P0, P1, P2.")
    assert "There are: P0, P1, " in str(UnknownName("plot", "Z", many[:20]))


def test_seed_items_keep_their_price_breaks_and_can_be_asked_by_crop(store: Store) -> None:
    assert store.seed_items("zinnia") == (
        SeedItem(
            "Hollow Seeds", "Z-100", "Amberwick", 100, 6.5, 1, available=True, price_year=2025
        ),
        SeedItem(
            "Hollow Seeds", "Z-100", "Amberwick", 100, 5.8, 5, available=True, price_year=2025
        ),
        SeedItem("Tern Seeds", "11", "Brindlecup", 50, 3.2, 1, available=False, price_year=2025),
    )
    assert len(store.seed_items()) == 4
    assert store.seed_items("dahlia") == ()


def test_seed_houses_may_never_send_free_of_charge(store: Store) -> None:
    assert store.seed_houses() == (
        SeedHouse("Hollow Seeds", "EUR", 4.5, 60.0, 10.0),
        SeedHouse("Tern Seeds", "EUR", 3.0, None, 0.0),
    )


def test_germination_is_that_of_the_newest_lot_the_poorest_of_several(store: Store) -> None:
    # Amberwick: 0.7 packed for 2024, 0.9 and 0.85 for 2025.
    assert store.germination().to_dict() == {"Amberwick": 0.85, "Brindlecup": 0.6}


def test_varieties_by_crop(store: Store) -> None:
    rows = [tuple(row) for row in store.varieties("zinnia").itertuples(index=False)]
    assert rows == [
        ("Amberwick", "zinnia", "amber", "tall cutting"),
        ("Brindlecup", "zinnia", None, None),
    ]
    assert len(store.varieties()) == 3


def test_seasons_with_frosts_that_were_not_recorded(store: Store) -> None:
    seasons = store.seasons()
    assert list(seasons["season"]) == [2024, 2025]
    assert list(seasons["last_spring_frost"]) == [None, date(2025, 5, 12)]
    assert list(seasons["first_autumn_frost"]) == [None, None]


def test_an_empty_store_answers_every_question(empty_store: Store) -> None:
    assert empty_store.trials() == ()
    assert empty_store.seed_items() == ()
    assert empty_store.seed_houses() == ()
    assert empty_store.germination().empty
    assert empty_store.varieties().empty
    assert empty_store.seasons().empty


# ---------------------------------------------------------------------- where the store is


def test_create_makes_the_folders_above(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "er" / "farm.tallybed"
    assert Store.create(path).path == path
    assert [file.name for file in path.parent.iterdir()] == ["farm.tallybed"]


def test_create_never_writes_over_anything(tmp_path: Path) -> None:
    path = tmp_path / "farm.tallybed"
    path.write_text("a letter")
    with pytest.raises(FileRefused, match="exists already"):
        Store.create(path)
    assert path.read_text() == "a letter"


def test_create_leaves_the_journal_of_a_vanished_store_alone(tmp_path: Path) -> None:
    journal = tmp_path / "farm.tallybed.wal"
    journal.write_bytes(b"rows not yet in the file")
    with pytest.raises(FileRefused, match="wal exists already"):
        Store.create(tmp_path / "farm.tallybed")
    assert journal.read_bytes() == b"rows not yet in the file"


def test_create_refuses_a_place_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(FileRefused, match="No store can be made"):
        Store.create(tmp_path / "file" / "farm.tallybed")


def test_a_missing_store_is_not_made_by_opening_it(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing, match="no store at"):
        Store.open(tmp_path / "nowhere.tallybed")
    assert list(tmp_path.iterdir()) == []


def test_a_store_that_vanishes_later_is_not_made_again(store: Store) -> None:
    store.path.unlink()
    with pytest.raises(StoreMissing):
        store.trials()
    assert not store.path.exists()


@pytest.mark.parametrize("bytes_", [b"", b"PK\x03\x04", b"plot,cut_on\n" * 5000], ids=len)
def test_another_file_is_no_store_and_stays_as_it_is(tmp_path: Path, bytes_: bytes) -> None:
    path = tmp_path / "file"
    path.write_bytes(bytes_)
    with pytest.raises(NotAStore):
        Store.open(path)
    assert path.read_bytes() == bytes_
    assert [file.name for file in tmp_path.iterdir()] == ["file"]


def test_a_folder_is_no_store(tmp_path: Path) -> None:
    with pytest.raises(NotAStore, match="not a file"):
        Store.open(tmp_path)


def test_questions_at_once_are_of_one_state_and_only_read(store: Store) -> None:
    trial, digest, plots = store.trial("Z"), store.digest("Z"), store.plots("Z")
    with store.at_once() as now:
        assert (now.trial("Z"), now.digest("Z")) == (trial, digest)
        assert now.plots("Z").equals(plots)
        with pytest.raises(NotImplementedError, match="only read"):
            now.set_units(UnitSystem.US)
        with pytest.raises(NotImplementedError, match="one state"):
            now.as_known_at(1)
        with pytest.raises(UnknownName):
            now.cuts("none")
    earlier = store.as_known_at(1)
    digest = earlier.digest("Z")
    with earlier.at_once() as then:
        assert then.digest("Z") == digest


def test_yields_are_the_plots_without_money(store: Store) -> None:
    plots, yields = store.plots("Z"), store.yields("Z")
    assert {"gross_per_metre", "net_per_metre"} <= set(plots) - set(yields)
    assert yields.equals(plots[list(yields)])
