"""The pages are started on this machine only, and not at all where they could not be shown."""

from __future__ import annotations

import socket
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from dashboard.serve import open_when_ready, serve, settings
from trials.errors import PortTaken, StoreMissing


class Healthy(BaseHTTPRequestHandler):
    """Answers as the pages do once they are up."""

    def do_GET(self) -> None:
        self.send_response(200 if self.path == "/_stcore/health" else 404)
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


def test_a_taken_port_is_refused_with_another(demo_store: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(PortTaken, match=rf"Port {port} .* --port \d+"):
            serve(demo_store, port, open_browser=False)


def test_a_missing_store_is_refused_before_anything_starts(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing):
        serve(tmp_path / "none.tallybed", 1, open_browser=False)


def test_the_browser_is_opened_once_the_pages_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    with HTTPServer(("127.0.0.1", 0), Healthy) as pages:
        port = pages.server_port
        answering = threading.Thread(target=pages.handle_request)
        answering.start()
        open_when_ready(f"http://127.0.0.1:{port}", port)
        answering.join()
    assert opened == [f"http://127.0.0.1:{port}"]


def test_it_listens_here_only_and_reports_nothing() -> None:
    here = settings(None)
    assert here["server.address"] == "127.0.0.1"
    assert here["server.allowedHosts"] == ["127.0.0.1", "localhost"]
    assert here["browser.gatherUsageStats"] is False
    assert here["server.headless"] is True
