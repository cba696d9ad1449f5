"""The command line: arguments in, one call to the season, its report printed."""

from __future__ import annotations

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
from trials.errors import TallybedError


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
    tallybed.add_command(verb)


@contextmanager
def _notes_shown() -> Iterator[None]:
    """Say on standard error what is done unasked, where somebody watches; warnings always."""
    notes = logging.StreamHandler()
    notes.setFormatter(logging.Formatter("tallybed: %(message)s"))
    rooms = logging.getLogger("trials")
    rooms.addHandler(notes)
    rooms.setLevel(logging.INFO if sys.stderr.isatty() else logging.WARNING)
    try:
        yield
    finally:
        rooms.removeHandler(notes)


def main() -> None:
    """Run the command line: 0 done, 2 a mistake of the caller's, 1 a fault of ours."""
    # Threads cost more than they give on matrices of a trial's size; set before numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        with _notes_shown():
            tallybed(prog_name="tallybed")
    except TallybedError as refusal:
        click.echo(f"tallybed: {refusal}", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # The reader of our output went away (as `head` does): not a fault, and nothing to say.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
