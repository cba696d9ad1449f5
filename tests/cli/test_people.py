"""The verbs of who may sign in, as the owner types them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from click.testing import CliRunner, Result

from trials.cli import tallybed
from trials.model.trial import Role
from trials.season import people

PASSPHRASE = "seven green buckets"
Type = Callable[..., Result]


@pytest.fixture(autouse=True)
def quick_hashing(monkeypatch: pytest.MonkeyPatch) -> None:
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(people, "_hasher", lambda: cheap)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "farm.tallybed"


@pytest.fixture
def type_in(store: Path) -> Type:
    def typed(*words: str, answers: str = "") -> Result:
        return CliRunner().invoke(tallybed, [*words, "--store", str(store)], input=answers)

    return typed


@pytest.mark.filterwarnings("ignore::getpass.GetPassWarning")
def test_the_owner_adds_themselves_and_is_listed(store: Path, type_in: Type) -> None:
    typed = f"{PASSPHRASE}\n{PASSPHRASE}\n"
    done = type_in("people", "add", "Ada Brook", "--role", "grower", answers=typed)
    assert done.exit_code == 0, done.output
    assert PASSPHRASE not in done.output
    listed = type_in("people", "list").output
    assert "Ada Brook" in listed
    assert "sees and does everything" in listed
    assert people.sign_in(store, "Ada Brook", PASSPHRASE)[1].person.role is Role.GROWER


def test_nobody_listed_says_how_to_begin(store: Path, type_in: Type) -> None:
    people.add_person(store, "Ada", Role.GROWER, PASSPHRASE)
    people.end_person(store, "Ada")
    assert "tallybed people add NAME --role grower" in type_in("people", "list").output


def test_an_invitation_is_a_link_to_the_pages(store: Path, type_in: Type) -> None:
    shown = type_in("people", "invite", "Finn", "--pages", "https://farm.example:8501/").output
    link = shown.splitlines()[0]
    assert link.startswith("https://farm.example:8501/join/")
    found = people.invitation(store, link.rpartition("/")[2])
    assert found is not None
    assert (found.name, found.role) == ("Finn", Role.PICKER)


def test_somebody_is_shut_out(store: Path, type_in: Type) -> None:
    people.add_person(store, "Finn", Role.PICKER, PASSPHRASE)
    assert "may no longer sign in" in type_in("people", "remove", "finn").output
    assert people.everybody(store) == ()


def test_the_network_needs_somebody_who_can_sign_in(demo_store_of_people: Path) -> None:
    done = CliRunner().invoke(
        tallybed, ["dashboard", "--lan", "--store", str(demo_store_of_people)]
    )
    assert "tallybed people add NAME --role grower" in str(done.exception)


@pytest.fixture
def demo_store_of_people(store: Path) -> Path:
    people.add_person(store, "Finn", Role.PICKER, PASSPHRASE)
    return store


def test_a_certificate_goes_with_its_key(store: Path, tmp_path: Path) -> None:
    people.add_person(store, "Ada", Role.GROWER, PASSPHRASE)
    words = ["dashboard", "--lan", "--store", str(store), "--certificate", str(tmp_path / "x.pem")]
    assert "name both files" in str(CliRunner().invoke(tallybed, words).exception)
    (tmp_path / "x.pem").write_text("nonsense")
    both = [*words, "--key", str(tmp_path / "x.pem")]
    assert "PEM" in str(CliRunner().invoke(tallybed, both).exception)
    assert CliRunner().invoke(tallybed, ["dashboard", "--key", "x"]).exit_code == 2
