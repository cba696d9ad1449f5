"""The figures of a crop that a plan or the file of crops may give, and their sources."""

from __future__ import annotations

from enum import StrEnum


class Fact(StrEnum):
    """A figure of a crop, by its key in a plan's part [calendar] and in the file of crops."""

    DAYS_TO_BLOOM = "days_to_bloom"
    DIRECT_SOWN = "direct_sown"
    DAYS_IN_TRAYS = "days_in_trays"
    GERMINATION_C = "germination_c"
    DAYS_TO_PINCH = "days_to_pinch"
    PINCH_HEIGHT_CM = "pinch_height_cm"
    PINCH_LEAF_PAIRS = "pinch_leaf_pairs"
    DAYS_PINCHING_DELAYS = "days_pinching_delays"
    DAYS_TO_NET = "days_to_net"
    NET_HEIGHT_CM = "net_height_cm"
    DAYS_BETWEEN_FLUSHES = "days_between_flushes"
    FLUSHES = "flushes"
    DAYS_BETWEEN_SOWINGS = "days_between_sowings"


class SeedFact(StrEnum):
    """A figure of a crop's seed, by its key in the file of crops; an order of seed takes it.

    It holds for the crop of its row alone, and the program comes with none.
    """

    GERMINATION_POINTS_LOST_PER_YEAR = "germination_points_lost_per_year"


class FactSource(StrEnum):
    """Where a figure comes from."""

    PLAN = "this plan"
    OWN_RECORDS = "own records"
    SEED_PACKET = "seed packet"
    COMMON_PRACTICE = "common practice"
    ASSUMED = "assumed"
