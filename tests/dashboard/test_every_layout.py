"""The pages of stored trials of the layouts with the most parts: each opens and names its kind."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from trials import season
from trials.report.words import LAYOUT_WORDS
from trials.season.planning import drawn_again
from trials.season.printing import Printing
from trials.stats.results import LayoutKind

Show = Callable[..., AppTest]
DATA = Path(__file__).parents[2] / "data"
FACTOR = """[[factors]]
name = "{name}"
levels = ["yes", "no"]
on = "{on}"

"""
FACTORS = {
    LayoutKind.SPLIT_SPLIT_PLOT: (("pinch", "whole plot"), ("netting", "split plot")),
    LayoutKind.STRIPS: (("pinch", "strip"),),
    LayoutKind.LATIN_SQUARE: (),
}


def plan_text(kind: LayoutKind) -> str:
    """The example's plan, laid out otherwise on beds enough."""
    text = (DATA / "plan-example.toml").read_text(encoding="utf-8")
    text = text.replace('"complete blocks"', f'"{kind}"')
    more = "".join(FACTOR.format(name=name, on=on) for name, on in FACTORS[kind])
    if kind is LayoutKind.STRIPS:
        text = text.replace('on = "plot"', 'on = "strip"')
    beds = "".join(
        f'[[beds]]\nname = "Bed {bed}"\nlength_m = 60\nwidth_m = 1.2\n\n' for bed in range(1, 9)
    )
    head, _, rest = text.partition("[[beds]]")
    return f"{head}{more}{beds}[planting]{rest.partition('[planting]')[2]}"


@pytest.mark.slow
@pytest.mark.parametrize("kind", FACTORS)
def test_a_planned_trial_is_shown_and_printed_as_its_own_kind(
    tmp_path: Path, show: Show, kind: LayoutKind
) -> None:
    store, plan = tmp_path / "farm.tallybed", tmp_path / "plan.toml"
    season.load(store, [DATA / "farm" / "sites.csv", DATA / "farm" / "seasons.csv"])
    plan.write_text(plan_text(kind), encoding="utf-8")
    season.plan(store, plan)
    season.planted(store, "aster-2026", date(2026, 4, 5))
    plots = drawn_again(store, "aster-2026").plots
    counts, cuts = tmp_path / "counts.csv", tmp_path / "cuts.csv"
    counts.write_text(
        "plot,counted_on,living\n" + "".join(f"{p.code},2026-06-01,18\n" for p in plots)
    )
    cuts.write_text(
        "plot,cut_on,outcome,grade_cm,stems,cull_reason\n"
        + "".join(
            f"{p.code},2026-07-01,picked,40,{60 + (n * 7) % 11 + (n * n) % 5},\n"
            for n, p in enumerate(plots)
        )
    )
    season.load(store, [counts, cuts])
    files = season.sheets(store, "aster-2026", tmp_path / "out", Printing("F", date(2026, 3, 1)))
    assert all(file.stat().st_size for file in files)
    assert season.compare_trial(store, "aster-2026").layout.kind is kind
    page = show(store, "compare", trial="aster-2026")
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    said = re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))
    assert LAYOUT_WORDS[kind] in said
