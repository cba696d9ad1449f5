"""Published trials of every layout, loaded through the records into a store and compared there.

Each must give the printed figures, and to the last digit what the bare table gives.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from trials import season, stats
from trials.errors import RecordsRefused
from trials.records.mapping.agreement import Agreed
from trials.records.table.columns import TableColumns
from trials.records.table.reading import read_table
from trials.season.comparing import Asked
from trials.stats import Question
from trials.stats.results import Comparison, LayoutKind
from trials.stats.what_was_tested import Levels

pytestmark = pytest.mark.slow

REFERENCE = Path(__file__).parent / "reference"
FARM: Mapping[str, str] = {
    "sites.csv": "site,place,bed_width_m\nLow Field,by the brook,1.2\n",
    "seasons.csv": "season,site,starts_on,ends_on\n2026,Low Field,2026-03-01,2026-10-31\n",
}
# Where the published plots lay in the sheet of plots, and the same ground for a bare table.
GROUND = ("block", "row", "column", "incomplete_block", "whole_plot", "split_plot")


@dataclass(frozen=True)
class Case:
    """A published trial: its factors by the ground they were given to, and what was printed.

    ``ground`` maps columns of the sheet of plots to columns of the published table. ``tests`` are
    (term, numerator df, denominator df, F) as printed.
    """

    name: str
    kind: LayoutKind
    factors: Mapping[str, str]
    ground: Mapping[str, str]
    tests: Sequence[tuple[str, float, float, float]]

    def columns(self) -> dict[str, list[Any]]:
        document = json.loads((REFERENCE / f"{self.name}.json").read_text(encoding="utf-8"))
        columns = zip(document["columns"], zip(*document["rows"], strict=True), strict=True)
        return {key: list(column) for key, column in columns}


CASES = (
    Case(
        "melon_crd",
        LayoutKind.COMPLETELY_RANDOMISED,
        {"variety": "plots"},
        {},
        [("variety", 3, 20, 23.418)],
    ),
    Case(
        "cultivars_rcbd",
        LayoutKind.COMPLETE_BLOCKS,
        {"cultivar": "plots"},
        {"block": "block"},
        [("cultivar", 3, 6, 5.525)],
    ),
    Case(
        "cucumber_latin_square",
        LayoutKind.LATIN_SQUARE,
        {"genotype": "plots"},
        {"row": "row", "column": "column"},
        [("genotype", 3, 6, 9.368259)],
    ),
    Case(
        "oats_alpha",
        LayoutKind.INCOMPLETE_BLOCKS,
        {"variety": "plots"},
        {"block": "replicate", "incomplete_block": "block"},
        [("variety", 23, 35.50, 5.3628)],
    ),
    Case(
        "wheat_augmented",
        LayoutKind.AUGMENTED_BLOCKS,
        {"entry": "plots"},
        {"block": "block"},
        [("entry", 32, 10, 1.40498)],
    ),
    Case(
        "oats_split_plot",
        LayoutKind.SPLIT_PLOT,
        {"variety": "whole plots", "manure": "plots"},
        {"block": "block"},
        [
            ("variety", 2, 10, 1.4853),
            ("manure", 3, 45, 37.686),
            ("variety:manure", 6, 45, 0.3028),
        ],
    ),
    Case(
        "rice_strips",
        LayoutKind.STRIPS,
        {"variety": "strips", "nitrogen": "strips"},
        {"block": "block"},
        [
            ("variety", 5, 10, 7.65),
            ("nitrogen", 2, 4, 34.07),
            ("variety:nitrogen", 10, 20, 5.80),
        ],
    ),
    Case(
        "rice_split_split_plot",
        LayoutKind.SPLIT_SPLIT_PLOT,
        {"nitrogen": "whole plots", "management": "split plots", "variety": "plots"},
        {"block": "block"},
        [
            ("nitrogen", 4, 8, 27.70),
            ("management", 2, 20, 82.00),
            ("variety", 2, 60, 207.87),
            ("nitrogen:variety", 8, 60, 3.57),
            ("management:variety", 4, 60, 1.94),
        ],
    ),
)


class Farm:
    """A store, and the files it was filled from."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.store = folder, folder / "farm.tallybed"
        for name, text in FARM.items():
            (folder / name).write_text(text, encoding="utf-8")

    def write(self, name: str, heading: Sequence[str], rows: Iterator[Sequence[Any]]) -> None:
        with (self.folder / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([heading, *rows])

    def load(
        self,
        factors: Mapping[str, str],
        columns: Mapping[str, Sequence[Any]],
        ground: Mapping[str, Sequence[Any]],
    ) -> str:
        """Write a trial's figures down as a grower would, and load them.

        Whole numbers are stems of a plot of one metre, fractions the length of its one stem.
        Gives the measure that holds the figures.
        """
        figures = columns["yield"]
        numbers = range(1, len(figures) + 1)
        whole = all(float(figure).is_integer() for figure in figures)
        measure = "stems_per_metre" if whole else "stem_length_cm"
        if "variety" in factors:
            names = sorted(set(columns["variety"]))
            self.write("varieties.csv", ["variety", "crop"], ((name, "rice") for name in names))
        given = "; ".join(f"{name} on {unit}" for name, unit in factors.items())
        self.write(
            "trials.csv",
            [
                *("trial", "season", "site", "crop", "question", "factors"),
                *("primary_measure", "alpha", "minimum_length_cm"),
            ],
            iter([("T", 2026, "Low Field", "rice", "Which?", given, measure, 0.05, 0)]),
        )
        self.write(
            "plots.csv",
            [
                *("trial", "plot", *ground, "bed", "position", *factors),
                *("plants_set", "net_length_m", "net_area_m2", "transplanted_on"),
            ],
            (
                (
                    *("T", f"P{n}", *(ground[part][n - 1] for part in ground), "Bed", n),
                    *(columns[factor][n - 1] for factor in factors),
                    *(10_000, 1, 1, "2026-04-01"),
                )
                for n in numbers
            ),
        )
        self.write(
            "cuts.csv",
            ["plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason"],
            (
                (f"P{n}", "2026-07-01", "picked", 40, int(figure) if whole else 1, "")
                for n, figure in zip(numbers, figures, strict=True)
            ),
        )
        if not whole:
            self.write(
                "stem_samples.csv",
                ["plot", "cut_on", "stem", "length_cm"],
                (
                    (f"P{n}", "2026-07-01", 1, figure)
                    for n, figure in zip(numbers, figures, strict=True)
                ),
            )
        # Rice by the kilogram would be unlikely as stems.
        season.load(self.store, [self.folder], agreed=Agreed(accept="published figures"))
        return measure

    def compare(self) -> Comparison:
        return season.compare_trial(self.store, "T", asked=Asked(second_opinions=False))

    def compare_table(
        self,
        factors: Mapping[str, str],
        columns: Mapping[str, Sequence[Any]],
        ground: Mapping[str, Sequence[Any]],
    ) -> Comparison:
        """What the same figures give as a bare table, without any store."""
        rows = zip(
            *(columns[name] for name in (*factors, "yield")),
            *(ground[name] for name in ground),
            strict=True,
        )
        labelled = ([f"P{n}", *row] for n, row in enumerate(rows, start=1))
        self.write("table.csv", ["plot", *factors, "yield", *ground], labelled)

        def on(unit: str) -> tuple[str, ...]:
            return tuple(name for name, given in factors.items() if given == unit)

        def part(name: str) -> str | None:
            return name if name in ground else None

        read = read_table(
            self.folder / "table.csv",
            TableColumns(
                measure="yield",
                treatments=tuple(factors),
                block=part("block"),
                row=part("row"),
                column=part("column"),
                incomplete_block=part("incomplete_block"),
                whole_plot=on("whole plots"),
                whole_plot_unit=part("whole_plot"),
                split_plot=on("split plots"),
                strips=on("strips"),
                plot="plot",
            ),
        )
        (self.folder / "table.csv").unlink()
        return stats.compare(read.plots, Question())


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    return Farm(tmp_path)


def figures_of(found: Comparison) -> Comparison:
    """Everything but the measure's name and unit, which the words of the cautions carry."""
    cautions = tuple(replace(caution, text="") for caution in found.cautions)
    return replace(found, measure="", unit="", cautions=cautions)


def named_units(case: Case, columns: Mapping[str, list[Any]]) -> dict[str, list[Any]]:
    """The published ground, with the larger units also labelled as a planner labels them."""
    ground = {part: columns[column] for part, column in case.ground.items()}
    on_whole = [name for name, unit in case.factors.items() if unit == "whole plots"]
    on_split = [name for name, unit in case.factors.items() if unit == "split plots"]
    for part, names in (("whole_plot", on_whole), ("split_plot", on_whole + on_split)):
        if names if part == "whole_plot" else on_split:
            spelled = zip(*(columns[name] for name in names), strict=True)
            ground[part] = ["-".join(map(str, levels)) for levels in spelled]
    return ground


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_a_stored_trial_gives_the_printed_figures(farm: Farm, case: Case) -> None:
    columns = case.columns()
    ground = {part: columns[column] for part, column in case.ground.items()}
    farm.load(case.factors, columns, ground)
    found = farm.compare()
    assert found.layout.kind is case.kind
    printed = {test.term: (test.num_df, test.den_df, test.F) for test in found.tests}
    for term, *expected in case.tests:
        assert printed[term] == pytest.approx(tuple(expected), rel=1e-3, abs=0.005)
    bare = farm.compare_table(case.factors, columns, ground)
    assert figures_of(found) == figures_of(bare)


@pytest.mark.parametrize("name", ["oats_split_plot", "rice_split_split_plot"])
def test_named_whole_plots_and_split_plots_are_the_same_ground(farm: Farm, name: str) -> None:
    (case,) = [case for case in CASES if case.name == name]
    columns = case.columns()
    ground = named_units(case, columns)
    assert set(ground) > set(case.ground)
    farm.load(case.factors, columns, ground)
    found = farm.compare()
    assert found.layout.kind is case.kind
    bare = farm.compare_table(
        case.factors, columns, {part: columns[column] for part, column in case.ground.items()}
    )
    # Units in another order add up to another last digit.
    for here, there in zip(found.tests, bare.tests, strict=True):
        assert (here.term, here.num_df, here.den_df) == (there.term, there.num_df, there.den_df)
        assert (here.F, here.p) == pytest.approx((there.F, there.p), rel=1e-9)
    for one, other in zip(found.all_pairs, bare.all_pairs, strict=True):
        assert one.se == pytest.approx(other.se, rel=1e-12)


def test_errors_of_a_difference_in_a_stored_augmented_trial(farm: Farm) -> None:
    """The four standard errors printed with Petersen's trial."""
    (case,) = [case for case in CASES if case.name == "wheat_augmented"]
    columns = case.columns()
    farm.load(case.factors, columns, {"block": columns["block"]})
    found = farm.compare()
    block = dict(zip(columns["entry"], columns["block"], strict=True))
    checks = ("st", "ci", "wa")

    def name(levels: Levels) -> str:
        return levels[0][1]

    def ses(wanted: tuple[bool, bool], same_block: bool | None = None) -> list[float]:
        found_errors = {
            round(pair.se, 2)
            for pair in found.all_pairs
            if (name(pair.a) in checks, name(pair.b) in checks) in (wanted, wanted[::-1])
            and (same_block is None or (block[name(pair.a)] == block[name(pair.b)]) is same_block)
        }
        return sorted(found_errors)

    assert ses((True, True)) == pytest.approx([174.263], abs=0.01)
    assert ses((True, False)) == pytest.approx([362.757], abs=0.01)
    assert ses((False, False), same_block=True) == pytest.approx([426.855], abs=0.01)
    assert ses((False, False), same_block=False) == pytest.approx([492.89], abs=0.01)


def test_a_stored_row_column_trial_agrees_with_a_library(farm: Farm) -> None:
    """Six varieties in 4 rows and 6 columns, held against ordinary least squares."""
    noise = np.random.default_rng(7).normal(0, 3, 24).round(2)
    row = [str(i // 6 + 1) for i in range(24)]
    column = [str(i % 6 + 1) for i in range(24)]
    variety = [f"V{(i % 6 + (0, 1, 3, 2)[i // 6]) % 6 + 1}" for i in range(24)]
    figures = [round(40.13 + 2 * int(v[1]) + e, 2) for v, e in zip(variety, noise, strict=True)]
    columns = {"variety": variety, "yield": figures}
    ground = {"row": row, "column": column}
    farm.load({"variety": "plots"}, columns, ground)
    found = farm.compare()
    assert found.layout.kind is LayoutKind.ROW_COLUMN
    data = pd.DataFrame({"y": figures, "v": variety, "r": row, "c": column})
    fit, less = (smf.ols(f"y ~ {terms}", data).fit() for terms in ("r + c + v", "r + c"))
    F = (less.ssr - fit.ssr) / 5 / (fit.ssr / fit.df_resid)
    (test,) = found.tests
    assert (test.num_df, test.den_df, test.F) == pytest.approx((5, fit.df_resid, F), rel=1e-9)
    bare = farm.compare_table({"variety": "plots"}, columns, ground)
    assert figures_of(found) == figures_of(bare)


def test_two_split_plots_of_one_level_are_told_apart_by_their_labels(farm: Farm) -> None:
    """Split plots are worked out from levels where unnamed, and so would fall together."""
    factors = {"pinch": "whole plots", "feed": "split plots", "variety": "plots"}
    places = [
        (block, pinch, piece, variety)
        for block in range(1, 4)
        for pinch in ("yes", "no")
        for piece in range(4)
        for variety in ("A", "B")
    ]
    columns: dict[str, list[Any]] = {
        "pinch": [pinch for _, pinch, _, _ in places],
        "feed": ["much" if piece % 2 else "little" for _, _, piece, _ in places],
        "variety": [variety for *_, variety in places],
        "yield": np.random.default_rng(3).integers(20, 60, len(places)).tolist(),
    }
    ground: dict[str, list[Any]] = {
        "block": [block for block, *_ in places],
        "whole_plot": [pinch for _, pinch, *_ in places],
        "split_plot": [piece for _, _, piece, _ in places],
    }
    farm.load(factors, columns, ground)
    found = farm.compare()
    assert found.layout.kind is LayoutKind.SPLIT_SPLIT_PLOT
    (feed,) = [factor for factor in found.layout.factors if factor.name == "feed"]
    assert feed.units_per_level == (12, 12)


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("column", "", "has a row but no column"),
        ("row", "", "has a column but no row"),
    ],
)
def test_a_row_without_its_column_is_refused(farm: Farm, column: str, cell: str, said: str) -> None:
    (case,) = [case for case in CASES if case.name == "cucumber_latin_square"]
    columns = case.columns()
    ground = {part: list(columns[part]) for part in ("row", "column")}
    ground[column][4] = cell
    with pytest.raises(RecordsRefused, match=rf"plots\.csv, row 6, column {column}: .*{said}"):
        farm.load(case.factors, columns, ground)


def test_a_split_plot_with_two_levels_is_refused(farm: Farm) -> None:
    (case,) = [case for case in CASES if case.name == "rice_split_split_plot"]
    columns = case.columns()
    ground = named_units(case, columns)
    columns["management"][0] = "optimum"
    with pytest.raises(RecordsRefused, match="Split plot '0-minimum' has another level"):
        farm.load(case.factors, columns, ground)
