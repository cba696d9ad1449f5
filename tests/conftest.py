"""What several folders share: the invented farm, tables of plots, and a shorter search."""

from __future__ import annotations

import gc
import os
import pickle
import shutil
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trials import season
from trials.decide import Choice
from trials.decide.planted import WinterChoice
from trials.model.trial import AppliedTo
from trials.season.demo import STORE_NAME, demo, fill
from trials.stats.design.table import Labels, PlotTable, Treatment

FARM = Path(__file__).parents[1] / "data" / "farm"
MADE_WITHIN_S = 300


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors, as browsers, locks and pauses are waited for."""
    return (os.cpu_count() or 1) + 1


# Begun last, one of them would go on alone after all others.
LONGEST = ("test_begin_in_browser.py", "test_browser.py", "test_screens.py", "test_lan.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest modules first, as they are handed out in this order."""
    items.sort(key=lambda item: item.path.name not in LONGEST)


def pytest_collection_finish() -> None:
    """What was collected stays: to look through it for garbage again and again finds none."""
    gc.collect()
    gc.freeze()


PARTS = (
    "block",
    "row",
    "column",
    "incomplete_block",
    "whole_plot_unit",
    "split_plot_unit",
    "plot",
    "season",
    "site",
)


def table_of(
    columns: Mapping[str, Sequence[Any]],
    *treatments: str,
    measure: str = "yield",
    unit: str = "kg",
    on: Mapping[str, AppliedTo] | None = None,
    plants: str | None = None,
    covariates: Sequence[str] = (),
    **parts: str,
) -> PlotTable:
    """A table of ``measure`` by ``treatments``; ``parts`` name the columns of the layout."""
    assert set(parts) <= set(PARTS)
    rows = len(columns[measure])

    def numbers(name: str) -> Any:
        return np.array([np.nan if v is None else v for v in columns[name]], dtype=float)

    return PlotTable(
        measure=measure,
        unit=unit,
        y=numbers(measure),
        treatments=tuple(
            Treatment(Labels.of(name, columns[name]), (on or {}).get(name, AppliedTo.PLOT))
            for name in treatments
        ),
        plot_names=tuple(f"P{row + 1}" for row in range(rows)),
        plants=None if plants is None else numbers(plants),
        covariates=tuple((name, numbers(name)) for name in covariates),
        samples=None,
        rows_are=None,
        **{part: Labels.of(column, columns[column]) for part, column in parts.items()},
    )


@pytest.fixture(scope="session")
def plot_table() -> Callable[..., PlotTable]:
    return table_of


@pytest.fixture
def short_search(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A thirtieth of the search for incomplete blocks, where their efficiency is not the point."""
    from trials.layout.designs import incomplete

    incomplete.incomplete_blocks.cache_clear()
    monkeypatch.setattr(incomplete, "WORK", incomplete.WORK // 30)
    yield
    incomplete.incomplete_blocks.cache_clear()


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """This process's copy of a folder that the first of the test processes fills."""
    shared = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent  # of all processes of this run
    whole, being_made = shared / f"made {name}", shared / f"making {name}"
    try:
        (shared / f"claimed {name}").mkdir()  # and stays, so that nobody makes it a second time
    except FileExistsError:
        until = time.monotonic() + MADE_WITHIN_S
        while not whole.exists():
            assert time.monotonic() < until, f"another process did not finish {whole}"
            time.sleep(0.1)
    else:
        being_made.mkdir()
        try:
            make(being_made)
        finally:
            being_made.rename(whole)  # unfinished where it failed: the others then fail as well
    return Path(shutil.copytree(whole, factory.mktemp(name) / name))


@pytest.fixture(scope="session")
def farm_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented farm's records with every trial open; to be copied, never changed."""

    def load(folder: Path) -> None:
        season.load(folder / "farm.tallybed", [FARM])

    return made_once(tmp_path_factory, "farm", load) / "farm.tallybed"


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A finished demo; to be copied, never changed."""
    return made_once(tmp_path_factory, "demo", demo)


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's store, every trial closed, without its plan and papers; to be copied."""

    def filled(folder: Path) -> None:
        fill(folder / STORE_NAME, lambda step: None)

    return made_once(tmp_path_factory, "demo store", filled) / STORE_NAME


@pytest.fixture(scope="session")
def cosmos_choice(demo_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Choice:
    """What the demo's store says of cosmos; chosen once, as it takes seconds."""

    def chosen(folder: Path) -> None:
        (folder / "choice").write_bytes(pickle.dumps(season.choose(demo_store, "cosmos")))

    made = made_once(tmp_path_factory, "cosmos choice", chosen)
    choice: Choice = pickle.loads((made / "choice").read_bytes())
    return choice


@pytest.fixture(scope="session")
def demo_winter(demo_store: Path) -> WinterChoice:
    """The winter plan for the demo's own wishes; made once, as it takes many seconds."""
    return season.winter_of(demo_store, (FARM / "winter.toml").read_text("utf-8"), "here")
