# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
"""Every published trial's joint tests, and fits away from the bound of a variance.

The figures are read from ``tests/reference``, each file with its citation; they were printed with
the trials, to the digits given there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy import stats

from trials.model.trial import AppliedTo
from trials.stats import PlotTable, Question, compare
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.fit.analysis import fit_of
from trials.stats.fit.reml import reml
from trials.stats.results import Method

if TYPE_CHECKING:
    from tests.stats.conftest import Published

WHOLE, SPLIT, STRIP = AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.STRIP
Test = tuple[float, float, float, float]  # numerator df, denominator df, F, half of F's last digit


@dataclass(frozen=True)
class Trial:
    """A published trial: its layout, and its printed tests by term."""

    file: str
    treatments: tuple[str, ...]
    method: Method
    tests: Callable[[Mapping[str, Any]], dict[str, Test]]
    on: Mapping[str, AppliedTo] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)


EXACT = Method.LEAST_SQUARES
TRIALS = (
    Trial("melon_crd", ("variety",), EXACT, lambda e: {"variety": (3, 20, e["F"], 5e-4)}),
    Trial("four_groups_crd", ("group",), EXACT, lambda e: {"group": (3, 16, e["F"], 5e-5)}),
    Trial(
        "cultivars_rcbd",
        ("cultivar",),
        EXACT,
        lambda e: {"cultivar": (3, 6, e["F"]["cultivar"], 5e-4)},
        parts={"block": "block"},
    ),
    Trial(
        "rice_seed_rate_rcbd",
        ("rate",),
        EXACT,
        lambda e: {"rate": (5, 15, e["F"]["trt"], 5e-5)},
        parts={"block": "block"},
    ),
    Trial(
        "cucumber_latin_square",
        ("genotype",),
        EXACT,
        lambda e: {"genotype": (3, 6, e["F"]["gen"], 5e-7)},
        parts={"row": "row", "column": "column"},
    ),
    Trial(
        "wheat_augmented",
        ("entry",),
        EXACT,
        lambda e: {"entry": (32, 10, e["type2"]["gen"][2], 5e-6)},
        parts={"block": "block"},
    ),
    Trial(
        "oats_split_plot",
        ("variety", "manure"),
        Method.STRATA,
        lambda e: {
            "variety": (*e["F"]["variety"], 5e-5),
            "manure": (*e["F"]["manure"], 5e-4),
            "variety:manure": (*e["F"]["interaction"], 5e-5),
        },
        {"variety": WHOLE},
        {"block": "block"},
    ),
    Trial(
        "rice_nitrogen_split_plot",
        ("nitrogen", "variety"),
        Method.STRATA,
        lambda e: {
            "nitrogen": (5, 10, e["F"]["N"], 5e-4),
            "variety": (3, 36, e["F"]["V"], 5e-4),
            "nitrogen:variety": (15, 36, e["F"]["NV"], 5e-4),
        },
        {"nitrogen": WHOLE},
        {"block": "block"},
    ),
    Trial(
        "rice_split_split_plot",
        ("nitrogen", "management", "variety"),
        Method.STRATA,
        lambda e: {term: (*test, 0.05) for term, test in e["F"].items()},
        {"nitrogen": WHOLE, "management": SPLIT},
        {"block": "block"},
    ),
    Trial(
        "rice_strips",
        ("variety", "nitrogen"),
        Method.STRATA,
        lambda e: {
            "variety": (*e["F"]["variety"], 5e-3),
            "nitrogen": (*e["F"]["nitrogen"], 5e-3),
            "variety:nitrogen": (*e["F"]["interaction"], 5e-3),
        },
        {"variety": STRIP, "nitrogen": STRIP},
        {"block": "block"},
    ),
    Trial(
        "oats_alpha",
        ("variety",),
        Method.REML,
        lambda e: {"variety": (23, e["REML"]["KR_ddf"], e["REML"]["KR_F_gen"], 5e-5)},
        parts={"block": "replicate", "incomplete_block": "block"},
    ),
)


@pytest.mark.parametrize("trial", TRIALS, ids=[trial.file for trial in TRIALS])
def test_the_joint_tests_are_those_printed(
    trial: Trial,
    published: Callable[[str], Published],
    plot_table: Callable[..., PlotTable],
) -> None:
    data = published(trial.file)
    table = plot_table(data.columns, *trial.treatments, on=trial.on, **trial.parts)
    found = compare(table, Question())
    assert found.method is trial.method
    tests = {test.term: test for test in found.tests}
    for term, (num_df, den_df, F, close) in trial.tests(data.expect).items():
        test = tests[term]
        assert test.num_df == num_df
        assert test.den_df == pytest.approx(den_df, abs=5e-5)
        assert test.F == pytest.approx(F, abs=close)
        assert test.p == pytest.approx(stats.f.sf(test.F, num_df, test.den_df), rel=1e-9)


def test_with_a_plot_lost_a_fit_inside_the_bounds_is_kenward_roger_s(
    published: Callable[[str], Published],
) -> None:
    """Yates's whole plots of oats vary by themselves, whichever plot is lost."""
    trial = published("oats_split_plot")
    whole = replace(trial.grouping("block", "variety"), source="whole plot")
    model = LinearModel(
        trial.y, trial.grouping("variety", "manure"), (trial.grouping("block"),), (whole,)
    )
    variety = np.kron(np.array([[1.0, -1, 0], [1, 0, -1]]), np.full((1, 4), 0.25))
    for lost in range(0, 72, 9):
        left = np.arange(72) != lost

        def some(group: Grouping, left: np.ndarray = left) -> Grouping:
            return replace(group, codes=group.codes[left])

        fewer = LinearModel(
            model.y[left], some(model.cells), (some(model.fixed[0]),), (some(whole),)
        )
        fit = fit_of(fewer)
        assert fit.method is Method.REML
        assert fit.components[0].variance > 0
        floored = reml(replace(fewer, random=(replace(fewer.random[0], floored=True),)))
        assert fit.cov == pytest.approx(floored.cov, rel=1e-12)
        joint, plain = fit.df.joint(variety), floored.df.joint(variety)
        assert (joint.F, joint.den_df) == pytest.approx((plain.F, plain.den_df), rel=1e-12)
