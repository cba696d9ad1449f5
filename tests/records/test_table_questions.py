"""Which tables leave open what their rows are, and which honest ones are not asked about."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import f_oneway

from trials.errors import ComparisonRefused, TableRefused, TableUnclear
from trials.records.table.columns import TableColumns
from trials.records.table.questions import answered
from trials.records.table.reading import read_table
from trials.season.comparing import Asked, compare_table
from trials.stats.design.table import RowsAre
from trials.stats.results import LayoutKind

REFERENCE = Path(__file__).parent.parent / "reference"
QUICK = Asked(second_opinions=False)
Frame = dict[str, Sequence[Any]]


def grid(**levels: Sequence[Any] | int) -> Frame:
    """Every combination of levels (a number stands for 1 to that many), and a measure."""
    of = {k: list(range(1, v + 1)) if isinstance(v, int) else list(v) for k, v in levels.items()}
    rows = list(itertools.product(*of.values()))
    frame: Frame = {name: [row[i] for row in rows] for i, name in enumerate(of)}
    frame["y"] = np.random.default_rng(len(rows)).normal(20, 3, len(rows)).round(2).tolist()
    return frame


def also(frame: Frame, **columns: Callable[[int], Any]) -> Frame:
    """The same rows with columns worked out from the row's number, from 0."""
    return {**frame, **{k: [f(i) for i in range(len(frame["y"]))] for k, f in columns.items()}}


def ragged(frame: Frame, *drop: int) -> Frame:
    return {k: [v for i, v in enumerate(vs) if i not in drop] for k, vs in frame.items()}


def asked(
    folder: Path,
    frame: Mapping[str, Sequence[Any]],
    treatments: Sequence[str] = ("v",),
    **parts: Any,
) -> set[str]:
    """The parts that are asked about."""
    path = folder / "table.csv"
    pd.DataFrame(frame).to_csv(path, index=False)
    try:
        read_table(path, TableColumns("y", tuple(treatments), **parts))
    except TableUnclear as unclear:
        return {each.part for each in unclear.questions}
    return set()


AB, ABC = "AB", "ABC"
RCB = grid(block=4, v=ABC)
NOTES = ("fine", "wet corner", "", "slugs", "late", "fine", "windy", "", "", "x", "y", "z")
HONEST: Mapping[str, tuple[Frame, Mapping[str, Any]]] = {
    "ten plots of each without blocks": (grid(v=AB, rep=10), {}),
    "a factorial without blocks": (grid(v=ABC, feed=("no", "yes"), rep=4), {}),
    "blocks": (RCB, {"block": "block"}),
    "notes": (also(RCB, notes=lambda i: NOTES[i]), {"block": "block"}),
    "a code of each plot": (also(RCB, plot=lambda i: f"A{101 + i}"), {"block": "block"}),
    "plots numbered in each block": (also(RCB, plot=lambda i: i % 3 + 1), {"block": "block"}),
    "plots numbered without blocks": (also(grid(v=AB, rep=6), plot=lambda i: i + 1), {}),
    "an id of each row": (also(grid(v=AB, rep=6), id=lambda i: i + 1), {}),
    "one date": (also(RCB, date=lambda i: "2026-07-20"), {"block": "block"}),
    "a date of each block": (
        also(RCB, date=lambda i: f"2026-07-{20 + i // 3}"),
        {"block": "block"},
    ),
    "a date of each plot, without blocks": (
        also(grid(v=AB, rep=6), date=lambda i: f"2026-07-{1 + i * 7 % 23:02}"),
        {},
    ),
    "one season": (also(RCB, year=lambda i: 2026), {"block": "block"}),
    "one site": (also(RCB, site=lambda i: "home"), {"block": "block"}),
    "a season named": (
        grid(year=(2024, 2025), block=3, v=ABC),
        {"block": "block", "season": "year"},
    ),
    "seasons as blocks": (
        also(grid(rep=4, v=ABC), year=lambda i: 2021 + i // 3),
        {"block": "rep"},
    ),
    "a count of plants": (also(RCB, plants=lambda i: (12, 11, 12, 10)[i % 4]), {"block": "block"}),
    "a count of stems, without blocks": (
        also(grid(v=AB, rep=5), stems=lambda i: (3, 7, 4, 1, 9, 2, 6, 8, 5, 11)[i]),
        {},
    ),
    "plant height": (
        also(grid(v=AB, rep=5), plant_height=lambda i: 40 + i * 3 % 7, stem_cm=lambda i: 50 - i),
        {},
    ),
    "plants named as samples of named plots": (grid(v=AB, plot=4, plant=5), {"plot": "plot"}),
    "plants in every plot of a block": (grid(block=3, v=ABC, plant=5), {"block": "block"}),
    "plants of one plant plots": (also(RCB, plant=lambda i: i + 1), {"block": "block"}),
    "augmented blocks": (
        ragged(
            grid(block=4, v=(*"XYZ", *"abcdefgh")),
            *(i for i in range(44) if i % 11 > 2 and (i % 11 - 3) // 2 != i // 11),
        ),
        {"block": "block"},
    ),
    "two plots of each treatment in a block, one lost": (
        ragged(grid(block=3, v=ABC, rep=2), 5),
        {"block": "block"},
    ),
    "a Latin square": (
        also(grid(row=4, column=4), v=lambda i: "ABCD"[(i // 4 + i) % 4]),
        {"row": "row", "column": "column"},
    ),
    "a split plot": (grid(block=4, w=AB, v=ABC), {"block": "block", "whole_plot": ("w",)}),
    "a bed of each plot": (also(grid(v=AB, rep=5), bed=lambda i: i % 3), {}),
    "where seed was bought": (also(grid(v=AB, rep=5), supplier=lambda i: "pq"[i // 5]), {}),
}
OPEN: Mapping[str, tuple[Frame, Mapping[str, Any], set[str]]] = {
    "one bed in two halves, plants numbered": (grid(v=AB, plant=20), {}, {"rows_are"}),
    "few plants numbered": (grid(v=AB, plant=5), {}, {"rows_are"}),
    "plants numbered throughout": (
        also(grid(v=AB, k=8), Plant_No=lambda i: 101 + i),
        {},
        {"rows_are"},
    ),
    "plants with a letter": (
        also(grid(v=AB, k=6), plant=lambda i: f"p{i % 6 + 1}"),
        {},
        {"rows_are"},
    ),
    "stems numbered": (grid(v=ABC, stem=4), {}, {"rows_are"}),
    "samples of a factorial": (grid(v=AB, feed=AB, sample=4), {}, {"rows_are"}),
    "a plant lost, so that one place has one row": (
        ragged(grid(block=2, v=AB, plant=3), 0, 1),
        {"block": "block"},
        {"rows_are"},
    ),
    "twenty rows of each and no word": (grid(v=AB, k=20), {}, {"rows_are"}),
    "many rows in most blocks": (
        ragged(grid(block=3, v=AB, k=6), *range(5)),
        {"block": "block"},
        {"rows_are"},
    ),
    "the same days of each": (
        grid(v=AB, date=("2026-07-01", "2026-07-08", "2026-07-15", "2026-07-22")),
        {},
        {"rows_are"},
    ),
    "the same weeks of each": (grid(v=AB, when=("wk 28", "wk 29", "wk 30")), {}, {"rows_are"}),
    "plots with several rows": (
        grid(v=AB, plot=("a", "b"), k=3) | {"plot": [f"{i // 3}" for i in range(12)]},
        {},
        {"plot"},
    ),
    "plants named as blocks": (grid(plant=20, v=AB), {"block": "plant"}, {"rows_are"}),
    "two seasons": (grid(year=(2024, 2025), block=3, v=ABC), {"block": "block"}, {"season"}),
    "two seasons under another heading": (
        grid(grown=(2024, 2025), block=3, v=ABC),
        {"block": "block"},
        {"season"},
    ),
    "days of two seasons": (
        also(RCB, date=lambda i: f"{2024 + i // 6}-07-{10 + i}"),
        {"block": "block"},
        {"season"},
    ),
    "a variety a season": (also(grid(v=AB, k=4), Season=lambda i: 2024 + i // 4), {}, {"season"}),
    "two sites": (grid(location=("hill", "dale"), block=3, v=ABC), {"block": "block"}, {"site"}),
    "two seasons and plants": (
        grid(year=(2024, 2025), v=AB, plant=6),
        {},
        {"season", "rows_are"},
    ),
}


def treatments_of(frame: Frame) -> tuple[str, ...]:
    return ("v", "feed") if "feed" in frame else ("v",)


@pytest.mark.parametrize("name", HONEST)
def test_honest_tables_are_not_asked_about(tmp_path: Path, name: str) -> None:
    frame, parts = HONEST[name]
    assert asked(tmp_path, frame, treatments_of(frame), **parts) == set()


@pytest.mark.parametrize("name", OPEN)
def test_what_a_table_leaves_open_is_asked(tmp_path: Path, name: str) -> None:
    frame, parts, about = OPEN[name]
    assert asked(tmp_path, frame, treatments_of(frame), **parts) == about


PUBLISHED: Mapping[str, tuple[Sequence[str], Mapping[str, Any]]] = {
    "barley_places_years": (["variety"], {"season": "year", "site": "place"}),
    "blood_counts_crd": (["group"], {}),
    "cucumber_latin_square": (["genotype"], {"row": "row", "column": "column"}),
    "cultivars_rcbd": (["cultivar"], {"block": "block"}),
    "four_groups_crd": (["group"], {}),
    "grain_weight_subsamples": (["treatment"], {"block": "block"}),
    "kernel_weight_subsamples": (["treatment"], {"block": "block"}),
    "melon_crd": (["variety"], {}),
    "oats_alpha": (["variety"], {"block": "replicate", "incomplete_block": "block"}),
    "oats_split_plot": (["manure"], {"block": "block", "whole_plot": ("variety",)}),
    "rice_nitrogen_split_plot": (["variety"], {"block": "block", "whole_plot": ("nitrogen",)}),
    "rice_seed_rate_rcbd": (["rate"], {"block": "block"}),
    "rice_split_split_plot": (
        ["variety"],
        {"block": "block", "whole_plot": ("nitrogen",), "split_plot": ("management",)},
    ),
    "rice_strips": ([], {"block": "block", "strips": ("variety", "nitrogen")}),
    "wheat_augmented": (["entry"], {"block": "block"}),
    "wheat_seven_years": (["genotype"], {"block": "block", "season": "year"}),
}


@pytest.mark.parametrize("path", sorted(REFERENCE.glob("*.json")), ids=lambda path: path.stem)
def test_no_published_table_is_asked_about(tmp_path: Path, path: Path) -> None:
    document = json.loads(path.read_text(encoding="utf-8"))
    frame = pd.DataFrame(document["rows"], columns=document["columns"]).rename(
        columns={"yield": "y"}
    )
    columns = {str(name): list(frame[name]) for name in frame}
    treatments, parts = PUBLISHED[path.stem]
    assert asked(tmp_path, columns, treatments, **parts) == set()


def test_plants_of_one_bed_are_always_asked_about_and_never_tested(tmp_path: Path) -> None:
    """Two halves of a bed, 20 plants in each, and no treatment that does anything."""
    rng = np.random.default_rng(26)
    halves = 20 + rng.normal(0, 1.5, (1000, 2, 1)) + rng.normal(0, 3, (1000, 2, 20))
    alarms = f_oneway(halves[:, 0], halves[:, 1], axis=1).pvalue < 0.05
    assert 0.36 < alarms.mean() < 0.45  # of which the program must say none
    path = tmp_path / "bed.csv"
    plain = TableColumns("y", ("v",))
    for case in halves[alarms][:60]:
        frame = grid(v=AB, plant=20) | {"y": case.ravel().tolist()}
        pd.DataFrame(frame).to_csv(path, index=False)
        with pytest.raises(TableUnclear, match="--rows-are plots or --rows-are plants"):
            compare_table(path, plain, QUICK)
    found = compare_table(path, TableColumns("y", ("v",), rows_are=RowsAre.PLANTS), QUICK)
    assert (found.plots, found.tests, found.all_pairs) == (2, (), ())
    assert found.layout.kind is LayoutKind.SIDE_BY_SIDE
    assert {"averaged", "not-replicated"} <= {each.code for each in found.cautions}


def test_plants_in_blocks_are_tested_as_means_of_plots(tmp_path: Path) -> None:
    frame = pd.DataFrame(ragged(grid(block=4, v=ABC, plant=5), 0, 1, 2, 3))
    frame.to_csv(tmp_path / "t.csv", index=False)
    columns = TableColumns("y", ("v",), block="block", rows_are=RowsAre.PLANTS)
    found = compare_table(tmp_path / "t.csv", columns, QUICK)
    frame.groupby(["block", "v"], as_index=False)["y"].mean().to_csv(tmp_path / "m.csv")
    means = compare_table(tmp_path / "m.csv", TableColumns("y", ("v",), block="block"), QUICK)
    assert found.tests[0].den_df == 6
    assert pytest.approx(means.tests[0].F, rel=1e-9) == found.tests[0].F


def test_rows_that_are_plots_are_not_averaged(tmp_path: Path) -> None:
    pd.DataFrame(grid(block=3, v=ABC, k=2)).to_csv(tmp_path / "t.csv", index=False)
    averaged = TableColumns("y", ("v",), block="block")
    assert compare_table(tmp_path / "t.csv", averaged, QUICK).plots == 9
    plots = TableColumns("y", ("v",), block="block", rows_are=RowsAre.PLOTS)
    found = compare_table(tmp_path / "t.csv", plots, QUICK)
    assert (found.plots, found.tests[0].den_df) == (18, 13)
    assert "rows-as-plots" not in {each.code for each in found.cautions}


def test_rows_cannot_be_plots_and_share_plots(tmp_path: Path) -> None:
    pd.DataFrame(grid(v=AB, plot=2, k=3)).to_csv(tmp_path / "t.csv", index=False)
    columns = TableColumns("y", ("v",), block="plot", plot="v", rows_are=RowsAre.PLOTS)
    with pytest.raises(ComparisonRefused, match="12 rows have only 4 plots"):
        compare_table(tmp_path / "t.csv", columns, QUICK)


@pytest.mark.parametrize("part", ["block", "incomplete_block"])
def test_a_block_of_each_row_is_refused(tmp_path: Path, part: str) -> None:
    pd.DataFrame(also(grid(v=AB, k=4), b=lambda i: i)).to_csv(tmp_path / "t.csv", index=False)
    parts: dict[str, Any] = {part: "b"}
    with pytest.raises(TableRefused, match="column b: This column has a different value in each"):
        compare_table(tmp_path / "t.csv", TableColumns("y", ("v",), **parts), QUICK)


def test_an_answer_clears_its_question(tmp_path: Path) -> None:
    pd.DataFrame(OPEN["two seasons and plants"][0]).to_csv(tmp_path / "t.csv", index=False)
    plain = TableColumns("y", ("v",))
    with pytest.raises(TableUnclear) as unclear:
        read_table(tmp_path / "t.csv", plain)
    columns = plain
    for each, answer in zip(unclear.value.questions, ("yes", "plants"), strict=True):
        assert answer in each.answers
        columns = answered(columns, each, answer)
    assert (columns.season, columns.rows_are) == ("year", RowsAre.PLANTS)
    assert read_table(tmp_path / "t.csv", columns).plots.season is not None
    no = answered(plain, unclear.value.questions[0], "no")
    assert no.ignored == ("year",)
