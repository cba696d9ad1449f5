"""The history's page as Streamlit runs it: what it tells, takes back, puts right and refuses."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import correcting, kept
from dashboard.access import visitor
from dashboard.correcting import Mending
from trials import season
from trials.errors import HistoryRefused, NotAllowed
from trials.model.rows import Signed
from trials.model.trial import Entry, Role
from trials.report.figures import figures_of

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]
DAY = "2026-07-25"
PLOT = "P37"  # the first of the open trial
WHY = "<b>3</b> was **13**"
CUTS = "plot,cut_on,outcome,grade_cm,stems,cull_reason"


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def heads(page: AppTest) -> list[str]:
    """The entries as they are shown before they are opened."""
    return [e.label.replace("\\", "") for e in page.expander if re.match(r"\d+ ", e.label)]


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def tap(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label == label).click().run()


def type_in(page: AppTest, label: str, text: str) -> AppTest:
    next(t for t in page.text_input if t.label == label).set_value(text)
    return page


def history(farm: Any) -> tuple[Entry, ...]:
    return season.history(farm.store)


def recount(farm: Any, stems: int) -> Path:
    """A corrected sheet of a plot's picking day; only its shortest grade differs."""
    held = season.grades(farm.store, farm.open_trial)
    counted = held[held["plot"] == PLOT].set_index("grade_cm")["stems"]
    rows = [(PLOT, DAY, "picked", grade, int(counted[grade]), "") for grade in (40, 50)]
    path: Path = farm.write("recounted", CUTS, [(PLOT, DAY, "picked", 30, stems, ""), *rows])
    return path


def stems(farm: Any) -> int:
    held = season.grades(farm.store, farm.open_trial)
    return int(held[(held["plot"] == PLOT) & (held["grade_cm"] == 30)]["stems"].iloc[0])


@pytest.fixture
def corrected(hostile_farm: Any) -> Any:
    """The small farm after a correction, its entry 3."""
    season.correct(hostile_farm.store, [recount(hostile_farm, 7)], Signed("<i>Ann</i>", WHY))
    return hostile_farm


def upload(page: AppTest, path: Path, why: str) -> AppTest:
    page.file_uploader[0].set_value([(path.name, path.read_bytes(), "text/csv")])
    return tap(type_in(page, "Why", why), "Correct")


def test_the_newest_entry_comes_first_and_names_are_text(corrected: Any, show: Show) -> None:
    page = show(corrected.store, "history")
    assert [head.partition(" ")[0] for head in heads(page)] == ["3", "2", "1"]
    assert "correction, by <i>Ann</i>" in heads(page)[0]
    assert heads(page)[0].endswith(WHY)
    assert r"\<b\>3\<\/b\> was \*\*13\*\*" in page.expander[1].label, "nothing of it is read"
    assert "**frost**" in heads(page)[1], "the reason of the closing"


def test_an_entry_shows_what_was_and_what_is(corrected: Any, show: Show) -> None:
    page = show(corrected.store, "history", of=corrected.open_trial)
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    (row,) = re.findall(r"<tr>(<td.*?)</tr>", bodies)
    cells = [re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<td.*?</td>", row)]
    (entry,) = season.history(corrected.store)[2:]
    (was,) = [dict(c.before or ())["stems"] for c in entry.changes if c.record == "cut_line"]
    assert cells == ["stem count", f"{PLOT}, {DAY}, grade 30 cm", f"stems {was}", "stems 7"]


def test_one_trial_and_one_plot_can_be_looked_at(corrected: Any, show: Show) -> None:
    page = show(corrected.store, "history", of=corrected.closed_trial)
    assert [head.partition(" ")[0] for head in heads(page)] == ["2", "1"]
    widget(page, "of").set_value(corrected.open_trial).run()
    widget(page, f"history plot of {corrected.open_trial}").set_value("P38").run()
    assert [head.partition(" ")[0] for head in heads(page)] == ["1"]


def test_an_entry_is_taken_back_in_two_steps_with_a_reason(corrected: Any, show: Show) -> None:
    before = stems(corrected)
    page = tap(show(corrected.store, "history"), "Undo this …")
    tap(page, "Yes, undo change 3")
    assert "Nothing was undone yet. Give a reason" in words(page)
    tap(page, "Cancel")
    assert len(history(corrected)) == 3
    tap(page, "Undo this …")
    tap(type_in(page, "Why do you undo it?", "the **paper** was right"), "Yes, undo change 3")
    assert "Done: change 4, undo of change 3." in words(page)
    newest = history(corrected)[-1]
    assert (newest.who, newest.undoes) == (visitor.HERE, 3)
    assert newest.why == "the **paper** was right"
    assert stems(corrected) != before
    assert "(undone by change 4)" in heads(page)[1]


def test_two_taps_take_back_once(corrected: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second tap runs the page again with the mark of the first."""
    monkeypatch.setenv(kept.STORE_VARIABLE, str(corrected.store))
    first = correcting.take_back(3, "misread", "one mark")
    assert correcting.take_back(3, "misread", "one mark") == first
    assert len(history(corrected)) == 4
    with pytest.raises(HistoryRefused, match="undone already, by change 4"):
        correcting.take_back(3, "misread", "another mark")


def test_what_later_entries_touched_is_refused_in_the_store_s_words(
    corrected: Any, show: Show
) -> None:
    season.correct(corrected.store, [recount(corrected, 9)], Signed("Ben", "miscounted"))
    page = show(corrected.store, "history")
    widget(page, "take back 3").click().run()
    tap(type_in(page, "Why do you undo it?", "no"), "Yes, undo change 3")
    assert "the same records were changed later, by change 4 (correction by Ben" in words(page)
    assert len(history(corrected)) == 4


def test_a_sheet_puts_right_and_is_taken_back(hostile_farm: Any, show: Show) -> None:
    before = stems(hostile_farm)
    page = upload(show(hostile_farm.store, "history"), recount(hostile_farm, 7), "misread")
    assert "Done: change 3, correction." in words(page)
    assert stems(hostile_farm) == 7
    widget(page, "take back 3").click().run()
    tap(type_in(page, "Why do you undo it?", "no"), "Yes, undo change 3")
    assert stems(hostile_farm) == before


def test_a_sheet_without_a_reason_changes_nothing(hostile_farm: Any, show: Show) -> None:
    page = upload(show(hostile_farm.store, "history"), recount(hostile_farm, 7), " ")
    assert "Still needed: a reason" in words(page)
    assert len(history(hostile_farm)) == 2


def test_a_faulty_sheet_is_refused_with_its_faults(hostile_farm: Any, show: Show) -> None:
    path = hostile_farm.write("recounted", CUTS, [(PLOT, "2026-07-24", "picked", 30, 7, "")])
    page = upload(show(hostile_farm.store, "history"), path, "misread")
    said = words(page)
    assert "1 fault found. Nothing was changed" in said
    assert "Nothing is stored for" in said


def test_rows_are_withdrawn_once_for_two_taps(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    plots = season.plots(hostile_farm.store, hostile_farm.open_trial)
    count = (PLOT, "2026-07-20", int(plots[plots["plot"] == PLOT]["living"].iloc[0]))
    path = hostile_farm.write("stand_counts", "plot,counted_on,living", [count])
    done = [correcting.mend(Mending.WITHDRAW, lambda _: [path], "other plot", "m", 2) for _ in "12"]
    assert done[0] == done[1]
    assert done[0] is not None
    assert done[0].what == "withdrawal"
    assert len(history(hostile_farm)) == 3


def test_who_had_not_seen_another_s_correction_is_told(corrected: Any, show: Show) -> None:
    page = show(corrected.store, "history")
    season.correct(corrected.store, [recount(corrected, 9)], Signed("Ben", "miscounted"))
    upload(page, recount(corrected, 11), "misread")
    assert "changed after you read them, by change 4 (correction by Ben" in words(page)
    assert stems(corrected) == 9
    tap(page, "Correct")
    assert "Done: change 5, correction." in words(page), "now it has been seen"


def test_a_trial_can_be_compared_as_it_was_known(corrected: Any, show: Show) -> None:
    code = corrected.open_trial
    page = show(corrected.store, "history", of=code)
    widget(page, f"then {code} 1").set_value(True).run()
    said = words(page)
    assert f"{code}, records as of change 1: stems per plant" in said
    then = season.compare_trial(corrected.store, code, as_known_at=1)
    assert figures_of(then).amount(then.grand_mean) in said


def test_an_empty_store_has_no_history(tmp_path: Path, show: Show) -> None:
    from trials.store import Store

    store = Store.create(tmp_path / "farm.tallybed").path
    page = show(store, "history")
    assert "Nothing was recorded yet" in words(page)
    assert not page.expander


def test_an_adviser_reads_and_cannot_change(
    corrected: Any, show: Show, signed_in: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    signed_in(Role.ADVISER)
    page = show(corrected.store, "history")
    assert len(heads(page)) == 3
    assert not page.button
    assert not page.get("file_uploader")
    with pytest.raises(NotAllowed, match="needs a grower"):
        correcting.take_back(3, "no", "x")
    with pytest.raises(NotAllowed, match="needs a grower"):
        correcting.mend(Mending.CORRECT, lambda _: [], "no", "x", 3)
    assert len(history(corrected)) == 3


def test_a_closing_taken_back_says_that_the_trial_opens(hostile_farm: Any, show: Show) -> None:
    season.close(hostile_farm.store, hostile_farm.open_trial, date(2026, 10, 1), "frost")
    page = show(hostile_farm.store, "history")
    widget(page, "take back 3").click().run()
    assert "and the trial is open again" in words(page)
