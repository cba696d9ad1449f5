"""The commands that show the whole program: the invented farm, and the pages in a browser."""

from __future__ import annotations

import os
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
    help="Folder for the demo.",
)
@json_option
def demo(into: Path, as_json: bool) -> None:
    """Run a whole season on an invented farm."""
    from trials.report.demo_page import demo_page
    from trials.report.plain import json_text, plain
    from trials.season import demo as run

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
            shown.winter,
            shown.store,
            shown.files,
        )
    )


@click.command()
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8501, help="Network port of the pages."
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser window.")
@click.option(
    "--lan", is_flag=True, help="Open the pages to the farm's network; everybody signs in."
)
@click.option(
    "--certificate",
    type=click.Path(dir_okay=False, path_type=Path),
    help="With --lan: encrypt with this certificate, such as farm.pem.",
)
@click.option(
    "--key",
    type=click.Path(dir_okay=False, path_type=Path),
    help="With --lan: the certificate's key, such as farm-key.pem.",
)
@click.option(
    "--host",
    "hosts",
    multiple=True,
    metavar="NAME",
    help="With --lan: another name of this computer, such as farm.local; repeat for more.",
)
@click.option("--blind", is_flag=True, help="Hide on page Tally what grows in each plot.")
@click.option(
    "--network",
    "published",
    metavar="FOLDER",
    envvar="TALLYBED_NETWORK",
    type=click.Path(file_okay=False, exists=True, path_type=Path),
    help="Show a network's publication, the folder of pool --publish.",
)
@store_option
def dashboard(
    port: int,
    no_browser: bool,
    blind: bool,
    lan: bool,
    hosts: tuple[str, ...],
    certificate: Path | None,
    key: Path | None,
    published: Path | None,
    store: Path | None,
) -> None:
    """Open the pages in a browser.

    Only this computer can see them, unless you give --lan.
    """
    from dashboard.access.network import Network
    from dashboard.serve import serve

    if not lan and (certificate or key or hosts):
        raise click.UsageError("--host, --certificate and --key need --lan.")
    os.environ["TALLYBED_NETWORK"] = "" if published is None else str(published.absolute())
    network = Network(hosts=hosts, certificate=certificate, key=key) if lan else None
    serve(store_path(store), port=port, open_browser=not no_browser, network=network, blind=blind)


@click.command("install-shortcut")
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the shortcut (default: your desktop, and on Linux the menu of programs).",
)
@store_option
@json_option
def install_shortcut(into: Path | None, store: Path | None, as_json: bool) -> None:
    """Make a shortcut that opens the pages with a double-click."""
    from trials import season
    from trials.report.pages import shortcut_page
    from trials.report.plain import json_text, plain

    made = season.install_shortcut(store_path(store), into)
    if as_json:
        show(json_text(plain(made)))
        return
    show(shortcut_page(made.files, made.system.value, tried=made.tried))
