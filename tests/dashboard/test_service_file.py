"""Secrets of another sign-in service: what is missing is named by file and key, never shown."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path
from typing import Any

import pytest

from dashboard.access import service_file
from dashboard.access.network import Network
from dashboard.access.service_file import KEYS, Service, service_of
from dashboard.serve import settings
from trials.errors import FileRefused

GOOD = {
    "client_id": "the-farm",
    "client_secret": "nobody-may-read-this",
    "server_metadata_url": "https://id.coop.example/.well-known/openid-configuration",
    "redirect_uri": "https://trials.farm.example/oauth2callback",
    "cookie_secret": "neither-this-one-" + "x" * 32,
}


def written(folder: Path, text: str | None = None, **changed: Any) -> Path:
    file = folder / "secrets.toml"
    lines = [
        f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"
        for key, value in {**GOOD, **changed}.items()
        if value is not None
    ]
    file.write_text("\n".join(["[auth]", *lines]) if text is None else text, encoding="utf-8")
    return file


def test_a_whole_file_is_taken_without_its_secrets(tmp_path: Path) -> None:
    service = service_of([tmp_path / "none.toml", written(tmp_path)])
    assert service == Service("the-farm", "https://id.coop.example", "trials.farm.example")
    assert "nobody-may-read-this" not in repr(service)


def test_the_port_may_be_left_to_the_program(tmp_path: Path) -> None:
    assert service_of([written(tmp_path, redirect_uri="http://localhost:{port}/oauth2callback")])


def test_without_the_section_there_is_no_service(tmp_path: Path) -> None:
    assert service_of([]) is None
    assert service_of([written(tmp_path, 'weather_key = "x"')]) is None


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("value", [None, ""])
def test_a_missing_key_is_named_with_its_file(tmp_path: Path, key: str, value: str | None) -> None:
    file = written(tmp_path, **{key: value})
    with pytest.raises(FileRefused) as refused:
        service_of([file])
    assert str(file) in str(refused.value)
    assert f"lacks {key}." in str(refused.value)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"client_secret": 5}, "client_secret in [auth] must be text"),
        ({"cookie_secret": "short"}, "cookie_secret in [auth] has fewer than 32 characters"),
        ({"redirect_uri": "https://trials.farm.example"}, "redirect_uri"),
        ({"redirect_uri": "//evil.example/oauth2callback"}, "redirect_uri"),
        ({"redirect_uri": "https://a@evil.example/oauth2callback"}, "redirect_uri"),
        ({"redirect_uri": "https://[/oauth2callback"}, "redirect_uri"),
        ({"server_metadata_url": "https://id.coop.example"}, "server_metadata_url"),
        (
            {"server_metadata_url": "http://id.coop.example/.well-known/openid-configuration"},
            "must begin with https://",
        ),
    ],
)
def test_what_cannot_be_right_is_named(tmp_path: Path, changed: dict[str, Any], said: str) -> None:
    file = written(tmp_path, **changed)
    with pytest.raises(FileRefused) as refused:
        service_of([file])
    assert str(file) in str(refused.value)
    assert said in str(refused.value)
    assert not any(GOOD[key] in str(refused.value) for key in ("client_secret", "cookie_secret"))


@pytest.mark.parametrize("text", ['[auth]\nclient_secret = "a\n', 'auth = "x"', "[auth.coop]\na=1"])
def test_a_file_that_cannot_be_read_so_is_named(tmp_path: Path, text: str) -> None:
    file = written(tmp_path, text)
    with pytest.raises(FileRefused, match=r"secrets\.toml"):
        service_of([file])


def test_what_must_be_installed_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = written(tmp_path)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(FileRefused, match="needs authlib and httpx2") as refused:
        service_of([file])
    assert "pip install authlib httpx2" in str(refused.value)


def test_what_it_needs_is_declared_as_an_extra() -> None:
    root = Path(__file__).parents[2]
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extra = project["optional-dependencies"]["openid"]
    assert tuple(line.partition(">")[0] for line in extra) == service_file.NEEDED


def test_only_what_was_judged_is_used(tmp_path: Path) -> None:
    assert settings(None)["secrets.files"] == []
    judged = [str(file) for file in service_file.secrets_files()]
    assert settings(Network())["secrets.files"] == judged
