"""Where the pages are on the farm's network, and the names they answer to."""

from __future__ import annotations

import socket
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

ADDRESS = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"  # noqa: S104 (asked for by name, and behind the gate)
NOWHERE = ("192.0.2.1", 9)  # an address for documentation (RFC 5737): nothing is sent to it


@dataclass(frozen=True, slots=True)
class Network:
    """Where the pages listen beyond this machine, under which names, and with which certificate.

    ``hosts`` are names that the pages answer to beside this machine's address.
    """

    address: str = EVERY_ADDRESS
    hosts: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None

    @property
    def answers_to(self) -> tuple[str, ...]:
        """Every name and address by which the pages can be asked for."""
        own = (ADDRESS, "localhost", lan_address(), self.address)
        named = (urlsplit(host if "//" in host else f"//{host}").hostname for host in self.hosts)
        return tuple(dict.fromkeys((*own, *(host for host in named if host))))

    @property
    def is_encrypted(self) -> bool:
        return self.certificate is not None


def page_address(port: int, *, encrypted: bool) -> str:
    """Where others on the farm's network find the pages of this machine."""
    return f"http{'s' if encrypted else ''}://{lan_address()}:{port}"


def lan_address() -> str:
    """This machine's address on its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as lookout:
        try:
            lookout.connect(NOWHERE)
        except OSError:
            return ADDRESS
        return str(lookout.getsockname()[0])
