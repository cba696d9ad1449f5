"""Names stay the text they are; the browser test proves the same in a real page."""

from __future__ import annotations

import html
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from dashboard.theme.text import JOINER, for_html, for_markdown

NAMES = (
    "<img src=x onerror=alert(1)>",
    "**bold** _i_ `c` ~~s~~ # h",
    "![x](http://e/x.png)",
    ":red[x] :smile: :material/home:",
    "$x$ and $y$",
    "a -> b <- c -- d >= e",
    "https://e.example/x and www.example.com and a@b.com",
    "1. one",
    "- dash",
    "&lt; &amp; \\",
)


@pytest.mark.parametrize("name", NAMES)
def test_markdown_shows_a_name_as_it_stands(name: str) -> None:
    rendered = MarkdownIt("commonmark").render(for_markdown(name)).strip()
    shown = html.unescape(rendered.removeprefix("<p>").removesuffix("</p>"))
    assert shown.replace(JOINER, "") == name


@pytest.mark.parametrize("name", NAMES)
def test_what_is_replaced_after_reading_finds_nothing(name: str) -> None:
    shown = MarkdownIt("commonmark").render(for_markdown(name))
    text = html.unescape(shown)
    assert not re.search(r":\w+[:\[/]|<-|->|--|>=|https?://|www\.|\w@\w", text)


@given(st.text())
def test_html_shows_any_text_and_holds_no_tag(text: str) -> None:
    safe = for_html(text)
    assert not set(safe) & set("<>\"'")
    assert "\n" not in safe


def test_characters_that_turn_the_reading_direction_are_left_out() -> None:
    assert for_html("ab\u202ecd\u2066e") == "abcde"
