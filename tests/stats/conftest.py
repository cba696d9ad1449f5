"""Published trials as columns, groupings and the figures printed with them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Floats, Labels

REFERENCE = Path(__file__).parent.parent / "reference"


@dataclass(frozen=True, slots=True)
class Published:
    """One file of tests/reference."""

    columns: dict[str, list[Any]]
    expect: dict[str, Any]

    @property
    def y(self) -> Floats:
        return np.array(self.columns["yield"], dtype=float)

    def labels(self, *names: str) -> Labels:
        """The columns ``names`` crossed, the last one changing fastest in the order of levels."""
        parts = [Labels.of(name, self.columns[name]) for name in names]
        codes = np.ravel_multi_index(
            tuple(part.codes for part in parts), tuple(len(part.levels) for part in parts)
        )
        levels = [""]
        for part in parts:
            levels = [f"{a}:{b}".strip(":") for a in levels for b in part.levels]
        return Labels(" ".join(names), tuple(levels), codes)

    def grouping(self, *names: str) -> Grouping:
        labels = self.labels(*names)
        return Grouping(labels.name, labels.codes, len(labels.levels))


@pytest.fixture
def published() -> Callable[[str], Published]:
    def read(name: str) -> Published:
        document = json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))
        columns = dict(zip(document["columns"], zip(*document["rows"], strict=True), strict=True))
        return Published({key: list(column) for key, column in columns.items()}, document["expect"])

    return read


@pytest.fixture
def contrasts() -> Callable[[int], Floats]:
    """Differences (k - 1, k) of the first of k from each other."""

    def differences(k: int) -> Floats:
        return np.hstack([np.ones((k - 1, 1)), -np.eye(k - 1)])

    return differences


@pytest.fixture
def pairs() -> Callable[[int], Floats]:
    """Every pair of k."""

    def every(k: int) -> Floats:
        first, second = np.triu_indices(k, 1)
        return np.eye(k)[first] - np.eye(k)[second]

    return every
