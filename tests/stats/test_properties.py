"""What must not change a verdict: the order of rows, names, units, and copies."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.errors import ComparisonRefused
from trials.model.trial import AppliedTo
from trials.stats import Question, compare
from trials.stats.design.table import Floats, Labels, PlotTable, Treatment
from trials.stats.results import Comparison


@dataclass(frozen=True)
class Trial:
    """An invented trial whose columns can be shuffled, renamed and rescaled."""

    columns: dict[str, list[Any]]
    treatments: tuple[tuple[str, AppliedTo], ...]
    parts: dict[str, str]
    y: Floats

    def table(
        self, rows: list[int] | None = None, rename: str = "", y: Floats | None = None
    ) -> PlotTable:
        order = list(range(self.y.size)) if rows is None else rows
        names = {name for name, _ in self.treatments}

        def labels(name: str) -> Labels:
            prefix = rename if name in names else ""
            return Labels.of(name, [f"{prefix}{self.columns[name][i]}" for i in order])

        return PlotTable(
            "yield",
            "kg",
            (self.y if y is None else y)[order],
            tuple(Treatment(labels(name), on) for name, on in self.treatments),
            tuple(f"P{i}" for i in order),
            **{part: labels(name) for part, name in self.parts.items()},  # type: ignore[arg-type]
        )


def trial(
    parts: dict[str, str], treatments: tuple[tuple[str, AppliedTo], ...], seed: int, **factors: Any
) -> Trial:
    rows = list(itertools.product(*factors.values()))
    columns = dict(zip(factors, map(list, zip(*rows, strict=True)), strict=True))
    rng = np.random.default_rng(seed)
    y = rng.normal(20, 1, len(rows))
    for values in columns.values():
        _, codes = np.unique(values, return_inverse=True)
        y += rng.normal(0, 1.5, codes.max() + 1)[codes]
    return Trial(columns, treatments, parts, y)


PLOT, WHOLE, STRIP = AppliedTo.PLOT, AppliedTo.WHOLE_PLOT, AppliedTo.STRIP
TRIALS = {
    "completely randomised": trial({}, (("entry", PLOT),), 1, entry="uvwx", copy=[1, 2, 3]),
    "complete blocks": trial({"block": "b"}, (("entry", PLOT),), 2, b=[1, 2, 3], entry="uvwx"),
    "split-plot": trial(
        {"block": "b"},
        (("pinch", WHOLE), ("entry", PLOT)),
        3,
        b=[1, 2, 3],
        pinch=["no", "yes"],
        entry="uvw",
    ),
    "strips": trial(
        {"block": "b"},
        (("netting", STRIP), ("pinch", STRIP)),
        4,
        b=[1, 2, 3, 4],
        netting="xyz",
        pinch=["no", "yes"],
    ),
}
each_trial = pytest.mark.parametrize("name", TRIALS)
QUESTION = Question()


def figures(found: Comparison) -> dict[str, Floats]:
    """All figures that a change of unit or origin must leave alone, by kind."""
    return {
        "tests": np.array([(t.F, t.p, t.num_df, t.den_df) for t in found.tests]),
        "t": np.array([(p.t, p.df, p.p, p.p_adjusted) for p in found.all_pairs]),
        "best": np.array([row.could_be_best for row in found.with_best], dtype=float),
    }


def lengths(found: Comparison) -> Floats:
    """All figures in the unit of the measure that an origin does not move."""
    pairs = [(p.difference, p.se, p.low, p.high) for p in found.all_pairs]
    return np.concatenate(
        [
            np.ravel(pairs),
            np.ravel([(row.low, row.high) for row in found.with_best]),
            np.ravel([mean.se for mean in found.means]).astype(float),
        ]
    )


def means(found: Comparison) -> Floats:
    return np.ravel([(mean.mean, mean.low, mean.high) for mean in found.means]).astype(float)


def same(a: Comparison, b: Comparison) -> None:
    for kind, values in figures(a).items():
        assert figures(b)[kind] == pytest.approx(values, rel=1e-7, abs=1e-7), kind


@each_trial
@settings(max_examples=8, deadline=None)
@given(data=st.data())
def test_the_order_of_rows_does_not_matter(name: str, data: st.DataObject) -> None:
    given_trial = TRIALS[name]
    shuffled = data.draw(st.permutations(range(given_trial.y.size)))
    plain, other = (compare(given_trial.table(rows), QUESTION) for rows in (None, list(shuffled)))
    same(plain, other)
    assert means(other) == pytest.approx(means(plain))
    assert [mean.letters for mean in other.means] == [mean.letters for mean in plain.means]


@each_trial
def test_names_of_levels_do_not_matter(name: str) -> None:
    plain = compare(TRIALS[name].table(), QUESTION)
    renamed = compare(TRIALS[name].table(rename="Variety "), QUESTION)
    same(plain, renamed)
    assert [m.letters for m in renamed.means] == [m.letters for m in plain.means]
    assert renamed.means[0].levels[0][1].startswith("Variety ")


@each_trial
@settings(max_examples=8, deadline=None)
@given(factor=st.floats(1e-3, 1e3))
def test_the_unit_does_not_matter(name: str, factor: float) -> None:
    plain = compare(TRIALS[name].table(), QUESTION)
    scaled = compare(TRIALS[name].table(y=TRIALS[name].y * factor), QUESTION)
    same(plain, scaled)
    assert lengths(scaled) == pytest.approx(lengths(plain) * factor, rel=1e-7, abs=1e-7 * factor)
    assert means(scaled) == pytest.approx(means(plain) * factor)
    assert scaled.cv_percent == pytest.approx(plain.cv_percent)
    assert scaled.relative_efficiency == pytest.approx(plain.relative_efficiency)


@each_trial
@settings(max_examples=8, deadline=None)
@given(shift=st.floats(-1000, 1000))
def test_a_shift_moves_only_the_means(name: str, shift: float) -> None:
    plain = compare(TRIALS[name].table(), QUESTION)
    moved = compare(TRIALS[name].table(y=TRIALS[name].y + shift), QUESTION)
    same(plain, moved)
    assert lengths(moved) == pytest.approx(lengths(plain), rel=1e-6, abs=1e-6)
    assert means(moved) == pytest.approx(means(plain) + shift, rel=1e-7, abs=1e-6)


@each_trial
def test_copies_of_the_rows_are_no_replicates(name: str) -> None:
    given_trial = TRIALS[name]
    twice = list(range(given_trial.y.size)) * 2
    with pytest.raises(ComparisonRefused, match="2 times"):
        compare(given_trial.table(twice), QUESTION)


@each_trial
def test_samples_of_a_plot_are_worth_one_plot(name: str) -> None:
    """Five stems a plot with the plot's own mean give what the plots give."""
    given_trial = TRIALS[name]
    plain = compare(given_trial.table(), QUESTION)
    n = given_trial.y.size
    spread = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    stems = Trial(
        {
            **{
                key: [v for v in values for _ in spread]
                for key, values in given_trial.columns.items()
            },
            "plot": [i for i in range(n) for _ in spread],
        },
        given_trial.treatments,
        {**given_trial.parts, "plot": "plot"},
        (given_trial.y[:, None] + spread).ravel(),
    )
    found = compare(stems.table(), QUESTION)
    assert found.plots == n
    same(plain, found)
    assert means(found) == pytest.approx(means(plain))


@each_trial
def test_the_table_agrees_with_the_comparisons_under_it(name: str) -> None:
    """A two-level factor's F is the square of its only pair's t."""
    found = compare(TRIALS[name].table(), QUESTION)
    for factor in found.layout.factors:
        if len(factor.levels) == 2:
            (pair,) = [p for p in found.all_pairs if p.term == factor.name]
            (test,) = [t for t in found.tests if t.term == factor.name]
            assert pytest.approx(pair.t**2) == test.F
            assert test.p == pytest.approx(pair.p)
