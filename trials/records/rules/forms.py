"""The columns of each kind of file, and what each column's cells may hold, declared once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from trials.model.crop_facts import Fact, FactSource, SeedFact
from trials.model.money import CostKind
from trials.model.rows import Sheet
from trials.model.trial import MEASURES, EventKind, Outcome, SeedSaving, SoldAs


class Kind(StrEnum):
    """What the text of a cell stands for."""

    NAME = "name"  # a code or a name: one line of text
    TEXT = "text"  # free words, which may run over lines
    WHOLE = "whole number"
    NUMBER = "number"
    DATE = "date"
    CHOICE = "choice"
    FACTORS = "factors"
    MARGIN = "margin"


# Kinds whose cells are text; those of others are the same in every program.
TEXTS = frozenset({Kind.NAME, Kind.TEXT, Kind.CHOICE, Kind.FACTORS, Kind.MARGIN})


class Need(StrEnum):
    """How much of a column a file may leave out."""

    FILLED = "every cell is filled"
    COLUMN = "the column is there; its cells may be empty"
    NOTHING = "the column may be left out"


@dataclass(frozen=True, slots=True)
class Range:
    """The numbers a cell may hold; ``above`` and ``below`` leave the end itself out."""

    low: float
    high: float
    above: bool = False
    below: bool = False

    def holds(self, value: float) -> bool:
        """Whether a number lies within."""
        low = value > self.low if self.above else value >= self.low
        return low and (value < self.high if self.below else value <= self.high)

    def __str__(self) -> str:
        low, high = f"{self.low:,.9g}", f"{self.high:,.9g}"
        low = f"more than {low}" if self.above else f"at least {low}"
        high = f"less than {high}" if self.below else f"at most {high}"
        return f"{low} and {high}"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what its cells stand for, and the rule they obey.

    ``sheet`` names the sheet whose rows the cells refer to by their code or name.
    """

    name: str
    kind: Kind
    need: Need = Need.FILLED
    range: Range | None = None
    choices: tuple[str, ...] = ()
    sheet: Sheet | None = None


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of file: its columns in order, and those that tell one of its rows from another.

    ``factor_columns`` says that the file also has one column for each factor of its trials.
    """

    sheet: Sheet
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    factor_columns: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The headings, in order."""
        return tuple(column.name for column in self.columns)

    @property
    def must(self) -> tuple[str, ...]:
        """The headings no file of this kind can do without."""
        return tuple(column.name for column in self.columns if column.need is not Need.NOTHING)

    def column(self, name: str) -> Column:
        """The column of that heading; a heading that is not declared is a factor of a trial."""
        return next((column for column in self.columns if column.name == name), factor_column(name))


def factor_column(name: str) -> Column:
    """The column that holds the level of one factor for each plot."""
    sheet = Sheet.VARIETIES if name == "variety" else None
    return Column(name, Kind.NAME, Need.NOTHING, sheet=sheet)


def _name(name: str, need: Need = Need.FILLED, sheet: Sheet | None = None) -> Column:
    return Column(name, Kind.NAME, need, sheet=sheet)


def _text(name: str, need: Need = Need.NOTHING) -> Column:
    return Column(name, Kind.TEXT, need)


def _date(name: str, need: Need = Need.FILLED) -> Column:
    return Column(name, Kind.DATE, need)


def _whole(name: str, low: float, high: float, need: Need = Need.FILLED) -> Column:
    return Column(name, Kind.WHOLE, need, Range(low, high))


def _number(name: str, within: Range, need: Need = Need.FILLED) -> Column:
    return Column(name, Kind.NUMBER, need, within)


def _choice(name: str, choices: tuple[str, ...], need: Need = Need.FILLED) -> Column:
    return Column(name, Kind.CHOICE, need, choices=choices)


YEARS = (1950, 2199)
_LENGTH_CM = Range(0, 400, above=True)  # no cut stem is longer than a grown sunflower
_MONEY = Range(0, 1_000_000)
MOST_SEEDS = 10_000_000  # in a packet
_PLOT = _name("plot", sheet=Sheet.PLOTS)
_TRIAL = _name("trial", sheet=Sheet.TRIALS)

_FORMS = (
    Form(
        Sheet.SITES,
        (
            _name("site"),
            _text("place", Need.FILLED),
            _number("bed_width_m", Range(0, 20, above=True)),
            _text("note"),
        ),
        key=("site",),
    ),
    Form(
        Sheet.SEASONS,
        (
            _whole("season", *YEARS),
            _name("site", sheet=Sheet.SITES),
            _date("starts_on"),
            _date("ends_on"),
            _date("last_spring_frost", Need.NOTHING),
            _date("first_autumn_frost", Need.NOTHING),
        ),
        key=("season", "site"),
    ),
    Form(
        Sheet.VARIETIES,
        (
            _name("variety"),
            _name("crop"),
            _text("colour"),
            _text("habit"),
        ),
        key=("variety",),
    ),
    Form(
        Sheet.CROPS,
        (
            _name("crop"),
            _choice("figure", (*Fact, *SeedFact)),
            _number("value", Range(0, 1000)),
            _choice("source", tuple(s for s in FactSource if s is not FactSource.PLAN)),
        ),
        key=("crop", "figure"),
    ),
    Form(
        Sheet.CURRENCIES,
        (
            _name("currency"),
            _choice("own", ("yes", "no")),
            _number("rate", Range(0, 1_000_000, above=True)),
        ),
        key=("currency",),
    ),
    Form(
        Sheet.PRICES,
        (
            _whole("year", *YEARS),
            _name("market"),
            _name("crop"),
            _whole("grade_cm", 0, 400),
            _whole("from_week", 1, 53),
            _whole("to_week", 1, 53),
            _number("stem_price", _MONEY),
        ),
        key=("year", "market", "crop", "grade_cm", "from_week"),
    ),
    Form(
        Sheet.COSTS,
        (
            _whole("year", *YEARS),
            _name("crop"),
            _choice("cost", tuple(CostKind)),
            _number("amount", _MONEY),
        ),
        key=("year", "crop", "cost"),
    ),
    Form(
        Sheet.SEED_HOUSES,
        (
            _name("house"),
            _name("currency"),
            _number("shipping", _MONEY),
            _number("free_shipping_from", _MONEY, Need.NOTHING),
            _number("minimum_order", _MONEY),
        ),
        key=("house",),
    ),
    Form(
        Sheet.SEED_ITEMS,
        (
            _name("house", sheet=Sheet.SEED_HOUSES),
            _name("item"),
            _name("variety", sheet=Sheet.VARIETIES),
            _whole("seeds", 1, MOST_SEEDS, Need.COLUMN),
            _number("price", _MONEY),
            _whole("from_packs", 1, 100_000),
            _choice("available", ("yes", "no")),
            _number("grams", Range(0, 100_000, above=True), Need.NOTHING),
            _number("seeds_per_gram", Range(0, 1_000_000, above=True), Need.NOTHING),
            _whole("price_year", *YEARS, Need.NOTHING),
            _choice("sold_as", tuple(SoldAs), Need.NOTHING),
            _choice("seed_saving", tuple(SeedSaving), Need.NOTHING),
        ),
        key=("house", "item", "price_year", "from_packs"),
    ),
    Form(
        Sheet.SEED_LOTS,
        (
            _name("lot"),
            _name("house", sheet=Sheet.SEED_HOUSES),
            _name("item"),
            _whole("packed_for", *YEARS),
            _number("germination", Range(0, 1)),
        ),
        key=("lot",),
    ),
    Form(
        Sheet.SEED_STOCK,
        (
            _name("lot", sheet=Sheet.SEED_LOTS),
            _date("counted_on"),
            _whole("seeds", 0, MOST_SEEDS),
        ),
        key=("lot", "counted_on"),
    ),
    Form(
        Sheet.GERMINATION_TESTS,
        (
            _name("lot", sheet=Sheet.SEED_LOTS),
            _date("tested_on"),
            _whole("replicate", 1, 100),
            _whole("seeds", 1, 10_000),
            _whole("germinated", 0, 10_000),
        ),
        key=("lot", "tested_on", "replicate"),
    ),
    Form(
        Sheet.TRIALS,
        (
            _name("trial"),
            _whole("season", *YEARS),
            _name("site", sheet=Sheet.SITES),
            _name("crop"),
            _text("question", Need.FILLED),
            Column("factors", Kind.FACTORS),
            _name("check", Need.NOTHING),
            _choice("primary_measure", tuple(measure.key for measure in MEASURES)),
            _number("alpha", Range(0, 0.5, above=True, below=True)),
            Column("equivalence_margin", Kind.MARGIN, Need.NOTHING),
            _number("minimum_length_cm", Range(0, 400)),
        ),
        key=("trial",),
    ),
    Form(
        Sheet.PLOTS,
        (
            _TRIAL,
            _name("plot"),
            _name("block", Need.NOTHING),
            _name("whole_plot", Need.NOTHING),
            _name("split_plot", Need.NOTHING),
            _name("incomplete_block", Need.NOTHING),
            _name("row", Need.NOTHING),
            _name("column", Need.NOTHING),
            _name("bed"),
            _whole("position", 1, 100_000),
            _name("lot", Need.NOTHING, Sheet.SEED_LOTS),
            _whole("plants_set", 1, 1_000_000),
            _number("net_length_m", Range(0, 10_000, above=True)),
            _number("net_area_m2", Range(0, 100_000, above=True)),
            _date("transplanted_on", Need.COLUMN),
        ),
        key=("plot",),
        factor_columns=True,
    ),
    Form(
        Sheet.STAND_COUNTS,
        (_PLOT, _date("counted_on"), _whole("living", 0, 1_000_000)),
        key=("plot", "counted_on"),
    ),
    Form(
        Sheet.CUTS,
        (
            _PLOT,
            _date("cut_on"),
            _choice("outcome", tuple(Outcome)),
            _whole("grade_cm", 0, 400, Need.COLUMN),
            _whole("stems", 0, 1_000_000, Need.COLUMN),
            _name("cull_reason", Need.COLUMN),
        ),
        key=("plot", "cut_on", "grade_cm", "cull_reason"),
    ),
    Form(
        Sheet.STEM_SAMPLES,
        (
            _PLOT,
            _date("cut_on"),
            _whole("stem", 1, 100_000),
            _number("length_cm", _LENGTH_CM),
        ),
        key=("plot", "cut_on", "stem"),
    ),
    Form(
        Sheet.EVENTS,
        (
            _TRIAL,
            _name("plot", Need.COLUMN, Sheet.PLOTS),
            _name("other_plot", Need.NOTHING, Sheet.PLOTS),
            _date("happened_on"),
            _choice("kind", tuple(EventKind)),
            _text("reason"),
            _name("product", Need.NOTHING),
            _name("sprayed_at", Need.NOTHING),
            _number("re_entry_hours", Range(0, 24 * 90), Need.NOTHING),
        ),
        # Two sprays of one day may differ in nothing but one cell.
        key=(
            "trial",
            "plot",
            "other_plot",
            "happened_on",
            "kind",
            "reason",
            "product",
            "sprayed_at",
            "re_entry_hours",
        ),
    ),
    Form(
        Sheet.SCORES,
        (
            _PLOT,
            _date("scored_on"),
            _name("trait"),
            _number("value", Range(-1_000_000, 1_000_000)),
        ),
        key=("plot", "scored_on", "trait"),
    ),
)

FORMS: Mapping[Sheet, Form] = {form.sheet: form for form in _FORMS}
