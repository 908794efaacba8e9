"""Strengths of one wood under other courses of the moment: weakest links.

W. Weibull, A statistical theory of the strength of materials (1939) (from memory): a piece fails on
average at a stress that goes with (integral of (s / s_max)^k dV)^(-1/k).  Closed forms, by hand,
of elastic bars alike in size over a bar pulled evenly: bending (stress linear in depth, one side
pulled) (2 (k + 1))^(1/k); besides, a moment linear from the middle (k + 1)^(1/k), a parabolic one
(uniform load) (2 / B(1/2, k + 1))^(1/k).
"""

import numpy as np
import pytest
from scipy.special import beta

from limbfe.wood.weakest_link import SHAPE, joint_use

N = 2000


@pytest.mark.parametrize("k", [5.0, SHAPE, 14.0])
def test_ratios_of_strength(k):
    at = (np.arange(N) + 0.5) / N
    depth = np.maximum(2.0 * at - 1.0, 0.0)
    even = joint_use(np.ones(N), np.full(N, 1.0 / N), k)

    def ratio(along):
        used = np.outer(along, depth)
        return even / joint_use(used, np.full(used.shape, 1.0 / used.size), k)

    bending = (2.0 * (k + 1.0)) ** (1.0 / k)
    assert ratio(np.ones(N)) == pytest.approx(bending, rel=1e-3)
    linear, parabolic = 1.0 - np.abs(2.0 * at - 1.0), 1.0 - (2.0 * at - 1.0) ** 2
    assert ratio(linear) == pytest.approx(bending * (k + 1.0) ** (1.0 / k), rel=1e-3)
    course = (2.0 / beta(0.5, k + 1.0)) ** (1.0 / k)
    assert ratio(parabolic) == pytest.approx(bending * course, rel=1e-3)
