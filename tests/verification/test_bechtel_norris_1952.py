"""S. C. Bechtel, C. B. Norris, Strength of wood beams of rectangular cross section as affected by
span-depth ratio, Forest Products Laboratory (1952) (from memory): a bar that yields in compression
at f_c and breaks in tension at f_t.

The closed form is checked against a bar cut into thin layers, solved with a root finder.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from limbfe.wood import BellyLaw, bending_strength


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


def ideal(tension):
    """Return the bending strength of wood that is crushed at 1 Pa and never gives way.

    So soft along the grain that the law's own strains are nothing beside the elastic ones.
    """
    return bending_strength(BellyLaw(modulus=1e-4, crushing=1.0, limit=1.0, plateau=1.0), tension)


@pytest.mark.parametrize(
    ("n", "ratio"), [(1.0, 1.0), (1.5, 1.4), (2.0, 5 / 3), (3.7, 2.1489), (3.8, 2.1667)]
)
def test_closed_form(n, ratio):
    """f_c (3 n - 1)/(n + 1); the polygon's points in between cost some millionths."""
    assert ideal(n) == pytest.approx(ratio, rel=1e-4)
    assert ideal(n) == pytest.approx(layered_bar(n), rel=2e-5)


def test_bending_never_comes_to_three_times_compression():
    found = [ideal(n) for n in np.linspace(1, 9, 40)]
    assert np.all(np.diff(found) > 0)
    assert max(found) < 3.0
