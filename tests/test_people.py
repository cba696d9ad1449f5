"""Who gets in: passphrases, sessions that end, invitations, and what is kept of them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from trials.errors import SignInRefused, TallybedError, UnknownName
from trials.model.trial import Role
from trials.season import people
from trials.store import Store

PASSPHRASE = "seven green buckets"
PASSPHRASE_HASHER = people._hasher
OTHER = "red barn by the river"


@pytest.fixture(scope="module", autouse=True)
def quick_hashing() -> Iterator[None]:
    """Hashes that cost nothing, where it is not their cost that is tested."""
    with pytest.MonkeyPatch.context() as patch:
        cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(people, "_hasher", lambda: cheap)
        yield


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("people") / "farm.tallybed"
    people.add_person(path, "Ada Brook", Role.GROWER, PASSPHRASE)
    return path


@pytest.fixture
def store(tmp_path: Path, made_once: Path) -> Path:
    return Path(shutil.copy(made_once, tmp_path))


def test_a_hash_costs_what_the_standard_asks_at_least() -> None:
    """RFC 9106, section 4, second recommended option: t = 3, m = 64 MiB."""
    costs = PASSPHRASE_HASHER()
    assert (costs.time_cost, costs.memory_cost) >= (3, 64 * 1024)


def later(monkeypatch: pytest.MonkeyPatch, by: timedelta) -> None:
    now = people._now() + by
    monkeypatch.setattr(people, "_now", lambda: now)


def test_the_first_person_makes_the_store(store: Path) -> None:
    assert [(p.name, p.role) for p in people.everybody(store)] == [("Ada Brook", Role.GROWER)]


@pytest.mark.parametrize("written", ["Ada Brook", "ada brook", "  Ada   Brook "])
def test_a_name_is_known_however_a_phone_writes_it(store: Path, written: str) -> None:
    _, session = people.sign_in(store, written, PASSPHRASE)
    assert session.person.name == "Ada Brook"


@pytest.mark.parametrize(
    ("name", "passphrase"),
    [("Ada Brook", PASSPHRASE + " "), ("Ada Brook", ""), ("Nobody", PASSPHRASE), ("", "")],
)
def test_a_wrong_name_and_a_wrong_passphrase_are_told_alike(
    store: Path, name: str, passphrase: str
) -> None:
    with pytest.raises(SignInRefused, match="is wrong"):
        people.sign_in(store, name, passphrase)


def test_the_same_letters_from_another_keyboard_are_the_same(store: Path) -> None:
    people.add_person(store, "Jos\u00e9", Role.PICKER, "cr\u00e8me br\u00fbl\u00e9e jars")
    people.sign_in(store, "Jose\u0301", "cre\u0300me bru\u0302le\u0301e jars")


def test_the_store_holds_neither_passphrase_nor_token(store: Path) -> None:
    token, _ = people.sign_in(store, "Ada Brook", PASSPHRASE)
    link, _ = people.invite(store, "Finn", Role.PICKER)
    held = store.read_bytes()
    assert not any(secret.encode() in held for secret in (PASSPHRASE, token, link))
    assert b"$argon2id$" in held


@pytest.mark.parametrize("passphrase", ["short", "aaaaaaaaaaaaaaaa", "FinnFinn Finn", "x" * 201])
def test_a_passphrase_that_is_guessed_at_once_is_refused(store: Path, passphrase: str) -> None:
    with pytest.raises(TallybedError, match=r"characters|easy to guess"):
        people.add_person(store, "Finn", Role.PICKER, passphrase)


def test_a_name_is_given_once(store: Path) -> None:
    with pytest.raises(TallybedError, match="may sign in already"):
        people.add_person(store, "ADA BROOK", Role.PICKER, OTHER)


def test_a_session_ends_when_it_is_left_idle(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _, session = people.sign_in(store, "Ada Brook", PASSPHRASE)
    later(monkeypatch, people.IDLE[Role.GROWER] - timedelta(minutes=1))
    people.note_seen(store, session)
    later(monkeypatch, timedelta(minutes=2))
    assert len(people.sessions(store)) == 1, "it was in use meanwhile"
    later(monkeypatch, people.IDLE[Role.GROWER])
    assert people.sessions(store) == ()


def test_a_session_ends_at_last_however_much_it_is_used(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, session = people.sign_in(store, "Ada Brook", PASSPHRASE)
    later(monkeypatch, people.SESSION_LASTS)
    people.note_seen(store, session)
    assert people.sessions(store) == ()


def test_signing_out_ends_one_device(store: Path) -> None:
    token, _ = people.sign_in(store, "Ada Brook", PASSPHRASE)
    people.sign_in(store, "Ada Brook", PASSPHRASE)
    people.sign_out(store, token)
    assert len(people.sessions(store)) == 1


def test_an_invitation_is_good_once(store: Path) -> None:
    token, _ = people.invite(store, "Finn", Role.PICKER)
    assert people.invitation(store, token) is not None
    assert people.invitation(store, token) is not None, "looking does not use it up"
    with pytest.raises(TallybedError, match="characters"):
        people.accept_invitation(store, token, "short")
    _, session = people.accept_invitation(store, token, OTHER)
    assert (session.person.name, session.person.role) == ("Finn", Role.PICKER)
    assert people.invitation(store, token) is None
    with pytest.raises(SignInRefused, match="already used"):
        people.accept_invitation(store, token, PASSPHRASE)
    people.sign_in(store, "Finn", OTHER)


def test_an_invitation_runs_out(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    token, _ = people.invite(store, "Finn", Role.PICKER, hours=2)
    later(monkeypatch, timedelta(hours=2))
    assert people.invitation(store, token) is None
    with pytest.raises(SignInRefused):
        people.accept_invitation(store, token, OTHER)


def test_a_second_invitation_takes_the_first_back(store: Path) -> None:
    first, _ = people.invite(store, "Finn", Role.PICKER)
    people.invite(store, "finn", Role.PICKER)
    assert people.invitation(store, first) is None


def test_an_invitation_that_nobody_took_up_yet_is_taken_back(store: Path) -> None:
    token, _ = people.invite(store, "Nora", Role.PICKER)
    assert people.end_person(store, "nora").name == "Nora"
    assert people.invitation(store, token) is None
    with pytest.raises(UnknownName):
        people.end_person(store, "Nora")


def test_who_forgot_their_passphrase_is_invited_again_and_keeps_their_role(store: Path) -> None:
    people.sign_in(store, "Ada Brook", PASSPHRASE)
    token, invitation = people.invite(store, "ada brook", Role.PICKER)
    assert (invitation.name, invitation.role) == ("Ada Brook", Role.GROWER)
    people.sign_in(store, "Ada Brook", PASSPHRASE)  # until another is chosen
    people.accept_invitation(store, token, OTHER)
    assert len(people.sessions(store)) == 1, "older devices are signed out"
    with pytest.raises(SignInRefused):
        people.sign_in(store, "Ada Brook", PASSPHRASE)


@pytest.mark.slow
def test_who_is_shut_out_is_out_everywhere(store: Path) -> None:
    token, _ = people.invite(store, "Finn", Role.PICKER)
    people.accept_invitation(store, token, OTHER)
    again, _ = people.invite(store, "Finn", Role.PICKER)
    people.end_person(store, "finn")
    assert people.sessions(store) == ()
    assert people.invitation(store, again) is None
    with pytest.raises(SignInRefused):
        people.sign_in(store, "Finn", OTHER)
    with pytest.raises(UnknownName):
        people.end_person(store, "Finn")
    people.add_person(store, "Finn", Role.ADVISER, PASSPHRASE)
    assert people.sign_in(store, "Finn", PASSPHRASE)[1].person.role is Role.ADVISER


def test_another_service_lets_in_by_address_alone(store: Path) -> None:
    people.add_person(store, "Wren", Role.ADVISER, None, "Wren@farm.example")
    _, session = people.sign_in_by_email(store, "wren@farm.example")
    assert session.person.name == "Wren"
    with pytest.raises(SignInRefused):
        people.sign_in(store, "Wren", "")
    with pytest.raises(SignInRefused, match="Nobody here"):
        people.sign_in_by_email(store, "other@farm.example")
    with pytest.raises(TallybedError, match="already"):
        people.add_person(store, "Other", Role.PICKER, None, "wren@FARM.example")


def test_letters_that_only_turn_into_those_of_an_address_are_not_them(store: Path) -> None:
    """Unicode: the Kelvin sign is K in small letters, but another mailbox."""
    people.add_person(store, "Kit", Role.GROWER, None, "kit@farm.example")
    with pytest.raises(SignInRefused, match="Nobody here"):
        people.sign_in_by_email(store, "\u212ait@farm.example")
    people.sign_in_by_email(store, " KIT@farm.example")


def test_the_address_of_who_was_shut_out_does_not_come_back_with_the_name(store: Path) -> None:
    people.add_person(store, "Wren", Role.ADVISER, None, "wren@farm.example")
    people.end_person(store, "Wren")
    token, _ = people.invite(store, "Wren", Role.PICKER)  # another Wren
    people.accept_invitation(store, token, OTHER)
    with pytest.raises(SignInRefused, match="Nobody here"):
        people.sign_in_by_email(store, "wren@farm.example")


def test_a_passphrase_besides_leaves_the_address(store: Path) -> None:
    people.add_person(store, "Wren", Role.ADVISER, None, "wren@farm.example")
    token, _ = people.invite(store, "Wren", Role.PICKER)
    people.accept_invitation(store, token, OTHER)
    assert people.sign_in_by_email(store, "wren@farm.example")[1].person.role is Role.ADVISER


def test_people_leave_the_records_alone(store: Path) -> None:
    assert Store.open(store).trials() == ()


def test_sessions_that_ran_out_are_cleared_away(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    people.sign_in(store, "Ada Brook", PASSPHRASE)
    later(monkeypatch, people.SESSION_LASTS)
    people.sign_in(store, "Ada Brook", PASSPHRASE)
    rows = {table.table: table.rows for table in Store.open(store).check().tables}
    assert rows["sign_in"] == 1


def test_a_person_without_any_way_in_is_refused(store: Path) -> None:
    with pytest.raises(TallybedError, match=r"Give the person a passphrase or an e-mail address\."):
        people.add_person(store, "Ben", Role.PICKER, None)
    assert [person.name for person in people.everybody(store)] == ["Ada Brook"]


def test_who_signs_in_by_a_cheaper_hash_gets_one_of_today_s_cost(store: Path) -> None:
    crew = Store.open(store).crew
    old = PasswordHasher(time_cost=1, memory_cost=16, parallelism=1).hash(PASSPHRASE)
    crew.set_passphrase("Ada Brook", old)
    with pytest.raises(SignInRefused):
        people.sign_in(store, "Ada Brook", OTHER)
    assert crew.passphrase_hash("Ada Brook") == ("Ada Brook", old)
    people.sign_in(store, "Ada Brook", PASSPHRASE)
    found = crew.passphrase_hash("Ada Brook")
    assert found is not None
    assert ",t=1,p=1" in found[1]
    assert "m=8" in found[1]
    people.sign_in(store, "Ada Brook", PASSPHRASE)
