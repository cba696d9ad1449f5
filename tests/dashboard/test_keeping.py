"""The page of safe keeping: what it finds, what it copies, and what it says where there is none."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import keeping
from trials import season

Show = Callable[..., AppTest]


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def tap(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label == label).click().run()


def test_without_a_copy_it_says_when_one_is_made(
    hostile_farm: Any, show: Show, tmp_path: Path
) -> None:
    page = show(hostile_farm.store, "backups")
    said = words(page)
    assert "There is no backup next to the store yet." in said
    assert "Not verified since you opened the pages." in said
    assert "Only a grower sees this page." in said
    assert not page.selectbox


def test_a_store_is_checked_copied_and_the_copy_read_once_more(
    hostile_farm: Any, show: Show
) -> None:
    page = show(hostile_farm.store, "backups")
    assert "The store is undamaged. Every cell of " in words(tap(page, "Verify now"))
    assert "Backed up and verified: " in words(tap(page, "Make a backup"))
    said = words(page)
    (copy,) = season.copies(hostile_farm.store)
    assert f"{copy.folder.name}" in said
    assert "asked for" in said
    assert "when it was made: every row read again" in said
    assert page.selectbox[0].options == [copy.folder.name]
    assert "just now: every row read and found equal" in words(tap(page, "Verify all backups"))


def test_a_copy_that_is_not_whole_is_named_and_not_offered(hostile_farm: Any, show: Show) -> None:
    made = [season.backup(hostile_farm.store) for _ in range(2)]
    newest = season.copies(hostile_farm.store)[0]
    (newest.folder / "tables" / "cut.parquet").unlink()
    page = tap(show(hostile_farm.store, "backups"), "Verify all backups")
    said = words(page)
    assert f"DAMAGED: {newest.folder} is damaged: there is no file of cut." in said
    assert "just now: every row read and found equal" in said
    (left,) = {copy.folder for copy in made} - {newest.folder}
    assert page.selectbox[0].options == [left.name]
    (left / "backup.json").write_text("no list", encoding="utf-8")
    assert "does not list a backup" in words(page.run())


@pytest.mark.slow
def test_a_backup_is_restored_and_the_store_before_it_is_kept(
    hostile_farm: Any, show: Show
) -> None:
    store = hostile_farm.store
    season.backup(store)
    count = hostile_farm.write(
        "stand_counts", "plot,counted_on,living", [("P37", "2026-08-01", 11)]
    )
    season.load(store, [count])
    later = season.history(store)
    page = tap(show(store, "backups"), "Restore this backup")
    assert "Nothing was restored yet. Still needed: the tick" in words(page)
    assert season.history(store) == later
    page.checkbox[0].check()
    said = words(tap(page, "Restore this backup"))
    assert "is restored: " in said
    assert len(season.history(store)) == len(later) - 1
    (aside,) = store.parent.glob("*-before-restore-*.tallybed")
    assert f"The store that was there is kept as {aside}." in said
    assert season.history(aside) == later


def test_a_store_that_is_not_whole_says_what_to_do(
    hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    from trials.store.copies.integrity import Finding, Part, Wholeness

    broken = Wholeness("farm", (), (), 0, 1, (Finding(Part.FILE, None, "block 0 of its 1"),))
    monkeypatch.setattr(keeping, "check", lambda told: broken)
    said = words(tap(show(hostile_farm.store, "backups"), "Verify now"))
    assert "The store is DAMAGED. Stop all recording" in said
    assert "file: block 0 of its 1" in said
    assert "tallybed restore BACKUP --to farm" in said


def test_how_far_the_check_is_only_grows(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    heard: list[tuple[float, str]] = []
    keeping.check(lambda done, what: heard.append((done, what)))
    shares = [done for done, _ in heard]
    assert shares == sorted(shares)
    assert shares[0] == 0
    assert all(0 <= share < 1 for share in shares)
    assert {what for _, what in heard} == set(keeping.PARTS.values())
