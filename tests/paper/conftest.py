"""Planned layouts made by hand, to be printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property
from itertools import product
from pathlib import Path

import pytest
from pypdf import PdfReader

from trials.layout.plan import Bed, PlannedLayout, PlannedPlot, Planting, TrialPlan
from trials.model.trial import AppliedTo, Factor
from trials.stats.results import LayoutKind

BED_NAMES = "ABCDEFGHIJKL"


class Layouts:
    """Makes layouts of a kind and size."""

    long_name = "Grandiflora-Übermäßig-Långnamn Nr. 17 (double, dark centre)"

    def entries(self, count: int) -> tuple[str, ...]:
        return tuple(f"Variety {number:02d}" for number in range(1, count + 1))

    def plan(
        self, entries: Sequence[str], replicates: int, beds: int, bed_length_m: float
    ) -> TrialPlan:
        return TrialPlan(
            code="Z27",
            season=2027,
            site="Low Field",
            crop="zinnia",
            question="Which zinnia gives the most stems we can sell?",
            kind=LayoutKind.COMPLETE_BLOCKS,
            factors=(Factor("variety", tuple(entries), AppliedTo.PLOT),),
            checks=(entries[0],),
            replicates=replicates,
            beds=tuple(Bed(f"Bed {name}", bed_length_m, 1.2) for name in BED_NAMES[:beds]),
            planting=Planting(4, 30),
            plants_per_plot=16,
            guard_plants=1,
            primary_measure="stems_per_plant",
            alpha=0.05,
            margin=None,
            minimum_length_cm=40,
            grades_cm=(30, 40, 50, 60),
            seed=7,
            transplant_on=date(2027, 5, 20),
        )

    def blocks(
        self,
        entries: Sequence[str] | int,
        replicates: int,
        *,
        beds: int = 2,
        guard_m: float = 0.3,
        net_m: float = 1.2,
    ) -> PlannedLayout:
        """Complete blocks, walked up one bed and down the next."""
        names = self.entries(entries) if isinstance(entries, int) else tuple(entries)
        order = [
            (block, place, names[(place + block * block - 1) % len(names)])
            for block in range(1, replicates + 1)
            for place in range(len(names))
        ]
        per_bed = -(-len(order) // beds)
        length = net_m + 2 * guard_m
        plots = []
        for index, (block, number, entry) in enumerate(order):
            bed, place = divmod(index, per_bed)
            at = place if bed % 2 == 0 else per_bed - 1 - place
            plots.append(
                PlannedPlot(
                    code=f"Z{100 * block + number + 1}",
                    bed=f"Bed {BED_NAMES[bed]}",
                    position=index + 1,
                    start_m=round(at * length, 3),
                    length_m=length,
                    net_length_m=net_m,
                    net_area_m2=net_m * 1.2,
                    plants_set=16,
                    levels=(("variety", entry),),
                    block=str(block),
                )
            )
        return PlannedLayout(self.plan(names, replicates, beds, per_bed * length), tuple(plots))

    def whole_plots(self) -> PlannedLayout:
        """Two blocks of two whole plots of three varieties, one bed, free ground at both ends."""
        varieties = ("Ember", "Frost Fern", "Tallow")
        treatments = product((1, 2), ("pinched", "not pinched"), varieties)
        plots = [
            PlannedPlot(
                code=f"P{index + 1:02d}",
                bed="North",
                position=index + 1,
                start_m=2 + index * 2.0,
                length_m=2.0,
                net_length_m=1.5,
                net_area_m2=1.8,
                plants_set=20,
                levels=(("pinch", pinch), ("spacing_cm", "20"), ("variety", variety)),
                block=str(block),
                whole_plot="1" if pinch == "pinched" else "2",
            )
            for index, (block, pinch, variety) in enumerate(treatments)
        ]
        plan = replace(
            self.plan(varieties, 2, 1, 30),
            code="P27",
            kind=LayoutKind.SPLIT_PLOT,
            beds=(Bed("North", 30, 1.2),),
            factors=(
                Factor("pinch", ("pinched", "not pinched"), AppliedTo.WHOLE_PLOT),
                Factor("variety", varieties, AppliedTo.PLOT),
            ),
        )
        return PlannedLayout(plan, tuple(plots))

    def renamed(self, layout: PlannedLayout, code: str) -> PlannedLayout:
        """The layout with another code for its first plot."""
        first, *others = layout.plots
        return replace(layout, plots=(replace(first, code=code), *others))


class Printed:
    """What can be read off a printed document."""

    def __init__(self, path: Path) -> None:
        self.reader = PdfReader(path)

    @cached_property
    def pages(self) -> list[str]:
        return [page.extract_text() for page in self.reader.pages]

    @cached_property
    def words(self) -> str:
        """The text of all pages, on one line."""
        return " ".join(" ".join(self.pages).split())

    @property
    def size_mm(self) -> tuple[float, float]:
        box = self.reader.pages[0].mediabox
        return round(float(box.width) * 25.4 / 72, 1), round(float(box.height) * 25.4 / 72, 1)

    def overrun(self, margin_mm: float = 0) -> list[str]:
        """The pieces of text that do not start within the page."""
        found: list[str] = []
        for page in self.reader.pages:
            width, height = float(page.mediabox.width), float(page.mediabox.height)
            margin = margin_mm * 72 / 25.4

            def visit(
                text: str,
                cm: list[float],
                tm: list[float],
                *_: object,
                width: float = width,
                height: float = height,
                margin: float = margin,
            ) -> None:
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                within = margin <= x <= width - margin and margin <= y <= height - margin
                if text.strip() and not within:
                    found.append(text)

            page.extract_text(visitor_text=visit)
        return found


@pytest.fixture
def layouts() -> Layouts:
    return Layouts()


@pytest.fixture
def printed() -> type[Printed]:
    return Printed
