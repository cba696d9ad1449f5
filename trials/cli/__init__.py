"""The command line: arguments in, one call to the season, its report printed."""

from __future__ import annotations

import io
import logging
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from trials.cli import (
    compare,
    history,
    loading,
    people,
    planning,
    records,
    safety,
    seed,
    showing,
)
from trials.cli.options import say
from trials.cli.words import guarded
from trials.errors import TallybedError
from trials.report.grid import for_terminal


class _Verbs(click.Group):
    """Lists the verbs in the order of a season rather than of the alphabet."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(
    cls=_Verbs,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 100},
)
@click.version_option(package_name="tallybed", message="%(prog)s %(version)s")
def tallybed() -> None:
    """Side-by-side flower trials, from tallied plots to next year's seed order.

    A season: plan the trial, load the records, close the trial after frost, compare, choose, order.
    Try it all on an invented farm with: tallybed demo
    """


for verb in (
    showing.demo,
    planning.plan,
    planning.sheets,
    planning.calendar,
    records.planted,
    loading.load,
    records.list_trials,
    records.close,
    history.correct,
    history.withdraw,
    history.undo,
    history.history,
    compare.compare,
    seed.choose,
    seed.order,
    showing.dashboard,
    people.people,
    safety.check,
    safety.backup,
    safety.restore,
    safety.package,
    safety.unpack,
):
    tallybed.add_command(guarded(verb))


class _Note(logging.Formatter):
    """A note on one line, whatever it names."""

    def format(self, record: logging.LogRecord) -> str:
        return for_terminal(super().format(record))


@contextmanager
def _notes_shown() -> Iterator[None]:
    """Say on standard error what is done unasked, where somebody watches; warnings always."""
    notes = logging.StreamHandler()
    notes.setFormatter(_Note("tallybed: %(message)s"))
    rooms = logging.getLogger("trials")
    rooms.addHandler(notes)
    rooms.setLevel(logging.INFO if sys.stderr.isatty() else logging.WARNING)
    try:
        yield
    finally:
        rooms.removeHandler(notes)


def _told(mistake: click.ClickException) -> str:
    """What click says of a mistake."""
    said = io.StringIO()
    mistake.show(said)
    return said.getvalue().rstrip("\n")


def main() -> None:
    """Run the command line: 0 done, 2 a mistake of the caller's, 1 a fault of ours."""
    # Threads cost more than they give on matrices of a trial's size; set before numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        with _notes_shown():
            # Mistakes come back here, as their words hold what was typed.
            sys.exit(tallybed(prog_name="tallybed", standalone_mode=False) or 0)
    except click.ClickException as mistake:
        say(_told(mistake))
        sys.exit(mistake.exit_code)
    except TallybedError as refusal:
        say(f"tallybed: {refusal}")
        sys.exit(2)
    except click.Abort:
        say("Aborted.")
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output went away (as `head` does): not a fault, and nothing to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
