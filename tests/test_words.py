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
    ("told apart", r"\bt(old|ell) apart\b|\bable to tell\b", "separated, or what it shows"),
    ("real and found", r"\b(real|found) %|\bcounts? as real from\b", "LSD %, detectable %"),
    ("seed", r"\b(with|same) seed\b", "randomisation number"),
    ("passed over", r"\bPassed over\b", "sold out"),
    ("stand", r"\bstands? (twice|here|under|beside|under no)\b", "occurs, or is"),
    ("hold", r"\bholds? (a|an|no|\{\}|lists|counts|numbers)\b", "contains, or has"),
    ("per cent apart", r"[\d}] %(?![\w(])", "the sign next to its number: 95%"),
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
    lines = glossary_page().splitlines()
    assert max(len(line) for line in lines) <= 100
    for part, terms in PARTS.items():
        for term, meaning in terms.items():
            one = f"  {term}: {meaning}"
            assert one in lines or part.startswith("Measures"), one


# Terms of art, of statistics and of the trade, by the pattern under which texts use them, with
# the term that explains them where it is spelled in another way.
TERMS_OF_ART = {
    r"augmented blocks": "",
    r"analysis of variance": "",
    r"backups?": "backup",
    r"blocks?": "block",
    r"bounds?": "bound",
    r"coefficient of variation": "",
    r"complete blocks": "",
    r"completely randomised": "",
    r"covariates?": "covariate",
    r"crossing strips": "",
    r"culls?": "cull",
    r"degrees of freedom": "",
    r"detectable": "detectable difference",
    r"digest": "",
    r"efficiency": "",
    r"entries|entry": "entry",
    r"equivalence margin": "",
    r"expected loss": "",
    r"experimental units?": "experimental unit",
    r"factors?": "factor",
    r"file blocks?": "file block",
    r"flush": "",
    r"germination": "",
    r"guard plants?": "guard plant",
    r"harvests?": "harvest",
    r"incomplete blocks": "",
    r"intervals?": "95% interval",
    r"joint test": "",
    r"least significant difference": "",
    r"least squares": "",
    r"length grades?": "length grade",
    r"letters?": "letters",
    r"levels?": "level",
    r"log scale": "",
    r"logit": "logit scale",
    r"marketable stems?": "marketable stem",
    r"medians?": "median",
    r"mixed model": "",
    r"netting": "",
    r"odds ratios?": "odds ratio",
    r"outliers?": "outlier",
    r"overage": "",
    r"packages?": "data package",
    r"packets?": "packet",
    r"percentage points": "",
    r"pinch": "",
    r"plots?": "plot",
    r"plugs?": "plug",
    r"pool": "",
    r"randomisation number": "",
    r"randomisation test": "",
    r"randomised": "",
    r"re-entry times?": "re-entry time",
    r"relative efficiency": "",
    r"reliability": "",
    r"replicates?": "replicate",
    r"residuals?": "residual",
    r"rows and columns": "",
    r"season-to-season variation": "",
    r"seed lots?": "seed lot",
    r"seedlings?": "usable seedling",
    r"side by side": "",
    r"sowings?": "sowing",
    r"split-plot": "",
    r"split plots?": "split plot",
    r"stand counts?": "stand count",
    r"standard deviations?": "standard deviation",
    r"standings": "",
    r"stem samples?": "stem sample",
    r"store": "",
    r"strata": "",
    r"strips?": "strip",
    r"successions?": "succession",
    r"treatments?": "treatment",
    r"variances?": "variance",
    r"whole plots?": "whole plot",
}
# Words of those shapes that everybody knows, and names of files and of other programs.
KNOWN_SHAPES = {
    *("certificate", "e-mail", "co-op", "sign-in", "read-only", "square-root", "dry-run"),
    *("field-row", "field-column", "year-month-day", "lowest-paying", "like-treated", "laid-out"),
    *("struck-out", "CC-BY", "re-entry", "side-by-side", "season-to-season", "replication"),
    *("split-split-plot", "duplicate"),
    *("CSV", "XLSX", "XLS", "ODS", "PDF", "JSON", "TOML", "PEM", "QR", "UTF", "SHA", "TLS", "UTC"),
    *("ISO", "README", "FOLDER", "MB", "CC", "BY", "EUR", "DAMAGED", "ICS", "ZIP"),
    *("base-uri", "default-src", "form-action", "img-src", "style-src"),
}
SHAPE = re.compile(
    r"(?<![-\w./\"'])(?:[a-z]+isations?|[a-z]+variates?|[a-z]+icates?|[a-z]+ability"
    r"|[a-z]+(?:-[a-z]+)+|[A-Z][a-z]+-[A-Z][a-z]+|[A-Z]-test|[A-Z]{2,6})(?![-\w/.(=\"'])"
)


ROOMS = ("report", "paper", "cli", "stats", "decide", "layout", "model")


def shown_texts(*rooms: str) -> Iterator[str]:
    """What a person may read: texts of some rooms and of the pages."""
    files = [path for room in rooms for path in sorted((ROOT / "trials" / room).rglob("*.py"))]
    files += sorted((ROOT / "dashboard").glob("*.py"))
    files += sorted((ROOT / "dashboard" / "screens").glob("*.py"))
    apart = {"glossary.py", "sources.py"}
    for path in files:
        if path.name not in apart:
            yield from (text for _, text in texts_of(path) if " " in text)


def explained() -> set[str]:
    words = {word for term in TERMS for word in term.split(", ")}
    return words | {word.lower() for word in words}


def test_no_term_of_art_is_used_that_the_glossary_lacks() -> None:
    texts = "\n".join(shown_texts(*ROOMS, "store"))
    used = [
        pattern
        for pattern in TERMS_OF_ART
        if re.search(rf"\b(?:{pattern})\b", texts, re.IGNORECASE)
    ]
    lacking = {p for p in used if (TERMS_OF_ART[p] or p).lower() not in explained()}
    assert not lacking
    unused = set(TERMS_OF_ART) - set(used)
    assert not unused, f"texts no longer use {unused}"


def test_no_word_of_a_term_s_shape_is_used_that_the_glossary_lacks() -> None:
    """Words such as randomisation, covariate, reliability, Kenward-Roger, F-test and REML."""
    words = explained()
    parts = words | {part for word in words for part in re.split(r"[ ]", word)}
    found = {
        shape
        for text in shown_texts(*ROOMS)
        if prose(text)
        and not any(mark in text for mark in ("<", "//", "--", "$"))
        and text != text.upper()
        for shape in SHAPE.findall(re.sub(r"\{\}", " ", text))
    }
    lacking = {
        shape
        for shape in found
        if not {shape, shape.lower(), shape.removesuffix("s")} & (parts | KNOWN_SHAPES)
    }
    assert {"randomisation", "Kenward-Roger", "F-test", "REML"} <= found
    assert not lacking


def test_sentences_are_short_on_average() -> None:
    """Printed for each file: the average and the longest sentence, in words."""
    for path in speaking():
        lengths = [
            len(each.split())
            for _, text in texts_of(path)
            if prose(text) and "<" not in text and "\n" not in text
            for each in re.split(r"(?<=[.!?:;]) +", text)
            if " " in each
        ]
        if lengths:
            average = sum(lengths) / len(lengths)
            print(f"{path.relative_to(ROOT)}: {average:.1f} words, at most {max(lengths)}")
            assert average <= 22


@pytest.mark.parametrize("module", METHODS)
def test_each_method_has_its_formula_its_limits_and_its_source(module: str) -> None:
    """A source is a name and a year, as 'Tukey 1953'."""
    page = methods_page()
    described = page.partition(f"\n{module}\n")[2].partition("\ntrials.")[0]
    labels = re.findall(r"^  (Formula|Limits|Source): \S", described, flags=re.MULTILINE)
    assert labels[:3] == ["Formula", "Limits", "Source"]
    assert set(labels[3:]) <= {"Source"}  # of its functions
    assert re.search(r"[A-Z]\w+,? (1[89]|20)\d\d", described.partition("Source: ")[2])
