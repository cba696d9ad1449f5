"""The command line: arguments in, one call to the season, its report printed."""

from __future__ import annotations

import gc
import io
import logging
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module

import click

from trials.cli.options import say
from trials.cli.terminal import CLEAR_LINE
from trials.cli.verbs import HEADINGS, Verbs
from trials.errors import TallybedError
from trials.report.grid import for_terminal

_COMPLETING = "_TALLYBED_COMPLETE"  # what a shell that completes sets


class _Commands(click.Group):
    """Lists the commands under headings, each with its whole summary."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for heading, verbs in HEADINGS.items():
            with formatter.section(heading):
                rows = [(name, verb.summary) for name, verb in verbs.items()]
                formatter.write_dl(rows, col_max=12)


@click.group(
    cls=_Commands,
    commands=Verbs(),
    context_settings={
        "help_option_names": ["--help", "-h"],
        "max_content_width": 100,
        "show_default": True,
    },
)
@click.version_option(package_name="tallybed", message="%(prog)s %(version)s")
def tallybed() -> None:
    """Side-by-side flower trials, from tallied plots to next year's seed order.

    Plan a trial, load the records, close the trial after frost, compare, choose, order.
    Try it on an invented farm with: tallybed demo
    """


class _Note(logging.Formatter):
    """A note on one line, whatever it names."""

    def format(self, record: logging.LogRecord) -> str:
        note = for_terminal(super().format(record))
        return f"{CLEAR_LINE}{note}" if sys.stderr.isatty() else note


@contextmanager
def _notes_shown() -> Iterator[None]:
    """Show on standard error what is done unasked, if it is a terminal; warnings always."""
    notes = logging.StreamHandler()
    notes.setFormatter(_Note("tallybed: %(message)s"))
    logger = logging.getLogger("trials")
    logger.addHandler(notes)
    logger.setLevel(logging.INFO if sys.stderr.isatty() else logging.WARNING)
    try:
        yield
    finally:
        logger.removeHandler(notes)


def _told(mistake: click.ClickException) -> str:
    """What click says of a mistake."""
    said = io.StringIO()
    mistake.show(said)
    return said.getvalue().rstrip("\n")


def main() -> None:
    """Run the command line: 0 done, 2 a mistake of the caller's, 1 a fault of ours."""
    # Threads cost more than they give on matrices of a trial's size; set before numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Most objects of a command are its modules', and stay: the usual threshold of 700 searches them
    # for garbage again and again, a twelfth of what a comparison takes.
    gc.set_threshold(100_000)
    if _COMPLETING in os.environ:
        import_module("trials.cli.completion")  # it knows a shell more than click
    try:
        with _notes_shown():
            # Mistakes come back here, as their words hold what was typed.
            sys.exit(tallybed(prog_name="tallybed", standalone_mode=False) or 0)
    except click.ClickException as mistake:
        say(_told(mistake))
        sys.exit(mistake.exit_code)
    except TallybedError as refusal:
        say(str(refusal), "tallybed: ")
        sys.exit(2)
    except click.Abort:
        say("Aborted.")
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output went away (as `head` does): not a fault, and nothing to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
