"""What a comparison says, as values: the parts of a ``Comparison`` and nothing that computes them.

A figure that does not exist is None, never NaN. ``Levels`` names treatment levels as
``((factor, level), ...)`` in the order of the treatment columns.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from trials.stats.what_was_tested import Levels, Solid, TermTest, Trend, WhatWasTested


class LayoutKind(StrEnum):
    """The layouts a comparison can be made of."""

    COMPLETELY_RANDOMISED = "completely randomised"
    COMPLETE_BLOCKS = "complete blocks"
    LATIN_SQUARE = "latin square"
    ROW_COLUMN = "rows and columns"
    INCOMPLETE_BLOCKS = "incomplete blocks"
    AUGMENTED_BLOCKS = "augmented blocks"
    SPLIT_PLOT = "split-plot"
    SPLIT_SPLIT_PLOT = "split-split-plot"
    STRIPS = "strips"
    SIDE_BY_SIDE = "side by side without replication"


class Method(StrEnum):
    """How the adjusted means and their errors were found."""

    LEAST_SQUARES = "least squares"
    STRATA = "strata"
    REML = "REML + Kenward-Roger"
    REML_STRATA = "REML + errors by strata"
    DESCRIPTION = "description only"


class Verdict(StrEnum):
    """What a pair comes to, in the grower's words."""

    MORE = "more"
    LESS = "less"
    SAME = "the same for your purpose"
    UNKNOWN = "cannot tell yet"


@dataclass(frozen=True, slots=True)
class FactorUnits:
    """A factor, the unit it was applied to, and how many units carry each level."""

    name: str
    levels: tuple[str, ...]
    unit: str
    units_per_level: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NotReplicated:
    """A factor the layout cannot test: why, and the cheapest layout that could."""

    factor: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Layout:
    """What the recorded layout is and what it can answer."""

    kind: LayoutKind
    factors: tuple[FactorUnits, ...]
    not_replicated: tuple[NotReplicated, ...] = ()
    confounded: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Component:
    """A source of variation, its estimated variance, and its degrees of freedom where exact.

    ``mean_square`` is the stratum's mean square where errors come by strata, else None.
    ``variance`` may be negative where errors come by strata.
    """

    source: str
    variance: float
    df: float | None
    mean_square: float | None = None


@dataclass(frozen=True, slots=True)
class Mean:
    """An adjusted mean; ``se``, ``df`` and the interval are None where the layout carries none.

    ``letters`` compare it with the other levels of its term; in a term of several factors only
    with those that share its levels ``letters_within``.
    """

    term: str
    levels: Levels
    n: int
    mean: float
    se: float | None
    df: float | None
    low: float | None
    high: float | None
    letters: str | None = None
    letters_within: Levels = ()


@dataclass(frozen=True, slots=True)
class Pair:
    """``a`` minus ``b``, with the adjusted p-value and simultaneous interval of its family."""

    term: str
    a: Levels
    b: Levels
    within: Levels
    difference: float
    se: float
    df: float
    t: float
    p: float
    p_adjusted: float
    low: float
    high: float
    verdict: Verdict
    chance_by_randomisation: float | None = None


@dataclass(frozen=True, slots=True)
class AgainstBest:
    """An entry less the best of the others: constrained limits, 0 at one end (Hsu 1984)."""

    term: str
    levels: Levels
    within: Levels
    low: float
    high: float
    could_be_best: bool


@dataclass(frozen=True, slots=True)
class LeastDifference:
    """The least significant difference of a term; a range where it varies with the pair.

    ``comparing`` is the factor whose levels are compared; in a term of several factors, within
    the levels of the others.
    """

    term: str
    value: float | None
    smallest: float | None
    largest: float | None
    shown: bool
    why: str
    comparing: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """Something a reader must know before believing a figure."""

    code: str
    text: str
    plots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitEfficiency:
    """What a plot counts for in a comparison on a size of ground.

    ``efficiency``: how many plots, dealt one by one within the blocks, would tell as much as one
    plot of this layout does about ``factors`` (empty: only how factors of crossing strips act
    together).
    """

    unit: str
    factors: tuple[str, ...]
    efficiency: float


@dataclass(frozen=True, slots=True)
class NoneFound:
    """Levels of which nothing was counted on ``number`` plants (or, of a share, ``every`` one).

    ``bound`` is the exact one-sided limit at 1 - alpha in the measure's unit, an upper one (a
    lower one where ``every``). ``dispersion``: the other plots' variance in multiples of chance;
    ``allowing``: the bound with the number made as many times smaller.
    """

    levels: Levels
    number: float
    every: bool
    bound: float
    dispersion: float | None
    allowing: float


@dataclass(frozen=True, slots=True)
class OwnResult:
    """What one season at one site says by itself, from its own plots and with their error.

    ``season`` and ``site`` are None where they did not vary. ``why_not`` says why there is no
    result, or none with errors; '' otherwise.
    """

    season: str | None
    site: str | None
    plots: int
    method: Method
    tests: tuple[TermTest, ...]
    means: tuple[Mean, ...]
    all_pairs: tuple[Pair, ...]
    why_not: str = ""

    @property
    def name(self) -> str:
        """'2025', 'Hillfoot' or '2025 at Hillfoot'."""
        return " at ".join(part for part in (self.season, self.site) if part is not None)


@dataclass(frozen=True, slots=True)
class Predicted:
    """An entry's mean over seasons like these, drawn towards the mean of all entries.

    ``lead`` is its distance from the mean of the entries, with ``se`` the error of prediction.
    ``reliability``: 1 - mean error variance of its differences from the others / (2 x variance
    between entries) (Schmidt, Hartung, Bennewitz & Piepho 2019). ``low`` and
    ``high`` hold its mean in a next season, ``lead_low`` and ``lead_high`` its lead then; None
    where seasons did not vary.
    """

    level: str
    mean: float
    lead: float
    se: float
    reliability: float
    low: float | None
    high: float | None
    lead_low: float | None
    lead_high: float | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """The entries of a factor as a sample of such entries: predictions, best first.

    ``reliability`` is the mean of the entries' (Cullis, Smith & Coombes 2006). ``entry_sd``,
    ``swing_sd`` and ``level_sd`` are the standard deviations between entries, of an entry from
    season to season, and of the seasons' general level; the last two are None where they cannot
    be seen.
    """

    factor: str
    entries: tuple[Predicted, ...]
    reliability: float
    entry_sd: float
    swing_sd: float | None
    level_sd: float | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class OverSeasons:
    """Each season's own result, what cannot be told apart, and what a next season may bring."""

    own: tuple[OwnResult, ...]
    not_told_apart: tuple[str, ...]
    ranking: Ranking | None
    why_no_ranking: str = ""


@dataclass(frozen=True, slots=True)
class TooShort:
    """A level of which fewer than half of the graded stems are long enough to sell.

    It is compared as all are, but is not in the running for the best. ``share`` is the marketable
    part of its graded stems.
    """

    factor: str
    level: str
    share: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that one measure of one trial can honestly be made to say.

    On a ``scale`` other than "as measured", means and their limits are in the measure's unit
    (medians); differences, their limits and the margin are ratios on the log scale, odds ratios
    on the logit scale, and differences of square roots on theirs; standard errors, components and
    residuals stay on the scale.

    ``conservative_pairs`` are the terms whose pairs were too many to be judged by their own errors
    exactly: their adjusted p-values are a little too large, never too small.
    """

    measure: str
    unit: str
    plots: int
    alpha: float
    layout: Layout
    method: Method
    residual_df: float | None
    components: tuple[Component, ...]
    tests: tuple[TermTest, ...]
    means: tuple[Mean, ...]
    all_pairs: tuple[Pair, ...]
    with_check: tuple[Pair, ...]
    with_best: tuple[AgainstBest, ...]
    least_differences: tuple[LeastDifference, ...]
    cv_percent: float | None
    grand_mean: float
    relative_efficiency: float | None
    solid: Solid
    cautions: tuple[Caution, ...]
    check: str | None = None
    better: str = "higher"
    margin: float | None = None
    scale: str = "as measured"
    over_seasons: OverSeasons | None = None
    unit_efficiencies: tuple[UnitEfficiency, ...] = ()
    none_found: tuple[NoneFound, ...] = ()
    conservative_pairs: tuple[str, ...] = ()
    tested: WhatWasTested = field(default_factory=WhatWasTested)
    too_short: tuple[TooShort, ...] = ()
    trends: tuple[Trend, ...] = ()
