"""Several seasons as a grower reads them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import jsonschema
import pytest

from trials.report.comparison_page import comparison_page
from trials.report.comparison_seasons import (
    ranking_table,
    ranking_words,
    seasons_heading,
    seasons_note,
    seasons_table,
    seasons_words,
)
from trials.report.document import comparison_document, schema
from trials.report.figures import figures_of
from trials.report.words import plain_words
from trials.stats import Question, Scale, compare
from trials.stats.design.table import PlotTable
from trials.stats.results import Comparison, OverSeasons, Ranking

MakeTable = Callable[..., PlotTable]

# Stems of four varieties in three blocks of three seasons: U leads throughout but once.
STEMS = {
    2024: [[12, 10, 9, 7], [13, 10, 8, 7], [12, 11, 9, 8]],
    2025: [[14, 15, 11, 9], [13, 14, 10, 10], [14, 16, 11, 9]],
    2026: [[11, 9, 9, 6], [12, 9, 8, 7], [11, 10, 8, 6]],
}


def columns() -> dict[str, list[Any]]:
    rows = [
        (year, block, variety, stems)
        for year, blocks in STEMS.items()
        for block, line in enumerate(blocks, 1)
        for variety, stems in zip("UVWX", line, strict=True)
    ]
    return dict(
        zip(("year", "block", "variety", "yield"), map(list, zip(*rows, strict=True)), strict=True)
    )


@pytest.fixture
def three(plot_table: MakeTable) -> Comparison:
    return compare(plot_table(columns(), "variety", block="block", season="year"), Question())


def over(comparison: Comparison) -> OverSeasons:
    assert comparison.over_seasons is not None
    return comparison.over_seasons


def ranked(comparison: Comparison) -> Ranking:
    ranking = over(comparison).ranking
    assert ranking is not None
    return ranking


def test_the_page_puts_the_seasons_side_by_side(three: Comparison) -> None:
    page = comparison_page(three, "stems.csv")
    assert "3 seasons side by side" in page
    assert "Next season" in page
    assert "Leaders: U in 2024 and 2026; V in 2025." in " ".join(page.split())
    assert "reliability" in page
    assert "Another season may change these figures." in " ".join(page.split())
    assert max(map(len, page.splitlines())) <= 110


def test_each_season_has_its_column(three: Comparison) -> None:
    table = seasons_table(three, "variety", figures_of(three))
    assert [column.heading for column in table.columns] == [
        "variety",
        "2024",
        "2025",
        "2026",
        "mean of all",
    ]
    first = table.rows[0]
    assert first[0] == "U"
    assert first[1].startswith("12.3 ± ")  # (12 + 13 + 12) / 3
    assert first[2].startswith("13.7 ± ")


def test_a_level_that_a_season_did_not_grow_has_a_dash(plot_table: MakeTable) -> None:
    all_rows = columns()
    kept = [i for i in range(36) if (all_rows["year"][i], all_rows["variety"][i]) != (2024, "X")]
    some = {name: [values[i] for i in kept] for name, values in all_rows.items()}
    found = compare(plot_table(some, "variety", block="block", season="year"), Question())
    table = seasons_table(found, "variety", figures_of(found))
    assert next(row for row in table.rows if row[0] == "X")[1] == "–"


def test_trust_in_the_ranking_is_said_in_words(three: Comparison) -> None:
    ranking, figures = ranked(three), figures_of(three)
    sure = ranking_words(three, replace(ranking, reliability=0.93), figures)
    assert "93%" in sure
    assert "mostly right" in sure
    assert "the middle is not" in ranking_words(three, replace(ranking, reliability=0.6), figures)
    assert "no more than a hint" in ranking_words(three, replace(ranking, reliability=0.3), figures)
    none = replace(ranking, reliability=0.0, note="There is no ranking.")
    assert "Reliability" not in ranking_words(three, none, figures)
    assert "There is no ranking." in ranking_words(three, none, figures)


def test_without_limits_the_next_season_has_no_column(three: Comparison) -> None:
    ranking = ranked(three)
    entries = tuple(
        replace(entry, low=None, high=None, lead_low=None, lead_high=None)
        for entry in ranking.entries
    )
    table = ranking_table(three, replace(ranking, entries=entries), figures_of(three))
    assert [column.heading for column in table.columns] == [
        "variety",
        "expected",
        "above average",
        "reliability",
    ]


def test_the_document_holds_it_all(three: Comparison) -> None:
    document: Any = comparison_document(three)
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    assert [part["season"] for part in document["over_seasons"]["own"]] == ["2024", "2025", "2026"]
    assert document["over_seasons"]["own"][0]["means"][0]["levels"] == {"variety": "U"}
    assert document["over_seasons"]["ranking"]["entries"][0]["level"] == "U"
    one = replace(three, over_seasons=None)
    assert comparison_document(one)["over_seasons"] is None


def test_seasons_without_error_of_their_own_are_still_seasons(plot_table: MakeTable) -> None:
    once = columns()
    kept = [i for i in range(36) if once["block"][i] == 1]
    some = {name: [values[i] for i in kept] for name, values in once.items()}
    found = compare(plot_table(some, "variety", season="year"), Question())
    assert "These seasons are the only ones seen" in plain_words(found).not_answered
    assert "None of them can be tested alone" in " ".join(comparison_page(found, "x").split())


def test_who_led_is_said_by_season_or_once_for_all(plot_table: MakeTable) -> None:
    first = {2024: STEMS[2024], 2026: STEMS[2026]}
    rows = [
        (year, block, variety, stems)
        for year, blocks in first.items()
        for block, line in enumerate(blocks, 1)
        for variety, stems in zip("UVWX", line, strict=True)
    ]
    names = ("year", "block", "variety", "yield")
    table = dict(zip(names, map(list, zip(*rows, strict=True)), strict=True))
    both = compare(plot_table(table, "variety", block="block", season="year"), Question())
    assert seasons_words(both, "variety").startswith("U led every time.")
    every = compare(plot_table(columns(), "variety", block="block", season="year"), Question())
    said = seasons_words(every, "variety")
    assert said.startswith("Leaders: U in 2024 and 2026; V in 2025.")


@pytest.mark.parametrize(
    ("season", "site", "said"),
    [
        ("2026", None, "3 seasons side by side"),
        (None, "Low Field", "3 sites side by side"),
        ("2026", "Low Field", "3 seasons and sites side by side"),
    ],
)
def test_the_heading_says_what_varied(
    three: Comparison, season: str | None, site: str | None, said: str
) -> None:
    own = tuple(replace(part, season=season, site=site) for part in over(three).own)
    assert seasons_heading(replace(three, over_seasons=replace(over(three), own=own))) == said
    assert seasons_heading(three) == "3 seasons side by side"


def test_limits_are_shown_where_they_can_be_read(three: Comparison) -> None:
    own = over(three).own
    four = replace(three, over_seasons=replace(over(three), own=(*own, own[0])))
    five = replace(three, over_seasons=replace(over(three), own=(*own, *own[:2])))
    for found, shown in (
        (three, True),
        (four, True),
        (five, False),
        (replace(three, scale=Scale.LOG), False),
    ):
        (first, *_) = seasons_table(found, "variety", figures_of(found)).rows
        assert all(("±" in cell) is shown for cell in first[1:]), found.scale
        assert seasons_note(found).startswith("After ±") is shown
