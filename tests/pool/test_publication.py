"""Nothing that is published, and no sum or difference of it, gives a few farms away."""

from __future__ import annotations

import csv
import json
import shutil
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from trials import season
from trials.pool.publication import Published, _released, _stacked
from trials.pool.withholding import rest_on_enough
from trials.stats.design.table import Floats

MEASURE = "stems_per_plant"


def given_away(weights: dict[str, Floats], fewer_than: int) -> list[tuple[str, ...]]:
    """Sets of farms whose figures alone some sum of published figures rests on, by brute force.

    There is such a sum where the figures lose rank without those farms' means.
    """
    farms = sorted(weights)
    rank = np.linalg.matrix_rank(np.hstack([weights[f] for f in farms]), tol=1e-7)
    found = []
    for size in range(1, fewer_than):
        for some in combinations(farms, size):
            rest = [weights[f] for f in farms if f not in some]
            left = np.linalg.matrix_rank(np.hstack(rest), tol=1e-7) if rest else 0
            if left < rank:
                found.append(some)
    return found


def test_what_is_let_through_gives_nobody_away() -> None:
    """Sums over farms that come and go, each time with the figures of before."""
    rng = np.random.default_rng(20261129)
    let_through = refused = 0
    for _ in range(200):
        farms = [f"F{i}" for i in range(int(rng.integers(3, 11)))]
        releases = [
            (rng.random(len(farms)) < 0.7) * rng.choice([1.0, rng.normal()], len(farms))
            for _ in range(int(rng.integers(1, 4)))
        ]
        weights = {f: np.array([[r[i]] for r in releases]) for i, f in enumerate(farms)}
        if rest_on_enough(weights, 3):
            let_through += 1
            assert not given_away(weights, 3)
        else:
            refused += 1
    assert min(let_through, refused) > 20


def test_a_difference_of_two_sums_is_seen() -> None:
    """Ten farms, then eleven: each sum rests on enough, their difference on one."""
    ten, eleven = np.ones(11), np.ones(11)
    ten[10] = 0.0
    one = {f"F{i:02d}": np.array([[eleven[i]]]) for i in range(11)}
    both = {f"F{i:02d}": np.array([[ten[i]], [eleven[i]]]) for i in range(11)}
    assert rest_on_enough(one, 5)
    assert not rest_on_enough(both, 5)
    assert given_away(both, 5)[0] == ("F10",)


def test_three_sums_that_differ_by_enough_may_still_isolate_one() -> None:
    """Every two of the three differ by ten farms or more, and together they leave one."""
    a, b, c = ["F0"], [f"G{i}" for i in range(5)], [f"H{i}" for i in range(5)]
    sums = [set(a + b), set(b + c), set(a + c)]
    weights = {f: np.array([[float(f in s)] for s in sums]) for f in [*a, *b, *c]}
    assert given_away(weights, 5)
    assert not rest_on_enough(weights, 5)


@pytest.fixture
def source(network: Path, tmp_path: Path) -> Path:
    shutil.copytree(network, tmp_path / "source")
    return tmp_path / "source"


def without(source: Path, farms: list[str]) -> None:
    for farm in farms:
        for folder in source.glob(f"season=*/site={farm}"):
            shutil.rmtree(folder)


@pytest.mark.slow
def test_publications_one_after_another(source: Path, network: Path, tmp_path: Path) -> None:
    into, folder = tmp_path / "pool", tmp_path / "published"
    farms = sorted({path.name.removeprefix("site=") for path in network.glob("season=*/site=*")})

    def publish() -> Published:
        done = season.pool(
            [str(source)], into, measures=[MEASURE], publish_to=folder, fewest_farms=3
        )
        assert done.published is not None
        return done.published

    without(source, farms[6:])
    first = publish()
    assert first.folder == folder / "001"
    (subject,) = first.subjects
    assert subject.varieties
    assert all(each.farms >= 3 for each in subject.varieties)
    assert publish().folder is None  # nothing has changed
    shutil.copytree(
        network / f"season=2020/site={farms[6]}", source / f"season=2020/site={farms[6]}"
    )
    (waiting,) = publish().subjects
    assert "published: 1. The next figures come when there are 3" in waiting.waits
    shutil.copytree(network, source, dirs_exist_ok=True)
    without(source, farms[:1])
    last = publish()
    text = "".join(p.read_text(encoding="utf-8") for p in folder.rglob("varieties.csv"))
    assert not [farm for farm in farms if farm in text]
    releases = _released(into / "releases", f"cosmos-{MEASURE}")
    assert len(releases) == (1 if last.folder is None else 2)
    assert not given_away(dict(_stacked(releases)), 3)


@pytest.mark.slow
def test_the_manifest_says_which_records_went_in(source: Path, tmp_path: Path) -> None:
    done = season.pool(
        [str(source)],
        tmp_path / "pool",
        measures=[MEASURE],
        publish_to=tmp_path / "published",
        fewest_farms=3,
    )
    assert done.published is not None
    assert done.published.folder is not None
    told = json.loads((done.published.folder / "manifest.json").read_text(encoding="utf-8"))
    assert len(told["records"]) == 20
    with (done.published.folder / "varieties.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    truth = json.loads((source / "truth.json").read_text(encoding="utf-8"))["varieties"]
    mean = np.mean(list(truth.values()))
    lead = np.array([float(row["lead"]) for row in rows])
    true = np.array([truth[row["variety"]] - mean for row in rows])
    assert np.corrcoef(lead, true)[0, 1] > 0.8
    again = season.pool(
        [str(source)],
        tmp_path / "again",
        measures=[MEASURE],
        publish_to=tmp_path / "published-again",
        fewest_farms=3,
    )
    assert again.published is not None
    assert again.published.folder is not None
    one, other = (
        (each / "varieties.csv").read_text(encoding="utf-8")
        for each in (done.published.folder, again.published.folder)
    )
    assert one == other


def test_too_few_farms_publish_nothing(source: Path, tmp_path: Path) -> None:
    done = season.pool(
        [str(source)],
        tmp_path / "pool",
        measures=[MEASURE],
        publish_to=tmp_path / "published",
        fewest_farms=11,
    )
    assert done.published is not None
    assert done.published.folder is None
    assert "Farms with trials of it: 10." in done.published.subjects[0].waits
