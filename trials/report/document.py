"""A comparison as the JSON document that programs read; ``comparison.schema.json`` describes it."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import cast

from trials.model.trial import RecordsDigest
from trials.report.plain import Plain, plain
from trials.stats.results import AgainstBest, Comparison, LeastDifference, Mean, OverSeasons, Pair
from trials.stats.what_was_tested import Levels, SecondOpinion, Solid, WhatWasTested

SCHEMA = "comparison.schema.json"


def comparison_document(
    comparison: Comparison, rests_on: RecordsDigest | None = None
) -> dict[str, Plain]:
    """The document of a comparison, in plain JSON types.

    Numbers keep their full double precision; a figure that does not exist is null. Rows stand in
    the order of the levels. ``within`` is given only where levels are compared within the levels
    of other factors. ``rests_on`` is the digest of the trial's records; a table of no store has
    none.
    """
    document = {
        "measure": comparison.measure,
        "unit": comparison.unit,
        "plots": comparison.plots,
        "alpha": comparison.alpha,
        "check": comparison.check,
        "better": comparison.better,
        "margin": comparison.margin,
        "scale": comparison.scale,
        "layout": comparison.layout,
        "model": {"method": comparison.method, "residual_df": comparison.residual_df},
        "variance_components": comparison.components,
        "tests": comparison.tests,
        "means": [_mean(mean) for mean in comparison.means],
        "all_pairs": [_pair(pair) for pair in comparison.all_pairs],
        "conservative_pairs": comparison.conservative_pairs,
        "too_short": comparison.too_short,
        "trends": comparison.trends,
        "with_check": [_pair(pair) for pair in comparison.with_check],
        "with_best": [_against_best(row) for row in comparison.with_best],
        "lsd": [_least_difference(row) for row in comparison.least_differences],
        "cv_percent": comparison.cv_percent,
        "grand_mean": comparison.grand_mean,
        "relative_efficiency": comparison.relative_efficiency,
        "unit_efficiencies": comparison.unit_efficiencies,
        "none_found": [
            {
                "levels": dict(item.levels),
                "number": item.number,
                "every": item.every,
                "bound": item.bound,
                "dispersion": item.dispersion,
                "allowing": item.allowing,
            }
            for item in comparison.none_found
        ],
        "solid": _solid(comparison.solid),
        "tested": _tested(comparison.tested),
        "over_seasons": _over_seasons(comparison.over_seasons),
        "cautions": comparison.cautions,
        "records": _records(rests_on),
    }
    return cast("dict[str, Plain]", plain(document))


def schema() -> dict[str, Plain]:
    """The JSON Schema (2020-12) of the document, as published with the package."""
    text = files("trials.report").joinpath(SCHEMA).read_text(encoding="utf-8")
    return cast("dict[str, Plain]", json.loads(text))


def _within(levels: Levels, name: str = "within") -> dict[str, object]:
    return {name: dict(levels)} if levels else {}


def _mean(mean: Mean) -> dict[str, object]:
    return {
        "term": mean.term,
        "levels": dict(mean.levels),
        "n": mean.n,
        "mean": mean.mean,
        "se": mean.se,
        "df": mean.df,
        "low": mean.low,
        "high": mean.high,
        "letters": mean.letters,
        **_within(mean.letters_within, "letters_within"),
    }


def _pair(pair: Pair) -> dict[str, object]:
    return {
        "term": pair.term,
        "a": dict(pair.a),
        "b": dict(pair.b),
        **_within(pair.within),
        "difference": pair.difference,
        "se": pair.se,
        "df": pair.df,
        "t": pair.t,
        "p": pair.p,
        "p_adjusted": pair.p_adjusted,
        "low": pair.low,
        "high": pair.high,
        "verdict": pair.verdict,
        "chance_by_randomisation": pair.chance_by_randomisation,
    }


def _against_best(row: AgainstBest) -> dict[str, object]:
    return {
        "term": row.term,
        "levels": dict(row.levels),
        **_within(row.within),
        "low": row.low,
        "high": row.high,
        "could_be_best": row.could_be_best,
    }


def _least_difference(row: LeastDifference) -> dict[str, object]:
    return {
        "term": row.term,
        "comparing": row.comparing,
        "value": row.value,
        "smallest": row.smallest,
        "largest": row.largest,
        "shown": row.shown,
        "why": row.why,
    }


def _over_seasons(over: OverSeasons | None) -> dict[str, object] | None:
    if over is None:
        return None
    return {
        "own": [
            {
                "season": part.season,
                "site": part.site,
                "plots": part.plots,
                "method": part.method,
                "tests": part.tests,
                "means": [_mean(mean) for mean in part.means],
                "all_pairs": [_pair(pair) for pair in part.all_pairs],
                "why_not": part.why_not,
            }
            for part in over.own
        ],
        "not_told_apart": over.not_told_apart,
        "ranking": over.ranking,
        "why_no_ranking": over.why_no_ranking,
    }


def _solid(solid: Solid) -> dict[str, object]:
    return {
        "normality": solid.normality,
        "equal_spread": solid.equal_spread,
        "outliers": solid.outliers,
        "randomisation": _opinion(solid.randomisation),
        "count_model": _opinion(solid.count_model),
        "unequal_variances": _opinion(solid.unequal_variances),
        "fragile": solid.fragile,
        "not_dealt": [{"term": term, "why": why} for term, why in solid.not_dealt],
        "made": solid.made,
        "not_made": [{"check": name, "why": why} for name, why in solid.not_made],
    }


def _tested(tested: WhatWasTested) -> dict[str, object]:
    return {
        "factors": tested.factors,
        "empty": [dict(levels) for levels in tested.empty],
        "untested": tested.untested,
        "always_together": tested.always_together,
    }


def _records(found: RecordsDigest | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "trial": found.trial,
        "digest": found.digest,
        "closed_on": found.closed_on,
        "digest_at_closing": found.at_closing,
        "changed_after_closing": found.changed_after_closing,
    }


def _opinion(opinion: SecondOpinion | None) -> dict[str, object] | None:
    if opinion is None:
        return None
    return {
        "method": opinion.method,
        "p": dict(opinion.p),
        "agrees": opinion.agrees,
        "note": opinion.note,
        "tests": opinion.tests,
        "at_best": dict(opinion.at_best),
        "turned_pairs": [{"a": dict(a), "b": dict(b)} for a, b in opinion.turned_pairs],
    }
