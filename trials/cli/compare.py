"""The command that compares: a stored trial, or any table."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import (
    as_of_option,
    in_a_terminal,
    json_option,
    margin_option,
    readers_units,
    show,
    store_option,
    store_path,
    units_option,
)
from trials.errors import TableUnclear
from trials.report.grid import for_terminal

if TYPE_CHECKING:
    from trials.model.trial import Margin
    from trials.records.table.columns import TableColumns
    from trials.season.comparing import Asked
    from trials.stats.results import Comparison


@click.command()
@click.argument("trial", required=False)
@click.option(
    "--table",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Compare a table of your own (CSV, XLSX or Parquet) instead of a stored trial.",
)
@click.option(
    "--measure",
    help="Measure to compare, such as stems_per_plant (default: the trial's primary measure).",
)
@click.option(
    "--treatment",
    multiple=True,
    help="Table: column with a treatment, such as variety; repeat for more.",
)
@click.option("--block", help="Table: column with the complete block.")
@click.option("--row", help="Table: column with the field-row number.")
@click.option("--column", help="Table: column with the field-column number.")
@click.option("--incomplete-block", help="Table: column with the incomplete block.")
@click.option(
    "--whole-plot", multiple=True, help="Table: column with a treatment given to whole plots."
)
@click.option("--whole-plot-unit", help="Table: column that names the whole plot.")
@click.option(
    "--split-plot", multiple=True, help="Table: column with a treatment given to split plots."
)
@click.option(
    "--strip", multiple=True, help="Table: column with a treatment given to crossing strips."
)
@click.option("--plot", help="Table: column that names the plot; its rows are averaged.")
@click.option("--plants", help="Table: column with the number of plants; divides the measure.")
@click.option("--of", help="Table: column with the total; makes the measure a share of it.")
@click.option(
    "--covariate",
    multiple=True,
    help="Table: column with a covariate; means are adjusted to its mean.",
)
@click.option("--season", "season_column", help="Table: column with the season.")
@click.option("--site", help="Table: column with the site.")
@click.option(
    "--rows-are",
    type=click.Choice(["plots", "plants"]),
    help="Table: what one row is; rows of plants are averaged per plot (default: asked).",
)
@click.option(
    "--ignore", multiple=True, help="Table: column that has nothing to do with the layout."
)
@click.option("--check", help="Check variety to compare the others with (default: the trial's).")
@click.option(
    "--better",
    type=click.Choice(["higher", "lower"]),
    help="Whether higher or lower is better (default: as the measure says).",
)
@click.option(
    "--equivalence-margin",
    "margin",
    callback=margin_option,
    metavar="X|X%",
    help="Difference that does not matter to you: 3, or 10% (default: the trial's).",
)
@click.option(
    "--alpha",
    type=click.FloatRange(0, 0.5, min_open=True, max_open=True),
    help="Accepted risk of a false alarm (default: the trial's; 0.05 for a table).",
)
@click.option(
    "--scale",
    type=click.Choice(["log", "sqrt", "logit"]),
    help="Compare on this scale; differences become ratios (log) or odds ratios (logit).",
)
@click.option(
    "--leave-out-missed",
    is_flag=True,
    help="Trial: leave out plots with missed or unrecorded harvests.",
)
@click.option(
    "--all-pairs", is_flag=True, help="List all pairs, including those too close to call."
)
@as_of_option
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
    of: str | None,
    covariate: tuple[str, ...],
    season_column: str | None,
    site: str | None,
    rows_are: str | None,
    ignore: tuple[str, ...],
    check: str | None,
    better: str | None,
    margin: Margin | None,
    alpha: float | None,
    scale: str | None,
    leave_out_missed: bool,
    all_pairs: bool,
    as_of: datetime | int | None,
    units: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Show which differences are larger than chance.

    Name a stored TRIAL, or give a table of your own with --table, --measure and --treatment.
    """
    from trials import season
    from trials.model.trial import Better
    from trials.records.table.columns import TableColumns
    from trials.report.comparison_page import comparison_page
    from trials.report.document import comparison_document
    from trials.report.history_page import as_known_words
    from trials.report.plain import json_text
    from trials.season.comparing import Asked
    from trials.stats import Scale
    from trials.stats.design.table import RowsAre

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
        if as_of is not None:
            raise click.UsageError("--as-of works with a stored trial, not with a table.")
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
            of=of,
            covariates=covariate,
            season=season_column,
            site=site,
            rows_are=None if rows_are is None else RowsAre(rows_are),
            ignored=ignore,
        )
        comparison, title = _compare_table(table, columns, asked), table.name
        rests_on, farm_units = None, None
    elif trial is not None:
        found = season.compare_with_digest(store_path(store), trial, measure, asked, as_of)
        comparison, title = found.comparison, trial + as_known_words(as_of)
        rests_on, farm_units = found.digest, found.units
    else:
        raise click.UsageError("Name a stored trial, or give --table.")
    if as_json:
        show(json_text(comparison_document(comparison, rests_on)))
    else:
        shown_in = readers_units(units or farm_units, store)
        show(comparison_page(comparison, title, shown_in, rests_on, every_pair=all_pairs))


def _compare_table(table: Path, columns: TableColumns, asked: Asked) -> Comparison:
    """Compare a table; in a terminal, ask what its columns leave open."""
    from trials import season
    from trials.records.table.questions import answered

    while True:
        try:
            return season.compare_table(table, columns, asked)
        except TableUnclear as unclear:
            answerable = all(each.answers for each in unclear.questions)
            if not (answerable and in_a_terminal()):
                raise
            for each in unclear.questions:
                kind = click.Choice(each.answers)
                answer = click.prompt(for_terminal(each.words), type=kind, err=True)
                columns = answered(columns, each, answer)
