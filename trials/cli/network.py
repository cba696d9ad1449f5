"""The commands for networks of farms: pool their trials, and contribute to a pool."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import json_option, show, store_option, store_path

if TYPE_CHECKING:
    from trials.pool.run import Progress


@click.command()
@click.argument("sources", metavar="SOURCE...", nargs=-1, required=True)
@click.option(
    "--into",
    required=True,
    metavar="FOLDER",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the results. Name the same folder again to continue a run.",
)
@click.option(
    "--measure",
    "measures",
    multiple=True,
    help="Only this measure, such as stems_per_plant; repeat for more (default: all).",
)
@click.option(
    "--workers",
    type=click.IntRange(min=1),
    default=1,
    help="Number of processes on this computer.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Use the Dask cluster at this address, such as tcp://10.0.0.5:8786.",
)
@click.option(
    "--publish",
    "publish_to",
    metavar="FOLDER",
    type=click.Path(file_okay=False, path_type=Path),
    help="Also write results over all farms to this folder, without naming a farm.",
)
@click.option(
    "--fewest-farms",
    type=click.IntRange(min=2),
    default=5,
    show_default=True,
    help="Withhold figures from fewer farms than this.",
)
@json_option
def pool(
    sources: tuple[str, ...],
    into: Path,
    measures: tuple[str, ...],
    workers: int,
    scheduler: str | None,
    publish_to: Path | None,
    fewest_farms: int,
    as_json: bool,
) -> None:
    """Compare the trials of many farms.

    A SOURCE is a store, a package, a folder of packages, a contributed folder or a Parquet set.
    """
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.pool_page import pooled_page

    told = _progress if sys.stderr.isatty() else None
    done = season.pool(
        sources,
        into,
        workers=workers,
        scheduler=scheduler,
        measures=measures,
        publish_to=publish_to,
        fewest_farms=fewest_farms,
        told=told,
    )
    if told is not None:
        click.echo(err=True)
    show(json_text(plain(done)) if as_json else pooled_page(done))


def _progress(so_far: Progress) -> None:
    text = f"\r{so_far.partitions:,} of {so_far.of:,} farm seasons, {so_far.trials:,} trials"
    click.echo(text, nl=False, err=True)


@click.command()
@click.argument("folder", metavar="FOLDER", type=click.Path(file_okay=False, path_type=Path))
@click.option(
    "--trial",
    "trials",
    multiple=True,
    help="Only this trial; repeat for more (default: every closed one).",
)
@click.option("--withdraw", is_flag=True, help="Remove this farm's trials from the folder again.")
@store_option
@json_option
def contribute(
    folder: Path, trials: tuple[str, ...], withdraw: bool, store: Path | None, as_json: bool
) -> None:
    """Share closed trials with a network of farms, under codes.

    Varieties, plots and counts are written. Names of places and people are not.
    """
    from trials import season
    from trials.report.plain import json_text, plain
    from trials.report.pool_page import contributed_page

    if withdraw:
        done = season.withdraw_contribution(store_path(store), folder)
    else:
        done = season.contribute(store_path(store), folder, trials)
    show(json_text(plain(done)) if as_json else contributed_page(done))
