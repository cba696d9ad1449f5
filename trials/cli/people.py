"""The commands for the people who may sign in to the pages from the farm's network."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import json_option, show, store_option, store_path

if TYPE_CHECKING:
    from trials.model.trial import Role

ROLES = ("picker", "grower", "adviser")


def role_option(_ctx: click.Context, _param: click.Parameter, value: str) -> Role:
    """An option's text as a role."""
    from trials.model.trial import Role

    return Role(value)


@click.group()
def people() -> None:
    """Manage who may sign in from the farm's network.

    A picker only tallies. A grower sees and does everything. An adviser reads everything and
    changes nothing.
    """


@people.command("list")
@store_option
@json_option
def list_people(store: Path | None, as_json: bool) -> None:
    """List who may sign in."""
    from trials.report.people_page import people_page
    from trials.report.plain import json_text, plain
    from trials.season.people import everybody

    found = everybody(store_path(store))
    show(json_text(plain(found)) if as_json else people_page(found))


@people.command()
@click.argument("name")
@click.option(
    "--role",
    type=click.Choice(ROLES),
    required=True,
    callback=role_option,
    help="What the person may do.",
)
@click.option(
    "--email",
    help="Let the person sign in through a service that knows this address, instead of a "
    "passphrase.",
)
@store_option
def add(name: str, role: Role, email: str | None, store: Path | None) -> None:
    """Add a person, with a passphrase or an e-mail address."""
    from trials.report.grid import printable
    from trials.report.people_page import added_page
    from trials.season.people import SHORTEST_PASSPHRASE, add_person

    passphrase = None
    if email is None:
        passphrase = click.prompt(
            f"Passphrase for {printable(name)}, at least {SHORTEST_PASSPHRASE} characters",
            hide_input=True,
            confirmation_prompt="The same again",
        )
    add_person(store_path(store), name, role, passphrase, email)
    show(added_page(name, role))


@people.command()
@click.argument("name")
@click.option(
    "--role",
    type=click.Choice(ROLES),
    default="picker",
    callback=role_option,
    help="What the person may do. Somebody already added keeps their role.",
)
@click.option(
    "--pages",
    help="Address of the pages, such as http://192.168.1.20:8501 (default: this computer's).",
)
@click.option(
    "--hours", type=click.FloatRange(0.1, 24 * 14), default=48, help="Hours until the link expires."
)
@store_option
def invite(name: str, role: Role, pages: str | None, hours: float, store: Path | None) -> None:
    """Make a link and QR code with which a person sets a passphrase.

    It works once. Use it also for somebody who forgot their passphrase.
    """
    from dashboard.access.network import page_address
    from trials.paper.qr import code_text
    from trials.report.people_page import invitation_page
    from trials.season.people import invite as make
    from trials.season.people import join_link

    token, invitation = make(store_path(store), name, role, hours)
    link = join_link(pages or page_address(8501, encrypted=False), token)
    if sys.stdout.isatty():
        sys.stdout.write(code_text(link))  # its colours are ours, and none of the text is in it
    show(invitation_page(invitation, link))


@people.command()
@click.argument("name")
@store_option
def remove(name: str, store: Path | None) -> None:
    """Remove a person, and sign them out on every device."""
    from trials.report.people_page import ended_page
    from trials.season.people import end_person

    show(ended_page(end_person(store_path(store), name)))
