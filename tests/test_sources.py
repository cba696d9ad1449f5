"""Every publication cited by author and year can be looked up: see `trials.report.sources`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from trials.report.methods import methods_page
from trials.report.sources import SOURCES

ROOT = Path(__file__).parent.parent
KINDS = ("*.py", "*.md", "*.json", "*.toml", "*.sql")
# Capitals before a year that are no authors: a month, SQL, and the title of a volume.
NO_AUTHORS = {"Jan", "BETWEEN", "Quasi-Monte Carlo Methods", "Methods"}

NAME = r"(?:Van )?[A-Z][^\W\d_]*(?:['’-][A-Z])?[\w-]*"
YEAR = re.compile(r"(?<![\d.\-/:,])(19\d\d|20[01]\d|202[0-2])(?![\d\-/]|[.,]\d)")
AUTHORS = re.compile(
    rf"((?:{NAME}(?:, | & | and ))*{NAME}(?: et al\.)?)(?:['’]s|['’])?(?: test| identity)?,? \(?$"
)


def cited_in(text: str) -> Iterator[str]:
    """'Authors year', as it stands among the sources."""
    line = re.sub(r"\n[ \t]*(?:#|--)?[ \t]*", " ", text)
    for year in YEAR.finditer(line):
        authors = AUTHORS.search(line, max(0, year.start() - 90), year.start())
        if authors is None or authors[1] in NO_AUTHORS:
            continue
        yield f"{authors[1].replace(' and ', ' & ').removesuffix(chr(39))} {year[1]}"


@cache
def citations() -> dict[str, str]:
    """Each citation with the file that has it."""
    files = [ROOT / "DEVELOPERS.md", ROOT / "README.md"]
    files += [path for kind in KINDS for path in sorted((ROOT / "trials").rglob(kind))]
    files += [path for kind in KINDS for path in sorted((ROOT / "tests").rglob(kind))]
    mine = {Path(__file__), ROOT / "trials" / "report" / "sources.py"}
    return {
        cited: str(path.relative_to(ROOT))
        for path in files
        if path not in mine and path.stat().st_size < 100_000
        for cited in cited_in(path.read_text(encoding="utf-8"))
    }


def test_the_finder_finds_what_it_should() -> None:
    text = """Satterthwaite's (1946, Biometrics), Fai and Cornelius' (1996), Welch's test (1938,
    # Van Slyke & Wets 1969; Hüffner, Schulz-Streeck & Lippman-Hand
    # 1983 and O'Neill 2014, not 2014-05-01, nor in 2014."""
    assert list(cited_in(text)) == [
        "Satterthwaite 1946",
        "Fai & Cornelius 1996",
        "Welch 1938",
        "Van Slyke & Wets 1969",
        "Hüffner, Schulz-Streeck & Lippman-Hand 1983",
        "O'Neill 2014",
    ]


def test_every_citation_is_a_source_and_every_source_is_cited() -> None:
    unknown = {cited: file for cited, file in citations().items() if cited not in SOURCES}
    assert not unknown
    assert len(citations()) > 80
    assert set(SOURCES) == set(citations())
    for cited in sorted(citations()):
        print(f"{cited}. {SOURCES[cited]}")


def test_every_source_has_authors_a_year_and_a_title_or_a_journal() -> None:
    for cited, where in SOURCES.items():
        assert re.fullmatch(r".*[a-z].* (19|20)\d\d", cited), cited
        journal = re.search(r"[A-Z][\w ,&-]+ \d+(:\d+| \()", where)
        title = re.match(r"(In: )?[A-Z][\w' ,:?()./-]{7,}", where)
        assert where.endswith("."), cited
        assert journal or title, cited


def test_the_methods_end_with_the_sources_they_cite() -> None:
    page = methods_page()
    methods, _, sources = page.partition("\nSources\n\n")
    named = {line.strip().partition(". ")[0] for line in sources.splitlines()}
    assert set(cited_in(methods)) <= named
    assert "Kenward & Roger 1997" in named
