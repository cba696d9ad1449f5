"""The tables whose rows can be superseded: each has a twin that holds its rows as they were."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache

from trials.model.rows import Sheet
from trials.store.questions import filled


@dataclass(frozen=True, slots=True)
class Twin:
    """A table and its twin, ``<table>_was``, which has the same columns and ``superseded_by``.

    Attributes
    ----------
    sheet
        The sheet whose rows it holds; None where no sheet does.
    key
        The columns that tell its rows apart; empty cells are like one another.
    together
        The part of the key whose rows are put right in one go: a picking day, with all its stems.
        Empty where a row is its own key and nothing can be put in its place.
    figures
        The other columns.
    """

    table: str
    sheet: Sheet | None
    key: tuple[str, ...]
    together: tuple[str, ...]
    figures: tuple[str, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        """Its key and its figures: all but the entry."""
        return (*self.key, *self.figures)


_PLOT_DAY = ("plot", "cut_on")
_PRICE = ("house", "item", "price_year", "from_packs")
_FIGURE = ("crop", "figure")
_SOLD = ("year", "market", "crop", "grade_cm", "from_week")
_COST = ("year", "crop", "cost")
_STOCK = ("lot", "counted_on")
_TEST = ("lot", "tested_on")
_SCORE = ("plot", "scored_on", "trait")
_SPRAY = ("product", "sprayed_at", "re_entry_hours")
_EVENT = ("trial", "plot", "other_plot", "happened_on", "kind", "reason", *_SPRAY)
_PLANTED = ("lot", "plants_set", "net_length_m", "net_area_m2", "transplanted_on")
_CLOSED = ("closed_on", "reason", "recorded_at", "digest")
_PICKED = ("outcome", "stems_by_grade", "culls_by_reason", "none_marketable")

# Its rows come and go whole: one that is wrong is withdrawn and stored again.
PHOTO = Twin("photo", None, ("sha256",), ("sha256",), ("variety", "plot", "taken_on", "caption"))
CUT = Twin("cut", Sheet.CUTS, _PLOT_DAY, _PLOT_DAY, _PICKED)
TWINS = (
    Twin("crop_figure", Sheet.CROPS, _FIGURE, _FIGURE, ("value", "source")),
    Twin("currency", Sheet.CURRENCIES, ("currency",), ("currency",), ("own", "rate")),
    Twin("market_price", Sheet.PRICES, _SOLD, _SOLD, ("to_week", "stem_price")),
    Twin("cost", Sheet.COSTS, _COST, _COST, ("amount",)),
    Twin("seed_price", Sheet.SEED_ITEMS, _PRICE, _PRICE, ("price", "available", "seed_saving")),
    Twin("seed_stock", Sheet.SEED_STOCK, _STOCK, _STOCK, ("seeds",)),
    Twin(
        "germination_test",
        Sheet.GERMINATION_TESTS,
        (*_TEST, "replicate"),
        _TEST,
        ("seeds", "germinated"),
    ),
    Twin("planting", Sheet.PLOTS, ("plot",), ("plot",), _PLANTED),
    Twin(
        "stand_count",
        Sheet.STAND_COUNTS,
        ("plot", "counted_on"),
        ("plot", "counted_on"),
        ("living",),
    ),
    CUT,
    Twin("stem_sample", Sheet.STEM_SAMPLES, (*_PLOT_DAY, "stem"), _PLOT_DAY, ("length_cm",)),
    Twin("event", Sheet.EVENTS, _EVENT, (), ()),
    Twin("score", Sheet.SCORES, _SCORE, _SCORE, ("value",)),
    Twin("closing", None, ("trial",), (), _CLOSED),
    PHOTO,
)

# As the history tells them: of a picking day whether it was picked, and beside it each row of its
# stems, as if these were a table of their own (see queries/view_of_cut_lines.sql).
_LINE = (*_PLOT_DAY, "grade_cm", "cull_reason")
TOLD = (
    *(twin for twin in TWINS if twin is not CUT),
    replace(CUT, figures=("outcome",)),
    replace(CUT, table="cut_line", key=_LINE, figures=("stems",)),
)


@cache
def asked_of(name: str, twin: Twin) -> str:
    """The text of ``queries/<name>.sql`` for one table.

    It may say {table}, {columns} (all but the entry), {together}, {same_key} (the condition that a
    row ``a`` and a row ``b`` have the same key), {same_row} (the same of all columns), and of a row
    ``a`` {key} and {figures} (as structs), {trial}, {plot} and {other_plot}. They are filled in
    from ``TWINS`` and nothing else.
    """
    words = {
        "table": twin.table,
        "columns": ", ".join(twin.columns),
        "together": ", ".join(twin.together),
        "same_key": " AND ".join(f"a.{name} IS NOT DISTINCT FROM b.{name}" for name in twin.key),
        "same_row": " AND ".join(
            f"a.{name} IS NOT DISTINCT FROM b.{name}" for name in twin.columns
        ),
        "key": _struct(twin.key),
        "figures": _struct(twin.figures),
        "trial": _cell(
            twin, "trial", of_plot="(FROM plot AS p SELECT p.trial WHERE p.plot = a.plot)"
        ),
        "plot": _cell(twin, "plot"),
        "other_plot": _cell(twin, "other_plot"),
    }
    return filled(name, **words)


def _struct(columns: Iterable[str]) -> str:
    pairs = ", ".join(f"'{name}': a.{name}" for name in columns)
    return f"{{{pairs}}}" if pairs else "NULL"


def _cell(twin: Twin, column: str, of_plot: str = "NULL") -> str:
    if column in twin.columns:
        return f"a.{column}"
    return of_plot if "plot" in twin.columns else "NULL"
