"""Elliptical hole in a wide isotropic plate.

C. E. Inglis, Stresses in a plate due to the presence of cracks and sharp corners, Transactions
of the Institution of Naval Architects 55 (1913), 219-241: peak 1 + 2 b / a for a hole of half
width b across the load and half length a along it (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.strip import Ellipse
from limbfe.wood.elasticity import isotropic


@pytest.mark.parametrize(("a", "b"), [(3.0e-3, 6.0e-3), (6.0e-3, 3.0e-3), (4.0e-3, 5.0e-3)])
def test_peak_at_the_flank(plate, a, b):
    """Plate of 320 half axes; peaks 5, 2 and 3.5 to 0.5 %, poles -1."""
    E, strain = 4.1e9, 0.9e-3
    solved = plate(
        wood=isotropic(E, 0.24),
        ellipse=Ellipse(x=0.0, y=0.0, a=a, b=b),
        half_width=320 * max(a, b),
        half_length=320 * max(a, b),
        near=min(a, b) / 14,
        strain=LimbStrain(x0=0.0, axial=strain),
    )
    points, stress = solved.rim_stress()
    used = stress / (E * strain)
    assert used.max() == pytest.approx(1.0 + 2.0 * b / a, rel=5e-3)
    flank = points[np.argmax(used)]
    assert abs(flank[0]) < 0.1 * a
    assert used.min() == pytest.approx(-1.0, rel=1e-2)


def test_turned_ellipse_has_the_peak_of_the_turned_load(plate):
    """A thin ellipse turned by t: hoop stress at the ends of its long axis.

    Superposed from the two principal loads, which give 1 + 2 A / B and -1 there, plus shear,
    which gives none.
    """
    E, strain, turn = 4.1e9, 0.9e-3, np.radians(35.0)
    A, B = 5.0e-3, 3.0e-3
    solved = plate(
        wood=isotropic(E, 0.24),
        ellipse=Ellipse(x=0.0, y=0.0, a=B, b=A, angle=turn),
        half_width=320 * A,
        half_length=320 * A,
        near=B / 14,
        strain=LimbStrain(x0=0.0, axial=strain),
    )
    points, stress = solved.rim_stress()
    used = stress / (E * strain)
    c, n = np.cos(turn), np.sin(turn)
    angle = np.arctan2((points @ [-n, c]) / A, (points @ [c, n]) / B)
    order = np.argsort(angle)
    end = np.interp(0.5 * np.pi, angle[order], used[order])
    exact = np.cos(turn) ** 2 * (1.0 + 2.0 * A / B) - np.sin(turn) ** 2
    assert end == pytest.approx(exact, rel=1e-2)
