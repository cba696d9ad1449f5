"""What is invented about the farm: its varieties, its trials and the houses that sell it seed.

No name, price or figure here is real; the sizes of effects follow what growers commonly see.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

SITE = "Heronlap Field"
PLACE = "Murrowhask Flowers, in an invented valley"
BED_WIDTH_M = 1.2
ROWS_A_BED = 4
SHORTEST_LENGTH_CM = 40


# ---- what is grown ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Variety:
    """An invented variety and what it truly does; a trial only ever sees it through its plots."""

    name: str
    crop: str
    colour: str
    habit: str
    vigour: float  # stems, as a multiple of the crop's level
    length_cm: float  # mean stem at the first cuts, unpinched or netted
    days_later: float  # first cut, against the crop's usual day
    pinch_gain: float  # share of stems that pinching adds
    price_percent: int  # of the house's usual price
    houses: str  # initials of the houses that list it


TALL, BEDDING = "tall cutting", "bedding"
COSMOS, PLUME, ZINNIA = "cosmos", "plume celosia", "zinnia"

VARIETIES = (
    Variety("Wrenlatch", COSMOS, "white", TALL, 1.00, 62, 0, 0.40, 100, "GPS"),
    Variety("Fennadrift", COSMOS, "shell pink", TALL, 1.27, 61, 1, 0.38, 145, "GPS"),
    Variety("Quernshaw", COSMOS, "crimson", TALL, 1.04, 66, 3, 0.55, 110, "GP"),
    Variety("Pellowisp", COSMOS, "pale lemon", TALL, 0.93, 56, -3, 0.75, 130, "PS"),
    Variety("Mallenfray", COSMOS, "magenta", TALL, 1.02, 64, 0, 0.30, 95, "GS"),
    Variety("Skellandra", COSMOS, "double white", TALL, 0.70, 68, 6, 0.12, 160, "GP"),
    Variety("Ottersheen", COSMOS, "rose, dark eye", TALL, 1.05, 59, -1, 0.45, 105, "GPS"),
    Variety("Stripplethorn", COSMOS, "striped rose", TALL, 0.98, 60, 2, 0.48, 120, "PS"),
    Variety("Haskenlaith", COSMOS, "cream", TALL, 0.95, 70, 4, 0.30, 115, "GS"),
    Variety("Hobbincrest", COSMOS, "lilac", TALL, 1.07, 63, 1, 0.60, 100, "GPS"),
    Variety("Drumbelaine", COSMOS, "double pink", TALL, 0.88, 65, 5, 0.33, 150, "P"),
    Variety("Tuffetling", COSMOS, "bright pink", BEDDING, 1.34, 33, -6, 0.06, 90, "GPS"),
    Variety("Nubbincot", COSMOS, "white", BEDDING, 1.29, 35, -5, 0.04, 90, "PS"),
    Variety("Lowbrackle", COSMOS, "mixed", BEDDING, 1.22, 31, -7, 0.02, 85, "GS"),
    Variety("Cinderhaw", PLUME, "dark red", TALL, 1.00, 56, 0, 0.0, 100, "GPS"),
    Variety("Flaxenspurl", PLUME, "gold", TALL, 1.05, 60, 2, 0.0, 105, "GPS"),
    Variety("Rustlequill", PLUME, "bronze", TALL, 0.96, 64, 4, 0.0, 125, "PS"),
    Variety("Saffrenwold", PLUME, "orange", TALL, 1.25, 54, -1, 0.0, 120, "GP"),
    Variety("Pinkelthorn", PLUME, "pink", TALL, 0.94, 58, 1, 0.0, 110, "GS"),
    Variety("Russetfeld", PLUME, "rust", TALL, 0.76, 66, 5, 0.0, 140, "GP"),
    Variety("Limmerfrond", PLUME, "lime", TALL, 1.03, 52, -2, 0.0, 115, "S"),
    Variety("Squibbeling", PLUME, "scarlet", BEDDING, 1.30, 31, -6, 0.0, 90, "GPS"),
    Variety("Dapplewick", ZINNIA, "salmon", TALL, 1.00, 58, 0, 0.0, 100, "GPS"),
    Variety("Umberholt", ZINNIA, "orange", TALL, 1.18, 57, -2, 0.0, 115, "GP"),
    Variety("Sallowmere", ZINNIA, "lime", TALL, 0.94, 60, 2, 0.0, 120, "PS"),
    Variety("Brackenlume", ZINNIA, "dark red", TALL, 1.06, 63, 1, 0.0, 105, "GS"),
    Variety("Marlinquist", ZINNIA, "white", TALL, 1.03, 61, 0, 0.0, 100, "PS"),
    Variety("Quillandry", ZINNIA, "mauve", TALL, 0.80, 55, 3, 0.0, 130, "S"),
)
BY_NAME = {v.name: v for v in VARIETIES}


@dataclass(frozen=True, slots=True)
class Crop:
    """What a crop usually does on this farm, in a middling season."""

    letter: str
    stems_a_plant: float  # marketable, unpinched, 30 cm apart
    days_to_first_cut: float
    culls: tuple[tuple[str, float], ...]  # usual share of the stems, by reason


CROPS = {
    COSMOS: Crop(
        "C", 17.0, 51, (("crooked", 0.05), ("insects", 0.025), ("short", 0.03), ("blown", 0.05))
    ),
    PLUME: Crop(
        "P", 8.2, 56, (("crooked", 0.07), ("insects", 0.02), ("short", 0.035), ("browned", 0.05))
    ),
    ZINNIA: Crop(
        "Z", 11.5, 52, (("crooked", 0.06), ("insects", 0.03), ("short", 0.03), ("blown", 0.06))
    ),
}
USUAL_CULL_SHARE = 0.18
# What the farm wrote down of its crops: days in trays, and with the days above to the first cut.
CROP_FIGURES = (
    (COSMOS, "days_in_trays", 28, "own records"),
    (COSMOS, "days_to_bloom", 79, "own records"),
    (COSMOS, "germination_c", 20, "seed packet"),
    (PLUME, "days_in_trays", 42, "own records"),
    (PLUME, "days_to_bloom", 98, "own records"),
    (ZINNIA, "days_in_trays", 26, "own records"),
    (ZINNIA, "days_to_bloom", 78, "own records"),
)

# What stems sell for and what growing costs, from the winter of the last season on.
PRICE_YEAR = 2026
WEEKS = ((20, 33, 100), (34, 44, 85))  # when, and per cent of the price
GRADES = (40, 50, 60)  # cm, the shortest of each
STEM_CENTS = {
    (COSMOS, "bouquet makers"): (12, 20, 26),
    (COSMOS, "Saturday market"): (20, 30, 40),
    (PLUME, "bouquet makers"): (40, 60, 80),
    (PLUME, "Saturday market"): (60, 80, 100),
    (ZINNIA, "bouquet makers"): (22, 34, 42),
    (ZINNIA, "Saturday market"): (35, 50, 60),
}
COSTS = (
    ("every crop", "bed", "7.50"),
    ("every crop", "raising", "0.12"),
    ("every crop", "planting", "0.09"),
    ("every crop", "pinching", "0.06"),
    ("every crop", "netting material", "0.80"),
    ("every crop", "netting labour", "1.60"),
    ("every crop", "picking", "0.07"),
    ("every crop", "tallying", "4.00"),
)


def stem_prices() -> list[tuple[int, str, str, int, int, int, str]]:
    """The farm's price list: year, market, crop, grade, weeks and the price of one stem."""
    return [
        (PRICE_YEAR, market, crop, grade, start, end, f"{cents * percent / 10_000:.3f}")
        for (crop, market), of_grades in STEM_CENTS.items()
        for grade, cents in zip(GRADES, of_grades, strict=True)
        for start, end, percent in WEEKS
    ]


# ---- what was laid out -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Loss:
    """A plot that was destroyed: its place in the walk round the trial, and how."""

    position: int
    on: date
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One trial as it was planned, and what its season brought."""

    code: str
    season: int
    crop: str
    question: str
    factors: str
    entries: tuple[str, ...]
    beds: tuple[str, ...]
    blocks: int
    check: str | None
    transplanted: date
    frost: date
    picks: tuple[int, ...]  # days after transplanting
    stems_level: float  # of this season, as a multiple of the crop's usual
    whole_plots: tuple[str, tuple[str, ...]] | None = None
    spacings_cm: tuple[int, ...] = ()
    measure: str = "stems_per_plant"
    alpha: float = 0.05
    net_length_m: float = 1.2
    treated_after_days: int = 19
    losses: tuple[Loss, ...] = ()
    unfinished: tuple[tuple[int, int, int], ...] = ()  # pick, first and last position missed
    zero: tuple[tuple[int, int], ...] = ()  # pick, position: picked and nothing found
    missed_share: float = 0.015
    sampled: tuple[tuple[int, int], ...] = ((1, 6), (4, 6), (7, 6))  # pick, stems
    remarks: tuple[tuple[date, str, str], ...] = ()  # day, kind, reason


WEEKLY = (50, 56, 63, 70, 77, 84, 91, 99, 107, 116)

PLANS = (
    Plan(
        "cosmos-2024", 2024, COSMOS, "Which cosmos give the most stems we can sell?",
        "variety on plots",
        ("Wrenlatch", "Fennadrift", "Quernshaw", "Mallenfray", "Skellandra", "Ottersheen",
         "Hobbincrest", "Tuffetling"),
        ("Alder", "Beech"), 4, "Wrenlatch", date(2024, 6, 10), date(2024, 10, 14),
        (52, 59, 66, 73, 80, 87, 95, 103, 112, 121), 1.0,
        losses=(Loss(13, date(2024, 7, 2), "deer ate it to the ground"),),
        unfinished=((5, 25, 28),), zero=((3, 20),),
        remarks=((date(2024, 8, 21), "note", "hail in the night, worst at the end of Beech"),),
    ),
    Plan(
        "cosmos-2025", 2025, COSMOS, "Do the new cosmos beat what we grow?",
        "variety on plots",
        ("Wrenlatch", "Fennadrift", "Quernshaw", "Mallenfray", "Skellandra", "Ottersheen",
         "Pellowisp", "Stripplethorn", "Haskenlaith", "Drumbelaine", "Tuffetling", "Nubbincot"),
        ("Cedar", "Elder"), 4, "Wrenlatch", date(2025, 6, 6), date(2025, 10, 6),
        (53, 60, 67, 74, 81, 88, 95, 103, 111, 119), 0.80,
        losses=(Loss(48, date(2025, 8, 19), "corner under water for four days"),),
        unfinished=((6, 20, 24),),
        remarks=((date(2025, 7, 24), "sprayed", "soft soap against aphids"),),
    ),
    Plan(
        "plume-2025", 2025, PLUME, "Which plume celosia are worth a bed?", "variety on plots",
        ("Cinderhaw", "Flaxenspurl", "Rustlequill", "Saffrenwold", "Pinkelthorn", "Squibbeling"),
        ("Fir",), 3, "Cinderhaw", date(2025, 6, 2), date(2025, 10, 6),
        (57, 64, 71, 78, 85, 92, 100, 108, 117), 1.0, alpha=0.10,
        losses=(Loss(7, date(2025, 6, 30), "voles took every plant"),),
    ),
    Plan(
        "cosmos-2026", 2026, COSMOS, "Which cosmos to reorder, and does pinching pay?",
        "pinch on whole plots; variety on plots",
        ("Wrenlatch", "Fennadrift", "Quernshaw", "Mallenfray", "Skellandra", "Ottersheen",
         "Pellowisp", "Stripplethorn", "Hobbincrest", "Tuffetling", "Nubbincot", "Lowbrackle"),
        ("Hazel", "Juniper", "Larch", "Maple"), 4, "Wrenlatch", date(2026, 6, 8),
        date(2026, 10, 11), WEEKLY, 1.08, whole_plots=("pinch", ("pinched", "unpinched")),
        losses=(Loss(73, date(2026, 8, 12), "deer broke in at the corner and trampled it"),),
        unfinished=((6, 40, 48),),
        remarks=((date(2026, 9, 2), "note", "gale in the night, many stems laid over"),),
    ),
    Plan(
        "plume-2026", 2026, PLUME, "Does netting pay in plume celosia, and how close to plant?",
        "netting on whole plots; variety on plots; spacing_cm on plots",
        ("Cinderhaw", "Flaxenspurl", "Saffrenwold", "Russetfeld", "Limmerfrond", "Squibbeling"),
        ("Pine", "Rowan", "Sorb", "Thorn"), 4, "Cinderhaw", date(2026, 6, 3), date(2026, 10, 11),
        (55, 62, 69, 76, 83, 91, 99, 108, 118), 0.94,
        whole_plots=("netting", ("netted", "open")), spacings_cm=(20, 30),
        measure="stems_per_metre", treated_after_days=30,
        losses=(
            Loss(1, date(2026, 6, 29), "deer ate it to the ground"),
            Loss(72, date(2026, 8, 25), "corner under water after the cloudburst"),
        ),
        unfinished=((4, 91, 96),), zero=((8, 55),), sampled=((1, 5), (4, 5), (6, 5)),
    ),
    Plan(
        "cosmos-bed-2026", 2026, COSMOS,
        "One bed of Quernshaw, half of it pinched: did pinching pay?",
        "pinch on whole plots", ("Quernshaw",), ("Willow",), 1, None, date(2026, 6, 9),
        date(2026, 10, 11), WEEKLY, 1.08, whole_plots=("pinch", ("pinched", "unpinched")),
        net_length_m=3.0, missed_share=0.0, sampled=((4, 40),),
    ),
    Plan(
        "zinnia-2026", 2026, ZINNIA, "Which zinnias are worth a bed?", "variety on plots",
        ("Dapplewick", "Umberholt", "Sallowmere", "Brackenlume", "Marlinquist", "Quillandry"),
        ("Yew",), 3, "Dapplewick", date(2026, 6, 5), date(2026, 10, 11),
        (52, 59, 66, 73, 80, 87, 95, 103, 112, 121), 1.0, sampled=((2, 5), (6, 5)),
        losses=(Loss(5, date(2026, 6, 22), "slugs ate every plant"),),
    ),
)  # fmt: skip

SEASONS = (
    (2024, date(2024, 3, 25), date(2024, 10, 31), date(2024, 5, 12), date(2024, 10, 14)),
    (2025, date(2025, 3, 24), date(2025, 10, 31), date(2025, 5, 19), date(2025, 10, 6)),
    (2026, date(2026, 3, 23), date(2026, 10, 31), date(2026, 5, 9), date(2026, 10, 11)),
)


# ---- who sells the seed ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class House:
    """An invented seed house: its terms, packet sizes and the discounts for several packets."""

    initial: str
    name: str
    shipping: float
    free_shipping_from: float | None
    minimum_order: float
    cents: dict[str, dict[int, int]]  # crop -> seeds in a packet -> usual price
    breaks: tuple[tuple[int, int], ...]  # from how many packets, per cent of the price

    def item(self, number: int, seeds: int) -> str:
        """The house's own code for a packet of its variety ``number``."""
        return f"{self.name[:4].lower()} {number + 20}-{seeds}"


HOUSES = (
    House("G", "Gorsewhistle Seed Loft", 6.50, 75.0, 15.0,
          {COSMOS: {50: 340, 250: 1180}, PLUME: {100: 410, 500: 1490},
           ZINNIA: {50: 310, 250: 1120}},
          ((1, 100), (4, 91))),
    House("P", "Pennyquern Seed Barn", 3.90, None, 0.0,
          {COSMOS: {100: 590}, PLUME: {250: 960}, ZINNIA: {100: 540}},
          ((1, 100), (3, 94), (6, 85))),
    House("S", "Oddlemarl Seed Room", 11.50, 140.0, 40.0,
          {COSMOS: {100: 520, 1000: 3150}, PLUME: {250: 890, 1000: 2480},
           ZINNIA: {100: 480, 1000: 2960}}, ((1, 100), (2, 96))),
)  # fmt: skip
# Young plants that a house raises, by the tray: house, item, variety, plants, price of a tray.
PLUGS = (("Gorsewhistle Seed Loft", "gors plugs 37-72", "Saffrenwold", 72, "16.56"),)
# Seed that the farm saved of its own plants, at the price of cleaning it; the farm is its house.
# Lot, item, variety, seeds, price, the season it is for, and its germination.
OWN_HOUSE = "Murrowhask Flowers"
OWN_SEED = (("own-2027", "own 21", "Fennadrift", 100, "0.60", 2027, 0.84),)
NOT_AVAILABLE = {("Oddlemarl Seed Room", "Fennadrift", 1000)}

# What was left of seed when the shelf was looked through, and the tests of it: lot, seeds left, and
# of each replicate the seeds that germinated of so many laid out. None: not tested.
STOCK_COUNTED_ON, STOCK_TESTED_ON = date(2026, 11, 2), date(2026, 11, 16)
STOCK: tuple[tuple[str, int, tuple[tuple[int, int], ...]], ...] = (
    ("2025-02", 0, ()),
    ("2025-15", 120, ()),
    ("2026-02", 60, ((44, 50), (46, 50), (45, 50))),
    ("2026-13", 140, ((41, 50), (38, 50))),
    ("2026-20", 80, ((46, 50), (33, 50), (44, 50))),
    ("own-2027", 40, ((43, 50), (41, 50))),
)
