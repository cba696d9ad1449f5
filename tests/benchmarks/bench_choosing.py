"""What a choice loses in money, and whether what it claims comes true, on simulated farms.

    python tests/benchmarks/bench_choosing.py [--farms 2000] [--jobs 2] [--only TEXT]

Each farm grows trials of 12 entries in 4 blocks, plot by plot; lost plots are left out. A season
moves each entry, a plot adds its error, and the plots are reduced to adjusted means with their
covariance and degrees of freedom by least squares written here. From there the farm goes through
the decision core, `decide.outlook` and `decide.standings`, exactly as `choose` does: what is not
run is the reading of files and the store. Figures are in stems per plant where nothing else is
said; 15 plants per metre, and 0.40 for a stem after picking.

Against perfect knowledge each rule loses the difference of the best entry's true net and that of
its first choice. The rivals see the same plots:

- *top mean*: the highest mean net over seasons;
- *best by test*: the check, unless entries beat it (one-sided t at 5 % shared by Bonferroni, on
  the error of the plots); then the best of those;
- *last year's again*: the check, an entry like any other.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from functools import partial
from multiprocessing import Pool

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from trials.decide import SeasonMeans, outlook, standings
from trials.decide.outlook import LEVEL_DF, LEVEL_SHARE
from trials.decide.two_stage import StackedSeasons
from trials.model.trial import Better

Floats = NDArray[np.float64]
MEAN, PLANTS, STEM = 14.0, 15.0, 0.40
A_STEM = PLANTS * STEM  # money per metre that a stem per plant is worth
DRAWS = 2000
ENTRY_SHARE, SEASON_SHARE = 0.12, 0.07  # the priors of `predictions.SpreadPrior`
MEANT_BINS = 1000  # cases that a bin needs to be judged


@dataclass(frozen=True, slots=True)
class Scenario:
    """A kind of farm; SDs in stems per plant, None = drawn from the stated prior."""

    name: str
    seasons: int = 1
    entry_sd: float | None = 2.0
    season_sd: float | None = 1.0
    plot_sd: float = 2.0
    changing: bool = False
    lost: int = 0  # plots of each trial
    seed_span: float = 0.0  # money per metre between the cheapest seed and the dearest
    premium: float = 0.0  # SD of a stem's price between entries, as a share
    history: bool = False  # two other crops with 3 seasons each
    entries: int = 12
    blocks: int = 4


MONEY = (
    Scenario("1 season"),
    Scenario("2 seasons", seasons=2),
    Scenario("3 seasons", seasons=3),
    Scenario("2 seasons, changing sets", seasons=2, changing=True),
    Scenario("3 seasons, changing sets", seasons=3, changing=True),
    Scenario("narrow, 1 season", entry_sd=0.7),
    Scenario("narrow, 3 seasons, changing sets", seasons=3, entry_sd=0.7, changing=True),
    Scenario("wide, 2 seasons, changing sets", seasons=2, entry_sd=3.5, changing=True),
    Scenario("16 plots of 48 lost, 2 seasons", seasons=2, lost=16),
    Scenario("dear and cheap seed, 1 season", seed_span=12.0),
    Scenario("dear and cheap seed, narrow, 2 seasons", seasons=2, entry_sd=0.7, seed_span=12.0),
    Scenario("prices rise with length, 2 seasons", seasons=2, premium=0.25, changing=True),
)
PRIOR = tuple(
    Scenario(f"spreads from the prior, {t} season{'s' * (t > 1)}", t, None, None) for t in (1, 2, 3)
)
FIXED = (
    Scenario("1 season", history=True),
    Scenario("3 seasons", seasons=3, history=True),
    Scenario("2 seasons, changing sets", seasons=2, changing=True, history=True),
    Scenario("narrow, 1 season", entry_sd=0.7, history=True),
    Scenario("quiet years, 2 seasons", seasons=2, season_sd=0.3, history=True),
    Scenario("wild years, 3 seasons", seasons=3, season_sd=1.5, history=True),
)
ALONE = tuple(
    Scenario(f"{s.name}, no other trials", s.seasons, s.entry_sd, s.season_sd, changing=s.changing)
    for s in FIXED
)


@dataclass(frozen=True, slots=True, eq=False)
class Farm:
    """The truth and what was seen of it, in money per metre; entries by number."""

    net: Floats  # true, in a season of level 0, seed paid
    moved: tuple[float, float]  # SDs of a season's part in an entry and of its level, stems
    level: float  # of the seasons grown, stems per plant
    seed: Floats
    price: Floats  # money per metre of a stem per plant, by entry
    seasons: list[SeasonMeans]
    others: list[tuple[list[SeasonMeans], float]]


def adjusted(
    name: str,
    year: int,
    entries: NDArray[np.int_],
    plots: Floats,
    lost: int,
    rng: np.random.Generator,
) -> SeasonMeans:
    """Least squares of a blocked trial (blocks, k) without the lost plots."""
    blocks, k = plots.shape
    block, entry = (g.ravel() for g in np.meshgrid(range(blocks), range(k), indexing="ij"))
    kept = np.arange(plots.size)
    while lost:
        kept = np.sort(rng.choice(plots.size, plots.size - lost, replace=False))
        if len(np.unique(entry[kept])) == k and len(np.unique(block[kept])) == blocks:
            break
    sums = np.vstack([np.eye(blocks - 1), -np.ones(blocks - 1)])
    x = np.hstack([np.eye(k)[entry[kept]], sums[block[kept]]])
    y = plots.ravel()[kept]
    inverse = np.linalg.inv(x.T @ x)
    found = inverse @ x.T @ y
    df = len(y) - x.shape[1]
    s2 = ((y - x @ found) ** 2).sum() / df
    names = tuple(f"e{i:02d}" for i in entries)
    return SeasonMeans(year, name, names, found[:k], s2 * inverse[:k, :k], float(df))


def crop(
    rng: np.random.Generator, s: Scenario, sds: tuple[float, float, float], price: Floats
) -> tuple[Floats, float, list[SeasonMeans]]:
    """True stems per plant of each entry, the seasons' mean level, the trials before seed."""
    size, (entry_sd, season_sd, level_sd) = len(price), sds
    stems = MEAN + entry_sd * rng.normal(size=size)
    seasons, levels = [], level_sd * rng.normal(size=s.seasons)
    for t, level in enumerate(levels):
        own = np.arange(size)
        if s.changing:  # the check and one other always, the rest as it comes
            some = 2 + rng.choice(size - 2, s.entries - 2, replace=False)
            own = np.sort(np.concatenate([[0, 1], some]))
        grown = stems[own] + season_sd * rng.normal(size=own.size) + level
        plots = grown + s.plot_sd * rng.normal(size=(s.blocks, own.size))
        blocks = rng.normal(size=(s.blocks, 1))  # of this farm: the ground that is decided for
        plots = (plots + blocks - blocks.mean()) * price[own]
        seasons.append(adjusted(f"t{t}", 2020 + t, own, plots, s.lost, rng))
    return stems, float(levels.mean()), seasons


def farm(rng: np.random.Generator, s: Scenario) -> Farm:
    entry_sd = abs(rng.standard_t(3)) * ENTRY_SHARE * MEAN if s.entry_sd is None else s.entry_sd
    season_sd = abs(rng.normal()) * SEASON_SHARE * MEAN if s.season_sd is None else s.season_sd
    level_sd = LEVEL_SHARE * MEAN * (LEVEL_DF / rng.chisquare(LEVEL_DF)) ** 0.5
    sds = (entry_sd, season_sd, level_sd if s.season_sd is None else 1.0)
    size = s.entries + (4 * (s.seasons - 1) if s.changing else 0)
    price = A_STEM * np.maximum(1 + s.premium * rng.normal(size=size), 0.2)
    seed = s.seed_span * rng.uniform(size=size)
    stems, level, seasons = crop(rng, s, sds, price)
    others = []
    for _ in range(2 if s.history else 0):
        other = Scenario("other crop", seasons=3)
        *_, means = crop(rng, other, (0.14 * MEAN, sds[1], 1.0), np.full(12, A_STEM))
        others.append((means, MEAN * A_STEM))
    known = np.array(sorted({int(e[1:]) for one in seasons for e in one.entries}))
    net = price * stems - seed
    return Farm(net[known], sds[1:], level, seed[known], price[known], seasons, others)


def rivals(one: Farm) -> tuple[int, int, int]:
    """The first choices of the top mean, the best by test and last year's."""
    stacked = StackedSeasons(one.seasons)
    combined = stacked.combine(0.0)
    net = combined.means - one.seed
    top = int(np.argmax(net))
    cov = combined.weights @ stacked.cov @ combined.weights.T
    se = np.sqrt(np.diag(cov) + cov[0, 0] - 2 * cov[0])
    df = sum(season.df for season in one.seasons)
    beyond = net - net[0] > student.ppf(1 - 0.05 / (len(net) - 1), df) * se
    beyond[0] = False
    tested = int(np.argmax(np.where(beyond, net, -np.inf))) if beyond.any() else 0
    return top, tested, 0


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """One farm: what each rule lost, and what ours claimed with what was true."""

    lost: tuple[float, ...]  # ours, top mean, best by test, last year's
    flatters: float  # leader's mean less its truth, stems
    claimed_loss: float
    chances: Floats
    best: NDArray[np.bool_]
    held: float  # share of entries whose next season lay within the limits


def follow(s: Scenario, number: int) -> Outcome:
    rng = np.random.default_rng([2026, number])
    one = farm(rng, s)
    usual = float(np.mean([season.means.mean() for season in one.seasons]))
    names = sorted({e for season in one.seasons for e in season.entries})
    view = outlook(
        one.seasons,
        better=Better.HIGHER,
        usual=usual,
        known={name: -seed for name, seed in zip(names, one.seed, strict=True)},
        others=one.others,
        draws=DRAWS,
    )
    first = standings(view)[0]
    rows = {row.entry: row for row in view.entries}
    choice = names.index(first.entry)
    lost = tuple(float(one.net.max() - one.net[i]) for i in (choice, *rivals(one)))
    # One season says nothing of levels: its limits are for a season of its own level.
    level = one.level if view.level_sd is None else one.moved[1] * rng.normal()
    later = one.net + one.price * (level + one.moved[0] * rng.normal(size=len(names)))
    low, high = (np.array([getattr(rows[n], end) for n in names]) for end in ("low", "high"))
    return Outcome(
        lost=lost,
        flatters=float(first.mean - one.net[choice]) / A_STEM - one.level,
        claimed_loss=first.expected_shortfall or 0.0,
        chances=np.array([rows[n].chance_best for n in names]),
        best=one.net == one.net.max(),
        held=float(((later >= low) & (later <= high)).mean()),
    )


def told(s: Scenario, farms: int, pool: object) -> list[Outcome]:
    return pool.map(partial(follow, s), range(farms), chunksize=20)  # type: ignore[attr-defined, no-any-return]


def money_row(s: Scenario, found: list[Outcome]) -> tuple[str, Floats]:
    lost = np.array([one.lost for one in found])
    mean = lost.mean(axis=0)
    rival = 1 + int(np.argmin(mean[1:]))
    difference = lost[:, 0] - lost[:, rival]
    upper = difference.mean() + 1.96 * difference.std(ddof=1) / len(found) ** 0.5
    cells = " | ".join(f"{value:.2f}" for value in mean)
    return f"| {s.name} | {cells} | {difference.mean():+.2f} | {upper:+.2f} |", mean


def claim_row(s: Scenario, found: list[Outcome]) -> str:
    flatters = np.mean([one.flatters for one in found])
    claimed = np.mean([one.claimed_loss for one in found])
    true = np.mean([one.lost[0] for one in found])
    held = np.mean([one.held for one in found])
    off = bins(found)
    worst = max(off, key=lambda row: abs(row[1] - row[2])) if off else (0, 0.0, 0.0)
    return (
        f"| {s.name} | {flatters:+.2f} | {claimed:.2f} / {true:.2f} ({claimed / true - 1:+.0%}) "
        f"| {100 * worst[1]:.0f} / {100 * worst[2]:.0f} | {100 * held:.1f} |"
    )


def bins(found: list[Outcome]) -> list[tuple[int, float, float]]:
    """Cases, stated and true chance of being the best, in tenths that have enough cases."""
    chances = np.concatenate([one.chances for one in found])
    best = np.concatenate([one.best for one in found])
    tenth = np.minimum((10 * chances).astype(int), 9)
    rows = []
    for i in range(10):
        here = tenth == i
        if here.sum() >= MEANT_BINS:
            rows.append((int(here.sum()), float(chances[here].mean()), float(best[here].mean())))
    return rows


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--farms", type=int, default=2000)
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--only", default="")
    given = ask.parse_args()
    with Pool(given.jobs) as pool:
        print(f"Money lost per metre of bed, {given.farms} farms a row\n")
        print(
            "| farms | ours | top mean | best by test | last year's | less the best rival | 95 % |"
        )
        print("|---|---|---|---|---|---|---|")
        means = []
        for s in MONEY:
            if given.only in s.name:
                row, mean = money_row(s, told(s, given.farms, pool))
                means.append(mean)
                print(row, flush=True)
        if means:
            print(
                f"| all together | {' | '.join(f'{m:.2f}' for m in np.mean(means, axis=0))} | | |"
            )
        print(
            "\n| farms | leader less truth, stems | loss stated / true | worst bin | limits held |"
        )
        print("|---|---|---|---|---|")
        population: list[Outcome] = []
        for s in (*PRIOR, *FIXED, *ALONE):
            if given.only in s.name:
                found = told(s, given.farms, pool)
                population += found if s in PRIOR else []
                print(claim_row(s, found), flush=True)
        if population:
            print(claim_row(Scenario("spreads from the prior, all"), population))
            for cases, stated, true in bins(population):
                print(f"  {cases} cases: {100 * stated:.1f} % stated, {100 * true:.1f} % true")


if __name__ == "__main__":
    main()
