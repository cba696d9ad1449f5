from __future__ import annotations

from trials.store import Store, Wholeness
from trials.store.migrate import all_migrations


def test_check_reads_every_row_of_every_table(store: Store) -> None:
    found = store.check()
    assert isinstance(found, Wholeness)
    assert found.migrations == (
        "0001 farm_and_seed",
        "0002 trials_and_plots",
        "0003 records",
        "0004 plans",
        "0005 history",
    )
    assert len(found.migrations) == len(all_migrations())
    rows = dict(found.rows)
    # Z1 and Z5 to Z7 aside, a picking day is one row of cuts: Z1 3 days, Z2 to Z4 3 each, Z5 1,
    # Z6 and Z7 2 each, Y1 and Y2 1 each.
    assert rows["cut"] == 3 + 3 * 3 + 1 + 2 * 2 + 2
    assert rows["cut_line"] == 26 - 4  # rows of the sheet without the missed ones
    assert rows["plot"] == 9
    assert rows["whole_plot"] == 4  # w9 and w30 in block 1, w12 and w9 in block 2
    assert rows["closing"] == 0
    assert rows["entry"] == 1  # all of it came in one load
    assert {table for table in rows if table.endswith("_was")} == {
        f"{table}_was"
        for table in (
            "closing",
            "cut",
            "cut_line",
            "event",
            "planting",
            "score",
            "seed_price",
            "stand_count",
            "stem_sample",
        )
    }
