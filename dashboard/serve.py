"""Starts the pages on this machine only, with nothing reported and nothing asked elsewhere."""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
import webbrowser
from http.client import HTTPConnection, HTTPException
from pathlib import Path

from dashboard.looks import THEME
from trials import PortTaken, trials

ADDRESS = "127.0.0.1"
STARTS_WITHIN_S = 30
APP = Path(__file__).with_name("app.py")

SETTINGS = (
    ("server.address", ADDRESS),
    # Without these the page could be reached through a name that another site points at us.
    ("server.allowedHosts", ADDRESS),
    ("server.allowedHosts", "localhost"),
    ("browser.serverAddress", ADDRESS),
    ("browser.gatherUsageStats", "false"),
    # Headless, it opens no window of its own and asks nothing at the terminal.
    ("server.headless", "true"),
    ("server.fileWatcherType", "none"),
    ("server.maxUploadSize", "50"),
    ("client.toolbarMode", "minimal"),
    ("client.showErrorLinks", "false"),
    ("logger.hideWelcomeMessage", "true"),
    ("logger.level", "warning"),
    *THEME.items(),
)


def serve(store: Path, port: int, open_browser: bool) -> None:
    """Show the store's pages until interrupted.

    Raises
    ------
    StoreRefused
        There is no store at that place, or it cannot be used.
    PortTaken
        Another program listens at that port.
    """
    trials(store)
    _require_free(port)
    os.environ["TALLYBED_STORE"] = str(store.expanduser().absolute())
    address = f"http://{ADDRESS}:{port}"
    sys.stdout.write(f"The pages are at {address} on this machine only. Ctrl+C ends them.\n")
    sys.stdout.flush()
    if open_browser:
        threading.Thread(target=open_when_ready, args=(address, port), daemon=True).start()
    from streamlit.web import cli

    settings = [f"--{name}={value}" for name, value in SETTINGS]
    cli.main(
        ["run", str(APP), f"--server.port={port}", *settings],
        prog_name="tallybed",
        standalone_mode=False,
    )


def _require_free(port: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
        if os.name == "posix":
            # A port that was let go a moment ago is free for us; on Windows this would share it.
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((ADDRESS, port))
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
