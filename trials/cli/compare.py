"""The verb that compares: a trial of the store, or any table."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import (
    as_known_at_option,
    json_option,
    margin_option,
    show,
    store_option,
    store_path,
    units_option,
)

if TYPE_CHECKING:
    from trials.model import Margin


@click.command()
@click.argument("trial", required=False)
@click.option(
    "--table",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Compare any CSV table instead of a trial in the store.",
)
@click.option("--measure", help="What to compare (a trial: its primary measure by default).")
@click.option("--treatment", multiple=True, help="Table: a column of treatments; may be repeated.")
@click.option("--block", help="Table: the column of complete blocks.")
@click.option("--row", help="Table: the column of rows.")
@click.option("--column", help="Table: the column of columns.")
@click.option("--incomplete-block", help="Table: the column of incomplete blocks.")
@click.option("--whole-plot", multiple=True, help="Table: a treatment applied to whole plots.")
@click.option("--whole-plot-unit", help="Table: the column that names the whole plots.")
@click.option("--split-plot", multiple=True, help="Table: a treatment applied to split plots.")
@click.option("--strip", multiple=True, help="Table: a treatment applied in crossing strips.")
@click.option("--plot", help="Table: rows that share it are sub-samples of one plot.")
@click.option("--plants", help="Table: a column of plants; the measure is divided by it.")
@click.option("--covariate", multiple=True, help="Table: a column taken at its mean.")
@click.option("--season", "season_column", help="Table: the column of seasons.")
@click.option("--site", help="Table: the column of sites.")
@click.option("--check", help="The level to compare the others with.")
@click.option("--better", type=click.Choice(["higher", "lower"]), help="Which way is welcome.")
@click.option(
    "--margin",
    callback=margin_option,
    metavar="X|X%",
    help="A difference too small to matter to you: 3, or 10%.",
)
@click.option(
    "--alpha",
    type=click.FloatRange(0, 0.5, min_open=True, max_open=True),
    help="The risk of a false alarm you accept (0.05 by default).",
)
@click.option(
    "--scale",
    type=click.Choice(["log", "sqrt", "logit"]),
    help="Compare on another scale: differences are ratios (log) or odds ratios (logit).",
)
@click.option(
    "--leave-out-missed",
    is_flag=True,
    help="Trial: leave out plots with missed or unrecorded picks.",
)
@click.option("--every-pair", is_flag=True, help="List every pair, also those that tie.")
@as_known_at_option
@units_option
@store_option
@json_option
def compare(
    trial: str | None,
    table: Path | None,
    measure: str | None,
    treatment: tuple[str, ...],
    block: str | None,
    row: str | None,
    column: str | None,
    incomplete_block: str | None,
    whole_plot: tuple[str, ...],
    whole_plot_unit: str | None,
    split_plot: tuple[str, ...],
    strip: tuple[str, ...],
    plot: str | None,
    plants: str | None,
    covariate: tuple[str, ...],
    season_column: str | None,
    site: str | None,
    check: str | None,
    better: str | None,
    margin: Margin | None,
    alpha: float | None,
    scale: str | None,
    leave_out_missed: bool,
    every_pair: bool,
    as_known_at: datetime | int | None,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Say which differences are real and which are the luck of the bed.

    Either name a TRIAL of the store, or give any CSV table with --table, --measure and
    --treatment.
    """
    from trials import season
    from trials.comparing import Asked
    from trials.model import Better
    from trials.records.any_table import TableColumns
    from trials.report.comparison_page import comparison_page
    from trials.report.document import comparison_document
    from trials.report.history_page import as_known_words
    from trials.report.plain import json_text
    from trials.stats import Scale
    from trials.units import UnitSystem

    scales = {
        None: Scale.IDENTITY,
        "log": Scale.LOG,
        "sqrt": Scale.SQUARE_ROOT,
        "logit": Scale.LOGIT,
    }
    asked = Asked(
        alpha=alpha,
        check=check,
        better=None if better is None else Better(better),
        margin=margin,
        scale=scales[scale],
        leave_out_missed=leave_out_missed,
    )
    if table is not None:
        if trial is not None:
            raise click.UsageError("Name a trial or give --table, not both.")
        if as_known_at is not None:
            raise click.UsageError("--as-known-at is of a trial of the store, not of a table.")
        if measure is None or not (treatment or whole_plot or split_plot or strip):
            raise click.UsageError("--table needs --measure and at least one --treatment.")
        columns = TableColumns(
            measure=measure,
            treatments=treatment,
            block=block,
            row=row,
            column=column,
            incomplete_block=incomplete_block,
            whole_plot=whole_plot,
            whole_plot_unit=whole_plot_unit,
            split_plot=split_plot,
            strips=strip,
            plot=plot,
            plants=plants,
            covariates=covariate,
            season=season_column,
            site=site,
        )
        comparison, title = season.compare_table(table, columns, asked), table.name
        rests_on = None
    elif trial is not None:
        place = store_path(store)
        comparison = season.compare(place, trial, measure, asked, as_known_at)
        title = trial + as_known_words(as_known_at)
        rests_on = season.records_digest(place, trial, as_known_at)
    else:
        raise click.UsageError("Name a trial of the store, or give --table.")
    if as_json:
        show(json_text(comparison_document(comparison, rests_on)))
    else:
        show(comparison_page(comparison, title, UnitSystem(units), rests_on, every_pair=every_pair))
