from __future__ import annotations

import numpy as np
from scipy import stats

from trials.decide.draws import Deviates


def test_uniforms_are_the_generators_raw_bits() -> None:
    raw = np.random.PCG64(5).random_raw(4)
    expected = [((int(bits) >> 11) + 0.5) / 2**53 for bits in raw]
    assert Deviates(5).uniform(2, 2).ravel().tolist() == expected


def test_normal_deviates_stretch_to_student_deviates() -> None:
    deviates = Deviates(1)
    normal = deviates.normal(20_000)
    assert stats.kstest(normal, "norm").pvalue > 0.01
    stretch = deviates.stretch(np.array([3.0, np.inf]), 20_000)
    assert stats.kstest(normal * stretch[:, 0], stats.t(3).cdf).pvalue > 0.01
    assert (stretch[:, 1] == 1).all()
