"""Germination tests against statsmodels and hand-worked replicates."""

from __future__ import annotations

import pytest
from scipy.stats import chi2_contingency
from statsmodels.stats.proportion import proportion_confint

from trials.decide.germination import Replicate, germination


@pytest.mark.parametrize("counts", [(80, 84, 79, 86), (100, 100, 99, 100), (0, 0), (7,)])
def test_the_interval_is_wilson_s(counts: tuple[int, ...]) -> None:
    found = germination([Replicate(100, count) for count in counts])
    low, high = proportion_confint(sum(counts), 100 * len(counts), method="wilson")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)
    assert found.rate == pytest.approx(sum(counts) / (100 * len(counts)))


def test_replicates_are_judged_as_a_table_of_counts() -> None:
    counts, seeds = (80, 84, 79, 60), (100, 100, 100, 80)
    found = germination([Replicate(*pair) for pair in zip(seeds, counts, strict=True)])
    table = [counts, [all_ - up for all_, up in zip(seeds, counts, strict=True)]]
    assert found.chance == pytest.approx(chi2_contingency(table, correction=False).pvalue)
    assert found.agree is True


def test_replicates_that_differ_too_much_do_not_agree() -> None:
    assert germination([Replicate(100, n) for n in (90, 88, 70, 89)]).agree is False
    assert germination([Replicate(50, 40)]).agree is None
    assert germination([Replicate(50, 50), Replicate(50, 50)]).agree is True


def test_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="51 of 50"):
        Replicate(50, 51)
    with pytest.raises(ValueError, match="at least one"):
        germination([])
