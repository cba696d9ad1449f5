"""What verifying, copying and restoring a store say: what was read, what is damaged, what to do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from trials.report.safety_page import (
    COPY_REASONS,
    backup_page,
    check_lines,
    check_page,
    copies_table,
    missing_photos_sentence,
    restored_lines,
    restored_page,
    what_to_do_lines,
)
from trials.store import Backup, KeptCopy, Restored, Wholeness
from trials.store.copies.backup import Reason
from trials.store.copies.digests import TableDigest
from trials.store.copies.integrity import Finding, Part

TABLES = (TableDigest("cut", 1200, "a"), TableDigest("plot", 34, "b"))
WHOLE = Wholeness("my farm.tallybed", ("1", "2", "3"), TABLES, 5, 7, ())
ROWS = Finding(Part.ROWS, "cut", "a row cannot be read")
KEYS = Finding(next(part for part in Part if part is not Part.ROWS), None, "a key is lost")
MADE = Backup(
    Path("copies/farm-1"), "farm.tallybed", "2026-10-12T09:05:00+02:00", Reason.ASKED, (), TABLES
)


def test_a_whole_store_is_said_to_be_undamaged_with_what_was_read() -> None:
    page = check_page(WHOLE)
    assert "1,234 in 2 tables" in page
    assert "7 file blocks, each compared with its checksum" in page
    assert page.endswith("\n\nThe store is undamaged.\n")
    assert "unknown to this program" not in page
    assert "unknown to this program" in check_page(replace(WHOLE, blocks=None))
    lines = check_lines(WHOLE)
    assert "1,234 rows in 2 tables" in lines[0]
    assert "5 keys" in lines[1]
    assert "7 file blocks" in lines[2]


def test_damage_names_the_table_or_what_was_read() -> None:
    page = check_page(replace(WHOLE, findings=(ROWS, KEYS)))
    assert "undamaged" not in page
    assert "  cut: a row cannot be read" in page
    assert f"  {KEYS.part.value}: a key is lost" in page
    assert check_lines(replace(WHOLE, findings=(ROWS, KEYS))) == [
        "cut: a row cannot be read",
        f"{KEYS.part.value}: a key is lost",
    ]


def test_a_store_whose_rows_can_be_read_is_copied_and_any_other_restored() -> None:
    readable = what_to_do_lines(replace(WHOLE, findings=(KEYS,)))
    assert any(line.startswith("tallybed backup --store 'my farm.tallybed'") for line in readable)
    lost = what_to_do_lines(replace(WHOLE, findings=(KEYS, ROWS)))
    assert not any("tallybed backup" in line for line in lost)
    assert lost[-1] == "tallybed restore BACKUP --to 'my farm.tallybed'"


def test_a_copy_says_where_it_is_and_how_it_comes_back() -> None:
    page = backup_page(MADE)
    assert "1,234 rows in 2 tables" in page
    assert "tallybed restore copies/farm-1 --to STORE" in page


def test_each_copy_is_a_row_with_how_it_was_verified() -> None:
    broken = KeptCopy(Path("copies/farm-2"), MADE, "cut.parquet is missing")
    unknown = KeptCopy(Path("copies/farm-3"), None, "no list")
    table = copies_table((KeptCopy(MADE.folder, MADE), broken, unknown))
    fine, damaged, lost = table.rows
    assert fine[:3] == ("2026-10-12 09:05", "you asked for it", "1,234")
    assert fine[3].startswith("when it was made")
    assert damaged[3:] == ("DAMAGED: cut.parquet is missing", "farm-2")
    assert lost == ("unknown", "", "", "DAMAGED: no list", "farm-3")
    # Words lean left, figures right.
    assert [column.heading for column in table.columns if column.right] == ["rows"]
    again = copies_table((KeptCopy(MADE.folder, MADE), broken), {MADE.folder, broken.folder})
    assert again.rows[0][3].startswith("just now")
    assert again.rows[1][3].startswith("DAMAGED")
    assert set(COPY_REASONS) == {reason.value for reason in Reason}


def test_what_was_restored_says_where_the_store_before_it_went() -> None:
    done = Restored(MADE, Path("farm.tallybed"), Path("farm.before"))
    page = restored_page(done)
    assert "Restored 1,234 rows in 2 tables" in page
    assert "made 2026-10-12 09:05" in page
    assert "is now farm.before" in page
    assert "is now" not in restored_page(replace(done, kept_aside=None))


def test_photos_are_counted_and_those_that_lack_are_said() -> None:
    assert "Photos" not in check_page(WHOLE) + backup_page(MADE)
    assert "Photos   2 files, each compared with its digest" in check_page(replace(WHOLE, photos=2))
    assert missing_photos_sentence(MADE) == ""
    lacks = replace(MADE, photos=("a", "b", "c"), photos_missing=("d",))
    assert (
        "Photos   3 files\nWARNING  1 photo could not be backed up: the file is missing or "
        "changed. Verify the store.\nTo       copies/farm-1\n"
    ) in backup_page(lacks)
    page = restored_page(Restored(lacks, Path("farm.tallybed"), None))
    assert page.endswith("To       farm.tallybed\nPhotos   3 files\n")


def test_where_only_photos_lack_they_come_from_a_backup_again() -> None:
    lost = Finding(Part.PHOTOS, None, "photos/a.jpg is missing")
    page = check_page(replace(WHOLE, photos=2, findings=(lost,)))
    assert page.endswith(
        "The store is DAMAGED:\n  photos: photos/a.jpg is missing\n\nEvery record is undamaged. "
        "Only these photos are missing or changed.\nCopy their files from the folder photos of a "
        "backup, then verify the store again.\n"
    )


def test_a_page_says_what_was_restored_and_where_the_store_before_it_is() -> None:
    alone = restored_lines(Restored(MADE, Path("farm.tallybed"), None))
    assert alone == [
        "The backup of 2026-10-12 09:05 is restored: 1,234 rows, read and found equal."
    ]
    aside = restored_lines(Restored(MADE, Path("farm.tallybed"), Path("farm-1.tallybed")))
    assert aside == [*alone, "The store that was there is kept as farm-1.tallybed."]
