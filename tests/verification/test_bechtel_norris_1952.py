"""S. C. Bechtel, C. B. Norris, Strength of wood beams of rectangular cross section as affected by
span-depth ratio, Forest Products Laboratory (1952) (from memory): a bar that yields in compression
at f_c and breaks in tension at f_t.

The closed form is checked against a bar cut into thin layers, solved with a root finder.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from limbfe.wood import bending_strength


def layered_bar(n):
    """Return MOR over f_c of the bar with f_t = n f_c, unit depth."""

    def stress(s, depth):
        # s from the tension face; the strain there is that of breaking.
        return max(n * (1.0 - s / depth), -1.0)

    def integral(f, depth):
        kink = depth * (1.0 + 1.0 / n)
        return quad(f, 0.0, 1.0, points=[min(kink, 1.0)])[0]

    depth = brentq(lambda c: integral(lambda s: stress(s, c), c), 0.05, 0.999)
    moment = integral(lambda s: -stress(s, depth) * s, depth)
    return 6.0 * moment


@pytest.mark.parametrize(
    ("n", "ratio"), [(1.0, 1.0), (1.5, 1.4), (2.0, 5 / 3), (3.7, 2.1489), (3.8, 2.1667)]
)
def test_closed_form(n, ratio):
    assert bending_strength(n * 50e6, 50e6) == pytest.approx(ratio * 50e6, rel=1e-4)
    assert float(bending_strength(n, 1.0)) == pytest.approx(layered_bar(n), rel=1e-6)


def test_bending_can_never_exceed_three_times_compression():
    assert bending_strength(1e6, 1.0) == pytest.approx(3.0, rel=1e-5)
    assert np.all(np.diff(bending_strength(np.linspace(1, 50, 99), 1.0)) > 0)
