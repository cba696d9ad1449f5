"""From the tap on Record to what the page says: on the phone's own page, in a real Chromium.

Run: python tests/benchmarks/bench_tally.py [PLOTS]

It serves a copy of the invented farm with its trials open, records plot after plot, and prints when
the page shows the plot as recorded on the phone, and when as stored by the farm's computer. The
second is measured again with 40 ms of delay on each way, as weak Wi-Fi has.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from http.client import HTTPConnection
from pathlib import Path
from statistics import median
from typing import Any

from trials import season

ROOT = Path(__file__).parents[2]
HERE = "127.0.0.1"
PHONE: Any = {"width": 390, "height": 844}
FIRST_DAY = date(2026, 6, 1)
DELAY_MS = 40
WANTED_MS = 150
STARTS_WITHIN_S = 60

# From the tap to the first picture after each text is there.
TAPPED = """
async () => {
  const until = (test) => new Promise((resolve) => {
    const look = () => (test() ? requestAnimationFrame(() => resolve(performance.now())) : null);
    const watching = new MutationObserver(() => { if (look() !== null) watching.disconnect(); });
    watching.observe(document.body, { childList: true, subtree: true, characterData: true });
  });
  const says = (words) => document.querySelector("main").textContent.includes(words);
  const kept = until(() => says("Recorded: "));
  const stored = until(() => says("Stored on the farm's computer"));
  const begun = performance.now();
  document.querySelector("#bar .main").click();
  return [await kept - begun, await stored - begun];
}
"""


def day_to_tally(store: Path) -> tuple[date, list[str]]:
    """The first day on which plots stand and none is recorded."""
    for after in range(150):
        walk = season.walk(store, FIRST_DAY + timedelta(after))
        if len(walk) > 20 and all(plot.is_left for plot in walk):
            return FIRST_DAY + timedelta(after), [plot.plot for plot in walk]
    raise SystemExit("the invented farm has no day without records")


@contextmanager
def served(store: Path) -> Iterator[str]:
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        port = int(lookout.getsockname()[1])
    command = "from trials.cli import main; main()"
    options = ["dashboard", "--no-browser", "--port", str(port), "--store", str(store)]
    process = subprocess.Popen(
        [sys.executable, "-c", command, *options], cwd=ROOT, stdout=subprocess.DEVNULL
    )
    try:
        until = time.monotonic() + STARTS_WITHIN_S
        while time.monotonic() < until:
            try:
                connection = HTTPConnection(HERE, port, timeout=2)
                connection.request("GET", "/plots")
                connection.getresponse().read()
                break
            except OSError:
                time.sleep(0.1)
        yield f"http://{HERE}:{port}"
    finally:
        process.terminate()
        process.wait(timeout=20)


def recorded(page: Any, address: str, day: date, plots: list[str]) -> list[tuple[float, float]]:
    found = []
    for number, plot in enumerate(plots):
        page.goto(f"{address}/plots?plot={plot}&day={day}")
        page.locator(".count input").first.fill(str(10 + number % 20))
        page.wait_for_timeout(100)
        kept, stored = page.evaluate(TAPPED)
        found.append((kept, stored))
    return found


def say(what: str, times: list[float]) -> None:
    ordered = sorted(times)
    late = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    within = sum(each <= WANTED_MS for each in times)
    print(
        f"{what:<44} median {median(times):6.1f} ms, 95% {late:6.1f} ms, "
        f"longest {ordered[-1]:6.1f} ms, within {WANTED_MS} ms {within} of {len(times)}"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        store = Path(folder) / "farm.tallybed"
        season.load(store, [ROOT / "data" / "farm"])
        day, plots = day_to_tally(store)
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_context(viewport=PHONE).new_page()
        half = min(count, len(plots) // 2)
        print(f"{half} plots of {len(plots)} on {day}, {os.cpu_count()} processors")
        with served(store) as address:
            near = recorded(page, address, day, plots[:half])
            session = page.context.new_cdp_session(page)
            session.send("Network.enable")
            slow = {"offline": False, "latency": 2 * DELAY_MS}
            bytes_per_s = {"downloadThroughput": 500_000, "uploadThroughput": 250_000}
            session.send("Network.emulateNetworkConditions", {**slow, **bytes_per_s})
            far = recorded(page, address, day, plots[half : 2 * half])
        say("On the phone, after the tap", [kept for kept, _ in near + far])
        say("Stored by the farm's computer", [stored for _, stored in near])
        say(f"The same with {DELAY_MS} ms on each way", [stored for _, stored in far])
        browser.close()


if __name__ == "__main__":
    main()
