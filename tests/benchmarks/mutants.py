"""Changes one thing in the program at a time, and counts the changes that no test sees.

    python tests/benchmarks/mutants.py [--sample 100] [--seed 1] [--only 3 17] [--show]

A mutant is one of these changes in `trials/season`, `trials/decide` or `trials/report`:

- comparison: `<` and `<=`, `>` and `>=`, `==` and `!=`, `is` and `is not`, `in` and `not in`
- arithmetic: `+` and `-`, `*` and `/`, `//` and `*`, `%` and `*`, `**` and `*`
- boolean: `and` and `or`; a `not` is removed
- constant: a number is 1 larger or 1 smaller; `True` and `False`
- return: a value that is returned becomes `None`

Types, decorators, text with fields in it and the `strict` of `zip`, which stops what never comes,
are left alone. A seeded sample is drawn of all
mutants. Each is run with the tests that reach its module: the files that name the module or what
it defines, or what is defined where it is imported, those that name most of it first, `MOST_FILES`
at most. Where no quick one sees it, what the program says of the invented farm is compared with
what it said (`tests/test_output.py`), and then the slow ones are asked. The tests of the dashboard
are not asked: a mutant that only they see counts as surviving.

No file is changed. Every mutant has a process of its own, one at a time, forked from one that has
imported the program: a function gets the code of the changed source, and where the change is
outside functions the program is imported again with it. A test that fails with a mutant must pass
without one, which is tried at the end. First come the changes in `NAMED`: slips that a whole suite
once let pass.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import importlib.util
import json
import os
import random
import re
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

import pytest

ROOT = Path(__file__).resolve().parents[2]
MUTATED = ("trials/season", "trials/decide", "trials/report")
ASKED = ("tests/decide", "tests/report", "tests/cli", "tests/package", "tests/pool", "tests")
NOT_ASKED = ("test_hostile_words.py", "test_architecture.py", "test_growers_sheets.py")
MOST_FILES = 4
STUCK_S = 300.0


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
    function: str | None  # of which one, as ``Class.method``; None outside functions

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.kind}: {self.old} -> {self.new}"


# Each with its file, the text as it is, the changed text, and the tests that see it.
NAMED = (
    ("the next season is this one", "trials/season/choosing.py",
     "newest.season + 1", "newest.season", "tests/test_choosing.py"),
    ("a margin in one measure's unit holds for all", "trials/model/trial.py",
     " or measure.key == self.primary_measure:", " or measure.key:", "tests/test_choosing.py"),
    ("a test of seed on the shelf is passed over", "trials/season/stock.py",
     "each.germination if test is None else test.rate", "each.germination", "tests/test_stock.py"),
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
        self.function: str | None = None
        self.within = ""
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
        for each in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(each)
        outside = self.function
        self.function = outside or f"{self.within}{node.name}"
        for statement in node.body:
            self.visit(statement)
        self.function = outside

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        outside = self.within
        self.within += f"{node.name}."
        for each in node.body:
            self.visit(each)
        self.within = outside

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

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg != "strict":
            self.visit(node.value)

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


# ------------------------------------------------------------------------------ which tests


def module_of(file: str) -> str:
    return file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def defined_in(path: Path) -> set[str]:
    """The names that a module defines for others."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    defined = (ast.FunctionDef, ast.ClassDef)
    return {node.name for node in tree.body if isinstance(node, defined) and node.name[0] != "_"}


class Tests:
    """The files of tests, and how much of each module they name."""

    def __init__(self) -> None:
        self.words: dict[str, Counter[str]] = {}
        for folder in ASKED:
            for path in sorted((ROOT / folder).glob("test_*.py")):
                if path.name not in NOT_ASKED:
                    text = path.read_text(encoding="utf-8")
                    self.words[str(path.relative_to(ROOT))] = Counter(re.findall(r"[\w.]+", text))
        self.program = {
            str(path.relative_to(ROOT)): path.read_text(encoding="utf-8")
            for path in sorted((ROOT / "trials").rglob("*.py"))
        }

    def of(self, file: str) -> list[str]:
        """The files that reach a module, those that name most of it first."""
        module = module_of(file)
        package, _, name = module.rpartition(".")
        own = defined_in(ROOT / file)
        importing = re.compile(
            rf"from {re.escape(module)} import|from {re.escape(package)} import .*\b{name}\b"
        )
        above = [each for each, text in self.program.items() if importing.search(text)]
        further = set().union(*(defined_in(ROOT / each) for each in above)) - own

        def names(words: Counter[str], wanted: set[str]) -> int:
            return sum(n for word, n in words.items() if word.rpartition(".")[2] in wanted)

        score = {
            test: (100 * (words[module] > 0) + names(words, own), names(words, further))
            for test, words in self.words.items()
        }
        reaching = [test for test in score if any(score[test])]
        return sorted(reaching, key=lambda test: score[test], reverse=True)[:MOST_FILES]


# --------------------------------------------------------------------------------- one change


def changed(mutant: Mutant) -> bytes:
    own = (ROOT / mutant.file).read_bytes()
    return own[: mutant.start] + mutant.new.encode() + own[mutant.end :]


def code_in(code: CodeType, name: str) -> CodeType:
    """The code of a function (``Class.method``) within that of its module."""
    for part in name.split("."):
        code = next(
            each for each in code.co_consts if isinstance(each, CodeType) and each.co_name == part
        )
    return code


def function_named(module: Any, name: str) -> FunctionType | None:
    """The function of a module that is in use; None where a decorator hides it."""
    found = module
    for part in name.split("."):
        found = vars(found).get(part)
        if isinstance(found, property):
            found = found.fget
        found = getattr(found, "__func__", found)
    while hasattr(found, "__wrapped__"):
        found = found.__wrapped__
    return found if isinstance(found, FunctionType) else None


class Changed(SourceFileLoader):
    """Loads one module from other text than its file's."""

    def __init__(self, name: str, path: str, text: bytes) -> None:
        super().__init__(name, path)
        self.code = compile(text, path, "exec")

    def get_code(self, fullname: str) -> CodeType:
        return self.code

    def find_spec(self, name: str, *_: object) -> ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)


def put_in(file: str, function: str | None, text: bytes) -> None:
    """Make the program of this process the changed one."""
    module = module_of(file)
    if function is not None:
        there = function_named(sys.modules[module], function)
        if there is not None:
            there.__code__ = code_in(compile(text, str(ROOT / file), "exec"), function)
            return
    for name in [name for name in sys.modules if name.partition(".")[0] == "trials"]:
        del sys.modules[name]
    sys.meta_path.insert(0, Changed(module, str(ROOT / file), text))


class First:
    """A plugin of pytest that writes down the first test that fails."""

    def __init__(self, into: Path) -> None:
        self.into = into

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.into.exists():
            self.into.write_text(report.nodeid, encoding="utf-8")


def tried(
    tests: Sequence[str], change: Callable[[], None], folder: Path, stuck_s: float = STUCK_S
) -> tuple[str, str | None]:
    """How tests end after a change in a process of its own, and the first that failed."""
    first = folder / "first"
    first.unlink(missing_ok=True)
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os.setsid()  # so that what it started can be stopped with it
        with (folder / "log").open("w", encoding="utf-8") as log:
            os.dup2(log.fileno(), 1)
            os.dup2(log.fileno(), 2)
            outcome = 70
            try:
                change()
                options = ["-x", "-q", "--tb=short", "-p", "no:cacheprovider"]
                made = f"--basetemp={folder / 'made'}"
                outcome = int(pytest.main([*options, made, *tests], [First(first)]))
            finally:
                sys.stdout.flush()
                os._exit(outcome)
    until = time.monotonic() + stuck_s
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            ended = ENDS.get(os.waitstatus_to_exitcode(status), f"ended with {status}")
            return ended, first.read_text(encoding="utf-8") if first.exists() else None
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "stuck", None


def asked(
    files: Sequence[str], outputs: Sequence[str], change: Callable[[], None], folder: Path
) -> tuple[str, str | None]:
    """How the tests of some files end after a change, and where none saw it the next ones.

    First the quick tests, then what the program says of the invented farm, then the slow tests.
    """
    said = [f"{SAID}[{name}]" for name in outputs]
    end, first = "survived: no test names it", None
    for tests in (files, said and [*said, "-m", "slow"], files and [*files, "-m", "slow"]):
        if tests and end.startswith("survived"):
            found, first = tried(tests, change, folder)
            end = end if found == NO_TESTS else found
    return end, first


def outputs_by_file(folder: Path) -> dict[str, list[str]]:
    """By each file of the program the kept outputs that call something in it, the quickest first.

    Found in a process of its own: what it keeps of an answer would be kept in those that follow.
    """
    found = folder / "outputs"
    child = os.fork()
    if child == 0:
        try:
            found.write_text(json.dumps(called_by_outputs(folder)), encoding="utf-8")
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    by_file: dict[str, list[str]] = {}
    for name, files in json.loads(found.read_text(encoding="utf-8")):
        for file in files:
            by_file.setdefault(file, []).append(name)
    return by_file


def called_by_outputs(folder: Path) -> list[tuple[str, list[str]]]:
    """Each kept output, the quickest first, with the files of the program that it calls."""
    from tests.output import OUTPUTS, text_of
    from trials.season.demo import STORE_NAME, fill

    store = folder / "farm" / STORE_NAME
    fill(store, lambda step: None)
    timed = []
    for name in OUTPUTS:
        files: set[str] = set()
        note = partial(lambda into, frame, *_: into.add(frame.f_code.co_filename), files)
        begun = time.monotonic()
        threading.setprofile(note)
        sys.setprofile(note)
        text_of(name, store)
        sys.setprofile(None)
        threading.setprofile(None)
        own = sorted(
            str(Path(f).relative_to(ROOT)) for f in files if f.startswith(f"{ROOT}/trials")
        )
        timed.append((time.monotonic() - begun, name, own))
    return [(name, own) for _, name, own in sorted(timed)]


SAID = "tests/test_output.py::test_it_says_and_draws_what_it_did"


NO_TESTS = "survived: no test of this kind"
ENDS = {0: "survived", 1: "seen", 2: "seen as tests are read", 5: NO_TESTS}


def named(folder: Path) -> None:
    """Print how each of the named changes ends."""
    for what, file, old, new, test in NAMED:
        own = (ROOT / file).read_text(encoding="utf-8")
        assert own.count(old) == 1, f"{old!r} stands {own.count(old)} times in {file}"
        text = own.replace(old, new).encode()
        end, first = asked([test], (), partial(put_in, file, None, text), folder)
        print(f"{what} | {file} | {end} | {first or test}", flush=True)


def main() -> None:
    """Print a line for each mutant and the share that survived."""
    wanted = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    wanted.add_argument("--sample", type=int, default=100)
    wanted.add_argument("--seed", type=int, default=1)
    wanted.add_argument("--only", type=int, nargs="+", help="only these numbers of the sample")
    wanted.add_argument("--show", action="store_true", help="list the sample and run nothing")
    options = wanted.parse_args()
    every = all_mutants()
    drawn = random.Random(options.seed).sample(every, options.sample)
    sample = [
        each for each in enumerate(drawn, 1) if options.only is None or each[0] in options.only
    ]
    if options.show:
        print(*(f"{number} {mutant}" for number, mutant in sample), sep="\n")
        return
    os.chdir(ROOT)
    for path in sorted((ROOT / "trials").rglob("*.py")):
        if path.name != "__main__.py":
            importlib.import_module(module_of(str(path.relative_to(ROOT))))
    tests, ends = Tests(), dict[int, str]()
    killers: set[str] = set()
    with tempfile.TemporaryDirectory() as scratch:
        said = outputs_by_file(Path(scratch))
        if options.only is None:
            named(Path(scratch))
        for number, mutant in sample:
            begun = time.monotonic()
            change = partial(put_in, mutant.file, mutant.function, changed(mutant))
            outputs = said.get(mutant.file, [])
            ends[number], first = asked(tests.of(mutant.file), outputs, change, Path(scratch))
            killers |= {first} if first else set()
            spent = time.monotonic() - begun
            print(
                f"{number} | {mutant} | {ends[number]} | {first or ''} | {spent:.0f} s", flush=True
            )
        seen = ["-m", "slow or not slow", *sorted(killers)]
        end, first = tried(seen, lambda: None, Path(scratch), STUCK_S * max(len(killers) / 10, 1))
    print(f"Without a change the tests that saw one pass: {end == 'survived'} {first or ''}")
    survived = [number for number, end in ends.items() if end.startswith("survived")]
    print(
        f"{len(survived)} of {len(sample)} survived ({100 * len(survived) / len(sample):.0f}%), "
        f"of {len(every)} possible (seed {options.seed}): {survived}"
    )


if __name__ == "__main__":
    main()
