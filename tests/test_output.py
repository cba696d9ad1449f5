"""What the program says and draws of the invented farm is what it said before.

No proof that it is right: it shows whoever changes one thing what else it changed. After a change
that was meant, ``python -m tests.output`` keeps what is said now.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.output import KEPT, OUTPUTS, differences, text_of


@pytest.mark.parametrize("name", OUTPUTS)
@pytest.mark.slow
def test_it_says_and_draws_what_it_did(name: str, demo_store: Path) -> None:
    kept = (KEPT / f"{name}.txt").read_text("utf-8")
    assert differences(kept, text_of(name, demo_store)) == []


def test_nothing_else_is_kept() -> None:
    assert {path.stem for path in KEPT.iterdir()} == {*OUTPUTS}


def test_only_the_last_digit_of_a_fraction_may_differ() -> None:
    assert differences("a 1.25, 3 of 4\n", "a 1.26, 3 of 4\n") == []
    assert differences("0.123456789\n", "0.123456788\n") == []
    assert differences("a 1.25\n", "a 1.27\n")
    assert differences("3 of 4\n", "3 of 5\n")
    assert differences("a\n", "a\nb\n")
