"""The pages of who may sign in: the list, an invitation with its code, and what was done."""

from __future__ import annotations

from collections.abc import Sequence

from trials.model.trial import ROLE_WORDS, Invitation, Person, Role
from trials.report.grid import Column, Table, printable


def people_table(people: Sequence[Person]) -> Table:
    """Who may sign in, and what they may do."""
    return Table(
        (Column("name"), Column("role"), Column("what they may do"), Column("signs in with")),
        tuple(
            (person.name, person.role.value, ROLE_WORDS[person.role], _with(person))
            for person in people
        ),
    )


def _with(person: Person) -> str:
    ways = ["a passphrase"] if person.has_passphrase else []
    return " or ".join([*ways, *([person.email] if person.email else [])])


def people_page(people: Sequence[Person]) -> str:
    """The list for a terminal."""
    if not people:
        return "Nobody may sign in yet. Add yourself: tallybed people add NAME --role grower\n"
    return people_table(people).text() + "\n"


def added_page(name: str, role: Role) -> str:
    """Somebody was added."""
    return f"{printable(name)} may sign in as {role.value}: somebody who {ROLE_WORDS[role]}.\n"


def ended_page(person: Person) -> str:
    """Somebody was shut out."""
    return (
        f"{printable(person.name)} may no longer sign in, and is signed out everywhere within "
        "seconds. Their records stay.\n"
    )


def invitation_words(invitation: Invitation) -> str:
    """For whom an invitation is, and until when."""
    return (
        f"For {printable(invitation.name)}, as {invitation.role.value}: scan it with the "
        f"phone's camera. It works once, until {invitation.ends_at:%Y-%m-%d %H:%M} UTC. "
        "The first person to open it can sign in, so show it to nobody else."
    )


def invitation_page(invitation: Invitation, link: str) -> str:
    """An invitation for a terminal, to stand under its code where somebody can scan it."""
    return f"{link}\n{invitation_words(invitation)}\n"
