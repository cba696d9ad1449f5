"""The commands under their headings: the module of each, and its line in the list of commands.

A command's module is loaded when the command is wanted, so that neither the list nor any other
command waits for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, MutableMapping
from importlib import import_module
from typing import NamedTuple

import click


class Verb(NamedTuple):
    """A command: its module beside this one, its name there, and what it does in one line."""

    module: str
    name: str
    summary: str


HEADINGS: Mapping[str, Mapping[str, Verb]] = {
    "Start": {
        "demo": Verb("showing", "demo", "Run a whole season on an invented farm."),
        "dashboard": Verb("showing", "dashboard", "Open the pages in a browser."),
        "install-shortcut": Verb(
            "showing",
            "install_shortcut",
            "Make a shortcut that opens the pages with a double-click.",
        ),
    },
    "Plan": {
        "plan": Verb("planning", "plan", "Plan a randomised trial that fits your beds."),
        "sheets": Verb("planning", "sheets", "Print a trial's map, stakes, sheets and workbook."),
        "calendar": Verb("planning", "calendar", "Show when a trial's work is due."),
    },
    "Record": {
        "planted": Verb("records", "planted", "Record the day a trial was planted out."),
        "load": Verb(
            "loading", "load", "Load records from CSV, XLSX or Parquet files, or a folder."
        ),
        "photo": Verb("photos", "photo", "Manage photos of varieties and plots."),
        "trials": Verb(
            "records", "list_trials", "List the stored trials and what each needs next."
        ),
        "close": Verb("records", "close", "Close a trial after its season."),
    },
    "Results": {
        "compare": Verb("compare", "compare", "Show which differences are larger than chance."),
        "report": Verb(
            "reporting", "report", "Write a trial's report: layout, results, pictures and records."
        ),
        "choose": Verb(
            "seed", "choose", "Choose from all closed trials: reorder, grow again or drop."
        ),
        "order": Verb(
            "seed", "order", "Order the chosen varieties' seed at the lowest total cost."
        ),
        "winter": Verb(
            "winter", "winter", "Plan next season's sowings over all crops and markets."
        ),
    },
    "Corrections": {
        "correct": Verb(
            "history", "correct", "Correct stored records from files with the right rows."
        ),
        "withdraw": Verb(
            "history", "withdraw", "Remove stored records that should never have been there."
        ),
        "undo": Verb("history", "undo", "Undo a change; without a number, your own newest."),
        "history": Verb(
            "history", "history", "Show who changed what, when and why: for a trial, a plot or all."
        ),
    },
    "Copies and packages": {
        "verify": Verb("safety", "verify", "Verify that nothing in the store is damaged."),
        "backup": Verb("safety", "backup", "Back up the store to a verified copy."),
        "restore": Verb(
            "safety", "restore", "Restore a backup to a store, and verify that both are equal."
        ),
        "package": Verb(
            "safety", "package", "Write trials and their history as open data packages."
        ),
        "unpack": Verb("safety", "unpack", "Import a trial and its history from a data package."),
    },
    "Many farms": {
        "contribute": Verb(
            "network", "contribute", "Share closed trials with a network of farms, under codes."
        ),
        "pool": Verb("network", "pool", "Compare the trials of many farms."),
    },
    "Settings and help": {
        "people": Verb("people", "people", "Manage who may sign in from the farm's network."),
        "units": Verb(
            "records", "units", "Show the farm's units, or set them for every page and sheet."
        ),
        "completion": Verb(
            "completion", "completion", "Complete commands and options with the Tab key."
        ),
        "help": Verb(
            "topics", "help_topic", "Explain a command, the terms or the statistical methods."
        ),
    },
}


class Verbs(MutableMapping[str, click.Command]):
    """The commands by their names, each loaded when it is first asked for."""

    def __init__(self) -> None:
        self._verbs = {name: verb for verbs in HEADINGS.values() for name, verb in verbs.items()}
        self._loaded: dict[str, click.Command] = {}

    def __getitem__(self, name: str) -> click.Command:
        if name not in self._loaded:
            self._loaded[name] = _load(name, self._verbs[name])
        return self._loaded[name]

    def __contains__(self, name: object) -> bool:
        return name in self._verbs or name in self._loaded

    def __iter__(self) -> Iterator[str]:
        return iter({**self._verbs, **self._loaded})

    def __len__(self) -> int:
        return len({**self._verbs, **self._loaded})

    def __setitem__(self, name: str, command: click.Command) -> None:
        self._loaded[name] = command

    def __delitem__(self, name: str) -> None:
        self._loaded.pop(name, None)
        self._verbs.pop(name, None)


def _load(name: str, verb: Verb) -> click.Command:
    from trials.cli.words import guarded

    command = getattr(import_module(f"trials.cli.{verb.module}"), verb.name)
    _with_example(command, name)
    return guarded(command)


def _with_example(command: click.Command, path: str) -> None:
    """Add to a command's help the example of it; to a group's, those of its commands too."""
    from trials.cli.examples import EXAMPLES

    lines = EXAMPLES[path]
    heading = "Example" if len(lines) == 1 else "Examples"
    command.epilog = "\n".join(["\b", f"{heading}:", *(f"  {line}" for line in lines)])
    if isinstance(command, click.Group):
        for below in command.commands.values():
            _with_example(below, f"{path} {below.name}")
