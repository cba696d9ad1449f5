"""What was varied in a trial and the ground each factor was given to, read from one line of words.

factors = factor *(";" factor)
factor  = name "on" ("plots" | "whole plots" | "split plots" | "strips")
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from trials.errors import Fault, RecordsRefused
from trials.model.rows import Sheet
from trials.model.trial import MEASURES, AppliedTo
from trials.records.faults import Wrong, nearest, shown
from trials.records.rules.forms import FORMS

GROUND = {f"{unit.value}s": unit for unit in AppliedTo}
_EXAMPLE = "Write it like 'variety on plots' or 'pinch on whole plots; variety on plots'."
# A factor's name heads a column beside these in the sheet of plots and in one row a plot.
_TAKEN = frozenset(
    {
        *FORMS[Sheet.PLOTS].names,
        *(measure.key for measure in MEASURES),
        *("living", "lost_reason", "marketable_stems", "short_stems", "culled_stems"),
        *("first_cut", "last_cut", "cut_on", "outcome", "grade_cm", "stems", "culls"),
        *(
            "plants_of",
            "stake_of",
            "other_plot",
            "cull_reason",
            "missed_picks",
            "unrecorded_picks",
            "season",
            "site",
            "factor",
            "level",
        ),
    }
)


@lru_cache(maxsize=4096)  # every cell is looked at, and most say what others said
def plain_heading(text: str) -> str:
    """A heading as it is compared: small letters, with one underscore between words."""
    return "_".join(text.replace("-", " ").replace("_", " ").casefold().split())


def judge_factors(text: str) -> tuple[tuple[str, AppliedTo], ...] | Wrong:
    """The factors named in the text, in order, or what cannot be read in it."""
    factors: list[tuple[str, AppliedTo]] = []
    for part in filter(str.strip, text.split(";")):
        name, on, ground = (" ".join(part.casefold().split()) + " ").rpartition(" on ")
        name, ground = plain_heading(name), ground.strip()
        if not on or not name:
            return Wrong(f"{shown(part.strip())} does not say what was varied on what.", _EXAMPLE)
        unit = GROUND.get(ground) or GROUND.get(f"{ground}s")
        if unit is None:
            near = nearest(ground, GROUND)
            ask = f"Did you mean {near!r}? " if near else ""
            return Wrong(
                f"{shown(ground)} is not an experimental unit.",
                f"{ask}It is one of: {', '.join(GROUND)}.",
            )
        if not name.replace("_", "").isalnum():
            return Wrong(
                f"A factor cannot be called {shown(name)}.",
                "Use letters, digits and underscores, here and in the heading of the plots.",
            )
        if name in _TAKEN:
            return Wrong(
                f"A factor cannot be called {shown(name)}: that is the name of a column.",
                "Give the factor another name, here and in the heading of the plots.",
            )
        if name in dict(factors):
            return Wrong(f"The factor {shown(name)} is named twice.", "Name each factor once.")
        factors.append((name, unit))
    if not factors:
        return Wrong("No factor is named.", _EXAMPLE)
    return tuple(factors)


def read_factors(text: str) -> tuple[tuple[str, AppliedTo], ...]:
    """Read what was varied in a trial.

    Parameters
    ----------
    text
        Such as ``"pinch on whole plots; variety on plots"``; the order is kept.

    Returns
    -------
    tuple of (name, AppliedTo)
        One entry a factor.

    Raises
    ------
    RecordsRefused
        The text does not say what was varied on which ground.
    """
    judged = judge_factors(text)
    if isinstance(judged, Wrong):
        raise RecordsRefused([Fault("trials", None, "factors", judged.problem, judged.remedy)])
    return judged


def say_factors(factors: Sequence[tuple[str, AppliedTo]]) -> str:
    """The one line of words that ``read_factors`` reads back to the same factors."""
    return "; ".join(f"{name} on {unit.value}s" for name, unit in factors)
