from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.decide import (
    EntryOutlook,
    Outlook,
    SDs,
    SeasonMeans,
    outlook,
    rescreened,
)
from trials.errors import UnknownName
from trials.model.trial import Better, Margin

CHANCE = 0.011  # three Monte Carlo standard errors of a chance from 20,000 draws
COV = np.array([[0.5, 0.1], [0.1, 0.9]])


def flat(season: float = 0.0) -> SDs:
    """Entries as wide as may be, so that the textbook's fixed entries come out."""
    return SDs(1e3, season)


def pair(first: float, second: float, df: float = np.inf, season: int = 2025) -> SeasonMeans:
    return SeasonMeans(season, f"t{season}", ("a", "b"), np.array([first, second]), COV, df)


def row(view: Outlook, entry: str) -> EntryOutlook:
    return next(found for found in view.entries if found.entry == entry)


@pytest.mark.parametrize("season", [0.0, 0.8])
def test_two_entries_with_known_errors_follow_the_normal_distribution(season: float) -> None:
    view = outlook(
        [pair(10.0, 9.2)],
        better=Better.HIGHER,
        check="b",
        sds=flat(season),
        margin=Margin(0.5),
        coverage=0.9,
    )
    # What the one season did is in the estimate; next season brings something else again.
    gap, spread = 0.8, np.sqrt(0.5 + 0.9 - 0.2 + 2 * season**2)
    a, b = row(view, "a"), row(view, "b")
    best = stats.norm.cdf(gap / spread)
    assert a.chance_best == pytest.approx(best, abs=CHANCE)
    assert b.chance_best == pytest.approx(1 - best, abs=CHANCE)
    # E max(0, b - a) for a normal difference (e.g. DeGroot 1970, section 11.9).
    z = gap / spread
    shortfall = spread * (stats.norm.pdf(z) - z * stats.norm.cdf(-z))
    assert a.expected_shortfall == pytest.approx(shortfall, rel=0.03)
    assert b.expected_shortfall == pytest.approx(shortfall + gap, rel=0.02)
    assert a.chance_within_margin == pytest.approx(stats.norm.cdf((gap + 0.5) / spread), abs=CHANCE)
    assert a.chance_beats_check == pytest.approx(best, abs=CHANCE)
    assert b.chance_beats_check is None
    assert a.mean == pytest.approx(10.0, abs=1e-4)
    reach = stats.norm.ppf(0.95) * np.sqrt(0.5 + 2 * season**2)
    assert a.low == pytest.approx(10 - reach, abs=0.05)
    assert a.high == pytest.approx(10 + reach, abs=0.05)


def test_estimated_errors_follow_student_on_their_degrees_of_freedom() -> None:
    view = outlook([pair(10.0, 9.0, df=4.0)], better=Better.HIGHER, sds=flat())
    expected = stats.t.cdf(1 / np.sqrt(1.2), 4)
    assert row(view, "a").chance_best == pytest.approx(expected, abs=CHANCE)


def test_fewer_days_can_be_better() -> None:
    view = outlook([pair(60.0, 58.5)], better=Better.LOWER, check="a", sds=flat())
    best = stats.norm.cdf(1.5 / np.sqrt(1.2))
    assert row(view, "b").chance_best == pytest.approx(best, abs=CHANCE)
    assert row(view, "b").chance_beats_check == pytest.approx(best, abs=CHANCE)
    gap = row(view, "a").expected_shortfall, row(view, "b").expected_shortfall
    assert gap[0] is not None
    assert gap[1] is not None
    assert gap[0] - gap[1] == pytest.approx(1.5, abs=1e-4)


def test_the_chance_of_long_stems_screens_before_the_best_is_sought() -> None:
    deciding = SeasonMeans(
        2025, "t", ("bedding", "tall", "unmeasured"), np.array([20.0, 10, 9]), np.eye(3), np.inf
    )
    lengths = SeasonMeans(
        2025, "t", ("bedding", "tall"), np.array([28.0, 46.0]), 4 * np.eye(2), np.inf
    )
    view = outlook(
        [deciding],
        better=Better.HIGHER,
        sds=flat(),
        lengths=[lengths],
        shortest=45.0,
        length_sds=flat(1.0),
        tall_chance=0.6,
    )
    bedding, tall, unmeasured = (row(view, e) for e in ("bedding", "tall", "unmeasured"))
    # variance 4 of the mean, 1 of the season behind it and 1 of next season's
    assert tall.chance_tall == pytest.approx(stats.norm.cdf(1 / np.sqrt(6)), abs=CHANCE)
    assert tall.length_mean == pytest.approx(46.0, abs=1e-3)
    assert bedding.chance_tall == pytest.approx(0, abs=1e-6)
    assert (bedding.candidate, tall.candidate, unmeasured.candidate) == (False, True, True)
    assert bedding.chance_best is None
    assert bedding.expected_shortfall is None
    assert unmeasured.chance_tall is None
    assert unmeasured.length_mean is None
    assert tall.chance_best == pytest.approx(stats.norm.cdf(1 / np.sqrt(2)), abs=CHANCE)

    strict = rescreened(view, 0.9)
    assert not row(strict, "tall").candidate
    assert row(strict, "unmeasured").chance_best == 1
    assert strict.terms.tall_chance == 0.9


def test_no_candidate_leaves_no_best() -> None:
    lengths = [pair(20.0, 21.0)]
    view = outlook([pair(9, 8)], better=Better.HIGHER, lengths=lengths, shortest=50.0)
    assert [found.chance_best for found in view.entries] == [None, None]


def test_one_season_leaves_the_level_of_seasons_open() -> None:
    view = outlook([pair(10.0, 8.0)], better=Better.HIGHER)
    assert view.level_sd is None
    assert view.variation.low < view.variation.sd < view.variation.high
    assert (view.variation.trials, view.variation.others) == (1, 0)
    assert view.seasons == ((2025, "t2025"),)
    first, second = view.entries
    assert 8 < second.mean < 9 < first.mean < 10  # each is drawn towards the other


def test_what_is_known_is_added_and_not_shrunk() -> None:
    plain = outlook([pair(10.0, 8.0)], better=Better.HIGHER, usual=9.0)
    paid = outlook([pair(10.0, 8.0)], better=Better.HIGHER, usual=9.0, known={"a": -3.0})
    assert row(paid, "a").mean == pytest.approx(row(plain, "a").mean - 3)
    assert row(paid, "b").mean == pytest.approx(row(plain, "b").mean)


def test_the_leader_s_expected_loss_is_the_bayes_figure() -> None:
    """Two entries, flat prior, se of their difference 1: E max(0, -d) at d = 0.8 (DeGroot 11.9)."""
    one = SeasonMeans(2025, "t", ("a", "b"), np.array([0.8, 0.0]), 0.5 * np.eye(2), np.inf)
    view = outlook([one], better=Better.HIGHER, sds=flat(), draws=100_000)
    loss = stats.norm.pdf(0.8) - 0.8 * stats.norm.sf(0.8)
    assert row(view, "a").expected_shortfall == pytest.approx(loss, rel=0.02)


def farm(
    rng: np.random.Generator, seasons: int, entries: int = 6
) -> tuple[list[SeasonMeans], list[SeasonMeans], dict[str, float]]:
    """Seasons of a farm whose spreads come from the stated priors, its next season, the truth."""
    names = tuple(f"e{i}" for i in range(entries))
    true = 10 + 1.2 * abs(rng.standard_t(3)) * rng.normal(0, 1, entries)
    moved, level = 0.7 * abs(rng.normal()), 0.7 * np.sqrt(6 / rng.chisquare(6))
    grown = []
    for year in range(seasons + 1):
        here = true + rng.normal(0, moved, entries) + rng.normal(0, level)
        error = 0.7 if year < seasons else 0.0
        seen = here + rng.normal(0, error, entries) if error else here
        cov = max(error, 1e-3) ** 2 * np.eye(entries)
        grown.append(SeasonMeans(2020 + year, f"t{year}", names, seen, cov, np.inf))
    return grown[:-1], grown[-1:], dict(zip(names, true, strict=True))


@pytest.mark.parametrize("seasons", [2, 3])
def test_next_season_falls_where_it_is_said_to(seasons: int) -> None:
    rng = np.random.default_rng(7)
    inside, chances, came_best = [], [], []
    for _ in range(150):
        past, future, true = farm(rng, seasons)
        view = outlook(past, better=Better.HIGHER, draws=1000, coverage=0.8)
        truth = dict(zip(future[0].entries, future[0].means, strict=True))
        for found in view.entries:
            inside.append(found.low <= truth[found.entry] <= found.high)
            chances.append(found.chance_best)
            came_best.append(true[found.entry] == max(true.values()))
    # 900 entries of 150 farms: three standard errors are about 0.04, and more in each slice.
    assert np.mean(inside) == pytest.approx(0.80, abs=0.05)
    said, came = np.array(chances, dtype=float), np.array(came_best)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 1.01)):
        slice_ = (said >= low) & (said < high)
        error = np.sqrt(came[slice_].mean() * (1 - came[slice_].mean()) / slice_.sum())
        assert came[slice_].mean() == pytest.approx(said[slice_].mean(), abs=3 * error + 0.01)


def test_several_seasons_tell_of_the_level_and_of_themselves() -> None:
    past, *_ = farm(np.random.default_rng(3), 3)
    view = outlook(past, better=Better.HIGHER)
    assert view.variation.trials == 3
    assert view.variation.low <= view.variation.sd <= view.variation.high
    assert view.level_sd is not None
    assert [found.seasons for found in view.entries] == [3] * 6


def test_the_seed_repeats_the_draws_and_the_listing_order_does_not_matter() -> None:
    past, *_ = farm(np.random.default_rng(3), 3)
    first = outlook(past, better=Better.HIGHER, seed=42)
    turned = [
        SeasonMeans(s.season, s.trial, s.entries[::-1], s.means[::-1], s.cov[::-1, ::-1], s.df)
        for s in past[::-1]
    ]
    again = outlook(turned, better=Better.HIGHER, seed=42)
    assert np.array_equal(first.next_season, again.next_season)
    assert first.entries == again.entries
    other = outlook(past, better=Better.HIGHER, seed=43)
    assert not np.array_equal(first.next_season, other.next_season)


def test_the_unit_of_the_measure_does_not_matter() -> None:
    past, *_ = farm(np.random.default_rng(9), 2)
    scaled = [SeasonMeans(s.season, s.trial, s.entries, 2 * s.means, 4 * s.cov, s.df) for s in past]
    plain = outlook(past, better=Better.HIGHER)
    double = outlook(scaled, better=Better.HIGHER)
    assert double.variation.sd == pytest.approx(2 * plain.variation.sd, rel=1e-6)
    for one, two in zip(plain.entries, double.entries, strict=True):
        assert two.mean == pytest.approx(2 * one.mean, rel=1e-6)
        assert two.chance_best == pytest.approx(one.chance_best, abs=1e-3)
        assert two.expected_shortfall == pytest.approx(2 * (one.expected_shortfall or 0), rel=1e-5)


def test_a_check_that_is_no_entry_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownName, match="Did you mean 'b'"):
        outlook([pair(1, 2)], better=Better.HIGHER, check="bb")


def test_lengths_and_the_shortest_length_go_together() -> None:
    with pytest.raises(ValueError, match="go together"):
        outlook([pair(1, 2)], better=Better.HIGHER, shortest=45.0)
