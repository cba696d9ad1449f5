from __future__ import annotations

from inspect import signature

import numpy as np

from trials.decide import Rules, outlook
from trials.decide.prospects import Terms, prospects
from trials.model.trial import Better

# Four draws of three entries, counted by hand.
DRAWS = np.array([[5.0, 4.0, 1.0], [5.0, 7.0, 1.0], [6.0, 5.0, 9.0], [8.0, 6.0, 7.0]])
LENGTHS = np.array(
    [[50.0, 40.0, np.nan], [44.0, 46.0, np.nan], [51.0, 47.0, np.nan], [60.0, 48.0, np.nan]]
)


def test_chances_and_shortfalls_are_counts_and_means_of_the_draws() -> None:
    terms = Terms(Better.HIGHER, check="b", margin=1.5)
    a, b, c = prospects(("a", "b", "c"), (2, 1, 1), DRAWS, DRAWS, None, terms)
    assert (a.chance_best, b.chance_best, c.chance_best) == (0.5, 0.25, 0.25)
    assert a.expected_shortfall == (0 + 2 + 3 + 0) / 4
    assert b.expected_shortfall == (1 + 0 + 4 + 2) / 4
    assert c.expected_shortfall == (4 + 6 + 0 + 1) / 4
    assert (a.chance_within_margin, b.chance_within_margin, c.chance_within_margin) == (
        0.5,
        0.5,
        0.5,
    )
    assert (a.chance_beats_check, b.chance_beats_check, c.chance_beats_check) == (0.75, None, 0.5)
    assert (a.mean, a.seasons, b.seasons) == (6.0, 2, 1)
    assert (a.chance_tall, a.length_mean, a.candidate) == (None, None, True)


def test_the_best_is_sought_among_the_tall_alone() -> None:
    terms = Terms(Better.HIGHER, shortest=48.0, tall_chance=0.5)
    a, b, c = prospects(("a", "b", "c"), (1, 1, 1), DRAWS, DRAWS, LENGTHS, terms)
    assert (a.chance_tall, b.chance_tall, c.chance_tall) == (0.75, 0.25, None)
    assert (a.candidate, b.candidate, c.candidate) == (True, False, True)
    assert (a.chance_best, b.chance_best, c.chance_best) == (0.75, None, 0.25)
    assert a.expected_shortfall == 3 / 4
    assert b.expected_shortfall is None
    assert (a.length_mean, b.length_mean, c.length_mean) == (51.25, 45.25, None)


def test_less_is_better_where_it_is_said_so() -> None:
    terms = Terms(Better.LOWER, check="a")
    a, b, c = prospects(("a", "b", "c"), (1, 1, 1), DRAWS, DRAWS, None, terms)
    assert (a.chance_best, b.chance_best, c.chance_best) == (0, 0.5, 0.5)
    assert b.expected_shortfall == (3 + 6 + 0 + 0) / 4
    assert c.chance_beats_check == 0.75


def test_the_chance_of_long_stems_that_is_wanted_is_that_of_the_rules() -> None:
    assert Terms(Better.HIGHER).tall_chance == Rules().tall_chance == 0.80


def test_the_usual_coverage_is_that_of_an_outlook() -> None:
    assert Terms(Better.HIGHER).coverage == signature(outlook).parameters["coverage"].default
