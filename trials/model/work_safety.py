"""The usual cautions for work with flowers, by task, for every sheet and page that needs them.

Common practice of the trade. They replace no label and no rule, so every list ends by saying so.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType


class Work(StrEnum):
    """A task that can hurt someone, and the few words for it in a table."""

    BLADES = "sharp blades"
    LIFTING = "lifting"
    HEAT = "heat"
    POSTS = "eye caps on posts and wire ends"
    SPRAY = "re-entry time after sprays"
    CHLORINE = "chlorine in buckets"
    SEED = "treated seed"


_CAUTIONS: Mapping[Work, str] = MappingProxyType(
    {
        Work.BLADES: "Knives and secateurs: cut away from yourself, and carry them closed.",
        Work.LIFTING: "Lifting: bend your knees, and share heavy loads.",
        Work.HEAT: "Heat: drink water, rest in the shade.",
        Work.POSTS: (
            "Netting posts and wire: put eye caps on every post and wire end. Wear gloves and eye "
            "protection to cut or pull wire."
        ),
        Work.SPRAY: (
            "Sprays: only what the label allows for this crop and place, applied by someone "
            "licensed where that is required. Nobody enters a plot before its re-entry time has "
            "passed."
        ),
        Work.CHLORINE: (
            "Chlorine in buckets: dose by the label and never mix it with acids or ammonia. Wear "
            "gloves and eye protection, and open the doors."
        ),
        Work.SEED: (
            "Treated seed: wear gloves and wash your hands. Never use it as food or feed, and "
            "follow the label on the packet."
        ),
    }
)
DEFER = "Labels, local rules and your adviser come first."

# Which work each sheet and page sends people to.
AT_THE_PLOTS = (Work.BLADES, Work.LIFTING, Work.HEAT, Work.POSTS, Work.SPRAY, Work.CHLORINE)
IN_THE_PLOTS = (Work.HEAT, Work.POSTS, Work.SPRAY)  # to count or measure, not to cut
STAKING = (Work.POSTS, Work.LIFTING)
SOWING = (Work.SEED, Work.LIFTING)
ORDERING = (Work.SEED,)
SPRAYING = (Work.SPRAY,)
WHOLE_TRIAL = tuple(Work)


def cautions(*work: Work) -> tuple[str, ...]:
    """A caution for each task, and last that labels, local rules and an adviser come first.

    >>> cautions(Work.HEAT)[-1]
    'Labels, local rules and your adviser come first.'
    """
    return (*(_CAUTIONS[each] for each in work), DEFER)
