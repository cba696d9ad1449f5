"""How well a network's intervals hold, and how well it predicts, over simulated networks.

    python tests/benchmarks/bench_network.py --networks 2000
    python tests/benchmarks/bench_network.py --time

The first prints how often the limits for a new farm and for the mean hold what they should (95 %
asked), and the error of predicting how far apart two varieties are at a farm of the network in a
next season: from the farm's own trials alone, from the mean of all farms, and from both. The second
takes 5,000 trials of 200 varieties together.
"""

from __future__ import annotations

import argparse
import os
import resource
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from trials.errors import NotConverged
from trials.pool.network import together
from trials.pool.network_model import TrialMeans

_VARIETY_SD, _FARM_SD, _SEASON_SD, _TRIAL_SD, _PLOT_SD = 1.5, 0.6, 0.4, 0.4, 1.4


def network(
    rng: np.random.Generator, farms: int, seasons: int, varieties: int, entries: int
) -> tuple[list[TrialMeans], np.ndarray, np.ndarray]:
    """Trials in 4 complete blocks, and the truth: leads of varieties, and those at each farm."""
    variety = rng.normal(0, _VARIETY_SD, varieties)
    by_farm = rng.normal(0, _FARM_SD, (farms, varieties))
    by_season = rng.normal(0, _SEASON_SD, (seasons, varieties))
    df = 3 * (entries - 1)
    found = []
    for farm in range(farms):
        for season in range(seasons):
            grown = np.sort(rng.choice(varieties, entries, replace=False))
            truth = variety[grown] + by_farm[farm, grown] + by_season[season, grown]
            truth = truth + rng.normal(0, _TRIAL_SD, entries)
            means = truth + rng.normal(0, _PLOT_SD / 2, entries)
            variance = _PLOT_SD**2 * rng.chisquare(df) / df / 4
            cov = variance * np.eye(entries)
            found.append(TrialMeans(f"{farm:05d}", season, grown, means, cov, float(df)))
    return found, variety - variety.mean(), by_farm


def coverage(networks: int, farms: int, seasons: int, varieties: int, entries: int) -> str:
    """A row of the first table."""
    rng = np.random.default_rng(20261129)
    names = [f"V{i}" for i in range(varieties)]
    mean, new, asked, failed = 0, 0, 0, 0
    for _ in range(networks):
        trials, variety, _ = network(rng, farms, seasons, varieties, entries)
        try:
            found = together("c", "m", trials, names)
        except NotConverged:
            failed += 1
            continue
        spread = np.sqrt(_FARM_SD**2 + _SEASON_SD**2 + _TRIAL_SD**2)
        at_new = rng.normal(0, spread, varieties)
        at_new = variety + at_new - at_new.mean()
        for each in found.varieties:
            v = names.index(each.variety)
            asked += 1
            mean += each.low <= variety[v] <= each.high
            assert each.new_low is not None
            assert each.new_high is not None
            new += each.new_low <= at_new[v] <= each.new_high
    shown = f"{farms} x {seasons} | {varieties} ({entries} a trial) | {networks}"
    return f"| {shown} | {100 * new / asked:.1f} | {100 * mean / asked:.1f} | {failed} |"


def prediction(networks: int, farms: int, seasons: int, varieties: int, entries: int) -> str:
    """A row of the second table: root mean squares of errors, stems per plant.

    'Both' moves the network's difference towards the farm's own by the share that the variances of
    the network give it (Henderson 1975, of one difference).
    """
    rng = np.random.default_rng(20261130)
    names = [f"V{i}" for i in range(varieties)]
    errors: list[tuple[float, float, float]] = []
    for _ in range(networks):
        trials, variety, by_farm = network(rng, farms, seasons, varieties, entries)
        try:
            found = together("c", "m", trials, names)
        except NotConverged:
            continue
        lead = {names.index(each.variety): each.lead for each in found.varieties}
        told = {each.source: each.variance for each in found.heterogeneity}
        next_season = rng.normal(0, np.hypot(_SEASON_SD, _TRIAL_SD), (farms, varieties))
        for farm in range(farms):
            own = trials[farm * seasons : (farm + 1) * seasons]
            a, b = (int(v) for v in rng.choice(own[0].varieties, 2, replace=False))
            apart = [_apart(trial, a, b) for trial in own]
            seen = [each for each in apart if each is not None]
            of_all = lead[a] - lead[b]
            of_own = float(np.mean(seen))
            noise = told["variety × season"] + told["variety × trial"] + _PLOT_SD**2 / 4
            share = told["variety × farm"] / (told["variety × farm"] + noise / len(seen))
            truth = variety + by_farm[farm] + next_season[farm]
            of_both = of_all + share * (of_own - of_all)
            true = truth[a] - truth[b]
            errors.append((of_own - true, of_all - true, of_both - true))
    own_rms, all_rms, both_rms = np.sqrt(np.mean(np.square(errors), axis=0))
    shown = f"{farms} x {seasons} | {varieties} ({entries} a trial) | {networks}"
    return f"| {shown} | {own_rms:.2f} | {all_rms:.2f} | {both_rms:.2f} |"


def _apart(trial: TrialMeans, a: int, b: int) -> float | None:
    """How far apart two varieties were in a trial; None where it did not grow both."""
    means = dict(zip(trial.varieties.tolist(), trial.means.tolist(), strict=True))
    return means[a] - means[b] if a in means and b in means else None


def largest() -> None:
    """5,000 trials, 1,000 farms in 5 seasons, 12 of 200 varieties each."""
    trials, _, _ = network(np.random.default_rng(1), 1000, 5, 200, 12)
    start = time.perf_counter()
    found = together("c", "m", trials, [f"V{i}" for i in range(200)])
    spent = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = ", ".join(f"{each.source} {each.variance:.3f}" for each in found.heterogeneity)
    print(f"{len(trials):,} trials: {spent:.0f} s, {peak:.0f} MB at most; {told}")


def main() -> None:
    """Print what the options ask for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--networks", type=int, default=2000)
    parser.add_argument("--time", action="store_true")
    given = parser.parse_args()
    if given.time:
        largest()
        return
    print("| farms x seasons | varieties | networks | new farm % | mean % | failed |")
    print("|---|---|---|---|---|---|")
    sizes = ((6, 2, 8, 6), (12, 3, 12, 8), (30, 2, 12, 8))
    for size in sizes:
        print(coverage(given.networks, *size), flush=True)
    print("\n| farms x seasons | varieties | networks | own trials | mean of all | both |")
    print("|---|---|---|---|---|---|")
    for size in sizes:
        print(prediction(given.networks // 10, *size), flush=True)


if __name__ == "__main__":
    main()
