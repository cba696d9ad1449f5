"""How differences are written on the scale they were found on: amounts, or ratios."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trials.report.figures import Figures, decimals_of
from trials.stats.design.table import Scale
from trials.stats.results import Comparison, Pair, Verdict


@dataclass(frozen=True, slots=True)
class Differences:
    """A comparison's differences as they are written.

    ``noun`` names them in a heading. On a ratio scale no difference is 1, and turning a pair
    round gives one over the ratio.
    """

    noun: str
    figures: Figures
    ratio: bool = False

    def size(self, pair: Pair) -> float:
        """How far a pair is from no difference, on the scale it was found on."""
        return abs(math.log(pair.difference)) if self.ratio else abs(pair.difference)

    def rises(self, pair: Pair) -> bool:
        """Whether ``a`` is not below ``b``."""
        return pair.difference >= (1.0 if self.ratio else 0.0)

    def turned(self, value: float) -> float:
        """The same difference or limit with the pair turned round."""
        if not self.ratio:
            return -value
        return 1.0 / value if value > 0 else math.inf

    def signed(self, value: float) -> str:
        """A difference with its sign, or a ratio with its cross."""
        return f"× {self.figures.number(value)}" if self.ratio else self.figures.signed(value)

    def at_least(self, pair: Pair) -> float:
        """The limit nearest to no difference, the higher level first."""
        return pair.low if pair.verdict is Verdict.MORE else self.turned(pair.high)

    def estimate(self, pair: Pair) -> float:
        """The difference, the higher level first."""
        return pair.difference if self.rises(pair) else self.turned(pair.difference)

    def reach(self, pair: Pair) -> float:
        """Half the width of a pair's limits; of a ratio, what its limits are multiplied by."""
        if not self.ratio:
            return (pair.high - pair.low) / 2
        return math.sqrt(pair.high) / math.sqrt(pair.low) if pair.low > 0 else math.inf


def differences_of(comparison: Comparison, figures: Figures) -> Differences:
    """The way a comparison's differences are written, given that of its means."""
    scale = Scale(comparison.scale)
    if scale is Scale.IDENTITY:
        return Differences("difference", figures.apart)
    errors = [pair.se for pair in comparison.all_pairs if pair.se > 0]
    decimals = decimals_of(min(errors)) if errors else 2
    if scale is Scale.SQUARE_ROOT:
        return Differences("difference of roots", Figures("", 1.0, decimals))
    noun = "ratio" if scale is Scale.LOG else "odds ratio"
    return Differences(noun, Figures("", 1.0, max(decimals, 2)), ratio=True)


# Units of measures that a level gives so many more of: '4.0 more stems per plant'.
_COUNTED = frozenset({"stems/plant", "stems/plant set", "stems/m"})


def surest_words(
    comparison: Comparison, pair: Pair, higher: str, lower: str, how: Differences, within: str = ""
) -> str:
    """The sentence on a pair that differs: its estimate, then its nearest limit.

    ``within`` names the level of another factor that the pair was compared in.
    """
    least = how.figures.limit(how.at_least(pair), neutral=1.0 if how.ratio else 0.0)
    number = how.figures.number(how.estimate(pair))
    match Scale(comparison.scale):
        case Scale.LOG:
            said = f"{higher} is about {number} times {lower}, and at least {least} times"
        case Scale.LOGIT:
            said = (
                f"the odds of {higher} are about {number} times those of {lower}, and at least "
                f"{least} times"
            )
        case Scale.SQUARE_ROOT:
            said = (
                f"the square root of {higher} is about {number} above that of {lower}, and at "
                f"least {least} above it"
            )
        case Scale.IDENTITY if how.figures.unit in _COUNTED:
            least = least.removesuffix(how.figures.unit).strip()
            said = (
                f"{higher} gave about {number} more {comparison.measure} than {lower}, and at "
                f"least {least} more"
            )
            said = f"with {within}, {said}" if within else said
            return f"{said[:1].upper()}{said[1:]}."
        case Scale.IDENTITY:
            about = how.figures.amount(how.estimate(pair))
            said = f"{higher} is about {about} above {lower}, and at least {least} above it"
    inside = f" with {within}" if within else ""
    return f"In {comparison.measure}{inside}, {said}."
