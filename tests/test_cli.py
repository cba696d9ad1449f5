"""The command line as a person and as a program meet it: pages, documents, refusals."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import duckdb
import jsonschema
import pytest

from trials.cli import main
from trials.report.document import schema

ROOT = Path(__file__).parents[1]
FARM = ROOT / "data" / "farm"

Run = Callable[..., "Ran"]


class Ran:
    """What a command left behind: its exit code and what it printed."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def document(self) -> dict[str, object]:
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in this process."""

    def command(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["tallybed", *map(str, words)])
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return command


@pytest.fixture
def store(farm_store: Path, tmp_path: Path) -> Path:
    """A store of one's own to change."""
    return Path(shutil.copy(farm_store, tmp_path))


def contents(store: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table."""
    with duckdb.connect(str(store), read_only=True) as connection:
        tables = [name for (name,) in connection.execute("SHOW TABLES").fetchall()]
        return {
            table: sorted(connection.execute(f'FROM "{table}"').fetchall(), key=repr)
            for table in tables
        }


CUTS = "plot,cut_on,outcome,grade_cm,stems,cull_reason\n"

BAD_FILES: dict[str, tuple[str | bytes, int | None, str]] = {
    "missing column": (b"plot,cut_on,outcome,grade_cm\n", 1, "stems"),
    "unknown plot": (CUTS + "C9999,2026-08-10,picked,40,3,\n", 2, "plot"),
    "text in a number": (CUTS + "C6222,2026-10-05,picked,40,a few,\n", 2, "stems"),
    "negative stems": (CUTS + "C6222,2026-10-05,picked,40,-3,\n", 2, "stems"),
    "outside the season": (CUTS + "C6222,2027-01-05,picked,40,3,\n", 2, "cut_on"),
    "duplicate cut": (
        CUTS + "C6222,2026-10-05,picked,40,3,\nC6222,2026-10-05,picked,40,4,\n",
        3,
        "cut_on",
    ),
    "wrong encoding": (
        CUTS.encode() + "C6222,2026-10-05,picked,,3,verblüht\n".encode("cp1252") + "ä\n".encode(),
        2,
        "",
    ),
    "empty file": (b"", None, ""),
}


@pytest.mark.parametrize("kind", BAD_FILES)
def test_a_bad_file_is_refused_by_place_and_changes_nothing(
    kind: str, run: Run, store: Path, tmp_path: Path
) -> None:
    content, row, column = BAD_FILES[kind]
    bad = tmp_path / "spoiled.csv"
    bad.write_bytes(content.encode() if isinstance(content, str) else content)
    before = contents(store)
    ran = run("load", bad, "--store", store)
    assert ran.code == 2
    assert ran.out == ""
    assert "spoiled.csv" in ran.err
    if row is not None:
        assert f"row {row}" in ran.err
    assert column in ran.err
    assert "Traceback" not in ran.err
    assert contents(store) == before


def test_one_bad_file_keeps_the_good_ones_out_too(run: Run, store: Path, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(CUTS + "C6222,2026-10-05,picked,40,3,\n", encoding="utf-8")
    bad.write_text(CUTS + "C6223,2026-10-05,picked,40,three,\n", encoding="utf-8")
    before = contents(store)
    assert run("load", good, bad, "--store", store).code == 2
    assert contents(store) == before
    assert run("load", good, "--store", store).code == 0
    assert contents(store) != before


def test_loading_twice_adds_nothing_and_says_so(run: Run, store: Path) -> None:
    before = contents(store)
    ran = run("load", FARM, "--store", store)
    assert ran.code == 0
    assert "Nothing new" in ran.out
    assert contents(store) == before


def test_a_dry_run_stores_nothing(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "new.tallybed"
    ran = run("load", FARM, "--store", place, "--dry-run")
    assert ran.code == 0
    assert "dry run" in ran.out
    assert not place.exists()


def test_a_refused_first_load_leaves_no_store(run: Run, tmp_path: Path) -> None:
    place, bad = tmp_path / "new.tallybed", tmp_path / "bad.csv"
    bad.write_text("", encoding="utf-8")
    assert run("load", bad, "--store", place).code == 2
    assert not place.exists()


def test_a_closed_trial_takes_no_more(run: Run, store: Path, tmp_path: Path) -> None:
    closing = run("close", "cosmos-2026", "--on", "2026-10-11", "--store", store)
    assert closing.code == 0
    assert "C6332" in closing.out
    late = tmp_path / "late.csv"
    late.write_text(CUTS + "C6222,2026-10-10,picked,40,3,\n", encoding="utf-8")
    ran = run("load", late, "--store", store)
    assert ran.code == 2
    assert "row 2" in ran.err
    again = run("close", "cosmos-2026", "--on", "2026-10-12", "--store", store)
    assert again.code == 2


@pytest.mark.slow
def test_a_comparison_of_the_store_keeps_to_its_schema(run: Run, farm_store: Path) -> None:
    for trial in ("cosmos-2026", "plume-2026", "cosmos-bed-2026"):
        ran = run("compare", trial, "--json", "--store", farm_store)
        assert ran.code == 0
        assert ran.err == ""
        jsonschema.validate(ran.document, schema())


@pytest.mark.slow
def test_plots_with_missed_picks_can_be_left_out(run: Run, farm_store: Path) -> None:
    whole = run("compare", "cosmos-2026", "--json", "--store", farm_store).document
    cautions = whole["cautions"]
    assert isinstance(cautions, list)
    (missed,) = [caution for caution in cautions if caution["code"] == "missed-picks"]
    rest = run(
        "compare", "cosmos-2026", "--leave-out-missed", "--json", "--store", farm_store
    ).document
    assert isinstance(whole["plots"], int)
    assert rest["plots"] == whole["plots"] - len(missed["plots"])


def test_side_by_side_is_described_and_not_tested(run: Run, farm_store: Path) -> None:
    document = run("compare", "cosmos-bed-2026", "--json", "--store", farm_store).document
    assert document["tests"] == []
    assert document["all_pairs"] == []
    assert document["with_best"] == []
    layout = document["layout"]
    assert isinstance(layout, dict)
    assert layout["not_replicated"]
    page = run("compare", "cosmos-bed-2026", "--store", farm_store).out
    assert "blocks" in page
    assert "p =" not in page


def test_any_table_of_a_published_trial(run: Run, tmp_path: Path) -> None:
    """Clewer & Scarisbrick 2001: Tukey p of the largest difference 0.04863737, blocks in it."""
    published = {
        "B1": [7.4, 9.8, 7.3, 9.5],
        "B2": [6.5, 6.8, 6.1, 8.0],
        "B3": [5.6, 6.2, 6.4, 7.4],
    }
    table = tmp_path / "cultivars.csv"
    rows = [f"{b},C{i},{y}" for b, ys in published.items() for i, y in enumerate(ys, start=1)]
    table.write_text("block,cultivar,yield\n" + "\n".join(rows) + "\n", encoding="utf-8")
    words = ["compare", "--table", table, "--measure", "yield", "--treatment", "cultivar"]
    document = run(*words, "--block", "block", "--check", "C1", "--json").document
    jsonschema.validate(document, schema())
    pairs = document["all_pairs"]
    assert isinstance(pairs, list)
    (pair,) = [p for p in pairs if {*p["a"].values(), *p["b"].values()} == {"C1", "C4"}]
    assert pair["p_adjusted"] == pytest.approx(0.04863737, abs=1e-6)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["compare", "cosmo-2026"], "cosmos-2026"),
        (["compare", "cosmos-2026", "--measure", "stem_lenght_cm"], "stem_length_cm"),
        (["compare", "cosmos-2026", "--check", "Wrenlach"], "Wrenlatch"),
        (["choose", "cosmo"], "cosmos"),
        (["choose", "cosmos"], "Close it first"),
        (["close", "cosmos-2026", "--on", "11/10/2026"], "2026-10-14"),
        (["compare", "cosmos-2026", "--equivalence-margin", "lots"], "10%"),
        (["compare"], "--table"),
    ],
)
def test_mistakes_get_one_message_and_the_nearest_choice(
    words: list[str], says: str, run: Run, farm_store: Path
) -> None:
    ran = run(*words, "--store", farm_store)
    assert ran.code == 2
    assert ran.out == ""
    assert says in ran.err
    assert "Traceback" not in ran.err


def test_a_missing_store_and_a_file_that_is_none(run: Run, tmp_path: Path) -> None:
    ran = run("trials", "--store", tmp_path / "none.tallybed")
    assert ran.code == 2
    other = tmp_path / "letter.txt"
    other.write_text("Dear seed house", encoding="utf-8")
    ran = run("trials", "--store", other)
    assert ran.code == 2
    assert other.read_text(encoding="utf-8") == "Dear seed house"


@pytest.mark.slow
def test_an_order_is_for_what_is_needed_and_costs_what_it_lists(run: Run, demo_store: Path) -> None:
    order = run(
        "order", "cosmos", "--bed-metres", 24, "--trial-plants", 64, "--json",
        "--store", demo_store,
    ).document  # fmt: skip
    parcels = order["parcels"]
    assert isinstance(parcels, list)
    total = sum(line["cost"] for parcel in parcels for line in parcel["lines"])
    total += sum(parcel["shipping"] for parcel in parcels)
    assert order["total"] == pytest.approx(total)
    ordered: dict[str, int] = {}
    for parcel in parcels:
        for line in parcel["lines"]:
            ordered[line["variety"]] = ordered.get(line["variety"], 0) + line["seeds"]
    needs = order["needs"]
    assert isinstance(needs, list)
    assert all(ordered[need["variety"]] >= need["to_buy"] for need in needs)
    assert [need["variety"] for need in needs if need["on_hand"]] == ["Fennadrift"]
    _order_by_stems(run, demo_store)


def _order_by_stems(run: Run, store: Path) -> None:
    """1,800 stems: enough plants at the low end of the standings, and beds for those that die."""
    choice = run("choose", "cosmos", "--measure", "stems_per_plant", "--json", "--store", store)
    low = {s["entry"]: s["low"] for s in choice.document["standings"]}  # type: ignore[attr-defined]
    ran = run("order", "cosmos", "--stems", 1800, "--json", "--store", store)
    sowing, needs = ran.document["sowing"], ran.document["needs"]
    assert isinstance(sowing, dict)
    assert isinstance(needs, list)
    lows = [low[need["variety"]] for need in needs]
    wanted = sowing["wanted"]
    assert wanted["plants"] == math.ceil(1800 / (sum(lows) / len(lows)))
    assert 0.5 < wanted["survival"] <= 1
    assert wanted["plants_set"] == math.ceil(round(wanted["plants"] / wanted["survival"], 9))
    assert sum(need["plants_set"] for need in needs) >= wanted["plants_set"]
    said = run("order", "cosmos", "--stems", 1800, "--store", store).out
    assert "1,800 stems take" in said
    lots = Path(FARM, "seed_lots.csv").read_text(encoding="utf-8").splitlines()
    lot = next(line.split(",")[0] for line in lots if " 21-" in line)  # of Fennadrift
    words = ("order", "cosmos", "--bed-metres", 24, "--variety", "Fennadrift", "--store", store)
    shelf = run(*words, "--json", "--on-hand", f"{lot}=50")
    needs = shelf.document["needs"]
    assert isinstance(needs, list)
    (need,) = needs
    # Of another lot the farm's records have 60, and of its own seed 40.
    assert need["on_hand"] == 50 + 60 + 40
    assert need["seeds"] - 160 <= need["to_buy"] < need["seeds"] - 100 * 0.9
    said = run(*words, "--on-hand", f"{lot}=50").out
    row = next(line.split() for line in said.splitlines() if line.startswith("  Fennadrift"))
    assert row[-4:-1] == [str(need["seeds"]), "150", str(need["to_buy"])]
    assert "is not a seed lot" in run(*words, "--on-hand", "L=none").err
    assert "no seed lot" in run(*words, "--on-hand", "L=5").err.lower()
    refused = run("order", "cosmos", "--store", store)
    assert "Name either --bed-metres or --stems" in refused.err


@pytest.mark.slow
def test_every_choice_has_its_reasons(run: Run, demo_store: Path) -> None:
    document = run("choose", "cosmos", "--json", "--store", demo_store).document
    standings = document["standings"]
    assert isinstance(standings, list)
    assert all(standing["reasons"] for standing in standings)
    bedding = {"Tuffetling", "Nubbincot", "Lowbrackle"}
    assert {s["verdict"] for s in standings if s["entry"] in bedding} == {"drop"}


def test_the_module_runs_as_the_command_does() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "trials.cli", "--help"], capture_output=True, text=True, check=True
    )
    assert "compare" in ran.stdout
