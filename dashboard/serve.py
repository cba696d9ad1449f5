"""Starts the pages, on this machine only or for those who sign in from the farm's network."""

from __future__ import annotations

import os
import socket
import ssl
import sys
import threading
import time
import webbrowser
from http.client import HTTPConnection, HTTPException
from pathlib import Path

from dashboard.access.limits import MOST_OF_A_FILE_MB
from dashboard.access.network import ADDRESS, Network, lan_address, page_address
from dashboard.access.service_file import secrets_files, service_of
from dashboard.theme.looks import THEME
from trials import TallybedError
from trials.errors import FileRefused, PortTaken
from trials.model.trial import Role
from trials.report.figures import listed
from trials.season import begin, everybody, trials

STARTS_WITHIN_S = 30

SETTINGS: dict[str, object] = {
    "browser.gatherUsageStats": False,
    # Headless, it opens no window of its own and asks nothing at the terminal.
    "server.headless": True,
    "server.fileWatcherType": "none",
    "server.maxUploadSize": MOST_OF_A_FILE_MB,
    "server.maxMessageSize": 50,
    "server.enableStaticServing": False,
    "server.enableAgentApi": False,
    # No page writes by a bare expression; looking for them took longer than most pages.
    "runner.magicEnabled": False,
    "client.toolbarMode": "minimal",
    "client.showErrorLinks": "false",
    "logger.hideWelcomeMessage": True,
    "logger.level": "warning",
    **THEME,
}
UNENCRYPTED = (
    "Everything on this network travels unencrypted, passphrases too. Anybody on it can read "
    "along. On a network you share, use --certificate and --key."
)


def serve(
    store: Path,
    port: int,
    open_browser: bool,
    network: Network | None = None,
    *,
    blind: bool = False,
) -> None:
    """Show the store's pages until interrupted; ``blind`` hides what grows where it is tallied.

    On this computer alone a store that is not there is made, so that a grower can begin.

    Raises
    ------
    StoreRefused
        The store cannot be used.
    PortTaken
        Another program listens at that port.
    FileRefused
        The certificate cannot be used, or the secrets of another sign-in lack something.
    TallybedError
        The network is asked for, but nobody may sign in.
    """
    store = store.expanduser().absolute()
    service = None
    if network is not None:
        _require_grower(store)
        _require_certificate(network)
        service = service_of(secrets_files())
    if store.exists():
        trials(store)
    _require_free(network.address if network else ADDRESS, port)
    if begin(store):
        sys.stdout.write(f"A new store was made: {store}\n")
    os.environ["TALLYBED_STORE"] = str(store)
    os.environ["TALLYBED_BLIND"] = "1" if blind else ""
    say_where(port, network)
    if open_browser and network is None:
        address = f"http://{ADDRESS}:{port}"
        threading.Thread(target=open_when_ready, args=(address, port), daemon=True).start()
    from dashboard.imports import import_everything
    from dashboard.served_app import served_app

    import_everything()

    served_app(store, network, service).run(config={"server.port": port, **settings(network)})


def settings(network: Network | None) -> dict[str, object]:
    """Streamlit's settings for this machine alone, or for the network."""
    if network is None:
        return {
            **SETTINGS,
            "server.address": ADDRESS,
            # Without these the page could be reached through a name another site points at us.
            "server.allowedHosts": [ADDRESS, "localhost"],
            "browser.serverAddress": ADDRESS,
            "secrets.files": [],
        }
    encrypted = {"server.sslCertFile": network.certificate, "server.sslKeyFile": network.key}
    return {
        **SETTINGS,
        # A fault's own words go to this machine's terminal; they may hold records.
        "client.showErrorDetails": "none",
        # Those that were judged before the start, and no others.
        "secrets.files": [str(file) for file in secrets_files()],
        "server.address": network.address,
        "browser.serverAddress": lan_address(),
        **{name: str(file) for name, file in encrypted.items() if file is not None},
    }


def say_where(port: int, network: Network | None) -> None:
    """Print where the pages are and who gets in."""
    if network is None:
        lines = [f"The pages are at http://{ADDRESS}:{port}, on this computer only."]
    else:
        where = page_address(port, encrypted=network.is_encrypted)
        invite = f"tallybed people invite NAME --pages {where}"
        lines = [
            f"The pages are at {where} for those who sign in.",
            *(f"They answer to {host} as well." for host in network.hosts),
            f"Invite the crew from the page People, or with: {invite}",
        ]
        lines += [] if network.is_encrypted else [UNENCRYPTED]
    sys.stdout.write("\n".join([*lines, "Ctrl+C ends them.\n"]))
    sys.stdout.flush()


def _require_grower(store: Path) -> None:
    people = everybody(store) if store.exists() else ()
    if not any(person.role is Role.GROWER for person in people):
        raise TallybedError(
            "Nobody can sign in as a grower yet. Add yourself on this computer first: "
            "tallybed people add NAME --role grower"
        )


def _require_certificate(network: Network) -> None:
    certificate, key = network.certificate, network.key
    if certificate is None and key is None:
        return
    if certificate is None or key is None:
        raise FileRefused("A certificate and its key go together: name both files.")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as problem:
        raise FileRefused(
            f"{listed([str(certificate), str(key)])} cannot be used as certificate and key: "
            f"{problem.strerror or problem}. Both are files in PEM form that belong together."
        ) from None


def _require_free(address: str, port: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
        if os.name == "posix":
            # A port that was let go a moment ago is free for us; on Windows this would share it.
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((address, port))
        except OSError as problem:
            raise PortTaken(
                f"Port {port} of this machine cannot be used: {problem.strerror}. If the pages are "
                f"open already, they are at http://{ADDRESS}:{port}; else choose another port "
                f"with --port {port + 1 if port < 65535 else port - 1}."
            ) from None


def open_when_ready(address: str, port: int) -> None:
    """Open the browser once the pages answer."""
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        connection = HTTPConnection(ADDRESS, port, timeout=1)
        try:
            connection.request("GET", "/_stcore/health")
            if connection.getresponse().status == 200:
                webbrowser.open(address)
                return
        except (OSError, HTTPException):
            time.sleep(0.2)
        finally:
            connection.close()
