"""Plans of trials to be laid out, with everything that does not matter filled in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import pytest

from trials.layout.plan import Bed, PlannedLayout, PlannedPlot, Planting, TrialPlan
from trials.model.trial import AppliedTo, Factor
from trials.stats.results import LayoutKind


class Planner:
    """Makes plans of plots of 1.8 m: 16 plants in 4 rows at 30 cm, and a guard at each end."""

    def factor(self, count: int, name: str = "variety", on: AppliedTo = AppliedTo.PLOT) -> Factor:
        return Factor(name, tuple(f"{name} {i}" for i in range(1, count + 1)), on)

    def beds(self, count: int, length_m: float, width_m: float = 1.2) -> tuple[Bed, ...]:
        return tuple(Bed(f"Bed {i}", length_m, width_m) for i in range(1, count + 1))

    def plan(
        self,
        kind: LayoutKind,
        *factors: Factor,
        replicates: int = 4,
        beds: Sequence[Bed] | None = None,
        **more: Any,
    ) -> TrialPlan:
        usual: dict[str, Any] = {
            "code": "trial",
            "season": 2027,
            "site": "field",
            "crop": "cosmos",
            "question": "Which?",
            "checks": (),
            "planting": Planting(rows=4, spacing_cm=30),
            "plants_per_plot": 16,
            "guard_plants": 1,
            "primary_measure": "stems_per_plant",
            "alpha": 0.05,
            "margin": None,
            "minimum_length_cm": 40.0,
            "grades_cm": (30, 40, 50),
            "seed": 1,
        }
        return TrialPlan(
            kind=kind,
            factors=factors,
            replicates=replicates,
            beds=tuple(self.beds(10, 60) if beds is None else beds),
            **usual | more,
        )

    def one_of_each_kind(self) -> tuple[TrialPlan, ...]:
        kinds, on = LayoutKind, AppliedTo
        varieties = self.factor(6)
        checks = varieties.levels[:2]
        whole = self.factor(2, "pinch", on.WHOLE_PLOT)
        split = self.factor(3, "feed", on.SPLIT_PLOT)
        strips = (self.factor(2, "cover", on.STRIP), self.factor(3, "sowing", on.STRIP))
        return (
            self.plan(kinds.COMPLETELY_RANDOMISED, varieties),
            self.plan(kinds.COMPLETE_BLOCKS, varieties),
            self.plan(kinds.LATIN_SQUARE, varieties, replicates=6),
            self.plan(kinds.ROW_COLUMN, varieties),
            self.plan(kinds.INCOMPLETE_BLOCKS, varieties, replicates=5, block_size=2),
            self.plan(kinds.AUGMENTED_BLOCKS, self.factor(14), checks=checks),
            self.plan(kinds.SPLIT_PLOT, whole, varieties),
            self.plan(kinds.SPLIT_SPLIT_PLOT, whole, split, varieties),
            self.plan(kinds.STRIPS, *strips),
        )


def by(layout: PlannedLayout, *parts: str) -> dict[tuple[str, ...], list[PlannedPlot]]:
    """The plots of each block (or other part of the layout), in walking order."""
    held: dict[tuple[str, ...], list[PlannedPlot]] = defaultdict(list)
    for plot in layout.plots:
        held[tuple(str(getattr(plot, part)) for part in parts)].append(plot)
    return dict(held)


@pytest.fixture
def planner() -> Planner:
    return Planner()


@pytest.fixture
def parts() -> Any:
    """The function ``by``."""
    return by
