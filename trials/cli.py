"""The command line: arguments in, one call to the season, its report printed."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from trials.errors import TallybedError

if TYPE_CHECKING:
    from trials.model import Margin

Command = TypeVar("Command", bound=Callable[..., Any])


class _Verbs(click.Group):
    """Lists the verbs in the order of a season rather than of the alphabet."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


def _store_option(command: Command) -> Command:
    return click.option(
        "--store",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="TALLYBED_STORE",
        help="The store to use (default: one in this computer's data folder).",
    )(command)


def _json_option(command: Command) -> Command:
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document instead of a page."
    )(command)


def _units_option(command: Command) -> Command:
    return click.option(
        "--units",
        type=click.Choice(["metric", "us"]),
        default="metric",
        envvar="TALLYBED_UNITS",
        show_default=True,
        help="Centimetres and metres, or inches and feet.",
    )(command)


def _store_path(store: Path | None) -> Path:
    if store is not None:
        return store
    from platformdirs import user_data_path

    return user_data_path("tallybed", appauthor=False) / "farm.tallybed"


def _day(_ctx: click.Context, _param: click.Parameter, value: str | None) -> date | None:
    if value is None:
        return None
    try:
        return datetime.strptime(value, "%Y-%m-%d").date()
    except ValueError:
        raise click.BadParameter(f"{value!r} is not a day. Write it as 2026-10-14.") from None


def _margin(_ctx: click.Context, _param: click.Parameter, value: str | None) -> Margin | None:
    if value is None:
        return None
    from trials.model import Margin

    number = value.strip().removesuffix("%").strip()
    try:
        return Margin(float(number), percent=value.strip().endswith("%"))
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is not a margin. Write a positive number such as 3, or per cent: 10%."
        ) from None


def _print(text: str) -> None:
    sys.stdout.write(text)


@click.group(
    cls=_Verbs,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 100},
)
@click.version_option(package_name="tallybed", message="%(prog)s %(version)s")
def tallybed() -> None:
    """Side-by-side flower trials, from tallied plots to next year's seed order.

    A season: load the records, close the trial after frost, compare, choose, order.
    Try it all on an invented farm with: tallybed demo
    """


@tallybed.command()
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("tallybed-demo"),
    show_default=True,
    help="The folder to put the demo in.",
)
@_json_option
def demo(into: Path, as_json: bool) -> None:
    """Run a whole season on an invented farm: load, close, compare, choose, order."""
    from trials import demo as run
    from trials.report.demo_page import demo_page
    from trials.report.plain import json_text, plain

    shown = run.demo(into, progress=None if as_json else _progress())
    if as_json:
        _print(json_text(plain({"store": shown.store, "files": [path for path, _ in shown.files]})))
        return
    _print(
        demo_page(
            len(shown.closings),
            shown.comparison,
            shown.side_by_side,
            shown.choice,
            shown.ordering,
            shown.store,
            shown.files,
        )
    )


def _progress() -> Callable[[str], None] | None:
    if not sys.stderr.isatty():
        return None
    return lambda step: click.echo(f"… {step}", err=True)


@tallybed.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Judge the files and store nothing.")
@_store_option
@_json_option
def load(files: tuple[Path, ...], dry_run: bool, store: Path | None, as_json: bool) -> None:
    """Bring records in from CSV files or a folder of them: all of it, or nothing."""
    from trials import season
    from trials.report.pages import load_page
    from trials.report.plain import json_text, plain

    added = season.load(_store_path(store), files, dry_run=dry_run)
    _print(json_text(plain(added)) if as_json else load_page(added, dry_run=dry_run))


@tallybed.command("trials")
@_store_option
@_json_option
def list_trials(store: Path | None, as_json: bool) -> None:
    """List the trials of the store and what each needs next."""
    from trials import season
    from trials.report.pages import trials_page
    from trials.report.plain import json_text, plain

    found = season.trials(_store_path(store))
    _print(json_text(plain(found)) if as_json else trials_page(found))


@tallybed.command()
@click.argument("trial")
@click.option(
    "--on",
    "closed_on",
    required=True,
    callback=_day,
    metavar="DATE",
    help="The day the season ended, such as 2026-10-14.",
)
@click.option("--reason", default="first frost", show_default=True, help="What ended it.")
@_store_option
@_json_option
def close(trial: str, closed_on: date, reason: str, store: Path | None, as_json: bool) -> None:
    """End a trial's season and say what its records hold and lack."""
    from trials import season
    from trials.report.pages import closing_page
    from trials.report.plain import json_text, plain

    closing = season.close(_store_path(store), trial, closed_on, reason)
    _print(json_text(plain(closing)) if as_json else closing_page(closing))


@tallybed.command()
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
    callback=_margin,
    metavar="X|X%",
    help="A difference too small to matter to you: 3, or 10%.",
)
@click.option(
    "--alpha",
    type=click.FloatRange(0, 0.5, min_open=True, max_open=True),
    help="The risk of a false alarm you accept (0.05 by default).",
)
@click.option("--every-pair", is_flag=True, help="List every pair, also those that tie.")
@_units_option
@_store_option
@_json_option
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
    every_pair: bool,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Say which differences are real and which are the luck of the bed.

    Either name a TRIAL of the store, or give any CSV table with --table, --measure and
    --treatment.
    """
    from trials import season
    from trials.model import Better
    from trials.records.any_table import TableColumns
    from trials.report.comparison_page import comparison_page
    from trials.report.document import comparison_document
    from trials.report.figures import UnitSystem
    from trials.report.plain import json_text

    asked = season.Asked(
        alpha=alpha, check=check, better=None if better is None else Better(better), margin=margin
    )
    if table is not None:
        if trial is not None:
            raise click.UsageError("Name a trial or give --table, not both.")
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
    elif trial is not None:
        comparison, title = season.compare(_store_path(store), trial, measure, asked), trial
    else:
        raise click.UsageError("Name a trial of the store, or give --table.")
    if as_json:
        _print(json_text(comparison_document(comparison)))
    else:
        _print(comparison_page(comparison, title, UnitSystem(units), every_pair=every_pair))


@tallybed.command()
@click.argument("crop")
@click.option("--measure", help="What decides (the newest trial's primary measure by default).")
@click.option(
    "--tall-chance",
    type=click.FloatRange(0, 1),
    help="The chance of stems long enough to sell that a variety must have (0.8 by default).",
)
@_units_option
@_store_option
@_json_option
def choose(
    crop: str,
    measure: str | None,
    tall_chance: float | None,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Say what to reorder, try again or drop, over all closed trials of a CROP."""
    from trials import season
    from trials.decide import Rules
    from trials.report.choice_page import choice_page
    from trials.report.documents import choice_document
    from trials.report.figures import UnitSystem
    from trials.report.plain import json_text

    rules = Rules() if tall_chance is None else Rules(tall_chance=tall_chance)
    choice = season.choose(_store_path(store), crop, measure, rules)
    if as_json:
        _print(json_text(choice_document(choice)))
    else:
        _print(choice_page(choice, UnitSystem(units)))


@tallybed.command()
@click.argument("crop")
@click.option(
    "--bed-metres",
    type=click.FloatRange(0, min_open=True),
    required=True,
    help="Metres of bed to sow to this crop each time, shared by the varieties.",
)
@click.option(
    "--successions",
    type=click.IntRange(1),
    default=1,
    show_default=True,
    help="How many times it is sown in the season.",
)
@click.option("--variety", multiple=True, help="A variety to order; without it, those to reorder.")
@click.option("--most", type=click.IntRange(1), help="At most so many of those to reorder.")
@click.option(
    "--plants-per-metre",
    type=click.FloatRange(0, min_open=True),
    help="Plants in a metre of bed (as in the newest trial by default).",
)
@click.option(
    "--trial-plants",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    help="Plants to order of each variety to try again, for next season's plots.",
)
@click.option("--budget", type=click.FloatRange(0), help="What may be spent, carriage included.")
@click.option("--csv", "csv_path", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--pdf", "pdf_path", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--farm", default="", help="The name to print at the head of the order.")
@_units_option
@_store_option
@_json_option
def order(
    crop: str,
    bed_metres: float,
    successions: int,
    variety: tuple[str, ...],
    most: int | None,
    plants_per_metre: float | None,
    trial_plants: int,
    budget: float | None,
    csv_path: Path | None,
    pdf_path: Path | None,
    farm: str,
    units: str,
    store: Path | None,
    as_json: bool,
) -> None:
    """Turn the choice of a CROP into the cheapest seed order over all seed houses."""
    from trials import season
    from trials.decide import Sowing
    from trials.report.documents import ordering_document
    from trials.report.figures import UnitSystem
    from trials.report.order_page import order_page
    from trials.report.plain import json_text

    path = _store_path(store)
    sowing = Sowing(
        bed_metres=bed_metres,
        successions=successions,
        varieties=variety,
        most=most,
        plants_per_metre=plants_per_metre,
        trial_plants=trial_plants,
    )
    ordering = season.order(path, season.choose(path, crop), sowing, budget)
    if csv_path is not None:
        season.write_order_csv(ordering, csv_path)
    if pdf_path is not None:
        season.write_order_pdf(ordering, pdf_path, farm=farm, on=date.today())
    if as_json:
        _print(json_text(ordering_document(ordering)))
    else:
        _print(order_page(ordering, UnitSystem(units)))


@tallybed.command()
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
@click.option("--no-browser", is_flag=True, help="Do not open a browser window.")
@_store_option
def dashboard(port: int, no_browser: bool, store: Path | None) -> None:
    """Open the season's pages in a browser, on this machine only."""
    from dashboard.serve import serve

    serve(_store_path(store), port=port, open_browser=not no_browser)


def main() -> None:
    """Run the command line: 0 done, 2 a mistake of the caller's, 1 a fault of ours."""
    # Threads cost more than they give on matrices of a trial's size; set before numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        tallybed(prog_name="tallybed")
    except TallybedError as refusal:
        click.echo(f"tallybed: {refusal}", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # The reader of our output went away (as `head` does): not a fault, and nothing to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
