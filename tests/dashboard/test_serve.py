"""The pages are started on this machine only, and not at all where they could not be shown."""

from __future__ import annotations

import socket
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from dashboard.access.network import Network
from dashboard.serve import open_when_ready, serve, settings
from trials import season
from trials.errors import PortTaken, TallybedError


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


def test_no_store_is_made_where_the_pages_cannot_start(tmp_path: Path) -> None:
    store = tmp_path / "farm" / "new.tallybed"
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(PortTaken):
            serve(store, taken.getsockname()[1], open_browser=False)
    with pytest.raises(TallybedError, match="Nobody can sign in as a grower yet"):
        serve(store, 1, open_browser=False, network=Network())
    assert not store.parent.exists()


def test_a_store_that_is_not_there_is_made_before_the_pages_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    store, started = tmp_path / "farm" / "new.tallybed", list[Quiet]()
    monkeypatch.setattr("dashboard.imports.import_everything", lambda: None)

    def pages(*asked: object) -> Quiet:
        started.append(Quiet())
        return started[-1]

    monkeypatch.setattr("dashboard.served_app.served_app", pages)
    for name in ("TALLYBED_STORE", "TALLYBED_BLIND"):
        monkeypatch.setenv(name, "")
    serve(store, free_port(), open_browser=False)
    assert season.trials(store) == ()
    assert f"A new store was made: {store}" in capsys.readouterr().out
    before = store.read_bytes()
    serve(store, free_port(), open_browser=False)
    assert store.read_bytes() == before
    assert "A new store" not in capsys.readouterr().out
    assert len(started) == 2


def free_port() -> int:
    with socket.socket() as lookout:
        lookout.bind(("127.0.0.1", 0))
        return int(lookout.getsockname()[1])


class Quiet:
    """Pages that end as soon as they are run."""

    def run(self, config: object) -> None:
        """Do nothing."""


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
