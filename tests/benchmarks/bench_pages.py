"""Times each page, and each redrawing of page Compare, next to a small page of the same framework.

    python tests/benchmarks/bench_pages.py [--rounds 7] [--store STORE] [--entries 200]

The small page has one chart of two points and one table of two rows. Both servers run at the same
time, and the pages are loaded in turn, so that other work on the machine slows all of them. A page
is complete once its last element is there, its script has ended, nothing on it waits to be drawn
again, and its pictures have come. Each first load warms up and does not count. The store is the
invented farm's, with every trial closed; without --store it is made first. With --entries, page
Compare shows one trial of so many varieties instead.
"""

from __future__ import annotations

import argparse
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
HERE = "127.0.0.1"
LAPTOP: Any = {"width": 1280, "height": 900}
STARTS_WITHIN_S = 120
WANTED_RATIO = 1.3
WANTED_REDRAW_MS = 400
SMALL = "a page with one chart and one table"
SMALL_PAGE = """
import altair as alt
import pandas as pd
import streamlit as st

rows = pd.DataFrame({"variety": ["A", "B"], "stems": [4.0, 7.0]})
st.altair_chart(alt.Chart(rows).mark_point().encode(x="stems", y="variety"))
st.table(rows)
st.text("The end")
"""
# Its address below the server's, and the words at its end.
PAGES = {
    "Home": "",
    "Plan": "plan",
    "Tally": "tally",
    "Records": "records",
    "Compare": "compare?trial=cosmos-2026",
    "Choose": "choose",
    "Order": "order",
    "Winter": "winter",
    "History": "history",
    "Backups": "backups",
}
LAST_WORDS = "What the words mean"
NEVER_SHOWN = ("net per metre of bed", "stem length", "marketable share")
MANY = "aster-2026"  # the trial that many_entries.py makes
MANY_NEVER_SHOWN = ("stem length", "stems per metre of bed")
FACTORS = ("pinch", "variety")
SETTLED_MS = 3_000
COMPLETE = """
(last) => {
  const app = document.querySelector("[data-testid=stApp]");
  if (!app || app.dataset.testScriptState !== "notRunning") return false;
  if (document.querySelector("[data-stale=true], [data-testid=stSkeleton]")) return false;
  const main = document.querySelector("[data-testid=stMain]");
  if (!main || !main.textContent.includes(last)) return false;
  const charts = [...main.querySelectorAll("[data-testid=stVegaLiteChart]")];
  if (charts.some(chart => !chart.querySelector("canvas, svg.marks"))) return false;
  return [...main.querySelectorAll("img")].every(img => img.complete);
}
"""
# From a touch to the picture after the head of the answer has changed and nothing waits any more.
REDRAWN = """
async ([kind, words]) => {
  const told = () => [...document.querySelectorAll("h2.tb-answer, h2.tb-h2")]
    .map(each => each.textContent).join("|") + document.querySelector("img.tb-picture").src;
  const before = told();
  const target = [...document.querySelectorAll(kind)]
    .find(each => each.textContent.trim() === words);
  if (!target) throw new Error("nothing says " + words);
  const begun = performance.now();
  target.click();
  await new Promise((resolve, refuse) => {
    setTimeout(() => refuse(new Error("nothing changed")), 60000);
    const look = () => {
      const waits = document.querySelector("[data-stale=true]");
      const state = document.querySelector("[data-testid=stApp]").dataset.testScriptState;
      if (told() !== before && !waits && state === "notRunning") resolve();
      else requestAnimationFrame(look);
    };
    look();
  });
  return performance.now() - begun;
}
"""


def free_port() -> int:
    with socket.socket() as lookout:
        lookout.bind((HERE, 0))
        return int(lookout.getsockname()[1])


@contextmanager
def served(arguments: Sequence[str], port: int) -> Iterator[str]:
    """The address of a server in a process of its own."""
    process = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
    )
    try:
        _wait_for(port)
        yield f"http://{HERE}:{port}"
    finally:
        process.terminate()
        process.wait(timeout=20)


def _wait_for(port: int) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        connection = HTTPConnection(HERE, port, timeout=2)
        try:
            connection.request("GET", "/_stcore/health")
            if connection.getresponse().status == 200:
                return
        except OSError:
            time.sleep(0.1)
        finally:
            connection.close()
    raise SystemExit(f"a server did not answer within {STARTS_WITHIN_S} s")


def both_served(store: Path, folder: Path, stack: ExitStack) -> tuple[str, str]:
    """The addresses of the farm's pages and of the small page."""
    script = folder / "small.py"
    script.write_text(SMALL_PAGE, encoding="utf-8")
    ours, small = free_port(), free_port()
    command = "from trials.cli import main; main()"
    options = ["--no-browser", "--port", str(ours), "--store", str(store)]
    plain = [f"--server.port={small}", f"--server.address={HERE}", "--server.headless=true"]
    plain += ["--browser.gatherUsageStats=false", "--server.fileWatcherType=none"]
    return (
        stack.enter_context(served(["-c", command, "dashboard", *options], ours)),
        stack.enter_context(served(["-m", "streamlit", "run", str(script), *plain], small)),
    )


def load_ms(page: Any, address: str, last: str) -> float:
    """How long a page takes from asking for it until it is complete."""
    begun = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_function(COMPLETE, arg=last, timeout=120_000)
    return 1e3 * (time.perf_counter() - begun)


def loads(
    page: Any, ours: str, small: str, places: Mapping[str, str], rounds: int
) -> Mapping[str, list[float]]:
    """Every page's times, in turn."""
    asked = [(SMALL, small, "The end")]
    asked += [(name, f"{ours}/{place}", LAST_WORDS) for name, place in places.items()]
    found: dict[str, list[float]] = {name: [] for name, _, _ in asked}
    for number in range(rounds + 1):
        for name, address, last in asked:
            took = load_ms(page, address, last)
            if number:
                found[name].append(took)
    return found


def redraws(
    page: Any, compare: str, factors_of: Sequence[str], never: Sequence[str], rounds: int
) -> Mapping[str, list[float]]:
    """What page Compare takes to show another factor or measure, calculated before or not."""
    load_ms(page, compare, LAST_WORDS)
    page.wait_for_timeout(SETTLED_MS)
    first = [measured(page, measure) for measure in never]
    found: dict[str, list[float]] = {"another factor": [], "another measure": []}
    for number in range(rounds + 1):
        factors = [page.evaluate(REDRAWN, ["[role=radio]", each]) for each in factors_of]
        measures = [measured(page, each) for each in ("stem length", "stems per plant")]
        if number:
            found["another factor"] += factors
            found["another measure"] += measures
    return {**found, "another measure, for the first time": first}


def measured(page: Any, measure: str) -> float:
    """How long another measure takes to be shown, from the tap on its name."""
    page.get_by_label("Measure").click()
    page.get_by_role("option", name=measure, exact=True).wait_for()
    return float(page.evaluate(REDRAWN, ["[role=option]", measure]))


def say_loads(times: Mapping[str, list[float]]) -> None:
    """A row for each page: median, longest, and ratio to the small page."""
    print("| page | median ms | longest ms | ratio |\n|---|---|---|---|")
    usual = median(times[SMALL])
    for name, taken in times.items():
        middle = median(taken)
        print(f"| {name} | {middle:.0f} | {max(taken):.0f} | {middle / usual:.2f} |")


def say_redraws(times: Mapping[str, list[float]]) -> None:
    """A row for each touch: median and longest."""
    print("\n| on page Compare | median ms | longest ms |\n|---|---|---|")
    for name, taken in times.items():
        if taken:
            print(f"| {name} | {median(taken):.0f} | {max(taken):.0f} |")


def made_demo(folder: Path) -> Path:
    """The invented farm's store, every trial closed."""
    from trials.season.demo import STORE_NAME

    command = "from trials.cli import main; main()"
    subprocess.run(
        [sys.executable, "-c", command, "demo", "--into", str(folder / "demo")],
        cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    return folder / "demo" / STORE_NAME


def made_trial(folder: Path, entries: int) -> Path:
    """The store of one trial of so many varieties."""
    here = str(Path(__file__).parent)
    command = f"import sys; sys.path.insert(0, {here!r}); import pathlib, many_entries; "
    command += f"many_entries.made(pathlib.Path({str(folder)!r}), {entries})"
    subprocess.run([sys.executable, "-c", command], cwd=ROOT, check=True)
    return folder / "farm.tallybed"


def main() -> None:
    """Print the tables."""
    wanted = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    wanted.add_argument("--rounds", type=int, default=7)
    wanted.add_argument("--store", type=Path)
    wanted.add_argument("--entries", type=int, help="of a trial made for page Compare")
    asked = wanted.parse_args()
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        store = folder / "farm.tallybed"
        places: Mapping[str, str] = PAGES
        factors: Sequence[str] = FACTORS
        never: Sequence[str] = NEVER_SHOWN
        if asked.entries:
            made = made_trial(folder / "many", asked.entries)
            places = {"Compare": f"compare?trial={MANY}"}
            factors, never = (), MANY_NEVER_SHOWN
        else:
            made = asked.store or made_demo(folder)
        shutil.copy(made, store)
        ours, small = both_served(store, folder, stack)
        playwright = stack.enter_context(sync_playwright())
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_context(viewport=LAPTOP).new_page()
        before = os.getloadavg()[0]
        times = loads(page, ours, small, places, asked.rounds)
        compare = f"{ours}/{places['Compare']}"
        touched = redraws(page, compare, factors, never, asked.rounds)
        print(f"{os.cpu_count()} processors, load {before:.0f} to {os.getloadavg()[0]:.0f}\n")
        say_loads(times)
        say_redraws(touched)
        browser.close()


if __name__ == "__main__":
    main()
