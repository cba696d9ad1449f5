from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from trials.model.rows import Batch, Sheet, Signed
from trials.store import Store
from trials.store.history.trial_digest import lines

pytestmark = pytest.mark.slow

MakeBatch = Callable[..., Batch]
FROST = date(2025, 10, 6)

# Trial Y of the small farm, written out by hand from what the module says: trial, plots, levels,
# one stand count, the cuts and nothing else.
LINES_OF_Y = [
    '["cuts",{"cut_on":"2025-07-10","grade_cm":20,"outcome":"picked","plot":"Y2","stems":3}]',
    '["cuts",{"cut_on":"2025-07-10","grade_cm":40,"outcome":"picked","plot":"Y1","stems":3}]',
    '["cuts",{"cut_on":"2025-07-10","grade_cm":40,"outcome":"picked","plot":"Y2","stems":1}]',
    '["plot_levels",{"factor":"variety","level":"Amberwick","plot":"Y1","trial":"Y"}]',
    '["plot_levels",{"factor":"variety","level":"Brindlecup","plot":"Y2","trial":"Y"}]',
    (
        '["plots",{"bed":"Bed 11","lot":"L1","net_area_m2":2.4,"net_length_m":2,"plants_set":10,'
        '"plot":"Y1","position":1,"transplanted_on":"2025-05-31","trial":"Y"}]'
    ),
    (
        '["plots",{"bed":"Bed 11","net_area_m2":2.4,"net_length_m":2,"plants_set":10,'
        '"plot":"Y2","position":2,"transplanted_on":"2025-05-31","trial":"Y"}]'
    ),
    '["stand_counts",{"counted_on":"2025-06-20","living":0,"plot":"Y1"}]',
    (
        '["trials",{"alpha":0.05,"crop":"zinnia","factors":"variety on plots","margin":"3",'
        '"primary_measure":"stem_length_cm","question":"Which zinnia is best?","season":2025,'
        '"shortest_length_cm":40,"site":"Long field","trial":"Y"}]'
    ),
]


def test_it_is_the_sha_256_of_lines_that_anybody_can_write(store: Store) -> None:
    text = "\n".join(sorted(LINES_OF_Y))
    assert store.digest("Y").digest == hashlib.sha256(text.encode()).hexdigest()


def test_numbers_and_text_have_one_form() -> None:
    row = (1e-7, 0.1 + 0.2, 3.0, 2, 'é "x"\n', None)
    other = (1e-7, None, -0.0, 10**17, "𝄞\x00", date(2025, 7, 10))
    assert list(lines("s", "abcdef", [row, other, row])) == [
        '["s",{"a":0.0000001,"b":0.30000000000000004,"c":3,"d":2,"e":"é \\"x\\"\\n"}]',
        '["s",{"a":0.0000001,"c":0,"d":100000000000000000,"e":"𝄞\\u0000","f":"2025-07-10"}]',
        '["s",{"a":0.0000001,"b":0.30000000000000004,"c":3,"d":2,"e":"é \\"x\\"\\n"}]',
    ]
    assert list(lines("s", "ab", [])) == []


def test_the_order_of_rows_and_loads_does_not_matter(
    store: Store, empty_store: Store, batch: Batch
) -> None:
    for sheet in Sheet:
        frame = batch.frames[sheet].iloc[::-1]
        half = len(frame) // 2 if sheet not in (Sheet.TRIALS, Sheet.PLOTS) else 0
        for part in (frame.iloc[:half], frame.iloc[half:]):
            empty_store.add(Batch({sheet: part}, (), {}))
    for trial in "XYZ":
        assert empty_store.digest(trial) == store.digest(trial)


OTHER = {
    Sheet.STAND_COUNTS: ("Z1", date(2025, 8, 2), 7),
    Sheet.CUTS: ("Z1", date(2025, 7, 31), "missed", None, None, None),
    Sheet.STEM_SAMPLES: ("Z1", date(2025, 7, 10), 3, 40.0),
    Sheet.EVENTS: ("Z", None, date(2025, 7, 1), "note", "hail again"),
    Sheet.SCORES: ("Z1", date(2025, 7, 19), "vase_life_days", 7.5),
}


@pytest.mark.parametrize("sheet", OTHER)
def test_any_other_row_is_another_digest_of_its_own_trial_alone(
    store: Store, make_batch: MakeBatch, sheet: Sheet
) -> None:
    before = store.digest("Z").digest, store.digest("Y").digest
    store.add(make_batch({sheet: [OTHER[sheet]]}))
    assert store.digest("Z").digest != before[0]
    assert store.digest("Y").digest == before[1]


def test_who_recorded_a_row_and_when_is_no_part_of_it(store: Store, make_batch: MakeBatch) -> None:
    before = store.digest("Z").digest
    score = {Sheet.SCORES: [("Z1", date(2025, 7, 18), "vase_life_days", 7.5)]}
    store.withdraw(make_batch(score), Signed("Ann", "by mistake"), 1)
    store.add(make_batch(score), Signed("Ben"))
    assert store.digest("Z").digest == before


def test_closing_keeps_it(store: Store) -> None:
    open_yet = store.digest("Z")
    assert (open_yet.closed_on, open_yet.at_closing) == (None, None)
    assert open_yet.changed_after_closing is None
    store.close("Z", FROST, "frost")
    closed = store.digest("Z")
    assert (closed.digest, closed.closed_on, closed.at_closing) == (
        open_yet.digest,
        FROST,
        open_yet.digest,
    )


def change(path: Path, sql: str) -> None:
    with duckdb.connect(path) as connection:
        connection.execute(sql)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE cut SET stems_by_grade = MAP {50: 99} WHERE plot = 'Z1' AND outcome = 'picked'",
        "DELETE FROM score",
        "UPDATE closing SET digest = repeat('0', 64)",
    ],
)
def test_check_finds_what_was_changed_past_the_program_after_closing(
    store: Store, sql: str
) -> None:
    store.close("Z", FROST, "frost")
    assert store.check().whole
    change(store.path, sql)
    (finding,) = store.check().findings
    assert finding.table == "closing"
    assert "Z" in finding.problem


def test_factors_and_names_in_any_script(store: Store, make_batch: MakeBatch) -> None:
    score = ("Z1", date(2025, 7, 18), "vásatartósság 日", 0.1)
    store.add(make_batch({Sheet.SCORES: [score]}))
    pd.testing.assert_frame_equal(store.plots("Z"), store.as_known_at(1).plots("Z"))
    assert store.digest("Z").digest != store.as_known_at(1).digest("Z").digest
