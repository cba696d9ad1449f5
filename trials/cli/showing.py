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
@store_option
def dashboard(port: int, no_browser: bool, store: Path | None) -> None:
    """Open the season's pages in a browser, on this machine only."""
    from dashboard.serve import serve

    serve(store_path(store), port=port, open_browser=not no_browser)
