"""The sign-in service (OpenID Connect) that Streamlit's secrets name, judged before the start.

What is missing is told by file and key then, and not by a page that fails weeks later.
"""

from __future__ import annotations

import importlib.util
import sys
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from trials.errors import FileRefused
from trials.report.figures import listed

KEYS = ("client_id", "client_secret", "server_metadata_url", "redirect_uri", "cookie_secret")
CALLBACK = "/oauth2callback"
# Where a provider says what it is: OpenID Connect Discovery 1.0, section 4.
WELL_KNOWN = "/.well-known/openid-configuration"
SHORTEST_COOKIE_SECRET = 32
THIS_MACHINE = ("localhost", "127.0.0.1", "::1")
NEEDED = ("authlib", "httpx2")
HOW = "README.md says how it is set up; without a section [auth] people sign in by passphrase."


@dataclass(frozen=True, slots=True)
class Service:
    """What is known of the service beforehand; its secrets stay in their file."""

    client_id: str
    issuer: str
    host: str  # of the pages, where the service leads back to


def secrets_files() -> list[Path]:
    """Where the secrets may lie: of this person, and of the folder the pages are started in."""
    return [folder / ".streamlit" / "secrets.toml" for folder in (Path.home(), Path.cwd())]


def service_of(files: Sequence[Path]) -> Service | None:
    """The service in the secrets; None where no file has a section ``[auth]``.

    Raises
    ------
    FileRefused
        A file cannot be read, or a key is missing or cannot be used; the text names both, and
        never what a secret is.
    """
    found: tuple[Path, Any] | None = None
    for file in files:
        section = _read(file).get("auth")
        if section is not None:
            found = file, section  # the later file counts, as for Streamlit
    if found is None:
        return None
    file, section = found
    _require_keys(file, section)
    _require_addresses(file, section)
    _require_libraries(file)
    issuer = section["server_metadata_url"].removesuffix(WELL_KNOWN)
    host = urlsplit(section["redirect_uri"]).hostname or ""
    return Service(section["client_id"], issuer, host)


def _read(file: Path) -> Mapping[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except OSError as problem:
        raise FileRefused(f"{file} cannot be read: {problem.strerror}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        # The parser's own words may quote what stands there.
        raise FileRefused(f'{file} is not valid TOML. Write each line as key = "text".') from None


def _require_keys(file: Path, section: Any) -> None:
    if not isinstance(section, Mapping):
        raise FileRefused(f"{file}: auth is a section of its own, [auth]. {HOW}")
    lacking = [key for key in KEYS if not section.get(key)]
    if lacking:
        raise FileRefused(f"{file}: [auth] lacks {listed(lacking)}. {HOW}")
    not_text = [key for key in KEYS if not isinstance(section[key], str)]
    if not_text:
        raise FileRefused(f"{file}: {listed(not_text)} in [auth] must be text in quotes.")
    if len(section["cookie_secret"]) < SHORTEST_COOKIE_SECRET:
        raise FileRefused(
            f"{file}: cookie_secret in [auth] has fewer than {SHORTEST_COOKIE_SECRET} characters. "
            'Make one with: python3 -c "import secrets; print(secrets.token_urlsafe(32))"'
        )


def _require_addresses(file: Path, section: Mapping[str, str]) -> None:
    back = section["redirect_uri"]
    if not (_is_address(back) and urlsplit(back.replace("{port}", "1")).path == CALLBACK):
        raise FileRefused(
            f"{file}: redirect_uri in [auth] is the address of these pages with {CALLBACK} at its "
            f"end, such as https://trials.farm.example{CALLBACK}"
        )
    asked = section["server_metadata_url"]
    if not (_is_address(asked) and asked.endswith(WELL_KNOWN)):
        raise FileRefused(
            f"{file}: server_metadata_url in [auth] is the service's own address with {WELL_KNOWN} "
            f"at its end, such as https://id.coop.example{WELL_KNOWN}"
        )
    if urlsplit(asked).scheme != "https" and urlsplit(asked).hostname not in THIS_MACHINE:
        raise FileRefused(
            f"{file}: server_metadata_url in [auth] must begin with https://. Otherwise "
            "anybody in between could answer instead of the service."
        )


def _is_address(text: str) -> bool:
    try:
        parts = urlsplit(text.replace("{port}", "1"))
        _ = parts.port
    except ValueError:
        return False
    plain = parts.username is None and not parts.query and not parts.fragment
    return parts.scheme in ("https", "http") and bool(parts.hostname) and plain


def _require_libraries(file: Path) -> None:
    lacking = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if lacking:
        raise FileRefused(
            f"{file} sets up another sign-in, which needs {listed(lacking)}. Install it with: "
            f"{sys.executable} -m pip install {' '.join(lacking)}"
        )
