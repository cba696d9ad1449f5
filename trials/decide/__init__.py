"""Deciding: what next season may bring, what to reorder, and the seed order that gets it.

Values in, values out: this package knows no database, file, terminal or screen, and no wording
beyond the sentences of its rules.
"""

from trials.decide.bought import bought_as_plugs, not_sold, on_offer, seed_saving
from trials.decide.choice import Choice, JointOrdering, Ordering, cost_apart
from trials.decide.curve import (
    Curve,
    PlotCurve,
    SowingShare,
    curves,
    share_of_later,
    share_within,
)
from trials.decide.germination import Germination, Replicate, germination
from trials.decide.growing import Growing, Premium, growing
from trials.decide.order import order
from trials.decide.outlook import Outlook, Variation, outlook, rescreened
from trials.decide.packets import (
    Need,
    OrderLine,
    Parcel,
    SeedOrder,
    Unfilled,
    UnfilledReason,
    seed_prices,
)
from trials.decide.plan_gain import gain_of_trial
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
)
from trials.decide.seeds import (
    Raising,
    SeedsWanted,
    seeds_for_beds,
    seeds_for_stems,
    seeds_to_buy,
)
from trials.decide.sowing import (
    ASSUMED_GERMINATION,
    Ageing,
    OnHand,
    Sowing,
    StemsWanted,
    VarietyNeed,
    bed_needs,
    less_on_hand,
    sowing_for_stems,
    stock_of,
    trial_needs,
)
from trials.decide.spreads import SDs
from trials.decide.standings import Standing, standings
from trials.decide.substitutes import (
    Packet,
    PassedOver,
    Substitute,
    next_in_standings,
    passed_over,
    substitutes,
)
from trials.decide.trial_value import TrialCost
from trials.decide.two_stage import SeasonMeans, require_joined
from trials.decide.vase_life import VaseLife, VaseTest, vase_lives

__all__ = [
    "ASSUMED_GERMINATION",
    "RULES_IN_WORDS",
    "Advice",
    "Ageing",
    "Choice",
    "Curve",
    "EntryOutlook",
    "Finding",
    "Germination",
    "Growing",
    "JointOrdering",
    "Need",
    "OnHand",
    "OrderLine",
    "Ordering",
    "Outlook",
    "Packet",
    "Parcel",
    "PassedOver",
    "PlotCurve",
    "Practice",
    "Premium",
    "Quantity",
    "Raising",
    "Reason",
    "ReasonCode",
    "Replicate",
    "Rule",
    "Rules",
    "SDs",
    "SeasonMeans",
    "SeedOrder",
    "SeedsWanted",
    "Sowing",
    "SowingShare",
    "Standing",
    "StemsWanted",
    "Substitute",
    "Terms",
    "TrialCost",
    "Unfilled",
    "UnfilledReason",
    "Variation",
    "VarietyNeed",
    "VaseLife",
    "VaseTest",
    "bed_needs",
    "bought_as_plugs",
    "cost_apart",
    "curves",
    "gain_of_trial",
    "germination",
    "growing",
    "less_on_hand",
    "next_in_standings",
    "not_sold",
    "on_offer",
    "order",
    "outlook",
    "passed_over",
    "practices",
    "require_joined",
    "rescreened",
    "seed_prices",
    "seed_saving",
    "seeds_for_beds",
    "seeds_for_stems",
    "seeds_to_buy",
    "share_of_later",
    "share_within",
    "sowing_for_stems",
    "standings",
    "stock_of",
    "substitutes",
    "trial_needs",
    "vase_lives",
]
