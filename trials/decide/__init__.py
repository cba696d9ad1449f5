"""Deciding: what next season may bring, what to reorder, and the seed order that gets it.

Values in, values out: this package knows no database, file, terminal or screen, and no wording
beyond the sentences of its rules.
"""

from trials.decide.choice import Choice, Ordering
from trials.decide.order import order
from trials.decide.outlook import Outlook, Swing, SwingSource, outlook, rescreened
from trials.decide.packets import (
    Need,
    OrderLine,
    Parcel,
    SeedOrder,
    Unfilled,
    UnfilledReason,
    seed_prices,
)
from trials.decide.practice import Finding, Practice, practices
from trials.decide.prospects import EntryOutlook, Terms
from trials.decide.rules import (
    RULES_IN_WORDS,
    Advice,
    Quantity,
    Reason,
    ReasonCode,
    Rule,
    Rules,
    TieBreaker,
)
from trials.decide.seeds import (
    Raising,
    SeedsWanted,
    seeds_for_beds,
    seeds_for_stems,
    seeds_to_buy,
)
from trials.decide.sowing import (
    OnHand,
    Sowing,
    StemsWanted,
    VarietyNeed,
    bed_needs,
    less_on_hand,
    sowing_for_stems,
    trial_needs,
)
from trials.decide.standings import Standing, standings
from trials.decide.substitutes import Packet, PassedOver, Substitute, passed_over, substitutes
from trials.decide.two_stage import SeasonMeans

__all__ = [
    "RULES_IN_WORDS",
    "Advice",
    "Choice",
    "EntryOutlook",
    "Finding",
    "Need",
    "OnHand",
    "OrderLine",
    "Ordering",
    "Outlook",
    "Packet",
    "Parcel",
    "PassedOver",
    "Practice",
    "Quantity",
    "Raising",
    "Reason",
    "ReasonCode",
    "Rule",
    "Rules",
    "SeasonMeans",
    "SeedOrder",
    "SeedsWanted",
    "Sowing",
    "Standing",
    "StemsWanted",
    "Substitute",
    "Swing",
    "SwingSource",
    "Terms",
    "TieBreaker",
    "Unfilled",
    "UnfilledReason",
    "VarietyNeed",
    "bed_needs",
    "less_on_hand",
    "order",
    "outlook",
    "passed_over",
    "practices",
    "rescreened",
    "seed_prices",
    "seeds_for_beds",
    "seeds_for_stems",
    "seeds_to_buy",
    "sowing_for_stems",
    "standings",
    "substitutes",
    "trial_needs",
]
