"""The page of terms explains what the other pages say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from streamlit.testing.v1 import AppTest

from trials.report.glossary import PARTS


def test_every_term_is_explained(demo_store: Path, show: Callable[..., AppTest]) -> None:
    page = show(demo_store, "terms")
    assert not page.exception
    said = " ".join(each.proto.body for each in page.get("html"))
    for terms in PARTS.values():
        assert all(f">{term}</td>" in said for term in terms)
