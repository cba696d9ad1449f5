"""A plan's page: each layout that fits in a row of its own, and what each is expected to earn."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.plans import SMALL, small_plan
from trials import season
from trials.layout.proposals import MANY_ENTRIES
from trials.model.money import TrialGain
from trials.model.units import UnitSystem
from trials.records.plan.proposed import Planned, Proposed
from trials.report.plan_page import (
    ASSUMED_GAIN,
    decision_sentences,
    plan_page,
    proposal_words,
    proposals_table,
    proposed_page,
    sheets_page,
    table_notes,
)

NO_STORE = Path("there is no such store")


@pytest.fixture(scope="module")
def asked() -> Proposed:
    return season.propose(NO_STORE, small_plan())


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    folder = tmp_path_factory.mktemp("plan")
    (folder / "plan.toml").write_text(small_plan(), encoding="utf-8")
    return season.plan(folder / "farm.tallybed", folder / "plan.toml", dry_run=True)


def with_gains(asked: Proposed, *money: tuple[float | None, float | None]) -> Proposed:
    """The first layouts with what each earns and costs."""
    gains = tuple(TrialGain(0.05 + i / 100, 0.6, *each) for i, each in enumerate(money))
    return replace(asked, offers=asked.offers[: len(money)], gains=gains)


def test_each_layout_is_a_row_under_its_number(asked: Proposed) -> None:
    table = proposals_table(asked, chosen=1)
    headings = [column.heading for column in table.columns]
    assert len(table.rows) == len(asked.offers) > 1
    assert [row[0].removeprefix("→ ") for row in table.rows] == [
        str(number) for number in range(1, len(asked.offers) + 1)
    ]
    assert [row[0].startswith("→") for row in table.rows] == [
        number == 1 for number in range(1, len(asked.offers) + 1)
    ]
    first = dict(zip(headings, table.rows[0], strict=True))
    # As written: 4 varieties in 3 blocks.
    assert first["layout"] == "complete blocks *"
    assert (first["plots each"], first["plots"], first["plants/plot"]) == ("3", "12", "12")
    assert first["bed m"] == f"{asked.offers[0].bed_m:.0f}"
    feet = proposals_table(asked, UnitSystem.US)
    column = [each.heading for each in feet.columns].index("bed ft")
    assert feet.rows[0][column] == f"{asked.offers[0].bed_m / 0.3048:.0f}"
    assert "earns" not in headings


def test_what_no_figures_tell_is_a_dash(asked: Proposed) -> None:
    silent = tuple(replace(offer, tells=()) for offer in asked.offers)
    table = proposals_table(replace(asked, offers=silent))
    places = [
        i for i, each in enumerate(table.columns) if each.heading in ("LSD %", "detectable %")
    ]
    assert len(places) == 2
    assert {row[i] for row in table.rows for i in places} == {"–"}
    first = proposals_table(asked).rows[0]
    real, found = (float(first[i]) for i in places)
    assert 0 < real < found


def test_money_has_its_columns_where_some_layout_pays(asked: Proposed) -> None:
    paid = with_gains(asked, (1234.4, 100.0), (900.0, None))
    table = proposals_table(paid)
    assert [column.heading for column in table.columns[-3:]] == ["gain %", "earns", "costs"]
    assert [row[-3:] for row in table.rows] == [("5.0", "1,234", "100"), ("6.0", "900", "–")]
    in_euros = proposals_table(replace(paid, currency="EUR"))
    assert [column.heading for column in in_euros.columns[-2:]] == ["earns EUR", "costs EUR"]
    unpaid = proposals_table(with_gains(asked, (None, 100.0)))
    assert [column.heading for column in unpaid.columns][-1] == "gain %"
    assert unpaid.rows[0][-1] == "5.0"


def test_the_layout_that_earns_most_beyond_its_cost_is_named(asked: Proposed) -> None:
    said = decision_sentences(with_gains(asked, (500.0, 450.0), (400.0, 100.0)))
    assert said[0] == ASSUMED_GAIN
    assert "layout 2" in said[1]
    assert "about 300 more" in said[1]
    paid = replace(with_gains(asked, (500.0, 450.0), (400.0, 100.0)), currency="EUR")
    assert "about 300 EUR more" in decision_sentences(paid)[1]
    for costs in (400.0, 401.0):  # what just pays for itself is no gain
        assert "no trial" in decision_sentences(with_gains(asked, (400.0, costs)))[1]
    assert "layout 1" in decision_sentences(with_gains(asked, (400.0, 399.0)))[1]


def test_without_prices_or_gains_no_layout_is_recommended(asked: Proposed) -> None:
    assert "prices" in decision_sentences(with_gains(asked, (None, None)))[1]
    assert decision_sentences(replace(asked, gains=())) == ()


@pytest.mark.parametrize("entries", [MANY_ENTRIES - 1, MANY_ENTRIES])
def test_the_chance_to_keep_the_best_is_said_of_many_entries(entries: int) -> None:
    factor = {"name": "variety", "levels": [f"V{number}" for number in range(entries)]}
    beds = [{"name": f"Bed {n}", "length_m": 30, "width_m": 1.2} for n in range(4)]
    asked = season.propose(NO_STORE, small_plan(factors=[factor], beds=beds))
    said = [line for line in decision_sentences(asked) if "top quarter" in line]
    assert len(said) == (entries >= MANY_ENTRIES)
    if said:
        low, high = min(g.best_kept for g in asked.gains), max(g.best_kept for g in asked.gains)
        assert f"best of the {entries} entries" in said[0]
        assert f"{100 * low:.0f}% to {100 * high:.0f}%" in said[0]


def test_a_layout_is_chosen_by_a_line(asked: Proposed) -> None:
    assert proposal_words(1, asked.offers[0]) == ("1: complete blocks *, 3 plots each of 12 plants")


def test_the_star_is_explained_where_there_is_one(asked: Proposed) -> None:
    assert table_notes(asked)[0].startswith("*: ")
    others = replace(asked, offers=asked.offers[1:], gains=asked.gains[1:])
    assert not table_notes(others)[0].startswith("*")


def test_larger_units_are_told_where_a_factor_is_given_to_them(asked: Proposed) -> None:
    pinch = {"name": "pinch", "levels": ["yes", "no"], "on": "whole plot"}
    beds = [{"name": f"Bed {n}", "length_m": 30, "width_m": 1.2} for n in (1, 2)]
    split = season.propose(
        NO_STORE,
        small_plan(layout="split-plot", factors=[*SMALL["factors"], pinch], beds=beds),
    )
    fewer = len(table_notes(replace(asked, gains=())))
    assert len(table_notes(replace(split, gains=()))) == fewer + 1


def test_what_does_not_fit_says_so_first(asked: Proposed) -> None:
    page = proposed_page(replace(asked, refused="The beds are too short."), "my plan.toml")
    assert page.index("The beds are too short.") < page.index("Layouts that fit")
    assert "tallybed plan 'my plan.toml' --take NUMBER" in page
    assert "The beds are too short." not in proposed_page(asked, "plan.toml")


def test_the_page_of_a_layout_says_what_was_laid_out(planned: Planned) -> None:
    page = plan_page(planned, dry_run=True)
    codes = [plot.code for plot in planned.layout.plots]
    assert f"12, from {codes[0]} to {codes[-1]}" in page
    assert "Nothing was stored." in page
    assert "tallybed sheets" not in page
    stored = plan_page(replace(planned, store_made=False), dry_run=False)
    assert "tallybed sheets six-2026" in stored
    assert "A new store was made" not in stored
    assert "A new store was made" in plan_page(replace(planned, store_made=True), dry_run=False)
    # 3 rows of 12 plants with one guard at each end of each of 12 plots.
    assert "144 to pick and count" in page
    assert "72 guard plants" in page
    assert "1 plant at each end of every row" in page


def test_guards_and_paths_are_told_where_there_are_some(planned: Planned) -> None:
    layout = planned.layout
    bare = replace(planned, layout=replace(layout, plan=replace(layout.plan, guard_plants=0)))
    guards = plan_page(bare, dry_run=True).partition("Guards")[2].splitlines()[0]
    assert guards.split() == ["none"]
    assert "with paths" not in plan_page(planned, dry_run=True)
    offer = planned.taken
    beds = tuple(replace(bed, path_m=0.5) for bed in offer.plan.beds)
    with_paths = replace(offer, plan=replace(offer.plan, beds=beds))
    offers = (with_paths, *planned.proposed.offers[1:])
    page = plan_page(
        replace(planned, number=1, proposed=replace(planned.proposed, offers=offers)), dry_run=True
    )
    # 30 m of 1.2 m are 36 square metres, 51 with a path of 0.5 m.
    assert "all beds 36 m², 51 m² with paths" in page


def test_the_files_written_are_listed() -> None:
    assert sheets_page([Path("a.pdf"), Path("b.pdf")]) == "Written\n  a.pdf\n  b.pdf\n"
