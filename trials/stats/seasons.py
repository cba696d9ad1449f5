"""Several seasons or sites: each one's own result, and what a next season may bring.

Formula: limits = prediction ± t sqrt(error of prediction + a new swing + the level of a new
    season).
Limits: Two seasons or sites at least, and 3 entries; a next season is taken to be like those seen.
Source: Higgins, Thompson & Spiegelhalter 2009, J. R. Statist. Soc. A 172:137, section 4;
    Satterthwaite 1946.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np

from trials.errors import ComparisonRefused
from trials.model.trial import Better
from trials.stats.design.experimental_units import grouped
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.scale import as_difference, in_unit
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats, Labels, PlotTable, Question
from trials.stats.distributions.quadrature import t_quantile
from trials.stats.fit.analysis import Analysis
from trials.stats.fit.prediction import Predictions, predictions
from trials.stats.results import Comparison, Method, OverSeasons, OwnResult, Predicted, Ranking

FEWEST_ENTRIES = 3
FEW_ENTRIES = 6  # fewer tell little of how much entries vary

Compare = Callable[[PlotTable, Question], Comparison]


def over_seasons(
    table: PlotTable, question: Question, analysis: Analysis, compare: Compare
) -> OverSeasons:
    """What a table of several seasons or sites says beyond the mean over them.

    ``compare`` makes the comparison of one season at one site from its own rows. A season that
    cannot be compared, or entries that cannot be predicted, are left without figures and say why.
    """
    own = tuple(_own(part, question, compare) for part in _parts(table))
    apart = not_told_apart(analysis.structure)
    structure = analysis.structure
    if len(structure.cells.factors) > 1:
        why = "Only a table with one treatment column gives predictions for a next season."
        return OverSeasons(own, apart, None, why)
    if len(structure.cells.codes) < FEWEST_ENTRIES:
        why = (
            f"With fewer than {FEWEST_ENTRIES} levels the variation between them cannot be "
            "estimated, so there are no predictions for a next season."
        )
        return OverSeasons(own, apart, None, why)
    try:
        return OverSeasons(own, apart, ranking(analysis, question))
    except ComparisonRefused as refusal:
        return OverSeasons(own, apart, None, str(refusal))


# --- each season by itself --------------------------------------------------------------------


def _parts(table: PlotTable) -> list[PlotTable]:
    """The rows of each season at each site; what did not vary is left out of their names."""
    table = replace(table, season=_varied(table.season), site=_varied(table.site))
    named = [labels for labels in (table.season, table.site) if labels is not None]
    trial = grouped("trial", *(labels.codes for labels in named))
    return [_some(table, np.flatnonzero(trial.codes == each)) for each in range(trial.count)]


def _varied(labels: Labels | None) -> Labels | None:
    return None if labels is None or np.ptp(labels.codes) == 0 else labels


def _some(table: PlotTable, rows: Codes) -> PlotTable:
    columns = {each.name: getattr(table, each.name) for each in fields(table)}
    labels: dict[str, Any] = {
        name: column.take(rows) for name, column in columns.items() if isinstance(column, Labels)
    }
    return replace(
        table,
        y=table.y[rows],
        treatments=tuple(
            replace(treatment, labels=treatment.labels.take(rows)) for treatment in table.treatments
        ),
        plot_names=tuple(table.plot_names[row] for row in rows),
        plants=None if table.plants is None else table.plants[rows],
        covariates=tuple((name, values[rows]) for name, values in table.covariates),
        **labels,
    )


def _own(part: PlotTable, question: Question, compare: Compare) -> OwnResult:
    season, site = (None if at is None else at.levels[0] for at in (part.season, part.site))
    known = {level for treatment in part.treatments for level in treatment.labels.levels}
    if question.check not in known:
        question = replace(question, check=None)  # the check was not grown in this season
    try:
        found = compare(part, question)
    except ComparisonRefused as refusal:
        plots = int(np.isfinite(part.y).sum())
        return OwnResult(season, site, plots, Method.DESCRIPTION, (), (), (), str(refusal))
    return OwnResult(
        season,
        site,
        found.plots,
        found.method,
        found.tests,
        found.means,
        found.all_pairs,
        " ".join(dict.fromkeys(item.reason for item in found.layout.not_replicated)),
    )


# --- what cannot be told apart ----------------------------------------------------------------


def not_told_apart(structure: Structure) -> tuple[str, ...]:
    """Swings that this table cannot hold apart, each as a sentence."""
    ground, cells = structure.ground, structure.cells
    trial, season, site = ground.trial, ground.season, ground.site
    if trial is None:
        return ()
    said = []
    if season is not None and site is not None:
        alone = [each.source for each in (season, site) if each.count == trial.count]
        if len(alone) == 2:
            said.append(
                "Every season had its own site, so the effects of season and site cannot be "
                "separated."
            )
        elif alone:
            other = "site" if alone == ["season"] else "season"
            said.append(
                f"Every {alone[0]} had one {other} only, so the variation of {alone[0]}s within a "
                f"{other} cannot be separated from that of the two together."
            )
    sources = {grouping.source for grouping in structure.random}
    name = cells.factors[0]
    if len(cells.factors) == 1 and f"{name} × {trial.source}" not in sources:
        where = "season" if trial.source == "season" else f"each {trial.source} together"
        said.append(
            f"With one plot of each {name} per {where.removeprefix('each ')}, its season-to-season "
            "variation cannot be separated from the chance variation of plots."
        )
    if trial.source == "site":
        said.append("All plots are from one season. Another season may differ.")
    return tuple(said)


# --- predictions ------------------------------------------------------------------------------


def ranking(analysis: Analysis, question: Question) -> Ranking:
    """The levels of the only factor as random entries, with a next season's limits.

    The limits are prediction intervals at 1 - alpha, one entry at a time: its error of prediction,
    a new swing, and for its mean the general level of a new season beside those seen. Its swing
    counts sites too where they varied: a next season at a site like these. Where a swing cannot
    be told from the luck of plots, all of that luck is counted as swing.

    Source: of the principle, Higgins, Thompson & Spiegelhalter 2009, J. R. Statist. Soc. A
    172:137, section 4; of the degrees of freedom, Satterthwaite 1946.
    """
    structure, model = analysis.structure, analysis.model
    factor = structure.cells.factors[0]
    entries = Grouping(factor, model.cells.codes, model.cells.count)
    everything = Grouping("all", np.zeros(model.y.size, dtype=np.intp), 1)
    found = predictions(
        LinearModel(
            model.y, everything, model.fixed, (entries, *structure.random), model.covariates
        )
    )
    swings = _swings(structure, factor)
    swing = float(swings @ np.concatenate([[found.residual_variance], found.variances]))
    leads, errors = found.leads, np.sqrt(found.lead_errors)
    levels = _trial_levels(structure, found)
    level_sd = None if levels.size < 2 else float(np.std(levels, ddof=1))
    by_season = structure.ground.trial is not None and "season" in structure.ground.trial.source
    limits = _limits(found, swings, swing, levels, structure, question.alpha) if by_season else None
    order = np.argsort(leads, kind="stable")
    if question.better is not Better.LOWER:
        order = order[::-1]
    centre, scale = float(levels.mean()), question.scale
    reliability = found.reliability
    centre += float(found.effects.mean())
    rows = []
    for i in order.tolist():
        lead = float(leads[i])
        reach, reach_mean = (None, None) if limits is None else limits[i].tolist()
        rows.append(
            Predicted(
                level=structure.cells.levels[0][i],
                mean=in_unit(centre + lead, scale),
                lead=as_difference(lead, scale),
                se=float(errors[i]),
                reliability=float(reliability[i]),
                low=None if reach_mean is None else in_unit(centre + lead - reach_mean, scale),
                high=None if reach_mean is None else in_unit(centre + lead + reach_mean, scale),
                lead_low=None if reach is None else as_difference(lead - reach, scale),
                lead_high=None if reach is None else as_difference(lead + reach, scale),
            )
        )
    return Ranking(
        factor=factor,
        entries=tuple(rows),
        reliability=float(reliability.mean()),
        entry_sd=float(np.sqrt(found.variances[0])),
        swing_sd=float(np.sqrt(swing)) if by_season else None,
        level_sd=level_sd if by_season else None,
        note=_note(found, entries.count, structure),
    )


def _swings(structure: Structure, factor: str) -> Floats:
    """1 for each variance (residual, entries, the others) that a new season draws anew."""
    named = [grouping.source.startswith(f"{factor} × ") for grouping in structure.random]
    trial = structure.ground.trial
    whole = trial is not None and any(
        grouping.source == f"{factor} × {trial.source}" for grouping in structure.random
    )
    return np.array([not whole, False, *named], dtype=float)


def _trial_levels(structure: Structure, found: Predictions) -> Floats:
    """The general level of each season at each site, for an average entry."""
    trial = structure.ground.trial
    if trial is None:
        return np.array([float(found.fixed_part.mean())])
    return np.bincount(trial.codes, found.fixed_part) / np.bincount(trial.codes)


def _limits(
    found: Predictions,
    swings: Floats,
    swing: float,
    levels: Floats,
    structure: Structure,
    alpha: float,
) -> Floats:
    """Half the width (k, 2) of the limits of each entry's lead, and of its mean."""
    own = 1.0 - 1.0 / found.effects.size  # the entry's swing less the mean of all swings
    lead = found.lead_errors + own * swing
    season = structure.ground.season or structure.ground.trial
    seasons = levels.size if season is None else season.count
    # A swing estimated at 0 would leave it less than 1; seasons less 1 were seen whatever it is.
    lead_df = np.maximum(found.df(own * swings), seasons - 1)
    level = float(np.var(levels, ddof=1)) * (1.0 + 1.0 / levels.size)
    whole = lead + level
    whole_df = whole**2 / (lead**2 / lead_df + level**2 / (seasons - 1))
    return np.column_stack(
        [
            t_quantile(1 - alpha / 2, lead_df) * np.sqrt(lead),
            t_quantile(1 - alpha / 2, whole_df) * np.sqrt(whole),
        ]
    )


def _note(found: Predictions, entries: int, structure: Structure) -> str:
    if found.variances[0] == 0.0:
        return "The entries differ no more than chance could explain, so there is no ranking."
    said = []
    if entries < FEW_ENTRIES:
        said.append(f"How much entries vary is estimated from only {entries} of them.")
    season = structure.ground.season or structure.ground.trial
    if season is not None and "season" in season.source and season.count == 2:
        said.append(
            "Two seasons are too few to show how much whole seasons differ. Use the "
            "differences from the average."
        )
    return " ".join(said)
