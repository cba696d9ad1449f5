"""The network's page as Streamlit runs it: what a publication says, and to whom."""

from __future__ import annotations

import html
import re
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from trials import season
from trials.errors import FileRefused
from trials.pool.network import Heterogeneity, together
from trials.pool.network_model import TrialMeans
from trials.pool.publication import Published, Subject, _write, newest

APP = Path(__file__).parents[2] / "dashboard" / "app.py"
HOSTILE = "**bold** <b>x</b>"


@pytest.fixture
def published(tmp_path: Path) -> Path:
    """Twelve farms with eight varieties, one of them withheld."""
    rng = np.random.default_rng(1)
    names = [HOSTILE, *(f"Variety {i}" for i in range(1, 8))]
    trials = [
        TrialMeans(
            f"F{farm}",
            2026,
            np.arange(8),
            np.arange(8) + rng.normal(0, 0.5, 8),
            np.eye(8) / 4,
            21.0,
        )
        for farm in range(12)
    ]
    found = together("cosmos", "stems_per_plant", trials, names)
    subjects = [
        Subject(
            *("cosmos", "stems_per_plant", 12, 12, 1),
            found.varieties[:-1],
            (Heterogeneity("variety × trial", 0.25, 0.1, 0.5),),
            ("Variety 7",),
            (),
        ),
        Subject(
            "aster", "saleable_length_share", 2, 2, 0, (), (), (), (), "Farms with trials of it: 2."
        ),
    ]
    folder = tmp_path / "published" / "001"
    folder.mkdir(parents=True)
    _write(folder, subjects, (), 5)
    return folder.parent


def page(store: Path, published: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setenv("TALLYBED_STORE", str(store))
    monkeypatch.setenv("TALLYBED_NETWORK", str(published))
    app = AppTest.from_file(str(APP), default_timeout=60)
    return app.switch_page("screens/network.py").run()


def words(app: AppTest) -> str:
    assert not app.exception
    bodies = "\n".join(element.proto.body for element in app.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def test_a_publication_reads_back(published: Path) -> None:
    told = newest(published)
    assert isinstance(told, Published)
    assert [subject.crop for subject in told.subjects] == ["cosmos", "aster"]
    assert told.subjects[0].varieties[0].variety == HOSTILE
    with pytest.raises(FileRefused, match="contains no publication"):
        newest(published / "001")


def test_the_page_says_what_was_published_and_what_was_not(
    published: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = tmp_path / "farm.tallybed"
    season.load(store, [Path(__file__).parents[2] / "data" / "farm" / "sites.csv"])
    app = page(store, published, monkeypatch)
    told = words(app)
    assert "12 farms" in told
    assert HOSTILE in told
    assert "Withheld, as too few farms grew them: Variety 7." in told
    assert "Another season may rank the varieties differently" in told
    told = words(app.selectbox[0].select("aster, share of saleable length").run())
    assert "Not published. Farms with trials of it: 2." in told
