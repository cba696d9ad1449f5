"""The face for Python: its examples run, and its frames hold the figures of the document."""

from __future__ import annotations

import doctest
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

import trials
from trials import season
from trials.report import result
from trials.season import farm

FARM = Path(__file__).parent.parent / "data" / "farm"
PLOTS = pd.DataFrame(
    {
        "variety": ["Ember", "Frost", "Wren"] * 4,
        "block": [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4],
        "stems": [9.1, 6.2, 7.5, 9.8, 6.0, 7.1, 8.7, 5.1, 6.6, 9.5, 6.4, 7.9],
    }
)


@pytest.mark.parametrize("module", [farm, result], ids=lambda module: module.__name__)
def test_the_examples_run(module: object) -> None:
    found = doctest.testmod(module)  # type: ignore[arg-type]
    assert found.attempted
    assert not found.failed


def test_a_frame_and_the_same_file_say_the_same(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    PLOTS.to_csv(path, index=False)
    words = {"measure": "stems", "treatments": ["variety"], "block": "block", "check": "Wren"}
    framed, filed = (
        trials.compare(table, second_opinions=False, **words)  # type: ignore[arg-type]
        for table in (PLOTS, str(path))
    )
    assert framed.to_dict() == filed.to_dict()
    document = framed.to_dict()
    assert framed.tests["F"].tolist() == [test["F"] for test in document["tests"]]  # type: ignore[index, union-attr, call-overload]
    # Means of four plots each, by hand.
    assert framed.means["mean"].round(3).tolist() == [9.275, 5.925, 7.275]
    assert framed.with_best.query("could_be_best")["variety"].tolist() == ["Ember"]
    assert set(framed.with_check["b"]) == {"Wren"}
    assert "Ember" in framed.summary()
    assert framed._repr_html_().startswith("<pre>")


def test_a_frame_that_cannot_be_compared_says_where() -> None:
    spoiled = PLOTS.assign(stems=PLOTS["stems"].astype(str).replace("6.0", "many"))
    with pytest.raises(trials.TallybedError, match="the data frame, row 6, column stems"):
        trials.compare(spoiled, measure="stems", treatments=["variety"], block="block")


@pytest.mark.slow
def test_a_farm_s_store_is_one_object(tmp_path: Path) -> None:
    own = trials.Farm(tmp_path / "own.tallybed")
    own.load(FARM)
    assert "plume-2025" in own.trials()["code"].tolist()
    assert len(own.plots("plume-2025")) == 18
    own.close("plume-2025", date(2025, 10, 31), "frost")
    found = own.compare("plume-2025", second_opinions=False)
    assert found.records is not None
    assert found.records.digest == season.records_digest(own.path, "plume-2025").digest
    assert found.title == "plume-2025"
