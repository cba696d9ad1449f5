"""What a pool's page says: what was compared and published, and what a reader must know of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from trials.pool.contribute import Contributed
from trials.pool.network import AcrossFarms, Heterogeneity
from trials.pool.part import Refusal
from trials.pool.publication import Published, Subject
from trials.pool.run import Pooled
from trials.report.pool_page import (
    best_first,
    contributed_page,
    measure_of,
    pooled_page,
    published_text,
    remarks,
    trials_wanted,
)

DONE = Pooled(Path("results"), 5, 0, 2, 7, 14, (), 1.25)
REFUSED = Refusal("2026/Home", "Z26", "stems_per_plant", "no replication")


def variety(name: str, lead: float, narrower: float = 0.1, **changed: Any) -> AcrossFarms:
    found = AcrossFarms(
        name, 12, 34, lead, 0.5, 9.0, lead - 1, lead + 1, lead - 2, lead + 2, narrower
    )
    return replace(found, **changed)


SUBJECT = Subject(
    "zinnia",
    "stems_per_plant",
    10,
    40,
    2,
    (variety("Ember", -1.0, 0.3), variety("Fern", 2.0, 0.2), variety("Tallow", 0.5, 0.4)),
    (),
    (),
    (),
)


def test_what_was_compared_and_what_an_earlier_run_had_done() -> None:
    page = pooled_page(DONE)
    assert page.startswith("7 trials of 2 farms compared: 14 comparisons in 1.2 s\n")
    assert "5 farm seasons compared now." in page
    assert "earlier run" not in page
    assert "refusal" not in page
    again = pooled_page(replace(DONE, done_before=4))
    assert "1 farm season compared now, 4 done by an earlier run." in again


@pytest.mark.parametrize(
    ("refusals", "more"), [(1, None), (20, None), (21, "1 more"), (23, "3 more")]
)
def test_refusals_are_listed_and_many_of_them_counted(refusals: int, more: str | None) -> None:
    page = pooled_page(replace(DONE, refusals=(REFUSED,) * refusals))
    assert page.count("no replication") == min(refusals, 20)
    assert ("refusals" in page) == (refusals > 1)
    assert ("more, in done.json" in page) == (more is not None)
    if more:
        assert f"  and {more}, in done.json" in page


def test_a_refusal_of_a_whole_partition_names_no_trial() -> None:
    whole = replace(REFUSED, trial=None, measure=None)
    assert "None" not in pooled_page(replace(DONE, refusals=(whole,)))


def test_what_was_published_stands_below() -> None:
    published = Published(Path("out/2026"), 5, (SUBJECT,))
    page = pooled_page(replace(DONE, published=published))
    assert page.rstrip().endswith(published_text(published))
    assert "Published in out/2026. Fewest farms per figure: 5." in page
    waits = Published(None, 5, (replace(SUBJECT, waits="Farms with trials of it: 3."),))
    said = published_text(waits)
    assert "Nothing was published" in said
    assert "zinnia, stems per plant: not published. Farms with trials of it: 3." in said


def test_the_best_stand_first_by_the_measures_own_sense() -> None:
    assert [each.variety for each in best_first(SUBJECT)] == ["Fern", "Tallow", "Ember"]
    days = replace(SUBJECT, measure="days_to_first_cut")
    assert measure_of(days).better.value == "lower"
    assert [each.variety for each in best_first(days)] == ["Ember", "Tallow", "Fern"]


def test_each_variety_is_a_line_with_its_limits() -> None:
    text = published_text(Published(Path("out"), 5, (SUBJECT,)))
    assert "40 trials of 10 farms in 2 seasons" in text
    lines = [line.split() for line in text.splitlines()]
    assert ["Fern", "12", "+2.00", "+1.00", "to", "+3.00", "+0.00", "to", "+4.00"] in lines
    alone = variety("Fern", 2.0, new_low=None, new_high=None)
    text = published_text(Published(Path("out"), 5, (replace(SUBJECT, varieties=(alone,)),)))
    assert ["Fern", "12", "+2.00", "+1.00", "to", "+3.00"] in [s.split() for s in text.splitlines()]


@pytest.mark.parametrize(("varieties", "more"), [(20, None), (22, "2 more")])
def test_of_many_varieties_the_rest_is_counted(varieties: int, more: str | None) -> None:
    many = tuple(variety(f"V{number:02d}", number) for number in range(varieties))
    text = published_text(Published(Path("out"), 5, (replace(SUBJECT, varieties=many),)))
    assert text.count("V") - text.count("Variety") == 20
    assert ("varieties.csv" in text) == (more is not None)
    if more:
        assert f"and {more} in varieties.csv" in text


def test_where_a_trial_would_tell_most_comes_first() -> None:
    table = trials_wanted(SUBJECT)
    assert table.rows == (
        ("Tallow", "12", "34", "40%"),
        ("Ember", "12", "34", "30%"),
        ("Fern", "12", "34", "20%"),
    )
    # Words lean left, figures right.
    assert [column.right for column in table.columns] == [False, True, True, True]


def test_a_reader_is_told_what_limits_the_figures() -> None:
    assert remarks(SUBJECT) == []
    (one,) = remarks(replace(SUBJECT, seasons=1))
    assert "one season" in one
    (apart,) = remarks(replace(SUBJECT, apart=("Lone",)))
    assert "Lone" in apart
    (withheld,) = remarks(replace(SUBJECT, withheld=("Rare", "Odd")))
    assert "Rare and Odd" in withheld
    varied = (
        Heterogeneity("variety × farm", 9.0, None, None),
        Heterogeneity("all", 4.0, None, None),
    )
    (spread,) = remarks(replace(SUBJECT, heterogeneity=varied))
    assert "about 2.00" in spread  # the root of the last, which is the whole


def test_a_contribution_gives_each_trial_its_code() -> None:
    done = Contributed(Path("net"), "F7", (("zinnia-2026", "T1"), ("aster-2026", "T2")))
    page = contributed_page(done)
    assert page.startswith("2 trials written to net as farm F7\n")
    assert ["aster-2026", "T2"] in [line.split() for line in page.splitlines()]
    gone = contributed_page(Contributed(Path("net"), "F7", (), ("2025", "2026")))
    assert "(seasons: 2025, 2026)" in gone
    assert "none was there" in contributed_page(Contributed(Path("net"), "F7", ()))
