"""Circular hole in a wide isotropic plate.

G. Kirsch, Die Theorie der Elastizitaet und die Beduerfnisse der Festigkeitslehre, Zeitschrift
des Vereines deutscher Ingenieure 42 (1898), 797-807; the field as given by S. P. Timoshenko,
J. N. Goodier, Theory of Elasticity, ch. 4 (both from memory; the field is checked here against
its own limits: 3 on the rim's flank, -1 at its poles).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.strip import Ellipse
from limbfe.wood.elasticity import isotropic

E, RADIUS, STRAIN = 7.3e9, 2.5e-3, 1.3e-3


@pytest.fixture(scope="module")
def wide(plate):
    """Half side of 320 radii: the finite plate changes the peak by less than 1e-4."""
    return plate(
        wood=isotropic(E, 0.31),
        ellipse=Ellipse(x=0.0, y=0.0, a=RADIUS, b=RADIUS),
        half_width=320 * RADIUS,
        half_length=320 * RADIUS,
        near=RADIUS / 16,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
    )


def test_hoop_stress_round_the_rim(wide):
    """1 - 2 cos 2 theta all round, within 0.3 % of the peak."""
    points, stress = wide.rim_stress()
    theta = np.arctan2(points[:, 1], points[:, 0])
    exact = 1.0 - 2.0 * np.cos(2.0 * theta)
    assert np.abs(stress / (E * STRAIN) - exact).max() < 0.01
    assert stress.max() / (E * STRAIN) == pytest.approx(3.0, rel=3e-3)
    assert stress.min() / (E * STRAIN) == pytest.approx(-1.0, rel=5e-3)


def test_axial_stress_across_the_ligament(wide):
    """The recovered field follows Kirsch from half a side off the rim outwards, to 1 %."""
    r = RADIUS * np.array([1.05, 1.2, 1.5, 2.0, 3.0, 6.0])
    k = RADIUS / r
    exact = 0.5 * (2.0 + k**2 + 3.0 * k**4)
    got = wide.axial_on_line(r) / (E * STRAIN)
    assert got == pytest.approx(exact, rel=1e-2)


def test_give_of_a_dilute_hole(wide):
    """One hole adds three times its area's share to the compliance: 3 pi R^2 s / (E w).

    M. Kachanov, Elastic solids with many cracks and related problems, Advances in Applied
    Mechanics 30 (1993), 259-445: E0 / E = 1 + 3 phi for dilute circular holes (from memory).
    """
    width = 640 * RADIUS
    extension = wide.extension() - 640 * RADIUS * STRAIN
    assert extension == pytest.approx(3.0 * np.pi * RADIUS**2 * STRAIN / width, rel=5e-3)
