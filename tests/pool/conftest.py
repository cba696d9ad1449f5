"""A small network of invented farms, and the invented farm of the demo as a store."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from trials import season

ROOT = Path(__file__).parents[2]


def maker() -> ModuleType:
    """The program that makes networks, which is no module of the package."""
    if "make_network" not in sys.modules:
        file = ROOT / "tests" / "benchmarks" / "make_network.py"
        found = importlib.util.spec_from_file_location("make_network", file)
        assert found is not None
        assert found.loader is not None
        module = importlib.util.module_from_spec(found)
        sys.modules["make_network"] = module
        found.loader.exec_module(module)
    return sys.modules["make_network"]


@pytest.fixture(scope="session")
def network(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """40 trials of 20 farm seasons, some with lost plots and larger units."""
    folder = tmp_path_factory.mktemp("network")
    made = maker()
    made.make(folder, made.Network(farms=10, seasons=2, trials=2, varieties=16, entries=8, days=3))
    return folder


@pytest.fixture(autouse=True)
def plain_main(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages under test leave their script as ``__main__``, which new processes would run again."""
    monkeypatch.setitem(sys.modules, "__main__", ModuleType("__main__"))


@pytest.fixture(scope="session")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented farm's store."""
    store = tmp_path_factory.mktemp("farm") / "farm.tallybed"
    season.load(store, [ROOT / "data" / "farm"])
    for year, day in (("2024", "2024-10-14"), ("2025", "2025-10-06"), ("2026", "2026-10-11")):
        from datetime import date

        season.close(store, f"cosmos-{year}", date.fromisoformat(day), "first frost")
    return store
