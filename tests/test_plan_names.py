"""A plan brings its own names: varieties, a season and a site that the store lacks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.errors import RecordsRefused
from trials.model.rows import Sheet, Signed

EXAMPLE = Path(__file__).parents[1] / "data" / "plan-example.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")
OWN_SEASON = TEXT.replace(
    "[calendar] ",
    "[calendar]\nseason_starts_on = 2026-03-01\nseason_ends_on = 2026-10-31\n"
    "last_spring_frost = 2026-04-20\nfirst_autumn_frost = 2026-10-10\n#",
)
SORTS = ["Early white", "Late blue", "Our usual", "Tall pink"]
SIGNED = Signed("Ann")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "farm.tallybed"
    season.begin(path)
    return path


def names(store: Path, sheet: Sheet, column: str) -> list[str]:
    return sorted(season.stored(store, sheet)[column])


@pytest.mark.slow
def test_an_empty_store_is_given_the_names_of_the_plan(store: Path) -> None:
    season.plan_from_text(store, OWN_SEASON, signed=SIGNED)
    assert names(store, Sheet.VARIETIES, "variety") == SORTS
    assert set(season.stored(store, Sheet.VARIETIES)["crop"]) == {"aster"}
    assert names(store, Sheet.SITES, "site") == ["Heronlap Field"]
    (run,) = season.stored(store, Sheet.SEASONS).to_dict("records")
    assert (run["season"], run["ends_on"]) == (2026, date(2026, 10, 31))
    assert run["first_autumn_frost"] == date(2026, 10, 10)
    (entry,) = season.history(store)
    assert entry.who == "Ann"


@pytest.mark.slow
def test_a_plan_s_names_are_stored_as_cells_of_records_are(store: Path) -> None:
    """One plain space between words, and one form of each character."""
    text = OWN_SEASON.replace("Heronlap Field", "Heronlap  Fie\u0301ld")
    season.plan_from_text(store, text.replace("Tall pink", " Tall  pink "))
    assert names(store, Sheet.SITES, "site") == ["Heronlap Fi\u00e9ld"]
    assert names(store, Sheet.VARIETIES, "variety") == SORTS
    (trial,) = season.trials(store)
    assert trial.site == "Heronlap Fi\u00e9ld"
    assert set(season.plots(store, trial.code)["variety"]) == set(SORTS)


@pytest.mark.slow
def test_seed_can_be_priced_for_varieties_that_only_a_plan_named(store: Path) -> None:
    season.plan_from_text(store, OWN_SEASON)
    house = {"house": "Loft", "currency": "EUR", "shipping": "4", "minimum_order": "0"}
    item = {"house": "Loft", "item": "1", "variety": "Tall pink", "seeds": "50", "price": "3"}
    tables = {
        Sheet.SEED_HOUSES: [{**house, "free_shipping_from": ""}],
        Sheet.SEED_ITEMS: [{**item, "from_packs": "1", "available": "yes"}],
    }
    season.enter(store, tables, SIGNED)
    assert names(store, Sheet.SEED_ITEMS, "variety") == ["Tall pink"]


@pytest.mark.slow
def test_a_second_plan_adds_only_what_is_new(store: Path) -> None:
    season.plan_from_text(store, OWN_SEASON)
    again = OWN_SEASON.replace("aster-2026", "aster-again").replace("Late blue", "Red")
    season.plan_from_text(store, again)
    assert names(store, Sheet.VARIETIES, "variety") == sorted([*SORTS, "Red"])
    assert len(season.stored(store, Sheet.SITES)) == 1


@pytest.mark.slow
@pytest.mark.parametrize("ask", [season.plan_from_text, season.propose])
def test_another_spelling_of_a_variety_is_refused_by_its_key(
    store: Path, ask: Callable[[Path, str], object]
) -> None:
    season.plan_from_text(store, OWN_SEASON)
    other = OWN_SEASON.replace("aster-2026", "aster-again").replace("Late blue", "late  Blue")
    with pytest.raises(RecordsRefused, match="'late Blue' is written 'Late blue' elsewhere") as no:
        ask(store, other)
    assert [fault.column for fault in no.value.faults] == ["factors.levels"]
    assert len(season.trials(store)) == 1
    assert names(store, Sheet.VARIETIES, "variety") == SORTS


@pytest.mark.slow
def test_days_of_a_season_that_cannot_be_right_are_refused_by_their_key(store: Path) -> None:
    wrong = OWN_SEASON.replace("season_ends_on = 2026-10-31", "season_ends_on = 2026-02-01")
    with pytest.raises(RecordsRefused) as refused:
        season.plan_from_text(store, wrong)
    assert {fault.column for fault in refused.value.faults} <= {
        "calendar.season_ends_on",
        "calendar.season_starts_on",
        "calendar.first_autumn_frost",
        "calendar.last_spring_frost",
    }
    assert season.trials(store) == ()
    assert season.stored(store, Sheet.SITES).empty


def test_a_dry_run_stores_no_name(store: Path) -> None:
    season.plan_from_text(store, OWN_SEASON, dry_run=True)
    assert season.stored(store, Sheet.VARIETIES).empty
