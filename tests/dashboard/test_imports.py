"""Nothing is left to be imported by the threads that run the pages."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LIST = """
import sys
from dashboard.imports import import_everything
import_everything()
print(*sys.modules, sep="\\n")
"""


def imported_within_functions() -> set[str]:
    """Every module that some function of the program imports."""
    named = set()
    for file in (ROOT / "trials").rglob("*.py"):
        if {"cli", "pool"} & set(file.parts):  # no page runs a command or gathers many farms
            continue
        for function in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not isinstance(function, ast.FunctionDef):
                continue
            for node in ast.walk(function):
                if isinstance(node, ast.Import):
                    named |= {alias.name for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and node.module:
                    named.add(node.module)
    return named


@pytest.mark.slow
def test_what_functions_import_is_there_before_the_pages_run() -> None:
    words = [sys.executable, "-c", LIST]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    only_elsewhere = {"msvcrt", "resource"}  # of one system or the other
    assert imported_within_functions() - only_elsewhere <= set(done.stdout.split())
