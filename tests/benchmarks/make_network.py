"""Makes a network of farms: records of invented trials with a known truth, as Parquet partitions.

    python tests/benchmarks/make_network.py /tmp/network --farms 100 --seasons 5 --trials 20

Each farm grows some varieties each season. A plot's stems per plant are the mean of the network,
plus the effects of variety, variety x farm, variety x season, variety x trial, block and plot; they
are cut on ``--days`` days. ``truth.json`` has the effects and their standard deviations. Names of
farms are codes, names of varieties are made of syllables.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

_FIRST = ("Ald", "Brin", "Cor", "Dun", "El", "Far", "Gor", "Hal", "Ir", "Jen", "Kel", "Lor", "Mer")
_LAST = ("wick", "mere", "row", "moss", "verby", "rowell", "latch", "combe", "stow", "dell", "fen")
_LAYOUTS = ("complete blocks", "completely randomised", "incomplete blocks", "split plots")


@dataclass(frozen=True)
class Network:
    """How large a network is and how it varies (standard deviations in stems per plant)."""

    farms: int = 20
    seasons: int = 3
    trials: int = 2  # of each farm in each season
    varieties: int = 40
    entries: int = 12  # of a trial; a multiple of 4
    days: int = 10
    lost: float = 0.01  # share of the plots
    layouts: tuple[float, float, float, float] = (0.8, 0.16, 0.02, 0.02)
    mean: float = 14.0
    variety_sd: float = 1.5
    farm_sd: float = 0.6
    season_sd: float = 0.4
    trial_sd: float = 0.4
    block_sd: float = 0.7
    plot_sd: float = 1.4
    seed: int = 1


def varieties_of(network: Network) -> list[str]:
    """Invented names, with a number behind those that come again."""
    names = [first + last for last in _LAST for first in _FIRST]
    return [
        names[i % len(names)] + (f" {i // len(names) + 1}" if i >= len(names) else "")
        for i in range(network.varieties)
    ]


def make(folder: Path, network: Network) -> None:
    """Write the partitions and the truth into a folder."""
    rng = np.random.default_rng(network.seed)
    names = np.array(varieties_of(network))
    variety = rng.normal(0, network.variety_sd, network.varieties)
    by_season = rng.normal(0, network.season_sd, (network.seasons, network.varieties))
    farms = [f"{code:08x}" for code in rng.choice(2**32, network.farms, replace=False)]
    by_farm = rng.normal(0, network.farm_sd, (network.farms, network.varieties))
    for season in range(network.seasons):
        for farm, code in enumerate(farms):
            level = network.mean + variety + by_farm[farm] + by_season[season]
            into = folder / f"season={2020 + season}" / f"site={code}"
            _partition(into, 2020 + season, level, names, network, rng)
    truth = {
        "network": asdict(network),
        "varieties": dict(zip(names.tolist(), variety.tolist(), strict=True)),
        "farms": {
            code: dict(zip(names.tolist(), row.tolist(), strict=True))
            for code, row in zip(farms, by_farm, strict=True)
        },
    }
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")


def _partition(
    folder: Path,
    season: int,
    level: np.ndarray,
    names: np.ndarray,
    network: Network,
    rng: np.random.Generator,
) -> None:
    trials: dict[str, list[object]] = {}
    plots: dict[str, list[np.ndarray]] = {}
    for number in range(network.trials):
        _trial(trials, plots, f"T{number + 1:03d}", level, names, network, rng)
    tables = _tables({k: np.concatenate(v) for k, v in plots.items()}, network, rng, season)
    count = len(trials["trial"])
    tables["trial"] = pa.table(
        {
            "trial": trials["trial"],
            "season": pa.array([season] * count, pa.int32()),
            "crop": ["cosmos"] * count,
            "check_level": trials["check"],
            "primary_measure": ["stems_per_plant"] * count,
            "alpha": [0.05] * count,
            "equivalence_margin": ["5 %"] * count,
            "minimum_length_cm": [40.0] * count,
        }
    )
    tables["factor"] = pa.table(
        {name: trials[f"factor_{name}"] for name in ("trial", "factor", "place", "applied_to")}
    )
    folder.mkdir(parents=True, exist_ok=True)
    for table, rows in tables.items():
        pq.write_table(rows, folder / f"{table}.parquet", compression="zstd")


def _trial(
    trials: dict[str, list[object]],
    plots: dict[str, list[np.ndarray]],
    code: str,
    level: np.ndarray,
    names: np.ndarray,
    network: Network,
    rng: np.random.Generator,
) -> None:
    layout = _LAYOUTS[int(rng.choice(4, p=network.layouts))]
    split = layout == "split plots"
    entries = network.entries // 2 if split else network.entries
    grown = np.sort(rng.choice(network.varieties, entries, replace=False))
    block = np.repeat(np.arange(4), network.entries)
    within = np.concatenate([rng.permutation(network.entries) for _ in range(4)])
    if split:  # half of each block pinched, every variety in both halves
        within = np.concatenate(
            [h * entries + rng.permutation(entries) for _ in range(4) for h in (0, 1)]
        )
    entry, half = within % entries, within // entries
    small = np.arange(len(block)) // (network.entries // 3)
    place = level[grown] + rng.normal(0, network.trial_sd, entries)
    mean = place[entry] + rng.normal(0, network.plot_sd, len(block))
    if layout != "completely randomised":
        mean += rng.normal(0, network.block_sd, 4)[block]
    if layout == "incomplete blocks":
        mean += rng.normal(0, network.block_sd / 2, small.max() + 1)[small]
    if split:
        mean += rng.normal(0, network.block_sd, 8)[2 * block + half] + 0.8 * half
    factors = ["variety", "pinch"] if split else ["variety"]
    trials.setdefault("trial", []).append(code)
    trials.setdefault("check", []).append(str(names[grown[0]]))
    for at, factor in enumerate(factors):
        for name, value in (
            ("trial", code),
            ("factor", factor),
            ("place", at + 1),
            ("applied_to", "whole plot" if factor == "pinch" else "plot"),
        ):
            trials.setdefault(f"factor_{name}", []).append(value)
    n = len(block)
    blocked = layout != "completely randomised"
    for name, values in (
        ("trial", np.full(n, code)),
        ("number", np.arange(1, n + 1)),
        ("block", np.where(blocked, block + 1, 0)),
        ("incomplete", np.where(layout == "incomplete blocks", small + 1, 0)),
        ("half", np.where(split, 2 * block + half + 1, 0)),
        ("pinch", np.where(split, half, -1)),
        ("variety", names[grown[entry]]),
        ("mean", np.maximum(mean, 0.5)),
    ):
        plots.setdefault(name, []).append(values)


def _tables(
    plots: dict[str, np.ndarray], network: Network, rng: np.random.Generator, season: int
) -> dict[str, pa.Table]:
    n = len(plots["trial"])
    code = [f"{t}-{k}" for t, k in zip(plots["trial"], plots["number"].tolist(), strict=True)]
    block = [str(b) if b else None for b in plots["block"].tolist()]
    planted, living = date(season, 5, 12), rng.binomial(16, 0.96, n).clip(1)
    split = plots["half"] > 0
    tables = {
        "plot": pa.table(
            {
                "plot": code,
                "trial": plots["trial"].tolist(),
                "block": pa.array(block, pa.string()),
                "whole_plot_number": pa.array(
                    [h or None for h in plots["half"].tolist()], pa.int32()
                ),
                "position": pa.array(plots["number"], pa.int32()),
            }
        ),
        "plot_level": pa.table(
            {
                "plot": code + [c for c, s in zip(code, split, strict=True) if s],
                "trial": plots["trial"].tolist() + plots["trial"][split].tolist(),
                "factor": ["variety"] * n + ["pinch"] * int(split.sum()),
                "level": plots["variety"].tolist()
                + [("no", "yes")[p] for p in plots["pinch"][split].tolist()],
            }
        ),
        "planting": pa.table(
            {
                "plot": code,
                "plants_set": pa.array(np.full(n, 16), pa.int32()),
                "net_length_m": np.full(n, 1.2),
                "net_area_m2": np.full(n, 1.44),
                "transplanted_on": [planted] * n,
            }
        ),
        "stand_count": pa.table(
            {
                "plot": code,
                "counted_on": [planted + timedelta(21)] * n,
                "living": pa.array(living, pa.int32()),
            }
        ),
    }
    incomplete = plots["incomplete"] > 0
    if incomplete.any():
        tables["plot_place"] = pa.table(
            {
                "plot": [c for c, i in zip(code, incomplete, strict=True) if i],
                "row_label": pa.nulls(int(incomplete.sum()), pa.string()),
                "column_label": pa.nulls(int(incomplete.sum()), pa.string()),
                "incomplete_block": [str(i) for i in plots["incomplete"][incomplete].tolist()],
                "split_plot": pa.nulls(int(incomplete.sum()), pa.string()),
            }
        )
    if split.any():
        whole = sorted(
            {
                (t, h, b)
                for t, h, b in zip(plots["trial"], plots["half"].tolist(), block, strict=True)
                if h
            }
        )
        tables["whole_plot"] = pa.table(
            {
                "trial": [str(t) for t, _, _ in whole],
                "number": pa.array([h for _, h, _ in whole], pa.int32()),
                "block": [b for _, _, b in whole],
                "whole_plot": [f"W{h}" for _, h, _ in whole],
            }
        )
    lost = rng.random(n) < network.lost
    if lost.any():
        at = np.flatnonzero(lost).tolist()
        tables["event"] = pa.table(
            {
                "trial": [str(plots["trial"][i]) for i in at],
                "plot": [code[i] for i in at],
                "other_plot": pa.nulls(len(at), pa.string()),
                "happened_on": [planted + timedelta(40)] * len(at),
                "kind": ["lost"] * len(at),
            }
        )
    tables["cut"] = _cuts(code, plots["mean"] * living, planted, network, rng)
    return tables


def _cuts(
    code: list[str],
    stems: np.ndarray,
    planted: date,
    network: Network,
    rng: np.random.Generator,
) -> pa.Table:
    """One row a plot and day, its stems by grade; every plot is cut on every day."""
    n, days = len(code), network.days
    each = rng.multinomial(np.round(stems).astype(int), np.full(days, 1 / days))
    short = rng.binomial(each, 0.15)
    tall = rng.binomial(each - short, 0.4)
    by_grade = np.stack([short, each - short - tall, tall], axis=2).reshape(-1)
    rows = n * days
    offsets = pa.array(np.arange(0, 3 * rows + 1, 3), pa.int32())
    grades = pa.array(np.tile([30, 40, 60], rows), pa.int32())
    first = rng.integers(55, 70, n)
    when = np.datetime64(planted) + (first[:, None] + 7 * np.arange(days)).reshape(-1)
    none = np.zeros(rows + 1, dtype=np.int32)
    return pa.table(
        {
            "plot": pa.array(code).take(pa.array(np.repeat(np.arange(n), days))),
            "cut_on": pa.array(when, pa.date32()),
            "outcome": pa.DictionaryArray.from_arrays(np.zeros(rows, np.int32), ["picked"]).cast(
                pa.string()
            ),
            "stems_by_grade": pa.MapArray.from_arrays(
                offsets, grades, pa.array(by_grade, pa.int32())
            ),
            "culls_by_reason": pa.MapArray.from_arrays(
                pa.array(none), pa.array([], pa.string()), pa.array([], pa.int32())
            ),
            "none_marketable": pa.array(by_grade.reshape(-1, 3).sum(axis=1) == 0),
        }
    )


def main() -> None:
    """Make a network as the options say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    for name in ("farms", "seasons", "trials", "varieties", "entries", "days", "seed"):
        parser.add_argument(f"--{name}", type=int, default=getattr(Network, name))
    parser.add_argument("--lost", type=float, default=Network.lost)
    parser.add_argument(
        "--layouts",
        type=float,
        nargs=4,
        default=Network.layouts,
        metavar="SHARE",
        help=f"Shares of {', '.join(_LAYOUTS)}; default {Network.layouts}.",
    )
    given = vars(parser.parse_args())
    folder = given.pop("folder")
    network = Network(**{**given, "layouts": tuple(given["layouts"])})
    make(folder, network)
    trials = network.farms * network.seasons * network.trials
    cuts = trials * 4 * network.entries * network.days
    print(f"{trials:,} trials with {cuts:,} picking days at plots in {folder}")


if __name__ == "__main__":
    main()
