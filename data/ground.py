"""Lays out the invented trials: the draws of chance, and where each plot came to lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from invention import BY_NAME, CROPS, ROWS_A_BED, Plan, Variety
from numpy.typing import NDArray

CODE_DIGITS = "23456789"  # no 0 or 1, and no letters O or I: a smudged tag still reads one way

Floats = NDArray[np.float64]
Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Draws:
    """The chance in one trial."""

    generator: np.random.Generator

    @classmethod
    def of(cls, seed: int, stream: int) -> Draws:
        return cls(np.random.Generator(np.random.PCG64([seed, stream])))

    def uniform(self, n: int = 1) -> Floats:
        return self.generator.random(n)

    def normal(self, n: int = 1) -> Floats:
        """Near-normal deviates without a logarithm: twelve uniforms less six."""
        total = np.zeros(n)
        for row in self.generator.random((12, n)):
            total = total + row  # one at a time: the order of a sum is part of its last bit
        return total - 6.0

    def factor(self, spread: float) -> float:
        """A multiplier about 1."""
        return 1.0 + spread * float(self.normal()[0])

    def shuffled(self, things: Sequence[Thing]) -> list[Thing]:
        return [things[i] for i in np.argsort(self.uniform(len(things)), kind="stable")]

    def count(self, expected: float, dispersion: float) -> int:
        """A count whose variance is ``dispersion`` times its mean."""
        if expected <= 0:
            return 0
        spread = float(np.sqrt(expected * dispersion))
        return max(0, int(np.floor(expected + spread * float(self.normal()[0]) + 0.5)))


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot on the ground, with the luck of its place."""

    code: str
    block: str | None
    whole_plot: str | None
    bed: str
    position: int
    variety: Variety
    whole_level: str | None
    spacing_cm: int
    plants_set: int
    ground: float  # stems, as a multiple: block, whole plot and plot together
    ground_length: float


def plot_code(letter: str, season: int, number: int) -> str:
    """A code such as C6345: crop, last digit of the year, a number in the digits 2 to 9."""
    digits = ""
    for _ in range(3):
        number, digit = divmod(number, len(CODE_DIGITS))
        digits = CODE_DIGITS[digit] + digits
    return f"{letter}{season % 10}{digits}"


def lay_out(plan: Plan, draws: Draws, first_number: int) -> list[Plot]:
    """Randomise each block (whole plots, then the plots inside) and number plots as one walks.

    Positions run on from bed to bed in the order of the walk: up the first bed, down the next.
    """
    whole_name, levels = plan.whole_plots or ("", (None,))
    inside = [
        (BY_NAME[entry], spacing) for entry in plan.entries for spacing in plan.spacings_cm or (30,)
    ]
    blocks_a_bed = plan.blocks // len(plan.beds)
    plots: list[Plot] = []
    for block in range(plan.blocks):
        block_luck, block_length = draws.factor(0.07), draws.factor(0.025)
        for place, level in enumerate(draws.shuffled(levels)):
            luck, length = draws.factor(0.05), draws.factor(0.015)
            for variety, spacing in draws.shuffled(inside):
                places = int(plan.net_length_m * 100) // spacing
                plots.append(
                    Plot(
                        plot_code(CROPS[plan.crop].letter, plan.season, first_number + len(plots)),
                        str(block + 1) if plan.blocks > 1 else None,
                        f"{block + 1}{'ab'[place]}" if whole_name else None,
                        plan.beds[block // blocks_a_bed],
                        len(plots) + 1,
                        variety,
                        level,
                        spacing,
                        places * ROWS_A_BED,
                        block_luck * (luck if whole_name else 1.0) * draws.factor(0.085),
                        block_length * (length if whole_name else 1.0) * draws.factor(0.045),
                    )
                )
    return plots
