"""Options that several commands share, and how their text becomes values."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from datetime import time as clock
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from trials.cli.terminal import coloured
from trials.model.units import PaperSize, UnitSystem
from trials.report.grid import for_terminal

if TYPE_CHECKING:
    from trials.model.rows import Signed
    from trials.model.trial import Margin

Command = TypeVar("Command", bound=Callable[..., Any])


def store_option(command: Command) -> Command:
    """--store: the store to use."""
    return click.option(
        "--store",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="TALLYBED_STORE",
        help="Store file to use, such as farm.tallybed (default: in this computer's data folder).",
    )(command)


def json_option(command: Command) -> Command:
    """--json: one document instead of a report."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document instead of a report."
    )(command)


def units_option(command: Command) -> Command:
    """--units: the units to show."""
    return click.option(
        "--units",
        type=click.Choice(["metric", "us"]),
        envvar="TALLYBED_UNITS",
        help="Show centimetres and metres, or inches and feet (default: the farm's units).",
    )(command)


def readers_units(asked: str | None, store: Path | None) -> UnitSystem:
    """The units asked for, else those the farm chose."""
    from trials import season

    return UnitSystem(asked) if asked else season.farm_units(store_path(store))


def _reason(_context: click.Context, _option: click.Parameter, accept: str | None) -> str | None:
    if accept is not None and not accept.strip():
        raise click.BadParameter('say why, such as "measured twice"')
    return None if accept is None else accept.strip()


def reference_option(name: str, page: str, words: str) -> Callable[[Command], Command]:
    """An option that prints a page of ``trials.report.file_reference`` and does nothing else."""

    def shown(context: click.Context, _option: click.Parameter, asked: bool) -> None:
        if asked:
            from trials.report import file_reference

            show(getattr(file_reference, page)())
            context.exit()

    return click.option(
        name, is_flag=True, is_eager=True, expose_value=False, callback=shown, help=words
    )


def accept_option(command: Command) -> Command:
    """--accept: why unlikely records are true."""
    return click.option(
        "--accept",
        metavar="REASON",
        callback=_reason,
        help="Accept unlikely records, with the reason why they are true.",
    )(command)


def paper_option(command: Command) -> Command:
    """--paper: the paper size."""
    return click.option(
        "--paper",
        type=click.Choice(list(PaperSize), case_sensitive=False),
        default=PaperSize.A4,
        envvar="TALLYBED_PAPER",
        help="Paper size of your printer.",
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
    """--who: the name to store with the change."""
    return click.option(
        "--who",
        envvar="TALLYBED_WHO",
        help="Name to store with the change (default: your login name).",
    )(command)


def why_option(command: Command) -> Command:
    """--why: the reason to store with the change."""
    return click.option("--why", required=True, help="Reason to store with the change.")(command)


def as_of_option(command: Command) -> Command:
    """--as-of: the records of an earlier time."""
    return click.option(
        "--as-of",
        "as_of",
        callback=_moment,
        metavar="TIME|CHANGE",
        help="Use the records as they were then: 2026-10-14 (end of that day), 2026-10-14T18:30, "
        "or a change's number (default: now).",
    )(command)


def signed_by(who: str | None, why: str | None = None) -> Signed:
    """Whoever runs the command: as named, or by login name."""
    from trials.model.rows import Signed

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
    """An option's text as a time on this computer's clock, or as the number of a change."""
    if value is None:
        return None
    if value.isascii() and value.isdigit() and len(value) < 8:
        return int(value)
    try:
        time = datetime.fromisoformat(value)
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is neither a time nor a change. Write 2026-10-14, 2026-10-14T18:30, or the "
            "number of a change."
        ) from None
    if len(value) <= len("2026-10-14"):
        time = datetime.combine(time, clock.max)
    return time.astimezone(UTC)


def margin_option(_ctx: click.Context, _param: click.Parameter, value: str | None) -> Margin | None:
    """An option's text as an equivalence margin."""
    if value is None:
        return None
    from trials.model.trial import Margin

    number = value.strip().removesuffix("%").strip()
    try:
        return Margin(float(number), percent=value.strip().endswith("%"))
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is not an equivalence margin. Write a number above 0, such as 3, or 10%."
        ) from None


def show(text: str) -> None:
    """Print to standard output, its title in bold; no text in it drives the terminal."""
    title, line_end, rest = for_terminal(text).partition("\n")
    sys.stdout.write(coloured(title, sys.stdout, bold=True) + line_end + rest)


def say(text: str, label: str = "") -> None:
    """Print to standard error, after a label in red; no text in it drives the terminal."""
    click.echo(coloured(label, sys.stderr, fg="red", bold=True) + for_terminal(text), err=True)


def in_a_terminal() -> bool:
    """Whether somebody can be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def progress() -> Callable[[str], None] | None:
    """A way to say what is going on, where somebody watches the terminal."""
    if not sys.stderr.isatty():
        return None
    return lambda step: say(f"… {step}")
