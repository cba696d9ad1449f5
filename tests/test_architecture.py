"""The house holds together: imports point down, modules say what they are, and nothing leaks."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parent.parent
PROGRAM = sorted(path for top in ("trials", "dashboard") for path in (ROOT / top).rglob("*.py"))
STORE = ROOT / "trials" / "store"
TESTS = sorted((ROOT / "tests").rglob("*.py"))

NAMES_THAT_SAY_NOTHING = {"utils", "helpers", "common", "base", "manager", "misc", "util", "helper"}

# What only a database would be told; the case is SQL's own, so that prose does not count.
SQL = re.compile(
    r"\bSELECT\s[\s\S]*\bFROM\b|\bINSERT\s+INTO\b|\bDELETE\s+FROM\b|\bUPDATE\s+\w+\s+SET\b"
    r"|\b(CREATE|DROP|ALTER)\s+(OR\s+REPLACE\s+)?(TABLE|VIEW|INDEX|MACRO)\b|\bPRAGMA\s|\bATTACH\s"
)

IMPORTED_AS = {"argon2-cffi": "argon2", "fpdf2": "fpdf", "pillow": "PIL", "protobuf": "google"}

ENTER_HELP = """
import json, sys
from trials.cli import main
sys.argv = ["tallybed", "--help"]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print("\\n" + json.dumps(sorted({name.partition(".")[0] for name in sys.modules})))
"""


def place(path: Path) -> str:
    return str(path.relative_to(ROOT))


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(module: ast.Module) -> Iterator[str]:
    for node in ast.walk(module):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def test_imports_keep_their_contract() -> None:
    # In a process of its own: it sets logging up anew, which other tests look at.
    judge = "from importlinter.cli import lint_imports_command as judge; judge()"
    contract = ["--config", str(ROOT / "pyproject.toml"), "--no-cache"]
    outcome = subprocess.run(
        [sys.executable, "-c", judge, *contract],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_the_packages_are_few_and_so_are_the_imports_between_them() -> None:
    graph = grimp.build_graph("trials", "dashboard", cache_dir=None)
    packages = [*sorted(graph.find_children("trials")), "dashboard"]
    for each in packages:
        graph.squash_module(each)
    arrows = {
        each: sorted(graph.find_modules_directly_imported_by(each) - {each})
        for each in (*packages, "trials")
    }
    for each, imports in arrows.items():  # read it with pytest -s
        print(
            each.removeprefix("trials."), "->", *(name.removeprefix("trials.") for name in imports)
        )
    assert len(packages) <= 18
    assert sum(map(len, arrows.values())) <= 80


@pytest.mark.parametrize("path", PROGRAM, ids=place)
def test_a_module_opens_with_one_sentence(path: Path) -> None:
    docstring = ast.get_docstring(tree(path))
    assert docstring, "a module starts by saying what it is"
    first = " ".join(docstring.split("\n\n")[0].split())
    assert first.endswith((".", "?")), f"not a sentence: {first!r}"
    assert not re.search(r"[.?!] [A-Z]", first), f"more than one sentence: {first!r}"


@pytest.mark.parametrize("path", PROGRAM, ids=place)
def test_a_module_can_be_read_at_one_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("path", PROGRAM + TESTS, ids=place)
def test_a_module_is_named_for_what_it_holds(path: Path) -> None:
    parts = {part.removeprefix("test_") for part in path.relative_to(ROOT).with_suffix("").parts}
    assert not parts & NAMES_THAT_SAY_NOTHING


@pytest.mark.parametrize("path", [path for path in PROGRAM if STORE not in path.parents], ids=place)
def test_only_the_store_speaks_to_the_database(path: Path) -> None:
    module = tree(path)
    assert "duckdb" not in {name.partition(".")[0] for name in imported(module)}
    spoken = [
        node.value
        for node in ast.walk(module)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.search(node.value)
    ]
    assert not spoken


def test_only_the_dashboard_knows_streamlit() -> None:
    knowing = {
        path.relative_to(ROOT).parts[0]
        for path in PROGRAM
        if any(name.partition(".")[0] == "streamlit" for name in imported(tree(path)))
    }
    assert knowing <= {"dashboard"}


def test_the_program_imports_what_it_declares() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {re.split(r"[<>=!~ ]", line)[0] for line in project["dependencies"]}
    # Of an extra what the program imports itself; the rest is for libraries that look for it.
    extra = {re.split(r"[<>=!~ ]", line)[0] for line in project["optional-dependencies"]["cluster"]}
    roots = {name.partition(".")[0] for path in PROGRAM for name in imported(tree(path))}
    foreign = roots - set(sys.stdlib_module_names) - {"trials", "dashboard"}
    assert foreign & extra == extra - {"dask"}
    assert {IMPORTED_AS.get(name, name) for name in declared} == foreign - extra


def test_help_waits_for_no_heavy_library() -> None:
    shown = subprocess.run(
        [sys.executable, "-c", ENTER_HELP], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout
    loaded = set(json.loads(shown.splitlines()[-1]))
    assert "click" in loaded
    assert not loaded & {"numpy", "pandas", "scipy", "statsmodels", "duckdb", "streamlit", "fpdf"}
