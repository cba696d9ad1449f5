"""What a plan and the files of records can contain: each key and each column in one line."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from trials.model.rows import Sheet
from trials.records.plan.keys import PARTS, PLAN, REPEATED, TAKEN, Key
from trials.records.rules.forms import FORMS, Column, Kind, Need

ROW: Mapping[Sheet, str] = {
    Sheet.SITES: "site",
    Sheet.SEASONS: "season and site",
    Sheet.VARIETIES: "variety",
    Sheet.CROPS: "crop and figure",
    Sheet.CURRENCIES: "currency",
    Sheet.PRICES: "year, market, crop, grade and run of weeks",
    Sheet.COSTS: "year, crop and cost",
    Sheet.SEED_HOUSES: "seed house",
    Sheet.SEED_ITEMS: "packet size and price step",
    Sheet.SEED_LOTS: "seed lot",
    Sheet.SEED_STOCK: "count of a seed lot in stock",
    Sheet.GERMINATION_TESTS: "replicate of a germination test",
    Sheet.TRIALS: "trial",
    Sheet.PLOTS: "plot",
    Sheet.STAND_COUNTS: "count of a plot",
    Sheet.CUTS: "plot, day, and length grade or reason for culling",
    Sheet.STEM_SAMPLES: "measured stem",
    Sheet.EVENTS: "event",
    Sheet.SCORES: "score of a plot",
}
NOTES: Mapping[tuple[Sheet, str], str] = {
    (Sheet.SEASONS, "season"): "the year",
    (Sheet.CROPS, "value"): "days, °C or cm; direct_sown is 1 (yes) or 0 (no); germination lost "
    "in percentage points",
    (Sheet.CURRENCIES, "own"): "yes for the currency of your accounts",
    (Sheet.CURRENCIES, "rate"): "what one unit is worth in your own currency",
    (Sheet.PRICES, "grade_cm"): "the price holds up to the market's next grade",
    (Sheet.PRICES, "from_week"): "week of the year (ISO 8601)",
    (Sheet.PRICES, "to_week"): "week of the year (ISO 8601)",
    (Sheet.PRICES, "stem_price"): "price of one stem, in your own currency",
    (Sheet.COSTS, "crop"): "a crop, or every crop",
    (Sheet.COSTS, "amount"): "per metre of bed (bed, netting), plant set (plug, raising, planting, "
    "pinching), stem cut (picking) or trial plot (tallying)",
    (Sheet.SEED_ITEMS, "seeds"): "may be empty if grams and seeds_per_gram are given",
    (Sheet.SEED_ITEMS, "grams"): "for a packet sold by weight",
    (Sheet.SEED_ITEMS, "price_year"): "year of the price list; else the newest season's or list's",
    (Sheet.SEED_ITEMS, "sold_as"): "seed (also if empty), plugs, or own seed that you saved; plugs "
    "count plants for seeds, own seed has the price of cleaning it",
    (Sheet.SEED_ITEMS, "seed_saving"): "whether you may save seed of the variety, if known",
    (Sheet.SEED_LOTS, "packed_for"): "the year",
    (Sheet.SEED_LOTS, "germination"): "0 to 1",
    (Sheet.SEED_STOCK, "seeds"): "seeds left; 0 is none. The newest count of a lot holds",
    (Sheet.GERMINATION_TESTS, "replicate"): "1, 2, ... of one test",
    (Sheet.GERMINATION_TESTS, "seeds"): "seeds laid out",
    (Sheet.TRIALS, "factors"): "what is varied on what: pinch on whole plots; variety on plots",
    (Sheet.TRIALS, "check"): "the variety you grow now",
    (
        Sheet.TRIALS,
        "equivalence_margin",
    ): "difference that does not matter: 3 in the measure's unit, or 10%",
    (Sheet.TRIALS, "minimum_length_cm"): "minimum saleable length",
    (Sheet.PLOTS, "plot"): "a code that is used once on the whole farm",
    (Sheet.PLOTS, "transplanted_on"): "empty until it is planted",
    (Sheet.CUTS, "grade_cm"): "shortest stem of the grade: 30 means 30 to 39 cm",
    (Sheet.CUTS, "stems"): "0 is a plot picked that had nothing; empty if missed",
    (Sheet.CUTS, "cull_reason"): "in place of a grade: these stems cannot be sold",
    (Sheet.STEM_SAMPLES, "stem"): "its number",
    (Sheet.EVENTS, "plot"): "empty for the whole trial",
    (Sheet.EVENTS, "other_plot"): "the other plot of a swap",
    (Sheet.EVENTS, "reason"): "needed for a loss or a swap",
    (Sheet.EVENTS, "product"): "needed for a spray's re-entry hours",
    (Sheet.EVENTS, "sprayed_at"): "time when spraying ended, such as 18:05",
    (Sheet.EVENTS, "re_entry_hours"): "from the label",
}
MAY_BE_EMPTY = "A ? marks what may be left out or empty."


def columns_page() -> str:
    """Every file of records: what one row is, and what each column contains."""
    parts = [f"Columns of the files\n\n{_FILES}\n{MAY_BE_EMPTY}"]
    for sheet, form in FORMS.items():
        rows = [
            (column.name + ("" if column.need is Need.FILLED else "?"), _contains(sheet, column))
            for column in form.columns
        ]
        if form.factor_columns:
            rows.append(("a column per factor", "its level, such as a variety's name"))
        parts.append(f"{sheet}.csv, one row per {ROW[sheet]}\n{_listed(rows)}")
    return "\n\n".join(parts) + "\n"


_FILES = """\
Text files with commas, in UTF-8, with one row of headings. A file is recognised by its headings.
Dates look like 2026-07-31. Empty means not recorded; 0 means counted and found none."""


def _contains(sheet: Sheet, column: Column) -> str:
    note = NOTES.get((sheet, column.name), "")
    kind = ", ".join(column.choices) if column.choices else column.kind.value
    if column.kind in {Kind.NAME, Kind.TEXT, Kind.FACTORS, Kind.MARGIN}:
        return note or column.kind.value
    return f"{kind}; {note}" if note else kind


def plan_keys_page() -> str:
    """Every key of a plan under its part, and what it decides."""
    parts = [f"Keys of a plan\n\n{_PLANS}\n{MAY_BE_EMPTY}", f"At the top\n{_keys(PLAN)}"]
    parts += [f"[[{part}]], once for each\n{_keys(keys)}" for part, keys in REPEATED.items()]
    parts += [f"[{part}]\n{_keys(keys)}" for part, keys in PARTS.items() if keys is not TAKEN]
    return "\n\n".join(parts) + "\n"


_PLANS = """\
One TOML file per trial, such as data/plan-example.toml. A key that ends in _in, _ft or _f replaces
its metric one: give one of the two. 1 in is 2.54 cm and 1 ft is 0.3048 m exactly."""


def _keys(keys: Mapping[str, Key]) -> str:
    return _listed(
        [(name + ("?" if key.optional else ""), key.decides) for name, key in keys.items()]
    )


def _listed(rows: Sequence[tuple[str, str]]) -> str:
    """Names in a first column, then what each means, in lines of at most 96 characters."""
    width = max(len(name) for name, _ in rows) + 2
    lines = (
        textwrap.fill(
            meaning,
            width=96,
            initial_indent=f"  {name:<{width}}",
            subsequent_indent=" " * (width + 2),
        )
        for name, meaning in rows
    )
    return "\n".join(lines)
