from __future__ import annotations

import random
from pathlib import Path

import duckdb
import pytest

from trials.errors import StoreDamaged
from trials.store import Store, Wholeness
from trials.store.copies.file_blocks import read_blocks
from trials.store.copies.integrity import Part
from trials.store.migrate import all_migrations

HEAD_BYTES = 3 * 4096
BLOCK_BYTES = 16_384


def damaged_at(whole: bytes, place: int, lot: random.Random) -> bytes:
    """The file with sixteen bytes of it drawn anew, as a failing disk might."""
    return whole[:place] + lot.randbytes(16) + whole[place + 16 :]


def test_check_reads_every_row_of_every_table(store: Store) -> None:
    found = store.check()
    assert isinstance(found, Wholeness)
    assert found.whole
    assert found.migrations == tuple(f"{step.number:04d} {step.name}" for step in all_migrations())
    rows = {table.table: table.rows for table in found.tables}
    # Z1 and Z5 to Z7 aside, a picking day is one row of cuts: Z1 3 days, Z2 to Z4 3 each, Z5 1,
    # Z6 and Z7 2 each, Y1 and Y2 1 each.
    assert rows["cut"] == 3 + 3 * 3 + 1 + 2 * 2 + 2
    assert rows["plot"] == 9
    assert rows["whole_plot"] == 4  # w9 and w30 in block 1, w12 and w9 in block 2
    assert rows["closing"] == 0
    assert rows["entry"] == 1  # all of it came in one load
    assert {table for table in rows if table.endswith("_was")} == {
        f"{table}_was"
        for table in (
            "closing",
            "cost",
            "currency",
            "market_price",
            "crop_figure",
            "cut",
            "event",
            "germination_test",
            "photo",
            "planting",
            "score",
            "seed_price",
            "seed_stock",
            "stand_count",
            "stem_sample",
        )
    }
    assert found.rows == sum(rows.values())


@pytest.mark.slow
def test_check_changes_nothing_and_every_key_is_looked_up(store: Store) -> None:
    before = store.check()
    assert before.keys > 20
    assert store.check() == before


def change(path: Path, sql: str) -> None:
    with duckdb.connect(path) as connection:
        connection.execute(sql)


def test_rows_without_what_they_rest_on_are_found(store: Store) -> None:
    change(store.path, "INSERT INTO stem_sample VALUES ('Z4', DATE '2025-07-10', 1, 50, 1)")
    (finding,) = store.check().findings
    assert (finding.part, finding.table) == (Part.RULES, "stem_samples")
    assert (
        finding.problem == "Plot Z4 on 2025-07-10 has measured stems, but the plot was not picked."
    )


def test_rows_of_an_entry_that_is_not_there_are_found(store: Store) -> None:
    change(store.path, "INSERT INTO score VALUES ('Z4', DATE '2025-07-10', 'ease', 1, 99)")
    (finding,) = store.check().findings
    assert (finding.part, finding.table) == (Part.RULES, "score")
    assert "1 rows name a change that is not in the history" in finding.problem


@pytest.mark.slow
def test_no_damaged_block_passes_unnoticed(store: Store) -> None:
    whole, lot = store.path.read_bytes(), random.Random(20261125)
    blocks = range((len(whole) - HEAD_BYTES) // BLOCK_BYTES)
    unnoticed = []
    for block in lot.sample(blocks, 20):
        place = HEAD_BYTES + block * BLOCK_BYTES + lot.randrange(BLOCK_BYTES - 16)
        store.path.write_bytes(damaged_at(whole, place, lot))
        try:
            found = store.check()
        except StoreDamaged:
            continue
        if found.whole:
            unnoticed.append(block)
    assert not unnoticed


@pytest.mark.slow
def test_damage_that_no_query_meets_is_found_in_the_file(store: Store) -> None:
    whole, lot = store.path.read_bytes(), random.Random(7)
    only_in_file = 0
    for block in range((len(whole) - HEAD_BYTES) // BLOCK_BYTES):
        store.path.write_bytes(damaged_at(whole, HEAD_BYTES + block * BLOCK_BYTES + 40, lot))
        reading = read_blocks(store.path, BLOCK_BYTES)
        assert reading is not None
        assert reading.damaged == (block,)
        if only_in_file:
            continue
        try:
            found = store.check()
        except StoreDamaged:
            continue
        assert not found.whole
        if found.readable and {finding.part for finding in found.findings} == {Part.FILE}:
            only_in_file = block
    assert only_in_file


def test_a_file_cut_short_within_a_block_is_seen(store: Store) -> None:
    whole = store.path.read_bytes()
    store.path.write_bytes(whole[: HEAD_BYTES + 2 * BLOCK_BYTES + 100])
    reading = read_blocks(store.path, BLOCK_BYTES)
    assert reading is not None
    assert (reading.blocks, reading.damaged) == (3, (2,))


@pytest.mark.slow
def test_free_blocks_that_were_cut_off_at_the_end_are_no_damage(store: Store) -> None:
    """The database shortens its file after the head was written, when rows came and went."""
    with store.turns.writing() as cursor:
        cursor.execute("CREATE TABLE gone AS SELECT range AS number FROM range(50000)")
    with store.turns.writing() as cursor:
        cursor.execute("DROP TABLE gone")
    for _ in range(3):  # it is shortened when it is next tidied up
        with store.turns.writing() as cursor:
            cursor.execute("UPDATE migration SET applied_at = applied_at + INTERVAL 1 SECOND")
        found = store.check()
        assert found.whole, found.findings


def test_a_block_that_was_begun_beyond_the_end_is_no_damage(store: Store) -> None:
    """So a full disk leaves the file when the journal is to be tidied up: the journal holds it."""
    before = read_blocks(store.path, BLOCK_BYTES)
    with store.path.open("ab") as file:
        file.write(b"begun" * 2_000)
    assert read_blocks(store.path, BLOCK_BYTES) == before
    assert store.check().whole


def test_no_row_is_looked_up_through_an_index(store: Store) -> None:
    """As an index that is wrong would leave rows out of an answer."""
    with store.turns.reading() as cursor:
        asked = "EXPLAIN ANALYZE SELECT * FROM score WHERE plot = 'Z1'"
        ((_, plan),) = cursor.execute(asked).fetchall()
    assert "Sequential Scan" in plan
    assert "Index Scan" not in plan


def test_nothing_is_said_of_blocks_of_another_format(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_bytes(bytes(100_000))
    assert read_blocks(other, BLOCK_BYTES) is None
