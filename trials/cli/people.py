"""The verbs of who may sign in to the pages from the farm's network."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trials.cli.options import json_option, show, store_option, store_path

if TYPE_CHECKING:
    from trials.model import Role

ROLES = ("picker", "grower", "adviser")


def role_option(_ctx: click.Context, _param: click.Parameter, value: str) -> Role:
    """An option's text as a role."""
    from trials.model import Role

    return Role(value)


@click.group()
def people() -> None:
    """Say who may sign in to the pages from the farm's network, and as what.

    A picker tallies at the bed and sees nothing else, a grower sees and does everything, an
    adviser reads everything and changes nothing.
    """


@people.command("list")
@store_option
@json_option
def list_people(store: Path | None, as_json: bool) -> None:
    """List who may sign in."""
    from trials.people import everybody
    from trials.report.people_page import people_page
    from trials.report.plain import json_text, plain

    found = everybody(store_path(store))
    show(json_text(plain(found)) if as_json else people_page(found))


@people.command()
@click.argument("name")
@click.option(
    "--role",
    type=click.Choice(ROLES),
    required=True,
    callback=role_option,
    help="What they may do.",
)
@click.option("--email", help="Let them in through the sign-in service that knows this address.")
@store_option
def add(name: str, role: Role, email: str | None, store: Path | None) -> None:
    """Add a person on this machine; asks for a passphrase, or takes an e-mail address instead."""
    from trials.people import SHORTEST_PASSPHRASE, add_person
    from trials.report.grid import printable
    from trials.report.people_page import added_page

    passphrase = None
    if email is None:
        passphrase = click.prompt(
            f"A passphrase for {printable(name)}, {SHORTEST_PASSPHRASE} characters or more",
            hide_input=True,
            confirmation_prompt="The same once more",
        )
    add_person(store_path(store), name, role, passphrase, email)
    show(added_page(name, role))


@people.command()
@click.argument("name")
@click.option(
    "--role",
    type=click.Choice(ROLES),
    default="picker",
    show_default=True,
    callback=role_option,
    help="What they may do; somebody who is in already keeps their role.",
)
@click.option("--pages", help="The address of the pages (default: this machine's, port 8501).")
@click.option(
    "--hours", type=click.FloatRange(0.1, 24 * 14), default=48, show_default=True, help="How long."
)
@store_option
def invite(name: str, role: Role, pages: str | None, hours: float, store: Path | None) -> None:
    """Make a link and its QR code by which a person chooses a passphrase, once.

    Also for somebody who forgot theirs.
    """
    from dashboard.serve import page_address
    from trials.paper.qr import code_text
    from trials.people import invite as make
    from trials.people import join_link
    from trials.report.people_page import invitation_page

    token, invitation = make(store_path(store), name, role, hours)
    link = join_link(pages or page_address(8501, encrypted=False), token)
    if sys.stdout.isatty():
        sys.stdout.write(code_text(link))  # its colours are ours, and none of the text is in it
    show(invitation_page(invitation, link))


@people.command()
@click.argument("name")
@store_option
def end(name: str, store: Path | None) -> None:
    """Shut a person out, on every device at once."""
    from trials.people import end_person
    from trials.report.people_page import ended_page

    show(ended_page(end_person(store_path(store), name)))
