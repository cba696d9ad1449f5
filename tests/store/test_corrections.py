from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from trials.errors import ChangedMeanwhile, HistoryRefused, RecordsRefused, TallybedError
from trials.model.rows import Batch, Sheet, Signed
from trials.model.trial import Change
from trials.store import Store

MakeBatch = Callable[..., Batch]
Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
DAY_1, DAY_2, DAY_3 = date(2025, 7, 10), date(2025, 7, 17), date(2025, 7, 24)
FROST = date(2025, 10, 6)
ANN, BEN = Signed("Ann", "misread"), Signed("Ben", "the sheet says so")

# Z1 on its first day, of which 30: 4, 40: 6 and bent: 2 are held: 9 stems of 40 cm, none bent.
RECOUNTED = {
    Sheet.CUTS: [
        ("Z1", DAY_1, "picked", 30, 4, None),
        ("Z1", DAY_1, "picked", 40, 9, None),
    ]
}


def seen(store: Store) -> int:
    return store.known().last_entry


def recount(store: Store, make_batch: MakeBatch, signed: Signed = ANN) -> None:
    store.correct(make_batch(RECOUNTED), signed, seen(store))


def answers(store: Store) -> list[pd.DataFrame]:
    asks = (Store.plots, Store.cuts, Store.events, Store.grades, Store.culls)
    return [ask(store, trial) for trial in ("Y", "Z") for ask in asks]


def same(some: list[pd.DataFrame], others: list[pd.DataFrame]) -> bool:
    return all(one.equals(other) for one, other in zip(some, others, strict=True))


def figures(store: Store, plot: str, *columns: str) -> list[float]:
    row = store.plots("Z").query("plot == @plot").iloc[0]
    return [float(row[column]) for column in columns]


def without_entries(held: dict[str, list[tuple[Any, ...]]]) -> dict[str, list[tuple[Any, ...]]]:
    """What holds, whichever entry brought it."""
    with_entry = {"cut", "stem_sample", "score", "event", "planting", "stand_count"}
    with_entry |= {"seed_price", "closing", "crop_figure", "currency", "market_price", "cost"}
    behind = {"seed_price": 1}  # columns that came behind the entry later
    return {
        table: sorted((without_place(row, -1 - behind.get(table, 0)) for row in rows), key=repr)
        for table, rows in held.items()
        if table in with_entry
    }


def without_place(row: tuple[Any, ...], place: int) -> tuple[Any, ...]:
    cells = list(row)
    del cells[place]
    return tuple(cells)


# ----------------------------------------------------------------------------- correcting


def test_a_corrected_day_takes_the_place_of_all_that_is_held_of_it(
    store: Store, make_batch: MakeBatch
) -> None:
    before = figures(store, "Z1", "marketable_stems", "culled_stems")
    entry = store.correct(make_batch(RECOUNTED), ANN, seen(store))
    after = figures(store, "Z1", "marketable_stems", "culled_stems")
    # 6 + 10 + 5 marketable stems and 2 + 1 culls were held; now 3 more and 2 fewer.
    assert before == [21, 3]
    assert after == [24, 1]
    assert entry is not None
    assert (entry.number, entry.what, entry.who, entry.why) == (2, "correction", "Ann", "misread")
    day = (("plot", "Z1"), ("cut_on", "2025-07-10"))
    assert entry.changes == (
        Change(
            "cut_line",
            (*day, ("grade_cm", 40), ("cull_reason", None)),
            (("stems", 6),),
            (("stems", 9),),
        ),
        Change(
            "cut_line",
            (*day, ("grade_cm", None), ("cull_reason", "bent")),
            (("stems", 2),),
            None,
        ),
    )


def test_what_was_held_is_kept_word_for_word(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    before = contents(store.path)
    recount(store, make_batch)
    after = contents(store.path)
    (was,) = (row for row in before["cut"] if row[:2] == ("Z1", DAY_1))
    assert after["cut_was"] == [(*was, 2)]
    assert all(row in after["cut"] for row in before["cut"] if row != was)
    untouched = ("stand_count", "stem_sample", "score", "event", "planting", "seed_price", "plot")
    assert all(before[table] == after[table] for table in untouched)


def test_a_missed_pick_can_become_a_picked_one_and_back(
    store: Store, make_batch: MakeBatch
) -> None:
    picked = make_batch({Sheet.CUTS: [("Z1", DAY_3, "picked", 40, 5, None)]})
    store.correct(picked, ANN, seen(store))
    assert figures(store, "Z1", "marketable_stems", "missed_picks") == [26, 0]
    store.correct(make_batch({Sheet.CUTS: [("Z1", DAY_3, "missed", None, None, None)]}), ANN, 2)
    assert figures(store, "Z1", "marketable_stems", "missed_picks") == [21, 1]


SHEETS: dict[Sheet, tuple[tuple[Any, ...], Callable[[Store], Any], Any]] = {
    Sheet.STAND_COUNTS: (
        ("Z3", date(2025, 6, 20), 6),
        lambda store: figures(store, "Z3", "living"),
        [6],
    ),
    Sheet.SCORES: (
        ("Z1", date(2025, 7, 18), "vase_life_days", 9.25),
        lambda store: store.known().frames[Sheet.SCORES]["value"].tolist(),
        [9.25],
    ),
    Sheet.STEM_SAMPLES: (
        ("Z5", DAY_1, 1, 46.0),
        lambda store: figures(store, "Z6", "stem_length_cm"),
        [34.0],  # of another plot, which stays: (33 + 35) / 2
    ),
    Sheet.CROPS: (
        ("zinnia", "days_to_bloom", 71.0, "own records"),
        lambda store: store.crops()["value"].tolist(),
        [110.0, 71.0],
    ),
    Sheet.CURRENCIES: (
        ("GBP", "no", 1.2),
        lambda store: [(c.name, c.rate) for c in store.currencies()],
        [("EUR", 1.0), ("GBP", 1.2)],
    ),
    Sheet.PRICES: (
        (2025, "florists", "zinnia", 40, 29, 40, 0.45),
        lambda store: [p.stem_price for p in store.prices("zinnia")],
        [0.5, 0.45, 0.8],
    ),
    Sheet.COSTS: (
        (2025, "zinnia", "picking", 0.06),
        lambda store: {c.kind.value: c.amount for c in store.costs("zinnia")},
        {"bed": 8.0, "picking": 0.06},
    ),
    Sheet.SEED_ITEMS: (
        ("Tern Seeds", "12", "Cloudhem", 200, 4.6, 1, "no"),
        lambda store: [(i.price, i.available) for i in store.seed_items("statice")],
        [(4.6, False)],
    ),
    Sheet.SEED_STOCK: (
        ("L1", date(2025, 11, 2), 100),
        lambda store: {each.lot: each.seeds for each in store.seed_lots()},
        {"L0": 0, "L1": 100, "L2": None, "L3": None},
    ),
    Sheet.GERMINATION_TESTS: (
        ("L1", date(2025, 11, 20), 1, 100, 90),
        lambda store: {each.lot: each.test for each in store.seed_lots() if each.test},
        {"L1": ((90, 100),)},  # a test is corrected with all its replicates
    ),
    Sheet.PLOTS: (
        ("Z", "Z2", "1", "w9", "Bed 2", 2, "Brindlecup", "9", None, 12, 2.5, 3.0, date(2025, 6, 1)),
        lambda store: figures(store, "Z2", "stems_per_metre"),
        [6 / 2.5],
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("sheet", SHEETS)
def test_every_sheet_that_can_be_put_right(
    store: Store, make_batch: MakeBatch, contents: Contents, sheet: Sheet
) -> None:
    row, ask, expected = SHEETS[sheet]
    held, before = answers(store), without_entries(contents(store.path))
    assert store.correct(make_batch({sheet: [row]}), ANN, seen(store)) is not None
    assert ask(store) == expected
    store.undo(2, ANN)
    assert same(answers(store), held)
    assert without_entries(contents(store.path)) == before


@pytest.mark.parametrize(
    ("sheet", "row"),
    [
        (Sheet.EVENTS, ("Z", "Z5", date(2025, 7, 12), "lost", "mice")),
        (Sheet.VARIETIES, ("Amberwick", "zinnia", "red", None)),
    ],
)
def test_events_and_names_are_not_put_right_in_place(
    store: Store, make_batch: MakeBatch, sheet: Sheet, row: tuple[Any, ...]
) -> None:
    with pytest.raises(HistoryRefused, match="cannot be corrected"):
        store.correct(make_batch({sheet: [row]}), ANN, seen(store))


def test_a_reason_is_asked_for(store: Store, make_batch: MakeBatch) -> None:
    with pytest.raises(TallybedError, match="Give a reason"):
        store.correct(make_batch(RECOUNTED), Signed("Ann", "  "), seen(store))


IMPOSSIBLE: dict[str, tuple[type[TallybedError], str, Sheet, tuple[Any, ...]]] = {
    "stems below zero": (
        RecordsRefused,
        "cannot be stored",
        Sheet.CUTS,
        ("Z1", DAY_1, "picked", 40, -1, None),
    ),
    "a picked day with samples becomes missed": (
        HistoryRefused,
        "Plot Z1 on 2025-07-10 has measured stems, but the plot was not picked",
        Sheet.CUTS,
        ("Z1", DAY_1, "missed", None, None, None),
    ),
    "more living than set": (
        HistoryRefused,
        "more plants alive than were set out",
        Sheet.STAND_COUNTS,
        ("Z1", DAY_1, 11),
    ),
    "fewer set than were counted alive": (
        HistoryRefused,
        "more plants alive than were set out",
        Sheet.PLOTS,
        ("Z", "Z2", "1", "w9", "Bed 2", 2, "Brindlecup", "9", None, 9, 2.0, 2.4, date(2025, 6, 1)),
    ),
    "nothing to correct": (
        ChangedMeanwhile,
        "Nothing is stored for Z1, 2025-08-14",
        Sheet.CUTS,
        ("Z1", date(2025, 8, 14), "picked", 40, 1, None),
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_what_cannot_be_changes_nothing(
    store: Store, make_batch: MakeBatch, contents: Contents, case: str
) -> None:
    refusal, words, sheet, row = IMPOSSIBLE[case]
    before = contents(store.path)
    with pytest.raises(refusal, match=words):
        store.correct(make_batch({sheet: [row]}), ANN, seen(store))
    assert contents(store.path) == before


# ----------------------------------------------------------------------------- withdrawing


def test_a_withdrawn_event_and_its_effect_are_gone(store: Store, make_batch: MakeBatch) -> None:
    row = ("Z", "Z5", date(2025, 7, 12), "lost", "voles")
    assert store.completeness("Z").lost_plots
    entry = store.withdraw(make_batch({Sheet.EVENTS: [row]}), ANN, seen(store))
    assert not store.completeness("Z").lost_plots
    assert entry is not None
    assert entry.rows == (("event", 0, 1),)
    assert store.as_known_at(1).completeness("Z").lost_plots == (("Z5", "voles"),)


@pytest.mark.slow
def test_a_day_goes_with_its_last_row(store: Store, make_batch: MakeBatch) -> None:
    lines = [("Z6", DAY_1, "picked", 50, 8, None)]
    store.withdraw(make_batch({Sheet.CUTS: lines}), ANN, seen(store))
    assert DAY_1 not in set(store.cuts("Z").query("plot == 'Z6'")["cut_on"])
    one_of_two = [("Z2", DAY_2, "picked", None, 3, "bent")]
    store.withdraw(make_batch({Sheet.CUTS: one_of_two}), ANN, seen(store))
    assert DAY_2 in set(store.cuts("Z").query("plot == 'Z2'")["cut_on"])
    missed = [("Z1", DAY_3, "missed", None, None, None)]
    store.withdraw(make_batch({Sheet.CUTS: missed}), ANN, seen(store))
    assert DAY_3 not in set(store.cuts("Z").query("plot == 'Z1'")["cut_on"])
    assert store.check().whole


@pytest.mark.slow
def test_rows_that_others_rest_on_stay_unless_all_go(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    before = contents(store.path)
    cuts = {
        Sheet.CUTS: [
            ("Z5", DAY_1, "picked", 40, 5, None),
            ("Z5", DAY_1, "picked", None, 1, "bent"),
        ]
    }
    with pytest.raises(HistoryRefused, match="Z5 on 2025-07-10 has measured stems"):
        store.withdraw(make_batch(cuts), ANN, seen(store))
    assert contents(store.path) == before
    samples = {Sheet.STEM_SAMPLES: [("Z5", DAY_1, 1, 44.0)]}
    store.withdraw(make_batch(cuts | samples), ANN, seen(store))
    assert "Z5" not in set(store.cuts("Z")["plot"])


def test_a_row_that_is_not_held_like_that_is_not_withdrawn(
    store: Store, make_batch: MakeBatch
) -> None:
    row = ("Z1", date(2025, 7, 18), "vase_life_days", 7.25)
    with pytest.raises(ChangedMeanwhile, match="no longer with these values"):
        store.withdraw(make_batch({Sheet.SCORES: [row]}), ANN, seen(store))


def test_plots_and_names_are_not_withdrawn(store: Store, batch: Batch) -> None:
    for sheet in (Sheet.PLOTS, Sheet.SEED_ITEMS, Sheet.VARIETIES):
        one = Batch({sheet: batch.frames[sheet]}, (), {})
        with pytest.raises(HistoryRefused, match="cannot be withdrawn"):
            store.withdraw(one, ANN, seen(store))


# ----------------------------------------------------------------------------- undoing


@pytest.mark.slow
def test_undo_restores_exactly_and_can_itself_be_undone(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    held, digest = answers(store), store.digest("Z").digest
    before = without_entries(contents(store.path))
    recount(store, make_batch)
    corrected = answers(store)
    undone = store.undo(2, BEN)
    assert (undone.number, undone.what, undone.undoes) == (3, "undo", 2)
    assert same(answers(store), held)
    assert without_entries(contents(store.path)) == before
    assert store.digest("Z").digest == digest
    store.undo(3, BEN)
    assert same(answers(store), corrected)
    assert [entry.undone_by for entry in store.history()] == [None, 3, 4, None]


@pytest.mark.slow
def test_undo_of_a_load_takes_its_rows_out(store: Store, make_batch: MakeBatch) -> None:
    held = answers(store)
    store.add(make_batch({Sheet.CUTS: [("Z5", DAY_2, "picked", 40, 3, None)]}), ANN)
    store.undo(None, ANN)
    assert same(answers(store), held)


@pytest.mark.slow
def test_undo_of_a_closing_opens_the_trial_again(store: Store) -> None:
    store.close("Z", FROST, "frost", ANN)
    store.undo(None, ANN)
    assert store.closing("Z") is None
    store.close("Z", FROST, "frost after all", ANN)
    assert store.digest("Z").changed_after_closing is False
    assert store.check().whole


def test_without_a_number_the_newest_of_one_s_own_is_taken(
    store: Store, make_batch: MakeBatch
) -> None:
    recount(store, make_batch)
    store.add(make_batch({Sheet.SCORES: [("Z2", DAY_2, "ease", 3.0)]}), BEN)
    assert store.undo(None, ANN).undoes == 2
    assert store.undo(None, BEN).undoes == 3
    with pytest.raises(HistoryRefused, match="No change by Ben is left"):
        store.undo(None, BEN)


@pytest.mark.slow
def test_undo_is_refused_where_later_entries_touched_the_rows_and_names_them(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    recount(store, make_batch)
    again = {Sheet.CUTS: [("Z1", DAY_1, "picked", 40, 1, None)]}
    store.correct(make_batch(again), BEN, seen(store))
    before = contents(store.path)
    with pytest.raises(HistoryRefused, match=r"change 3 \(correction by Ben, .*the sheet says so"):
        store.undo(2, ANN)
    assert contents(store.path) == before
    store.undo(3, ANN)
    with pytest.raises(HistoryRefused, match="undone since"):
        store.undo(2, ANN)


def test_undo_is_refused_where_its_place_was_taken(store: Store, make_batch: MakeBatch) -> None:
    score = {Sheet.SCORES: [("Z1", date(2025, 7, 18), "vase_life_days", 7.5)]}
    store.withdraw(make_batch(score), ANN, seen(store))
    store.add(make_batch({Sheet.SCORES: [("Z1", date(2025, 7, 18), "vase_life_days", 8.0)]}), BEN)
    with pytest.raises(HistoryRefused, match=r"change 3 \(load by Ben"):
        store.undo(2, ANN)


def test_undo_is_refused_where_other_records_rest_on_the_rows(
    store: Store, make_batch: MakeBatch
) -> None:
    store.add(make_batch({Sheet.CUTS: [("Z5", DAY_2, "picked", 40, 3, None)]}), ANN)
    store.add(make_batch({Sheet.STEM_SAMPLES: [("Z5", DAY_2, 1, 41.0)]}), ANN)
    with pytest.raises(HistoryRefused, match="Z5 on 2025-07-17 has measured stems"):
        store.undo(2, ANN)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "words"),
    [(1, "laid out plots"), (2, "undone already, by change 3"), (9, "numbered up to 4")],
)
def test_what_cannot_be_undone_says_why(
    store: Store, make_batch: MakeBatch, number: int, words: str
) -> None:
    recount(store, make_batch)
    store.undo(2, ANN)
    store.add(make_batch({Sheet.VARIETIES: [("Dunmoor", "zinnia", None, None)]}), ANN)
    with pytest.raises(HistoryRefused, match=words):
        store.undo(number, ANN)
    with pytest.raises(HistoryRefused, match="only names, which stay"):
        store.undo(4, ANN)


# ----------------------------------------------------------------------------- closed trials


@pytest.mark.slow
def test_a_closed_trial_can_be_corrected_and_its_digest_tells(
    store: Store, make_batch: MakeBatch
) -> None:
    store.close("Z", FROST, "frost", ANN)
    assert store.digest("Z").changed_after_closing is False
    recount(store, make_batch)
    found = store.digest("Z")
    assert found.changed_after_closing is True
    assert store.as_known_at(2).digest("Z").digest == found.at_closing
    assert store.check().whole
    store.undo(None, ANN)
    assert store.digest("Z").changed_after_closing is False


# ----------------------------------------------------------------------------- several hands


@pytest.mark.slow
def test_who_changed_the_same_day_first_is_named_to_the_second(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    looked_at = seen(store)
    recount(store, make_batch, ANN)
    before = contents(store.path)
    other = {Sheet.CUTS: [("Z1", DAY_1, "picked", 40, 7, None)]}
    with pytest.raises(
        ChangedMeanwhile, match=r"change 2 \(correction by Ann, \d{4}-.* UTC: misread\)"
    ):
        store.correct(make_batch(other), BEN, looked_at)
    assert contents(store.path) == before
    store.correct(make_batch(other), BEN, seen(store))  # having looked again


def test_changes_of_other_records_are_no_conflict(store: Store, make_batch: MakeBatch) -> None:
    looked_at = seen(store)
    recount(store, make_batch, ANN)
    other_day = {Sheet.CUTS: [("Z1", DAY_2, "picked", 40, 7, None)]}
    assert store.correct(make_batch(other_day), BEN, looked_at) is not None


def test_what_was_withdrawn_meanwhile_is_not_corrected(store: Store, make_batch: MakeBatch) -> None:
    looked_at = seen(store)
    score = ("Z1", date(2025, 7, 18), "vase_life_days")
    store.withdraw(make_batch({Sheet.SCORES: [(*score, 7.5)]}), ANN, looked_at)
    with pytest.raises(ChangedMeanwhile, match="withdrawal by Ann"):
        store.correct(make_batch({Sheet.SCORES: [(*score, 9.0)]}), BEN, looked_at)


CORRECTOR = """
import sys
from datetime import date
from pathlib import Path
import pandas as pd
from trials.model.rows import Batch, Sheet, Signed
from trials.errors import ChangedMeanwhile
from trials.store import Store
store, who, value = Store.open(Path(sys.argv[1])), sys.argv[2], float(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
row = {"plot": ["Z1"], "scored_on": [date(2025, 7, 18)], "trait": ["vase_life_days"],
       "value": [value]}
try:
    store.correct(Batch({Sheet.SCORES: pd.DataFrame(row)}, (), {}), Signed(who, "recounted"), 1)
    print("done")
except ChangedMeanwhile as refusal:
    print("told:", refusal)
"""


@pytest.mark.slow
def test_of_two_processes_that_correct_at_once_one_is_told(store: Store) -> None:
    hands = [
        subprocess.Popen(
            [sys.executable, "-c", CORRECTOR, str(store.path), who, value],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for who, value in (("Ann", "8"), ("Ben", "9"))
    ]
    for hand in hands:
        assert hand.stdout is not None
        assert hand.stdout.readline() == "ready\n"
    said = {}
    for hand in hands:  # both looked before either changed anything
        assert hand.stdin is not None
        hand.stdin.write("\n")
        hand.stdin.flush()
    for hand, who in zip(hands, ("Ann", "Ben"), strict=True):
        said[who] = hand.communicate()[0]
    (winner,) = [who for who, words in said.items() if words == "done\n"]
    (loser,) = [who for who, words in said.items() if words.startswith("told: ")]
    assert f"correction by {winner}" in said[loser]
    value = store.known().frames[Sheet.SCORES]["value"].tolist()
    assert value == [{"Ann": 8.0, "Ben": 9.0}[winner]]
    assert [entry.who for entry in store.history()][1:] == [winner]


# ----------------------------------------------------------------------------- retried submissions


def test_a_submission_sent_twice_is_recorded_once(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    sent = Signed("Ann", token="k3v9")
    rows = make_batch({Sheet.SCORES: [("Z2", DAY_2, "ease", 3.0)]})
    assert store.add(rows, sent).added == ((Sheet.SCORES, 1),)
    recount_scores = {Sheet.SCORES: [("Z2", DAY_2, "ease", 4.0)]}
    store.correct(make_batch(recount_scores), BEN, seen(store))
    before = contents(store.path)
    assert store.add(rows, sent).already_held == ((Sheet.SCORES, 1),)  # though it differs by now
    assert contents(store.path) == before


@pytest.mark.slow
def test_a_correction_or_undo_sent_twice_is_made_once(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    looked_at = seen(store)
    sent = Signed("Ann", "misread", token="m1")
    first = store.correct(make_batch(RECOUNTED), sent, looked_at)
    assert store.correct(make_batch(RECOUNTED), sent, looked_at) == first
    taken_back = Signed("Ann", token="m2")
    undone = store.undo(2, taken_back)
    before = contents(store.path)
    assert store.undo(2, taken_back) == undone
    assert contents(store.path) == before


def test_nothing_new_makes_no_entry(store: Store, batch: Batch) -> None:
    assert store.add(batch, ANN).nothing_new
    assert seen(store) == 1
