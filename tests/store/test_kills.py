"""A few of the kills of ``benchmarks/kills.py``: one within each kind of work."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).parents[1] / "benchmarks" / "kills.py"


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_kill_loses_nothing_and_leaves_nothing_half_written() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--kills", "5", "--seed", "1"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.splitlines()[-1] == (
        "5 kills: acknowledged records lost 0, half-written 0, stores not whole 0"
    )
