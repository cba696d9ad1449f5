from __future__ import annotations

import numpy as np
from scipy import stats

from trials.decide.draws import Deviates


def test_uniforms_are_the_generators_raw_bits() -> None:
    raw = np.random.PCG64(5).random_raw(4)
    expected = [((int(bits) >> 11) + 0.5) / 2**53 for bits in raw]
    assert Deviates(5).uniform(2, 2).ravel().tolist() == expected


def test_normal_deviates_are_normal() -> None:
    assert stats.kstest(Deviates(1).normal(20_000), "norm").pvalue > 0.01


def test_student_deviates_are_students() -> None:
    assert stats.kstest(Deviates(1).student(3.0, 20_000), stats.t(3).cdf).pvalue > 0.01
