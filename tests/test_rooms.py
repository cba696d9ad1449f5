"""What stands at a door is what its types say, and comes from the room that they name."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module, metadata
from pathlib import Path
from types import ModuleType

import pytest

import trials
from trials import season, stats
from trials.model.lazy_imports import door, named_for_types


@pytest.mark.parametrize("module", [trials, season, stats], ids=lambda module: module.__name__)
def test_every_name_comes_from_the_room_that_its_types_name(module: ModuleType) -> None:
    assert module.__file__
    told = named_for_types(Path(module.__file__).read_text(encoding="utf-8"))
    assert len(told) > 9
    for name, room in told.items():
        assert getattr(module, name) is getattr(import_module(room), name), name


def test_the_face_is_small_and_has_a_version() -> None:
    public = [*trials.__all__, "__version__"]
    assert len(public) <= 35
    assert trials.__version__ == metadata.version("tallybed")


def test_a_name_that_no_room_has_is_said_to_be_missing(tmp_path: Path) -> None:
    door_file = tmp_path / "hall.py"
    door_file.write_text(
        "if TYPE_CHECKING:\n    from trials.model.trial import Measure as Measure\n"
    )
    names, fetch = door("hall", str(door_file))
    assert names == ["Measure"]
    assert fetch("Measure") is import_module("trials.model.trial").Measure
    with pytest.raises(AttributeError, match="hall has no 'Meadow'"):
        fetch("Meadow")


LOADING = """
import sys
from trials import season
from trials.report.pages import load_page
season.load
print(sorted({name.partition(".")[0] for name in sys.modules}))
"""


def test_loading_a_day_s_cuts_waits_for_no_arithmetic() -> None:
    shown = subprocess.run(
        [sys.executable, "-c", LOADING],
        cwd=Path(__file__).parent.parent,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert "'trials'" in shown
    assert not {"'scipy'", "'fpdf'", "'streamlit'"} & set(shown.strip("[]\n").split(", "))


LISTING = """
import sys
from trials import season
from trials.report.pages import trials_page
from trials.report.safety_page import backup_page
from trials.store import Store
print(sorted({name.partition(".")[0] for name in sys.modules}))
"""


def test_a_list_of_the_trials_waits_for_no_frames() -> None:
    """Half of what a short command waits for would be libraries that it does not use."""
    words = [sys.executable, "-c", LISTING]
    root = Path(__file__).parent.parent
    shown = subprocess.run(words, cwd=root, check=True, capture_output=True, text=True).stdout
    assert not {"'numpy'", "'pandas'", "'pyarrow'"} & set(shown.strip("[]\n").split(", "))
