"""What is imported while the file is read is what the tests import, and reading imports none."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from trials.stats.libraries import TESTING

STATS = Path(__file__).parents[2] / "trials" / "stats"
READING = """
import sys
from pathlib import Path
import pandas.api
from trials.season.comparing import _planted, _records_of
from trials.store import Store
with Store.open(Path(sys.argv[1])).at_once() as kept:
    held = _planted(kept, sys.argv[2])
    before = {*sys.modules}
    _records_of(kept, held, None)
    kept.digest(held.code), kept.units()
print(*{*sys.modules} - before)
"""


def test_they_are_what_the_fits_import_within_their_functions() -> None:
    imported = {
        node.module
        for file in (STATS / "fit", STATS / "checks")
        for path in file.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("statsmodels")
    }
    assert imported - {"statsmodels.tools.sm_exceptions"} == {*TESTING}  # that one comes with them


@pytest.mark.slow
def test_reading_a_trial_imports_nothing_that_the_other_thread_does(demo_store: Path) -> None:
    """Imports of the same libraries in two threads can deadlock."""
    words = [sys.executable, "-c", READING, str(demo_store), "cosmos-2026"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    theirs = ("scipy", "statsmodels", "numpy", "formulaic")
    assert not [name for name in done.stdout.split() if name.startswith(theirs)]
