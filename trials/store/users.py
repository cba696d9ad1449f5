"""Who may sign in to the pages, where they are signed in, and who is invited; digests only."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trials.errors import Remedy, SignInRefused, TallybedError, UnknownName, Verb
from trials.model.trial import Invitation, Person, Role, Session
from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

    Unit = Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]]


@dataclass(frozen=True, slots=True)
class Crew:
    """The people of a store; each call is one unit of work. Get it from ``Store.crew``.

    Tokens are never given here, only their SHA-256; passphrases only as hashes.
    """

    reading: Unit
    writing: Unit

    def people(self) -> tuple[Person, ...]:
        """Everybody who may sign in, by name."""
        with self.reading() as cursor:
            return tuple(
                Person(name, Role(role), email, has)
                for name, role, email, has in rows(cursor, "people")
            )

    def passphrase_hash(self, name: str) -> tuple[str, str] | None:
        """The name as it is written and the hash; None where nobody can sign in by that name."""
        with self.reading() as cursor:
            for written, _, _, kept, ended_at in rows(cursor, "person_named", name=name):
                if kept is not None and ended_at is None:
                    return written, kept
        return None

    def add(
        self, name: str, role: Role, email: str | None, passphrase_hash: str | None, at: datetime
    ) -> None:
        """Add a person, or let one back in.

        Raises
        ------
        TallybedError
            Somebody who may sign in goes by that name or that address.
        """
        with self.writing() as cursor:
            written = name
            for held, _, _, _, ended_at in rows(cursor, "person_named", name=name):
                if ended_at is None:
                    raise TallybedError(
                        f"{held} may sign in already.",
                        Remedy("For a new passphrase, invite them", Verb.INVITE, repr(held)),
                    )
                written = held
            _require_own_address(cursor, email)
            _put(cursor, written, role, email, passphrase_hash, at)

    def invite(self, token: str, invitation: Invitation, at: datetime) -> Invitation:
        """Keep an invitation, in place of earlier ones of that person."""
        with self.writing() as cursor:
            name, role = invitation.name, invitation.role
            for held, held_role, _, _, ended_at in rows(cursor, "person_named", name=name):
                name = held
                role = role if ended_at is not None else Role(held_role)
            cursor.execute(question("end_invitations_of"), {"name": name, "at": at})
            kept = Invitation(name, role, invitation.ends_at)
            cursor.execute(
                question("add_invitation"),
                {"token_sha256": token, "name": name, "role": role.value, "ends_at": kept.ends_at},
            )
            return kept

    def invitation(self, token: str, at: datetime) -> Invitation | None:
        """A good invitation, or None."""
        with self.reading() as cursor:
            return _invitation(cursor, token, at)

    def accept(self, token: str, passphrase_hash: str, at: datetime) -> Person:
        """Use an invitation up: its person may sign in with that passphrase, and no other.

        Raises
        ------
        SignInRefused
            It was used, taken back or ran out.
        """
        with self.writing() as cursor:
            found = _invitation(cursor, token, at)
            if found is None:
                raise SignInRefused(
                    "This invitation was already used or has expired. Ask for another."
                )
            cursor.execute(question("end_invitations_of"), {"name": found.name, "at": at})
            cursor.execute(question("end_sign_ins_of"), {"name": found.name, "at": at})
            _put(cursor, found.name, found.role, None, passphrase_hash, at)
            return _person(cursor, found.name)

    def set_passphrase(self, name: str, passphrase_hash: str) -> None:
        """Keep the same passphrase hashed anew."""
        with self.writing() as cursor:
            cursor.execute(
                question("set_passphrase"), {"name": name, "passphrase_hash": passphrase_hash}
            )

    def end(self, name: str, at: datetime) -> Person:
        """Shut a person out: sessions and invitations end with it; also somebody only invited.

        Raises
        ------
        UnknownName
            Nobody who may sign in, and nobody invited, goes by that name.
        """
        with self.writing() as cursor:
            person = _person_or_invited(cursor, name, at)
            cursor.execute(question("end_person"), {"name": person.name, "at": at})
            cursor.execute(question("end_sign_ins_of"), {"name": person.name, "at": at})
            cursor.execute(question("end_invitations_of"), {"name": person.name, "at": at})
            return person

    def sign_in(self, token: str, name: str, at: datetime, ends_at: datetime) -> Session:
        """Note that a person is signed in on a device."""
        with self.writing() as cursor:
            person = _person(cursor, name)
            cursor.execute(question("end_sign_ins_of"), {"name": "", "at": at})  # those run out
            cursor.execute(
                question("add_sign_in"),
                {"token_sha256": token, "name": person.name, "at": at, "ends_at": ends_at},
            )
            return Session(token, person, at, at, ends_at)

    def sessions(self, at: datetime) -> tuple[Session, ...]:
        """Everybody who is signed in, on each device; not those whose time ran out."""
        with self.reading() as cursor:
            return tuple(
                Session(token, Person(name, Role(role), email, has), started, seen, ends)
                for token, name, role, email, has, started, seen, ends in rows(
                    cursor, "sign_ins", at=at
                )
            )

    def seen(self, token: str, at: datetime) -> None:
        """Note that a device is in use."""
        with self.writing() as cursor:
            cursor.execute(question("touch_sign_in"), {"token_sha256": token, "at": at})

    def sign_out(self, token: str) -> None:
        """Sign a device out."""
        with self.writing() as cursor:
            cursor.execute(question("end_sign_in"), {"token_sha256": token})


def _put(
    cursor: duckdb.DuckDBPyConnection,
    name: str,
    role: Role,
    email: str | None,
    passphrase_hash: str | None,
    at: datetime,
) -> None:
    cursor.execute(
        question("add_person"),
        {
            "name": name,
            "role": role.value,
            "email": email,
            "passphrase_hash": passphrase_hash,
            "at": at,
        },
    )


def _invitation(cursor: duckdb.DuckDBPyConnection, token: str, at: datetime) -> Invitation | None:
    for name, role, ends_at in rows(cursor, "invitation", token_sha256=token, at=at):
        return Invitation(name, Role(role), ends_at)
    return None


def _person_or_invited(cursor: duckdb.DuckDBPyConnection, name: str, at: datetime) -> Person:
    try:
        return _person(cursor, name)
    except UnknownName:
        for held, role in rows(cursor, "invited", name=name, at=at):
            return Person(held, Role(role), None, False)
        raise


def _person(cursor: duckdb.DuckDBPyConnection, name: str) -> Person:
    """The person of that name who may sign in."""
    people = [
        Person(held, Role(role), email, has) for held, role, email, has in rows(cursor, "people")
    ]
    for person in people:
        if person.name.lower() == name.lower():
            return person
    raise UnknownName("person", name, [person.name for person in people])


def _require_own_address(cursor: duckdb.DuckDBPyConnection, email: str | None) -> None:
    for name, _, held, _ in rows(cursor, "people"):
        if email is not None and held is not None and held.lower() == email.lower():
            raise TallybedError(f"{name} signs in with {email} already. Give another address.")
