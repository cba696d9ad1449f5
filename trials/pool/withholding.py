"""Whether published figures, all of them together, give away a few farms: by linear differencing.

A figure is a weighted sum of farms' means. Whoever knows every weight can add and subtract figures,
of this publication and of earlier ones, until only some farms are left. Suppose the farms fall into
K groups such that each group by itself has the rank of all figures. A sum of figures that rests on
fewer than K farms leaves one group untouched, and so is 0 on a group of full rank: it is 0
everywhere. So where such groups exist, no sum of figures rests on fewer than K farms.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from trials.stats.design.table import Floats

_RANK = 1e-4  # of the largest weight: a farm that hardly counts protects nobody


def rest_on_enough(weights: Mapping[str, Floats], fewest: int) -> bool:
    """Whether no combination of figures rests on fewer than ``fewest`` farms.

    ``weights`` has each farm's weights (figures, its means). Groups of farms are looked for one
    farm after another; where the search finds none the answer is no, which may be too careful.
    """
    if len(weights) < fewest:
        return False
    farms = sorted(weights, key=lambda farm: (-_size(weights[farm]), farm))
    whole = np.hstack([weights[farm] for farm in farms])
    tolerance = _RANK * float(np.abs(whole).max(initial=0.0))
    target = _basis(whole, tolerance).shape[1]
    if target == 0:
        return True
    groups = [np.zeros((len(whole), 0)) for _ in range(fewest)]
    for farm in farms:
        fresh = [_basis(_beyond(weights[farm], group), tolerance) for group in groups]
        gains = [each.shape[1] for each in fresh]
        place = max(range(fewest), key=lambda g: (gains[g] > 0, -groups[g].shape[1], gains[g]))
        groups[place] = np.hstack([groups[place], fresh[place]])
        if all(group.shape[1] >= target for group in groups):
            return True
    return False


def _size(weights: Floats) -> float:
    return float(np.linalg.norm(weights))


def _beyond(weights: Floats, group: Floats) -> Floats:
    return np.asarray(weights - group @ (group.T @ weights))


def _basis(columns: Floats, tolerance: float) -> Floats:
    """An orthonormal basis of what the columns span, for all that matters."""
    left, size, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(left[:, size > tolerance])
