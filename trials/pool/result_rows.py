"""The tables of a pooled partition, filled piece by piece: names as codes, figures as arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np

from trials.stats.design.table import Codes
from trials.stats.results import AgainstBest, Comparison, Pair
from trials.stats.what_was_tested import Levels

if TYPE_CHECKING:
    import pyarrow as pa

    from trials.stats.design.linear_model import AdjustedMeans


class Table(StrEnum):
    """The result tables of a partition, each a Parquet file of that name."""

    COMPARISONS = "comparisons"
    TESTS = "tests"
    MEANS = "means"
    PAIRS = "pairs"
    BEST = "best"
    ADJUSTED = "adjusted"


class Family(StrEnum):
    """Which family of comparisons a pair belongs to."""

    ALL_PAIRS = "all pairs"
    WITH_CHECK = "with the check"


_TRIAL = ("trial", "measure")
# Columns of text and of figures (whole numbers and yes or no come as they are).
_TEXTS: Mapping[Table, tuple[str, ...]] = {
    Table.COMPARISONS: (*_TRIAL, "unit", "layout", "method", "check", "better", "reason"),
    Table.TESTS: (*_TRIAL, "term"),
    Table.MEANS: (*_TRIAL, "term", "level"),
    Table.PAIRS: (*_TRIAL, "family", "term", "within", "a", "b", "verdict"),
    Table.BEST: (*_TRIAL, "term", "within", "level"),
    Table.ADJUSTED: (*_TRIAL, "factor"),
}
_FIGURES: Mapping[Table, tuple[str, ...]] = {
    Table.COMPARISONS: ("plots", "alpha", "residual_df", "grand_mean", "cv_percent", "margin"),
    Table.TESTS: ("num_df", "den_df", "F", "p"),
    Table.MEANS: ("n", "mean", "se", "df", "low", "high"),
    Table.PAIRS: ("difference", "se", "df", "t", "p", "p_adjusted", "low", "high"),
    Table.BEST: ("low", "high", "could_be_best"),
    Table.ADJUSTED: ("df",),
}
_LISTS: Mapping[Table, tuple[str, ...]] = {Table.ADJUSTED: ("levels", "means", "cov")}


class Names:
    """Different texts, each once, with its code; the code of no text is -1."""

    def __init__(self) -> None:
        self.place: dict[str, int] = {}

    def code(self, text: str | None) -> int:
        return -1 if text is None else self.place.setdefault(text, len(self.place))

    def codes(self, texts: Sequence[str | None]) -> Codes:
        return np.array([self.code(text) for text in texts], dtype=np.intp)


@dataclass(slots=True)
class Rows:
    """What has been found so far, by table and column; texts are codes of ``names``."""

    names: Names = field(default_factory=Names)
    columns: dict[tuple[Table, str], list[Any]] = field(default_factory=dict)

    def add(self, table: Table, count: int, **columns: object) -> None:
        """Add ``count`` rows: arrays (count,), or one value for all of them; None is missing."""
        for name, value in columns.items():
            self.columns.setdefault((table, name), []).append(_spread(self, value, count))

    def arrow(self, table: Table) -> pa.Table:
        """A table as it is written, in the order in which its rows came."""
        import pyarrow as pa

        words = pa.array(list(self.names.place), pa.string())
        found: dict[str, object] = {}
        for name in _TEXTS[table]:
            codes = _joined(self.columns.get((table, name), []))
            found[name] = pa.DictionaryArray.from_arrays(
                pa.array(codes, pa.int32(), mask=codes < 0), words
            )
        for name in _FIGURES[table]:
            values = _joined(self.columns.get((table, name), []))
            found[name] = pa.array(values, from_pandas=True)
        for name in _LISTS.get(table, ()):
            inner = pa.string() if name == "levels" else pa.float64()
            parts = self.columns.get((table, name), [])
            found[name] = pa.array([item for part in parts for item in part], pa.list_(inner))
        return pa.table(found)


def _spread(rows: Rows, value: object, count: int) -> object:
    if isinstance(value, (np.ndarray, list)):
        return value
    if value is None or isinstance(value, str):
        return np.full(count, rows.names.code(value))
    return np.full(count, value)


def _joined(parts: Sequence[Any]) -> Any:
    return np.concatenate([np.asarray(part) for part in parts]) if parts else np.zeros(0)


def text_of(levels: Levels) -> str | None:
    """'Wrenlatch', or 'pinched, Wrenlatch'; None for no level."""
    return ", ".join(level for _, level in levels) or None


def within_text(levels: Levels) -> str | None:
    """'pinch = yes', or None."""
    return ", ".join(f"{factor} = {level}" for factor, level in levels) or None


@dataclass(frozen=True, slots=True)
class Single:
    """One comparison made by itself, to be added to the rows of many."""

    trial: str
    measure: str
    found: Comparison
    adjusted: tuple[AdjustedMeans, ...] = ()

    def add_to(self, rows: Rows) -> None:
        """Add its rows, in the same columns as those of comparisons made together."""
        found = self.found
        whose = {"trial": self.trial, "measure": self.measure}
        rows.add(
            Table.COMPARISONS,
            1,
            **whose,
            unit=found.unit,
            layout=found.layout.kind.value,
            method=found.method.value,
            check=found.check,
            better=found.better,
            reason=None,
            plots=found.plots,
            alpha=found.alpha,
            residual_df=_or_nan(found.residual_df),
            grand_mean=found.grand_mean,
            cv_percent=_or_nan(found.cv_percent),
            margin=_or_nan(found.margin),
        )
        for test in found.tests:
            figures = {name: getattr(test, name) for name in _FIGURES[Table.TESTS]}
            rows.add(Table.TESTS, 1, **whose, term=test.term, **figures)
        if found.means:
            means = {
                name: np.array([_or_nan(getattr(mean, name)) for mean in found.means])
                for name in _FIGURES[Table.MEANS]
            }
            rows.add(
                Table.MEANS,
                len(found.means),
                **whose,
                term=rows.names.codes([mean.term for mean in found.means]),
                level=rows.names.codes([text_of(mean.levels) for mean in found.means]),
                **means,
            )
        _add_pairs(rows, whose, Family.ALL_PAIRS, found.all_pairs)
        _add_pairs(rows, whose, Family.WITH_CHECK, found.with_check)
        _add_best(rows, whose, found.with_best)
        for each in self.adjusted:
            lower = np.tril_indices(len(each.means))
            rows.add(
                Table.ADJUSTED,
                1,
                **whose,
                factor=each.factor,
                df=each.df,
                levels=[list(each.levels)],
                means=[each.means],
                cov=[each.cov[lower]],
            )


def add_refusal(rows: Rows, trial: str, measure: str, reason: str) -> None:
    """Add a comparison that could not be made, with its reason."""
    missing = dict.fromkeys(_FIGURES[Table.COMPARISONS], np.nan)
    empty = dict.fromkeys(("unit", "layout", "method", "check", "better"), None)
    rows.add(Table.COMPARISONS, 1, trial=trial, measure=measure, reason=reason, **empty, **missing)


def _add_pairs(rows: Rows, whose: Mapping[str, str], family: Family, pairs: Sequence[Pair]) -> None:
    if not pairs:
        return
    names = rows.names
    rows.add(
        Table.PAIRS,
        len(pairs),
        **whose,
        family=family.value,
        term=names.codes([pair.term for pair in pairs]),
        within=names.codes([within_text(pair.within) for pair in pairs]),
        a=names.codes([text_of(pair.a) for pair in pairs]),
        b=names.codes([text_of(pair.b) for pair in pairs]),
        verdict=names.codes([pair.verdict.value for pair in pairs]),
        **{
            name: np.array([getattr(pair, name) for pair in pairs])
            for name in _FIGURES[Table.PAIRS]
        },
    )


def _add_best(rows: Rows, whose: Mapping[str, str], best: Sequence[AgainstBest]) -> None:
    if not best:
        return
    rows.add(
        Table.BEST,
        len(best),
        **whose,
        term=rows.names.codes([each.term for each in best]),
        within=rows.names.codes([within_text(each.within) for each in best]),
        level=rows.names.codes([text_of(each.levels) for each in best]),
        **{name: np.array([getattr(each, name) for each in best]) for name in _FIGURES[Table.BEST]},
    )


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else float(value)
