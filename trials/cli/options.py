"""What several verbs share: their options, and how their text becomes values."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from datetime import time as clock
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from trials.report.grid import for_terminal
from trials.units import PaperSize

if TYPE_CHECKING:
    from trials.batch import Signed
    from trials.model import Margin

Command = TypeVar("Command", bound=Callable[..., Any])


def store_option(command: Command) -> Command:
    """--store: the store to use."""
    return click.option(
        "--store",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="TALLYBED_STORE",
        help="The store to use (default: one in this computer's data folder).",
    )(command)


def json_option(command: Command) -> Command:
    """--json: one document instead of a page."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document instead of a page."
    )(command)


def units_option(command: Command) -> Command:
    """--units: what the reader thinks in."""
    return click.option(
        "--units",
        type=click.Choice(["metric", "us"]),
        default="metric",
        envvar="TALLYBED_UNITS",
        show_default=True,
        help="Centimetres and metres, or inches and feet.",
    )(command)


def _reason(_context: click.Context, _option: click.Parameter, accept: str | None) -> str | None:
    if accept is not None and not accept.strip():
        raise click.BadParameter('say why, such as "measured twice"')
    return None if accept is None else accept.strip()


def accept_option(command: Command) -> Command:
    """--accept: why unlikely records are true."""
    return click.option(
        "--accept",
        metavar="REASON",
        callback=_reason,
        help="Take unlikely records: say why they are true.",
    )(command)


def paper_option(command: Command) -> Command:
    """--paper: the sheets in the printer."""
    return click.option(
        "--paper",
        type=click.Choice(list(PaperSize), case_sensitive=False),
        default=PaperSize.A4,
        envvar="TALLYBED_PAPER",
        show_default=True,
        help="The sheets in your printer.",
    )(command)


def store_path(store: Path | None) -> Path:
    """The store asked for, or the one in this computer's data folder."""
    if store is not None:
        return store
    from platformdirs import user_data_path

    return user_data_path("tallybed", appauthor=False) / "farm.tallybed"


def day(_ctx: click.Context, _param: click.Parameter, value: str | None) -> date | None:
    """An option's text as a day."""
    if value is None:
        return None
    try:
        return datetime.strptime(value, "%Y-%m-%d").date()
    except ValueError:
        raise click.BadParameter(f"{value!r} is not a day. Write it as 2026-10-14.") from None


def who_option(command: Command) -> Command:
    """--who: whose name the history keeps."""
    return click.option(
        "--who",
        envvar="TALLYBED_WHO",
        help="Whose name the history keeps (default: your login name).",
    )(command)


def why_option(command: Command) -> Command:
    """--why: the reason the history keeps."""
    return click.option("--why", required=True, help="Why, in a few words: the history keeps it.")(
        command
    )


def as_known_at_option(command: Command) -> Command:
    """--as-known-at: the records of an earlier time."""
    return click.option(
        "--as-known-at",
        callback=_moment,
        metavar="TIME|ENTRY",
        help="Take the records as they were known then: 2026-10-14 (its end), 2026-10-14T18:30, "
        "or the number of an entry of the history.",
    )(command)


def signed_by(who: str | None, why: str | None = None) -> Signed:
    """Whoever runs the command: as named, or by login name."""
    from trials.batch import Signed

    return Signed(who or _login_name(), why)


def _login_name() -> str | None:
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):  # no such name on this system
        return None


def _moment(
    _ctx: click.Context, _param: click.Parameter, value: str | None
) -> datetime | int | None:
    """An option's text as a time on this computer's clock, or as the number of an entry."""
    if value is None:
        return None
    if value.isascii() and value.isdigit() and len(value) < 8:
        return int(value)
    try:
        time = datetime.fromisoformat(value)
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is neither a time nor an entry. Write 2026-10-14, 2026-10-14T18:30, or the "
            "number of an entry."
        ) from None
    if len(value) <= len("2026-10-14"):
        time = datetime.combine(time, clock.max)
    return time.astimezone(UTC)


def margin_option(_ctx: click.Context, _param: click.Parameter, value: str | None) -> Margin | None:
    """An option's text as a margin."""
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


def show(text: str) -> None:
    """Print to standard output; no text in it drives the terminal."""
    sys.stdout.write(for_terminal(text))


def say(text: str) -> None:
    """Print beside the output; no text in it drives the terminal."""
    click.echo(for_terminal(text), err=True)


def progress() -> Callable[[str], None] | None:
    """A way to say what is going on, where somebody watches the terminal."""
    if not sys.stderr.isatty():
        return None
    return lambda step: say(f"… {step}")
