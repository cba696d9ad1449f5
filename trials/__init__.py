"""Tallybed in Python: any table compared, a farm's store as one object, and what they give.

Names are fetched when first used, so that importing this costs nothing. Words for results are in
``trials.report``, everything else that a grower does in ``trials.season``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.model.lazy_imports import door

if TYPE_CHECKING:
    from trials.decide import Choice as Choice
    from trials.decide import Ordering as Ordering
    from trials.decide import Rules as Rules
    from trials.decide import Sowing as Sowing
    from trials.errors import ComparisonRefused as ComparisonRefused
    from trials.errors import OrderImpossible as OrderImpossible
    from trials.errors import PlanRefused as PlanRefused
    from trials.errors import RecordsHeld as RecordsHeld
    from trials.errors import RecordsRefused as RecordsRefused
    from trials.errors import StoreRefused as StoreRefused
    from trials.errors import TableUnclear as TableUnclear
    from trials.errors import TallybedError as TallybedError
    from trials.errors import TrialState as TrialState
    from trials.errors import UnknownName as UnknownName
    from trials.model.trial import Trial as Trial
    from trials.records.mapping.guess import ReadingNeeded as ReadingNeeded
    from trials.report.result import Result as Result
    from trials.season.farm import Farm as Farm
    from trials.season.farm import compare as compare
    from trials.stats.design.table import RowsAre as RowsAre

    __version__: str

__all__, _fetch = door(__name__, __file__)


def __getattr__(name: str) -> object:
    if name == "__version__":
        from importlib.metadata import version

        return version("tallybed")
    return _fetch(name)
