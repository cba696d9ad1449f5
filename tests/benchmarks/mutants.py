"""Changes one thing in a copy of the program at a time, and counts the changes that no test sees.

    python tests/benchmarks/mutants.py [--sample 100] [--seed 1] [--show]
    python tests/benchmarks/mutants.py --reach FILE --again 3 17 --also tests/report/test_words.py

A mutant is one of these changes in `trials/season`, `trials/decide` or `trials/report`:

- comparison: `<` and `<=`, `>` and `>=`, `==` and `!=`, `is` and `is not`, `in` and `not in`
- arithmetic: `+` and `-`, `*` and `/`, `//` and `*`, `%` and `*`, `**` and `*`
- boolean: `and` and `or`; a `not` is removed
- constant: a number is 1 larger or 1 smaller; `True` and `False`
- return: a value that is returned becomes `None`

Types, decorators and text with fields in it are left alone. A seeded sample is drawn of all
mutants. Each is run with the tests that reach its function (or its module, for a line outside
functions), the quickest first, up to `BUDGET_S` seconds of them. A run before the first mutant
tells which tests these are. Asked are the tests of decide, report and cli and those of no folder: a
mutant that only others see, such as the dashboard's, counts as surviving.

Every run is forked from a process that has imported the libraries but nothing of the program, one
at a time. First come the changes in `NAMED`: slips that a whole suite once let pass.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

import click  # noqa: F401
import duckdb  # noqa: F401
import pandas as pd  # noqa: F401
import pyarrow as pa  # noqa: F401
import pytest
import scipy.optimize
import scipy.stats  # noqa: F401
import statsmodels.genmod.generalized_linear_model
import statsmodels.regression.linear_model  # noqa: F401

ROOT = Path(__file__).resolve().parents[2]
MUTATED = ("trials/season", "trials/decide", "trials/report")
ASKED = ("tests/decide", "tests/report", "tests/cli")
BUDGET_S = 40.0
SLOWER = 10.0  # times its usual seconds that a run of tests may take before it counts as stuck


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the bytes from ``start`` to ``end`` of a file become ``new``."""

    file: str
    line: int
    kind: str
    start: int
    end: int
    old: str
    new: str
    function: int | None  # its first line; None outside functions

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.kind}: {self.old} -> {self.new}"


# Each with its file, the text as it is, the changed text, and the tests that see it.
NAMED = (
    ("the next season is this one", "trials/season/choosing.py",
     "newest.season + 1", "newest.season", "tests/test_choosing.py"),
    ("a margin in one measure's unit holds for all", "trials/model/trial.py",
     " or measure.key == self.primary_measure:", " or measure.key:", "tests/test_choosing.py"),
    ("seed on the shelf germinates as another lot", "trials/season/ordering.py",
     'float(lots["germination"][lot])', 'float(lots["germination"].iloc[0])',
     "tests/test_ordering.py"),
    ("a stand is thin below 0.7", "trials/stats/checks/conduct.py",
     "share < 0.75 * usual", "share < 0.7 * usual", "tests/stats/test_conduct.py"),
    ("a stand is thin at 0.75", "trials/stats/checks/conduct.py",
     "share < 0.75 * usual", "share <= 0.75 * usual", "tests/stats/test_conduct.py"),
    ("90 stems per plant pass", "trials/records/rules/plausibility.py",
     "_MANY_STEMS = 60", "_MANY_STEMS = 90", "tests/records/test_plausible.py"),
    ("a code one slip away only is named", "trials/layout/field/codes.py",
     "slips[0][0] <= 2", "slips[0][0] <= 1", "tests/layout/test_codes.py"),
    ("a code three slips away is named", "trials/layout/field/codes.py",
     "slips[0][0] <= 2", "slips[0][0] <= 3", "tests/layout/test_codes.py"),
)  # fmt: skip


# ------------------------------------------------------------------------------- the changes

COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
}  # fmt: skip


class Finder(ast.NodeVisitor):
    """Every mutant of one module, in the order of its text."""

    def __init__(self, file: str, source: str) -> None:
        self.file = file
        self.bytes_before = [0]
        for line in source.encode().splitlines(keepends=True):
            self.bytes_before.append(self.bytes_before[-1] + len(line))
        self.function: int | None = None
        self.found: list[Mutant] = []
        self.visit(ast.parse(source))

    def change(self, kind: str, node: ast.expr, new: ast.expr | None) -> None:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        self.found.append(
            Mutant(
                self.file,
                node.lineno,
                kind,
                self.bytes_before[node.lineno - 1] + node.col_offset,
                self.bytes_before[node.end_lineno - 1] + node.end_col_offset,
                ast.unparse(node),
                "None" if new is None else f"({ast.unparse(new)})",
                self.function,
            )
        )

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        outside = self.function
        self.function = min([node.lineno, *(each.lineno for each in node.decorator_list)])
        for each in (*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body):
            self.visit(each)
        self.function = outside

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for each in node.body:
            self.visit(each)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Left alone: its parts have no place of their own in every Python."""

    def visit_If(self, node: ast.If) -> None:
        if ast.unparse(node.test) != "TYPE_CHECKING":
            self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for place, operator in enumerate(node.ops):
            other = copy.deepcopy(node)
            other.ops[place] = COMPARISONS[type(operator)]()
            self.change("comparison", node, other)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        texts = (ast.JoinedStr, ast.Constant)
        is_text = any(
            isinstance(side, texts) and not isinstance(getattr(side, "value", 0.0), (int, float))
            for side in (node.left, node.right)
        )
        if type(node.op) in ARITHMETIC and not is_text:
            other = copy.deepcopy(node)
            other.op = ARITHMETIC[type(node.op)]()
            self.change("arithmetic", node, other)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        other = copy.deepcopy(node)
        other.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        self.change("boolean", node, other)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not):
            self.change("boolean", node, node.operand)
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, bool):
            self.change("constant", node, ast.Constant(not node.value))
        elif isinstance(node.value, (int, float)):
            self.change("constant", node, ast.Constant(node.value + 1))
            self.change("constant", node, ast.Constant(node.value - 1))

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None:
            if not (isinstance(node.value, ast.Constant) and node.value.value is None):
                self.change("return", node.value, None)
            self.visit(node.value)


def all_mutants() -> list[Mutant]:
    return [
        mutant
        for folder in MUTATED
        for path in sorted((ROOT / folder).rglob("*.py"))
        for mutant in Finder(str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")).found
    ]


# --------------------------------------------------------------------------- the tests' reach

Place = tuple[str, int]  # a file and the first line of one of its functions


@dataclass(eq=False)
class Reach:
    """A plugin of pytest that notes the functions which each test reaches, its fixtures' too."""

    folder: Path
    now: set[Place] = field(default_factory=set)
    of_fixtures: dict[str, set[Place]] = field(default_factory=lambda: defaultdict(set))
    of_tests: dict[str, tuple[float, set[Place]]] = field(default_factory=dict)
    failed: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.prefixes = tuple(str(self.folder / each) for each in MUTATED)
        self.cut = len(str(self.folder)) + 1

    def note(self, frame: FrameType, event: str, arg: Any) -> None:
        code = frame.f_code
        if code.co_filename.startswith(self.prefixes):
            self.now.add((code.co_filename[self.cut :], code.co_firstlineno))

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        before, self.now = self.now, set()
        try:
            return (yield)
        finally:
            self.of_fixtures[fixturedef.argname] |= self.now
            self.now |= before

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.now = set()
        begun = time.process_time()
        threading.settrace(self.note)
        sys.settrace(self.note)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)  # type: ignore[arg-type]
            reached = self.now.union(
                *(self.of_fixtures[name] for name in getattr(item, "fixturenames", ()))
            )
            self.of_tests[item.nodeid] = time.process_time() - begun, reached


def tests_that_reach(folder: Path) -> dict[str, tuple[float, set[Place]]]:
    """What each test of the copy takes (seconds, while traced) and reaches."""
    noted = folder / "reach.txt"

    def run() -> int:
        reach = Reach(folder)
        top = sorted(str(path.relative_to(folder)) for path in folder.glob("tests/test_*.py"))
        asked_of_tests(folder, [*ASKED, *top, "--maxfail=50"], plugins=[reach])
        kept = {test: of for test, of in reach.of_tests.items() if test not in reach.failed}
        noted.write_text(repr((kept, sorted(reach.failed))), encoding="utf-8")
        return 0

    if forked(run, folder / "reach.log", seconds=3600) != 0:
        raise SystemExit((folder / "reach.log").read_text(encoding="utf-8")[-4000:])
    reached, failed = ast.literal_eval(noted.read_text(encoding="utf-8"))
    for test in failed:
        print(f"left out, as it fails without any change: {test}")
    return dict(reached)


def asked_of_tests(folder: Path, tests: Sequence[str], plugins: Sequence[Any] = ()) -> int:
    """How pytest ends, run in this process on the copy."""
    os.chdir(folder)
    sys.path.insert(0, str(folder))
    os.environ["PYTHONPATH"] = str(folder)
    options = ["-x", "-q", "--tb=no", "-p", "no:cacheprovider", f"--basetemp={folder / 'made'}"]
    return int(pytest.main([*options, *tests], list(plugins)))


def forked(work: Callable[[], int], log: Path, seconds: float) -> int | None:
    """How a child process ends its work; None where it had to be stopped."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os.setsid()  # so that what it started can be stopped with it
        with log.open("w", encoding="utf-8") as file:
            os.dup2(file.fileno(), 1)
            os.dup2(file.fileno(), 2)
            outcome = 70
            try:
                outcome = work()
            finally:
                sys.stdout.flush()
                os._exit(outcome)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


# -------------------------------------------------------------------------------------- a run

ENDS = {0: "survived", 1: "seen", 2: "seen as the tests are read", None: "stuck"}


class Copy:
    """A copy of the tree in which one file at a time is another than in the tree."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        listed = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT, check=True, capture_output=True, text=True,
        ).stdout  # fmt: skip
        for name in listed.splitlines():
            if (ROOT / name).is_file():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(ROOT / name, folder / name)
        self.clock = int(time.time())

    def write(self, file: str, text: bytes) -> None:
        """At a second of its own, so that no compiled file is taken for it."""
        self.clock += 1
        path = self.folder / file
        path.write_bytes(text)
        os.utime(path, (self.clock, self.clock))

    def tried(self, file: str, text: bytes, tests: Sequence[str], seconds: float) -> str:
        """How the tests end with another text of a file."""
        own = (ROOT / file).read_bytes()
        self.write(file, text)
        try:
            outcome = forked(
                lambda: asked_of_tests(self.folder, ["-m", "", *tests]),
                self.folder / "mutant.log",
                60 + SLOWER * seconds,
            )
        finally:
            self.write(file, own)
        return ENDS.get(outcome, f"pytest ended with {outcome}")


def reaching(mutant: Mutant, reach: dict[str, tuple[float, set[Place]]]) -> tuple[list[str], float]:
    """The tests to ask, the quickest first, and the seconds that they take."""
    found = sorted(
        (seconds, test)
        for test, (seconds, places) in reach.items()
        if (
            any(file == mutant.file for file, _ in places)
            if mutant.function is None
            else (mutant.file, mutant.function) in places
        )
    )
    chosen: list[str] = []
    total = 0.0
    for seconds, test in found:
        if chosen and total + seconds > BUDGET_S:
            break
        chosen.append(test)
        total += seconds
    return chosen, total


def changed(mutant: Mutant) -> bytes:
    own = (ROOT / mutant.file).read_bytes()
    return own[: mutant.start] + mutant.new.encode() + own[mutant.end :]


def named(tree: Copy) -> None:
    """Print how each of the named changes ends."""
    for what, file, old, new, test in NAMED:
        own = (ROOT / file).read_text(encoding="utf-8")
        assert own.count(old) == 1, f"{old!r} stands {own.count(old)} times in {file}"
        end = tree.tried(file, own.replace(old, new).encode(), [test], 60.0)
        print(f"| {what} | {file} | {test} | {end} |", flush=True)


def main() -> None:
    """Print a line for each mutant and the share that survived."""
    wanted = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    wanted.add_argument("--sample", type=int, default=100)
    wanted.add_argument("--seed", type=int, default=1)
    wanted.add_argument("--again", type=int, nargs="+", help="only these numbers of the sample")
    wanted.add_argument("--also", nargs="+", default=[], help="tests to ask first of each mutant")
    wanted.add_argument("--reach", type=Path, help="where what the tests reach is kept for again")
    wanted.add_argument("--show", action="store_true", help="list the sample and run nothing")
    asked = wanted.parse_args()
    every = all_mutants()
    drawn = random.Random(asked.seed).sample(every, asked.sample)
    sample = list(enumerate(drawn, 1))
    if asked.again:
        sample = [each for each in sample if each[0] in asked.again]
    if asked.show:
        print(*(f"{number} {mutant}" for number, mutant in sample), sep="\n")
        return
    with tempfile.TemporaryDirectory() as scratch:
        tree = Copy(Path(scratch))
        if not asked.again:
            named(tree)
        begun = time.monotonic()
        if asked.reach is None or not asked.reach.exists():
            reach = tests_that_reach(tree.folder)
            if asked.reach is not None:
                shutil.copy(tree.folder / "reach.txt", asked.reach)
        else:
            reach = ast.literal_eval(asked.reach.read_text(encoding="utf-8"))[0]
        print(f"{len(reach)} tests run in {time.monotonic() - begun:.0f} s", flush=True)
        ends: dict[int, str] = {}
        for number, mutant in sample:
            tests, seconds = reaching(mutant, reach)
            tests = [*asked.also, *tests]
            ends[number] = "survived: no test reaches it"
            begun = time.monotonic()
            if tests:
                ends[number] = tree.tried(mutant.file, changed(mutant), tests, seconds)
            spent = time.monotonic() - begun
            print(f"{number} {mutant} | {len(tests)} | {spent:.1f} s | {ends[number]}", flush=True)
    survived = [number for number, end in ends.items() if end.startswith("survived")]
    print(
        f"{len(survived)} of {len(sample)} survived ({100 * len(survived) / len(sample):.0f}%), "
        f"of {len(every)} possible (seed {asked.seed}): {survived}"
    )


if __name__ == "__main__":
    main()
