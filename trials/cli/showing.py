"""The verbs that show the whole: the invented farm, and the pages in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from trials.cli.options import (
    json_option,
    progress,
    show,
    store_option,
    store_path,
)


@click.command()
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("tallybed-demo"),
    show_default=True,
    help="The folder to put the demo in.",
)
@json_option
def demo(into: Path, as_json: bool) -> None:
    """Run a whole season on an invented farm: load, close, compare, choose, order."""
    from trials import demo as run
    from trials.report.demo_page import demo_page
    from trials.report.plain import json_text, plain

    shown = run.demo(into, progress=None if as_json else progress())
    if as_json:
        show(json_text(plain({"store": shown.store, "files": [path for path, _ in shown.files]})))
        return
    show(
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


@click.command()
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
@click.option("--no-browser", is_flag=True, help="Do not open a browser window.")
@click.option("--lan", is_flag=True, help="Listen on the farm's network; everybody signs in.")
@click.option(
    "--certificate",
    type=click.Path(dir_okay=False, path_type=Path),
    help="With --lan: encrypt with this certificate (PEM).",
)
@click.option(
    "--key",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The certificate's key (PEM).",
)
@click.option("--blind", is_flag=True, help="At the bed, do not show what grows in a plot.")
@store_option
def dashboard(
    port: int,
    no_browser: bool,
    blind: bool,
    lan: bool,
    certificate: Path | None,
    key: Path | None,
    store: Path | None,
) -> None:
    """Open the season's pages in a browser, on this machine only unless --lan is given."""
    from dashboard.serve import Network, serve

    if not lan and (certificate or key):
        raise click.UsageError("--certificate and --key go with --lan.")
    network = Network(certificate=certificate, key=key) if lan else None
    serve(store_path(store), port=port, open_browser=not no_browser, network=network, blind=blind)
