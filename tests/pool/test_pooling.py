"""A pool of farms says of each trial what the farm's own comparison says, however it is run."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import duckdb
import numpy as np
import pytest

from tests.pool.result_files import results, same
from trials import season
from trials.errors import ComparisonRefused, FileRefused, TrialState
from trials.pool.result_rows import Table
from trials.season.comparing import Asked

MEASURES = ("stems_per_plant", "saleable_length_share")


def codes(into: Path) -> dict[str, str]:
    with (into / "gathered" / "codes.csv").open(encoding="utf-8") as file:
        return {row["trial"]: row["code"] for row in csv.DictReader(file)}


@pytest.mark.slow
def test_a_store_is_pooled_as_its_own_comparisons_say(farm: Path, tmp_path: Path) -> None:
    into = tmp_path / "pool"
    done = season.pool([str(farm)], into)
    assert done.farms == 1
    known = codes(into)
    pairs, means = results(into, Table.PAIRS), results(into, Table.MEANS)
    checked, refused = 0, {}
    for trial, code in known.items():
        for measure in MEASURES:
            try:
                own = season.compare_trial(farm, trial, measure, Asked(second_opinions=False))
            except ComparisonRefused as refusal:
                refused[code] = str(refusal)
                continue
            ours = means[(means["trial"] == code) & (means["measure"] == measure)]
            for mean in own.means:
                level = ", ".join(level for _, level in mean.levels)
                (row,) = ours[(ours["term"] == mean.term) & (ours["level"] == level)].to_dict(
                    "records"
                )
                np.testing.assert_allclose(row["mean"], mean.mean, rtol=1e-10)
                if mean.low is not None:
                    np.testing.assert_allclose(row["low"], mean.low, rtol=1e-10)
            of_trial = pairs[(pairs["trial"] == code) & (pairs["measure"] == measure)]
            ours = of_trial[of_trial["family"] == "all pairs"]
            assert len(ours) == len(own.all_pairs)
            for column in ("difference", "low", "high", "p_adjusted"):
                theirs = sorted(getattr(pair, column) for pair in own.all_pairs)
                np.testing.assert_allclose(
                    sorted(ours[column]),
                    theirs,
                    rtol=1e-10,
                    atol=1e-12 * max(map(abs, theirs), default=1),
                )
            checked += 1
    assert checked >= 6
    told_of = {each.trial: each.reason for each in done.refusals}
    assert all(told_of[code] == reason for code, reason in refused.items())


def test_a_second_run_does_nothing(network: Path, tmp_path: Path) -> None:
    first = season.pool([str(network)], tmp_path, measures=MEASURES)
    assert (first.partitions, first.done_before, first.trials) == (20, 0, 40)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.parquet")}
    again = season.pool([str(network)], tmp_path, measures=MEASURES)
    assert (again.done_before, again.trials, again.comparisons) == (20, 40, first.comparisons)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.parquet")} == before


@pytest.mark.slow
def test_only_what_changed_is_done_again(network: Path, tmp_path: Path) -> None:
    source = tmp_path / "source"
    shutil.copytree(network, source)
    season.pool([str(source)], tmp_path / "pool", measures=MEASURES)
    gone, *_ = sorted(source.glob("season=*/site=*"))
    shutil.rmtree(gone)
    done = season.pool([str(source)], tmp_path / "pool", measures=MEASURES)
    assert (done.partitions, done.done_before) == (19, 19)
    assert not (tmp_path / "pool" / "results" / gone.parent.name / gone.name).exists()


@pytest.mark.slow
def test_a_bad_partition_is_refused_with_its_reason_and_stops_nothing(
    network: Path, tmp_path: Path
) -> None:
    source = tmp_path / "source"
    shutil.copytree(network, source)
    one, two, *_ = sorted(source.glob("season=*/site=*"))
    (one / "plot.parquet").unlink()
    (two / "cut.parquet").write_bytes(b"PAR1 not a table")
    done = season.pool([str(source)], tmp_path / "pool", measures=MEASURES)
    reasons = " ".join(refusal.reason for refusal in done.refusals)
    assert "plot.parquet is missing" in reasons
    assert "cut.parquet cannot be used" in reasons
    assert done.trials == 36


@pytest.mark.slow
def test_packages_are_verified_before_they_count(farm: Path, tmp_path: Path) -> None:
    for trial in ("cosmos-2024", "cosmos-2025"):
        season.package(farm, trial, tmp_path / "packages" / trial)
    spoilt = tmp_path / "packages" / "cosmos-2025" / "cuts.csv"
    text = spoilt.read_bytes()
    spoilt.write_bytes(text.replace(b"2025-08", b"2025-09", 1))
    assert spoilt.read_bytes() != text
    done = season.pool([str(tmp_path / "packages")], tmp_path / "pool", measures=MEASURES)
    assert done.trials == 1
    assert "its digest differs" in done.refusals[0].reason


@pytest.mark.slow
def test_a_contribution_names_nobody_and_can_be_taken_out(farm: Path, tmp_path: Path) -> None:
    shared = tmp_path / "network"
    given = season.contribute(farm, shared)
    assert {trial for trial, _ in given.trials} == {"cosmos-2024", "cosmos-2025", "cosmos-2026"}
    with duckdb.connect() as connection:
        told = " ".join(
            connection.execute("SELECT * FROM read_parquet(?)", [str(file)]).df().to_csv()
            for file in sorted(shared.rglob("*.parquet"))
        )
    from trials.store import Store

    held = Store.open(farm)
    hidden = [trial.code for trial in held.trials()] + [trial.site for trial in held.trials()]
    assert not [name for name in hidden if name in told or name in str(sorted(shared.rglob("*")))]
    done = season.pool([str(shared)], tmp_path / "pool", measures=MEASURES)
    assert (done.farms, done.trials, done.refusals) == (1, 3, ())
    gone = season.withdraw_contribution(farm, shared)
    assert gone.withdrawn == ("2024", "2025", "2026")
    with pytest.raises(FileRefused, match="no trials to pool"):
        season.pool([str(shared)], tmp_path / "pool", measures=MEASURES)


def test_a_contribution_that_was_changed_is_refused(farm: Path, tmp_path: Path) -> None:
    season.contribute(farm, tmp_path / "network", ["cosmos-2024", "cosmos-2025"])
    one, *_ = sorted((tmp_path / "network").rglob("plot.parquet"))
    manifest = one.parent / "manifest.json"
    told = json.loads(manifest.read_text(encoding="utf-8"))
    told["files"]["plot"] = "0" * 64
    manifest.write_text(json.dumps(told), encoding="utf-8")
    done = season.pool([str(tmp_path / "network")], tmp_path / "pool", measures=MEASURES)
    assert done.trials == 1
    assert "changed since the farm wrote it" in done.refusals[0].reason


def test_an_open_trial_is_not_contributed(farm: Path, tmp_path: Path) -> None:
    from trials.store import Store

    still = next(trial.code for trial in Store.open(farm).trials() if trial.closed_on is None)
    with pytest.raises(TrialState, match="Close it, then contribute it"):
        season.contribute(farm, tmp_path / "network", [still])


@pytest.mark.slow
def test_processes_say_what_one_process_says(network: Path, tmp_path: Path) -> None:
    season.pool([str(network)], tmp_path / "one", measures=MEASURES)
    season.pool([str(network)], tmp_path / "two", workers=2, measures=MEASURES)
    same(tmp_path / "one", tmp_path / "two")


@pytest.mark.slow
def test_several_trials_are_packed_at_once(farm: Path, tmp_path: Path) -> None:
    packed = season.package_many(farm, [], tmp_path / "packages")
    assert [each.trial for each in packed] == ["cosmos-2024", "cosmos-2025", "cosmos-2026"]
    assert all((each.folder / "datapackage.json").exists() for each in packed)
    with pytest.raises(FileRefused, match="already exists"):
        season.package_many(farm, [], tmp_path / "packages")
