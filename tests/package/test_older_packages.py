"""Packages that an earlier version wrote are unpacked as what they were.

``package_0020_z.zip`` and ``package_0020_aster.zip`` were written by the program whose last step
was 20: the small farm's trial Z, closed and decided by its share of saleable length, and a
planned trial. Both have the names of that time, in files, columns, measures and keys of the plan.
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from trials import season
from trials.model.trial import Margin
from trials.season.planning import drawn_again
from trials.store import Store

FIXTURES = Path(__file__).parent / "fixtures"
# What that program printed as it wrote them.
DIGEST_OF_Z = "778d1309ecf2fdb2dab662075b52e056db30d1561b03c4bbc39ae6f46020f0c9"
DIGEST_OF_LAYOUT = "94d58c84681cdf9d512cdd666b9ac452af8892d6f4315f3a5d3ef1c8a96f0a6c"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("z", "aster"):
        with zipfile.ZipFile(FIXTURES / f"package_0020_{name}.zip") as packed:
            packed.extractall(tmp_path / name)
    return tmp_path


@pytest.mark.slow
def test_a_closed_trial_comes_with_its_history_and_its_digest(folder: Path) -> None:
    header = (folder / "z" / "trials.csv").read_text(encoding="utf-8").splitlines()[0]
    assert "margin,shortest_length_cm" in header
    assert (folder / "z" / "entries.csv").exists()
    store = folder / "farm.tallybed"
    unpacked = season.unpack(folder / "z", store)
    assert unpacked.same_records is True
    assert unpacked.entries == 2
    held = Store.open(store)
    assert held.digest("Z").digest == held.digest("Z").at_closing == DIGEST_OF_Z
    trial = held.trial("Z")
    assert trial.primary_measure == "saleable_length_share"
    assert trial.margin == Margin(10, percent=True)
    assert trial.minimum_length_cm == 40
    assert held.check().whole


@pytest.mark.slow
def test_written_again_it_has_today_s_names(folder: Path) -> None:
    store = folder / "farm.tallybed"
    season.unpack(folder / "z", store)
    season.package(store, "Z", folder / "again")
    texts = {file.name: file.read_text(encoding="utf-8") for file in (folder / "again").iterdir()}
    assert "changes.csv" in texts
    assert "equivalence_margin,minimum_length_cm" in texts["trials.csv"]
    assert "saleable_length_share" in texts["trials.csv"]
    assert texts["seed_houses.csv"].startswith("house,currency,shipping,free_shipping_from,")
    assert texts["changes.csv"].startswith("change,")
    assert texts["history_cuts.csv"].splitlines()[0].endswith("change,superseded_by")
    assert not any("tall_share" in text or "carriage" in text for text in texts.values())
    assert season.unpack(folder / "again", folder / "second.tallybed").same_records is True


@pytest.mark.slow
def test_a_plan_gives_the_same_layout_by_its_former_keys(folder: Path) -> None:
    assert "\nseed = " in (folder / "aster" / "plans.csv").read_text(encoding="utf-8")
    store = folder / "farm.tallybed"
    season.unpack(folder / "aster", store)
    drawn = drawn_again(store, "aster-2026")
    assert Store.open(store).plan("aster-2026").digest == DIGEST_OF_LAYOUT
    assert (drawn.plan.seed, drawn.plan.minimum_length_cm) == (20260301, 40)
    assert drawn.plan.margin == Margin(10, percent=True)
    assert drawn.plan.primary_measure == "saleable_length_share"
    assert season.calendar(store, "aster-2026").crop == "aster"
