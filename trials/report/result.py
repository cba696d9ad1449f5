"""A comparison in Python: its parts as data frames, its words, and how a notebook shows it."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from trials.report.comparison_page import comparison_page
from trials.report.document import comparison_document

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pandas as pd

    from trials.model.trial import RecordsDigest
    from trials.report.plain import Plain
    from trials.stats.results import AgainstBest, Comparison, Pair
    from trials.stats.what_was_tested import Levels


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """What one measure of one trial says, from `compare` or `Farm.compare`.

    Attributes
    ----------
    comparison : Comparison
        Everything that was found, as values.
    title : str
        What the comparison goes by: a trial's code or a file's name.
    records : RecordsDigest or None
        The digest of the trial's records; None for a table of no store.

    Examples
    --------
    >>> import pandas as pd
    >>> import trials
    >>> plots = pd.DataFrame(
    ...     {
    ...         "variety": ["Ember", "Frost", "Ember", "Frost", "Ember", "Frost"],
    ...         "block": [1, 1, 2, 2, 3, 3],
    ...         "stems": [14.0, 11.5, 15.5, 12.0, 13.0, 11.0],
    ...     }
    ... )
    >>> found = trials.compare(plots, measure="stems", treatments=["variety"], block="block")
    >>> found.means[["variety", "mean"]].round(2).values.tolist()
    [['Ember', 14.17], ['Frost', 11.5]]
    """

    comparison: Comparison
    title: str
    records: RecordsDigest | None = None

    @property
    def means(self) -> pd.DataFrame:
        """Adjusted means, one row per level: factor columns, n, mean (unit), se, df, low, high."""
        return _frame(
            {
                "term": mean.term,
                **dict(mean.levels),
                **_numbers(mean, "n mean se df low high letters"),
            }
            for mean in self.comparison.means
        )

    @property
    def pairs(self) -> pd.DataFrame:
        """One row per pair: a, b, within, difference (unit), p and interval in its family."""
        return _pairs(self.comparison.all_pairs)

    @property
    def with_check(self) -> pd.DataFrame:
        """Each level against the check; columns as in ``pairs``."""
        return _pairs(self.comparison.with_check)

    @property
    def with_best(self) -> pd.DataFrame:
        """One row per level: limits of its difference from the best, and could_be_best."""
        return _frame(_best(row) for row in self.comparison.with_best)

    @property
    def tests(self) -> pd.DataFrame:
        """The joint tests, one row per term: num_df, den_df, F, p."""
        return _frame(
            {"term": test.term, **_numbers(test, "num_df den_df F p")}
            for test in self.comparison.tests
        )

    def summary(self) -> str:
        """The whole comparison as text, as the command line prints it."""
        return comparison_page(self.comparison, self.title, rests_on=self.records)

    def to_dict(self) -> dict[str, Plain]:
        """The published JSON document; see ``comparison.schema.json``."""
        return comparison_document(self.comparison, self.records)

    def __str__(self) -> str:
        return self.summary()

    def _repr_html_(self) -> str:
        return f"<pre>{escape(self.summary())}</pre>"


def _words(levels: Levels) -> str:
    return ", ".join(level for _, level in levels)


def _numbers(row: object, names: str) -> dict[str, object]:
    return {name: getattr(row, name) for name in names.split()}


def _pairs(rows: Sequence[Pair]) -> pd.DataFrame:
    return _frame(
        {
            "term": row.term,
            "a": _words(row.a),
            "b": _words(row.b),
            "within": _words(row.within),
            **_numbers(row, "difference se df t p p_adjusted low high"),
            "verdict": row.verdict.value,
        }
        for row in rows
    )


def _best(row: AgainstBest) -> dict[str, object]:
    return {
        "term": row.term,
        **dict(row.levels),
        "within": _words(row.within),
        **_numbers(row, "low high could_be_best"),
    }


def _frame(rows: Iterable[dict[str, object]]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(list(rows))
