"""Who gets in from the farm's network: names with passphrases, sessions that end, invitations.

A passphrase is kept as its Argon2id hash (RFC 9106) in the costs that argon2-cffi recommends, a
token as its SHA-256: whoever copies the store can sign in with neither. A token has 256 random
bits, so a fast digest is enough for it; a passphrase has few, so its hash is slow and takes memory.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import unicodedata
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import SignInRefused, TallybedError
from trials.model.trial import Invitation, Person, Role, Session
from trials.store import Store

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST_PASSPHRASE = 10
LONGEST_PASSPHRASE = 200
LONGEST_NAME = 60
SESSION_LASTS = timedelta(days=14)
# A picker's phone stays signed in over the night, an office's screen does not.
IDLE = {
    Role.PICKER: timedelta(hours=18),
    Role.GROWER: timedelta(hours=8),
    Role.ADVISER: timedelta(hours=8),
}
INVITATION_HOURS = 48
_WRONG = "Name or passphrase is wrong."
# Each hash takes 64 MiB for a moment; more than two at once would be a way to exhaust the machine.
_HASHING = threading.BoundedSemaphore(2)


def add_person(
    store: Path, name: str, role: Role, passphrase: str | None, email: str | None = None
) -> None:
    """Add a person who may sign in; without a passphrase, through another service by e-mail.

    Raises
    ------
    TallybedError
        The name or passphrase will not do, or somebody goes by that name.
    """
    if passphrase is None and email is None:
        raise TallybedError("Give the person a passphrase or an e-mail address.")
    name, email = _good_name(name), _good_email(email)
    hashed = None if passphrase is None else _hash(good_passphrase(passphrase, name))
    _crew_store(store).crew.add(name, role, email, hashed, _now())


def everybody(store: Path) -> tuple[Person, ...]:
    """Everybody who may sign in, by name."""
    return Store.open(store).crew.people()


def end_person(store: Path, name: str) -> Person:
    """Shut a person out, on every device."""
    return Store.open(store).crew.end(_tidy(name), _now())


def invite(
    store: Path, name: str, role: Role, hours: float = INVITATION_HOURS
) -> tuple[str, Invitation]:
    """Invite a person to choose a passphrase; also for somebody who forgot theirs.

    Returns
    -------
    tuple of (str, Invitation)
        The token for the link, which is kept nowhere, and the invitation. Somebody who may sign
        in already keeps the role they have, and their passphrase until they choose another.
    """
    token, now = secrets.token_urlsafe(32), _now()
    wanted = Invitation(_good_name(name), role, now + timedelta(hours=hours))
    return token, _crew_store(store).crew.invite(token_digest(token), wanted, now)


def join_link(pages: str, token: str) -> str:
    """The address by which an invitation is taken up; ``pages`` is where the pages are."""
    return f"{pages.rstrip('/')}/join/{token}"


def invitation(store: Path, token: str) -> Invitation | None:
    """The good invitation of a link, or None; to look at it does not use it up."""
    return Store.open(store).crew.invitation(token_digest(token), _now())


def accept_invitation(store: Path, token: str, passphrase: str) -> tuple[str, Session]:
    """Choose a passphrase by an invitation, and be signed in; see ``sign_in``.

    Raises
    ------
    SignInRefused
        The invitation was used, taken back or ran out.
    TallybedError
        The passphrase will not do; the invitation stays good.
    """
    kept = Store.open(store)
    found = kept.crew.invitation(token_digest(token), _now())
    if found is None:
        raise SignInRefused("This invitation was already used or has expired. Ask for another.")
    hashed = _hash(good_passphrase(passphrase, found.name))
    person = kept.crew.accept(token_digest(token), hashed, _now())
    return _start(kept, person.name)


def sign_in(store: Path, name: str, passphrase: str) -> tuple[str, Session]:
    """Sign a person in.

    It takes as long for a name that nobody has as for a wrong passphrase, so that names cannot be
    found out by trying.

    Returns
    -------
    tuple of (str, Session)
        The token for the device, which is kept nowhere else, and the session.

    Raises
    ------
    SignInRefused
        The name and the passphrase do not go together.
    """
    from argon2.exceptions import InvalidHashError, VerificationError

    kept = Store.open(store)
    found = kept.crew.passphrase_hash(_tidy(name)[:LONGEST_NAME])
    written, hashed = found or ("", _nobodys_hash())
    tried = _normal(passphrase)[:LONGEST_PASSPHRASE]
    try:
        with _HASHING:
            _hasher().verify(hashed, tried)
    except (VerificationError, InvalidHashError):
        raise SignInRefused(_WRONG) from None
    if found is None:
        raise SignInRefused(_WRONG)
    if _hasher().check_needs_rehash(hashed):
        kept.crew.set_passphrase(written, _hash(tried))
    return _start(kept, written)


def sign_in_by_email(store: Path, email: str) -> tuple[str, Session]:
    """Sign in the person with an address that another service has verified.

    Raises
    ------
    SignInRefused
        Nobody here has that address.
    """
    kept = Store.open(store)
    for person in kept.crew.people():
        if person.email is not None and _same_address(person.email, email.strip()):
            return _start(kept, person.name)
    raise SignInRefused(
        f"Nobody here signs in as {email}. If you belong to the farm, ask the grower to add that "
        "address."
    )


def sessions(store: Path) -> tuple[Session, ...]:
    """Every session that has neither run out nor been left idle too long."""
    now = _now()
    return tuple(s for s in Store.open(store).crew.sessions(now) if is_live(s, now))


def is_live(session: Session, now: datetime | None = None) -> bool:
    """Whether a session still holds."""
    now = now or _now()
    return now < session.ends_at and now < session.seen_at + IDLE[session.person.role]


def note_seen(store: Path, session: Session) -> None:
    """Note that a session is in use."""
    Store.open(store).crew.seen(session.key, _now())


def sign_out(store: Path, token: str) -> None:
    """End the session of a token."""
    Store.open(store).crew.sign_out(token_digest(token))


def token_digest(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def good_passphrase(passphrase: str, name: str) -> str:
    """The passphrase in its normal form.

    Length is what counts; no signs or figures are asked for (NIST SP 800-63B, section 5.1.1.2).

    Raises
    ------
    TallybedError
        It is too short, too long, or the name itself.
    """
    normal = _normal(passphrase)
    if len(normal) < SHORTEST_PASSPHRASE:
        raise TallybedError(
            f"A passphrase has at least {SHORTEST_PASSPHRASE} characters: three or four words "
            "that nobody would guess."
        )
    if len(normal) > LONGEST_PASSPHRASE:
        raise TallybedError(f"A passphrase has {LONGEST_PASSPHRASE} characters at most.")
    if normal.casefold().replace(name.casefold(), "").strip() == "" or len(set(normal)) < 4:
        raise TallybedError("That passphrase is easy to guess. Use three or four words.")
    return normal


def _start(kept: Store, name: str) -> tuple[str, Session]:
    token, now = secrets.token_urlsafe(32), _now()
    return token, kept.crew.sign_in(token_digest(token), name, now, now + SESSION_LASTS)


def _crew_store(store: Path) -> Store:
    """The store; made if there is none, as people may be named before any record is there."""
    return Store.open(store) if store.exists() else Store.create(store)


def _good_name(name: str) -> str:
    tidy = _tidy(name)
    if not tidy or len(tidy) > LONGEST_NAME or not tidy.isprintable():
        raise TallybedError(f"A name has 1 to {LONGEST_NAME} characters, on one line.")
    return tidy


def _good_email(email: str | None) -> str | None:
    if email is None:
        return None
    tidy = email.strip()
    if tidy.count("@") != 1 or not tidy.isprintable() or " " in tidy:
        raise TallybedError(f"{email!r} is not an e-mail address. Write it as name@farm.example.")
    return tidy


def _same_address(one: str, other: str) -> bool:
    """Whether two e-mail addresses are one; beyond ASCII, other letters may turn into ours."""
    if one.isascii() and other.isascii():
        return one.lower() == other.lower()
    return one == other


def _tidy(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).split())


def _normal(passphrase: str) -> str:
    # The same letters typed on another keyboard may come as other code points.
    return unicodedata.normalize("NFKC", passphrase)


def _hash(passphrase: str) -> str:
    with _HASHING:
        return _hasher().hash(passphrase)


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


@cache
def _nobodys_hash() -> str:
    return _hash(secrets.token_urlsafe(32))


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
