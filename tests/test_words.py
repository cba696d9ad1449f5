"""How the program speaks: retired words, long sentences, and a glossary of its terms."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from trials.decide.rules import Advice
from trials.model.trial import MEASURES
from trials.report.glossary import PARTS, glossary_page
from trials.report.methods import METHODS, methods_page
from trials.stats.results import Verdict

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
MOST_WORDS = 35

# A retired word, the pattern of its retired sense, and what to say instead. A trade word stays
# where it has its trade sense: a bed, a seed lot, a cut.
RETIRED = (
    ("lot", r"\bby lot\b|\bdraw(s|n)? the lot\b", "at random"),
    ("lottery", r"\blotter(y|ies)\b|\bdealt\b|\bdealing\b", "randomisation"),
    ("luck", r"\bluck\b", "chance"),
    ("swing", r"\bswings?\b", "season-to-season variation"),
    ("interplay", r"\binterplay\b", "interaction"),
    ("give up", r"\bgives? up\b|\bshortfall\b", "expected loss"),
    ("tall share", r"\btall share\b", "share of saleable length"),
    ("mend", r"\bmend(s|ed|ing)?\b|\bput right\b", "correct"),
    ("judge", r"\bjudg(e|es|ed|ing)\b", "check or test"),
    ("at hand", r"\bat hand\b", "so far"),
    ("anew", r"\banew\b|\bonce more\b", "again"),
    ("reckon", r"\breckon\w*\b", "calculate"),
    ("bring in", r"\b(bring|brings|brought) (\w+ )?in\b", "load, add or import"),
    ("take out", r"\b(take|takes|taken) out\b", "remove"),
    ("put back", r"\bput(s|ting)? back\b", "restore"),
    ("a plot", r"\b(stems|plants|minutes|picks) an? (plot|plant|hour|week|metre)\b", "per"),
    ("a hundred", r"\b(EUR|stems|seeds) a (hundred|pack|packet)\b(?! holds)", "per"),
    ("history entry", r"\b[Ee]ntr(y|ies) of the history\b|\b[Ee]ntry \{", "change"),
    ("as known", r"\bas known\b", "records as of"),
    ("whole", r"\bNOT whole\b|\bis not whole\b", "damaged"),
    ("in the running", r"\bin the running\b", "compared"),
    ("held against", r"\bheld against\b", "compared with"),
    ("old options", r"--(as-known-at|every-pair|most)\b|\btallybed check\b", "today's names"),
)


@cache
def texts_of(path: Path) -> tuple[tuple[int, str], ...]:
    """Every text of a module but its docstrings, with its line: what may be shown to a person."""
    return tuple(_texts_of(path))


def _texts_of(path: Path) -> Iterator[tuple[int, str]]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    unseen = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            unseen |= {id(part) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            words = (p.value if isinstance(p, ast.Constant) else "{}" for p in node.values)
            yield node.lineno, "".join(str(word) for word in words)
        elif (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in unseen
        ):
            yield node.lineno, node.value


def prose(text: str) -> bool:
    """Whether a text is a sentence or a label, not the key of a field."""
    return text[:1].isupper() or len(text.split()) > 3


def speaking() -> list[Path]:
    return sorted([*(ROOT / "trials").rglob("*.py"), *(ROOT / "dashboard").rglob("*.py")])


@pytest.mark.parametrize(("word", "pattern", "instead"), RETIRED, ids=[w for w, _, _ in RETIRED])
def test_a_retired_word_is_not_said(word: str, pattern: str, instead: str) -> None:
    said = [
        f"{path.relative_to(ROOT)}:{line}: {text[:90]!r}"
        for path in speaking()
        for line, text in texts_of(path)
        if prose(text) and re.search(pattern, text)
    ]
    said += [f"README.md: {line[:90]}" for line in README.splitlines() if re.search(pattern, line)]
    assert not said, f"say {instead!r}, not {word!r}: " + "\n".join(said)


def sentences(text: str) -> list[str]:
    """The sentences of a Markdown text, without its code, tables and headings."""
    prose = re.sub(r"^[ ]*```.*?^[ ]*```", "", text, flags=re.MULTILINE | re.DOTALL)
    lines = [line for line in prose.splitlines() if line and line.lstrip()[0] not in "#|!"]
    return [each for line in lines for each in re.split(r"(?<=[.!?:;]) +", line)]


def test_no_sentence_of_the_readme_is_long() -> None:
    lengths = sorted((len(each.split()), each) for each in sentences(README))
    average = sum(number for number, _ in lengths) / len(lengths)
    print(f"README.md: {average:.1f} words a sentence, at most {lengths[-1][0]}")
    assert lengths[-1][0] <= MOST_WORDS, lengths[-1][1]


def test_no_sentence_of_a_page_is_long() -> None:
    """A gap counts as one word; a text of several lines is a list."""
    for folder in ("dashboard", "trials/cli", "trials/report"):
        found = [
            (len(each.split()), each)
            for path in sorted((ROOT / folder).rglob("*.py"))
            for _, text in texts_of(path)
            if "<" not in text and "\n" not in text
            for each in re.split(r"(?<=[.!?:;]) +", text)
            if " " in each
        ]
        longest = max(found)
        print(f"{folder}: {sum(n for n, _ in found) / len(found):.1f} words, at most {longest[0]}")
        assert longest[0] <= MOST_WORDS, longest[1]


TERMS = {term for terms in PARTS.values() for term in terms}


def test_the_glossary_has_every_measure_and_verdict() -> None:
    explained = {word for term in TERMS for word in term.split(", ")}
    assert {verdict.value for verdict in Verdict} <= explained
    assert {advice.value for advice in Advice} <= explained
    assert {measure.label for measure in MEASURES} <= TERMS


def test_each_term_has_one_line() -> None:
    assert max(len(line) for line in glossary_page().splitlines()) <= 100


@pytest.mark.parametrize("module", METHODS)
def test_each_method_has_its_formula_its_limits_and_its_source(module: str) -> None:
    """A source is a name and a year, as 'Tukey 1953'."""
    page = methods_page()
    described = page.partition(f"\n{module}\n")[2].partition("\ntrials.")[0]
    labels = re.findall(r"^  (Formula|Limits|Source): \S", described, flags=re.MULTILINE)
    assert labels[:3] == ["Formula", "Limits", "Source"]
    assert set(labels[3:]) <= {"Source"}  # of its functions
    assert re.search(r"[A-Z]\w+,? (1[89]|20)\d\d", described.partition("Source: ")[2])
