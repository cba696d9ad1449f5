from __future__ import annotations

import numpy as np
import pytest

from trials.decide import SeasonMeans
from trials.decide.two_stage import StackedSeasons
from trials.errors import ComparisonRefused


def season(entries: str, year: int = 2024, df: float = 12.0) -> SeasonMeans:
    k = len(entries)
    return SeasonMeans(year, f"t{year}", tuple(entries), np.arange(float(k)), np.eye(k), df)


def test_entries_that_no_chain_connects_are_refused_by_name() -> None:
    with pytest.raises(ComparisonRefused, match=r"a, b \| c, d"):
        StackedSeasons([season("ab"), season("cd", 2025)])
    chained = StackedSeasons([season("ab"), season("cd", 2025), season("bc", 2026)])
    assert chained.entries == ("a", "b", "c", "d")


def test_nothing_to_choose_from_is_refused() -> None:
    with pytest.raises(ComparisonRefused, match="no closed trial"):
        StackedSeasons([])


def test_too_few_degrees_of_freedom_are_refused() -> None:
    with pytest.raises(ComparisonRefused, match="more plots"):
        season("ab", df=1.0)


@pytest.mark.parametrize("broken", [np.nan, 0.0])
def test_means_without_an_error_are_refused(broken: float) -> None:
    with pytest.raises(ComparisonRefused, match="cannot be estimated"):
        SeasonMeans(2024, "t", ("a", "b"), np.array([1.0, 2.0]), np.diag([1.0, broken]), 9.0)


def test_shapes_must_agree() -> None:
    with pytest.raises(ValueError, match="square covariance"):
        SeasonMeans(2024, "t", ("a", "b"), np.array([1.0]), np.eye(2), 9.0)


def test_the_order_in_which_seasons_and_entries_are_listed_does_not_matter() -> None:
    cov = np.array([[1.0, 0.2], [0.2, 2.0]])
    one = SeasonMeans(2024, "t1", ("a", "b"), np.array([3.0, 4.0]), cov, 9.0)
    turned = SeasonMeans(2024, "t1", ("b", "a"), np.array([4.0, 3.0]), cov[::-1, ::-1], 9.0)
    first = StackedSeasons([one, season("abc", 2025)])
    second = StackedSeasons([season("abc", 2025), turned])
    assert np.array_equal(first.y, second.y)
    assert np.array_equal(first.cov, second.cov)
