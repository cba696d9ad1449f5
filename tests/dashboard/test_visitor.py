"""Roles on the pages: who sees which page, and that no page reads or writes past a role."""

from __future__ import annotations

import ast
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import (
    correcting,
    data,
    entering,
    example,
    keeping,
    trial_data,
    variety_data,
    what_if_data,
    winter_data,
)
from dashboard.tally import bed
from trials import season
from trials.errors import NotAllowed
from trials.model import rows
from trials.model.trial import Role

Show = Callable[..., AppTest]
Signed = Callable[[Role], None]
DATA = Path(data.__file__)
ASKING = (
    DATA,
    *(
        Path(str(each.__file__))
        for each in (
            *(bed, correcting, entering, example, keeping, trial_data, variety_data),
            *(what_if_data, winter_data),
        )
    ),
)


def said(page: AppTest) -> str:
    assert not page.exception
    return "\n".join(element.proto.body for element in page.get("html"))


def links(page: AppTest) -> list[str]:
    return [element.proto.label for element in page.get("page_link")]


@pytest.mark.slow
def test_the_grower_of_this_machine_signs_in_nowhere(demo_store: Path, show: Show) -> None:
    page = show(demo_store)
    assert "Sign out" not in said(page)
    assert "People" not in links(page)


def test_a_picker_sees_the_tally_and_nothing_else(
    hostile_farm: Any, show: Show, signed_in: Signed
) -> None:
    signed_in(Role.PICKER)
    page = show(hostile_farm.store)
    assert links(page) == []
    assert hostile_farm.closed_trial not in said(page)
    assert "&lt;b&gt;Finn&lt;/b&gt; (picker)" in said(page)


@pytest.mark.slow
@pytest.mark.parametrize(
    "screen",
    [
        *("compare", "choose", "order", "history", "home", "people", "backups", "winter"),
        "varieties",
    ],
)
def test_a_picker_cannot_reach_a_grower_s_page(
    hostile_farm: Any, show: Show, signed_in: Signed, monkeypatch: pytest.MonkeyPatch, screen: str
) -> None:
    signed_in(Role.PICKER)
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    script = DATA.with_name("screens") / f"{screen}.py"
    page = AppTest.from_file(str(script), default_timeout=60).run()
    (refused,) = page.exception
    assert "This needs a grower" in refused.message
    assert not any(trial in said_of(page) for trial in (hostile_farm.closed_trial, "stems"))


def said_of(page: AppTest) -> str:
    return "\n".join(element.proto.body for element in page.get("html"))


def test_an_adviser_reads_and_finds_no_form(
    hostile_farm: Any, show: Show, signed_in: Signed
) -> None:
    signed_in(Role.ADVISER)
    page = show(hostile_farm.store)
    assert "Add records" not in said(page)
    assert not page.button
    assert not page.get("file_uploader")
    assert "Tally" not in links(page)
    assert "See its results" in " ".join(links(page))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("role", "words"),
    [
        (Role.GROWER, "Close it first on the page Home."),
        (Role.ADVISER, "Close it first: ask the grower."),
    ],
)
def test_a_refusal_names_the_page_or_the_grower_and_no_command(
    hostile_farm: Any, show: Show, signed_in: Signed, role: Role, words: str
) -> None:
    signed_in(role)
    page = show(hostile_farm.store, "choose")
    assert f"is still open, so its totals may grow. {words}" in said(page)
    path = hostile_farm.write("recounted", "plot,counted_on,living", [("P1", "2026-07-20", 10)])
    season.correct(hostile_farm.store, [path], rows.Signed("Ann", "two were weeds"))
    page = show(hostile_farm.store, "compare", trial=hostile_farm.closed_trial)
    assert "See what was changed on the page History." in said(page)
    assert "tallybed " not in said(page)


def test_an_adviser_cannot_write_even_past_the_page(
    hostile_farm: Any, signed_in: Signed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    for role in (Role.ADVISER, Role.PICKER):
        signed_in(role)
        with pytest.raises(NotAllowed, match="needs a grower"):
            data.close(hostile_farm.open_trial, date(2026, 10, 1), "frost")
        with pytest.raises(NotAllowed):
            data.load(("x",), lambda folder: [])
        with pytest.raises(NotAllowed):
            data.invite("Finn", Role.GROWER)
        with pytest.raises(NotAllowed):
            data.end_person("Ada")
    assert season.closing(hostile_farm.store, hostile_farm.open_trial) is None


def calls(function: ast.FunctionDef) -> set[str]:
    return {
        node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
        for node in ast.walk(function)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute | ast.Name)
    }


@pytest.mark.parametrize("asking", ASKING, ids=lambda path: path.stem)
def test_whatever_reaches_the_store_asks_for_the_role_first(asking: Path) -> None:
    """Every function of the pages' data that enters by the season's door, present and future."""
    unguarded = []
    for node in ast.parse(asking.read_text(encoding="utf-8")).body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        kept = any(isinstance(d, ast.Name) and d.id == "Kept" for d in node.decorator_list)
        enters = any(
            isinstance(inner, ast.Attribute)
            and isinstance(inner.value, ast.Name)
            and inner.value.id == "front"
            for statement in node.body
            for inner in ast.walk(statement)
        )
        if enters and not kept and "require" not in calls(node):
            unguarded.append(node.name)
    assert unguarded == []


def test_nothing_else_of_the_pages_goes_through_the_door_to_records() -> None:
    """Only the modules above, the door and the start of the pages bind the whole season."""
    whole = {
        path.name
        for path in DATA.parent.rglob("*.py")
        if "from trials import season as front" in path.read_text(encoding="utf-8")
    }
    assert whole == {path.name for path in ASKING} | {"who.py"}


def test_no_screen_goes_to_the_store_by_itself() -> None:
    verbs = {"load", "close", "compare", "choose", "order", "everybody", "invite", "end_person"}
    verbs |= {"history", "correct", "withdraw", "undo"}
    for screen in DATA.with_name("screens").glob("*.py"):
        for node in ast.walk(ast.parse(screen.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == "trials":
                assert not verbs & {alias.name for alias in node.names}, screen.name
