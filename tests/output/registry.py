"""The texts that are kept, by the name of what makes each, and what they are made with."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from datetime import date
from pathlib import Path

import click
import pytest

from trials import TallybedError, season
from trials.cli import tallybed
from trials.decide import Choice, Rules
from trials.drawing.picture import Picture
from trials.drawing.svg import svg_file
from trials.model.units import UnitSystem
from trials.report.grid import Table
from trials.season import choosing
from trials.store import Store

ROOT = Path(__file__).parents[2]
DAY = date(2026, 11, 30)
METRIC, US = UnitSystem.METRIC, UnitSystem.US

Said = Callable[[Path], str]
OUTPUTS: dict[str, Said] = {}


def output(say: Said) -> Said:
    """One more text, by the name of its function."""
    OUTPUTS[say.__name__] = say
    return say


_CHOICE_OF = choosing.choice_of
_chosen: dict[Hashable, Choice] = {}


def _choice_of(kept: Store, crop: str, measure: str | None, rules: Rules) -> Choice:
    asked = (kept.path, kept.turns.as_of, crop, measure, rules)
    if asked not in _chosen:
        _chosen[asked] = _CHOICE_OF(kept, crop, measure, rules)
    return _chosen[asked]


@contextmanager
def choosing_once() -> Iterator[None]:
    """A choice from records that no output changes is calculated for the first of them alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(choosing, "choice_of", _choice_of)
        yield


def said(store: Path, *words: str) -> str:
    """What a command prints, and below it what it complains of."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            tallybed([*words, "--store", str(store)], prog_name="tallybed", standalone_mode=False)
        except (TallybedError, click.ClickException) as refusal:
            print(refusal)
    return f"$ tallybed {' '.join(words)}\n{out.getvalue()}{err.getvalue()}"


def with_a_plan(store: Path, folder: str) -> Path:
    """A copy of the store with one more trial, laid out from the plan that is an example."""
    own = Path(shutil.copy(store, folder))
    plan = (ROOT / "data" / "plan-example.toml").read_text("utf-8")
    season.plan_from_text(own, plan, "plan.toml")
    return own


def table_text(table: Table) -> str:
    return "\n".join(map(str, (table.columns, *table.rows)))


def drawn(pictures: Iterable[Picture | None]) -> str:
    return "\n".join(svg_file(picture) for picture in pictures if picture is not None)
