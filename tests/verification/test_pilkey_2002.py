"""W. D. Pilkey, Analysis and Design of Elastic Beams, Wiley (2002).

Printed values read second-hand in robbievanleeuwen/section-properties,
tests/validation/test_pilkey.py; the more exact ones beside them are Ritz solutions, recomputed.
"""

import numpy as np
import pytest

from limbfe.section import mapped_mesh, section_stiffness, torsion_stiffness


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


@pytest.mark.parametrize(
    ("nu", "along_long_side", "along_short_side"),
    [(0.3, 1.20056, 1.27479), (0.49999999, 1.20118, 1.35605)],
)
def test_energy_shear_factors_of_a_rectangle(nu, along_long_side, along_short_side):
    """Ex. 6.5: A times the integral of tau^2 over V^2, 2 x 1; nu = 0.5 approached from below.

    An incompressible stiffness has no finite C, so nu = 0.5 is 0.49999999 here.
    """
    E, long, short = 3.0, 2.0, 1.0
    mesh = mapped_mesh(
        lambda y, z: (y, z), np.linspace(-long / 2, long / 2, 21), np.linspace(-0.5, 0.5, 15)
    )
    solution = section_stiffness(mesh, isotropic(E, nu), np.ones(1))
    GA = E / (2 * (1 + nu)) * long * short
    F = solution.compliance[0]
    assert F[1, 1] * GA == pytest.approx(along_long_side, abs=2e-5)
    assert F[2, 2] * GA == pytest.approx(along_short_side, abs=2e-5)


def test_aluminium_and_copper_strip():
    """Ex. 5.13: 30 x 2, left half aluminium, right half copper; the printed J is 0.1 % high."""
    aluminium, copper, nu = 10.4e6, 18.5e6, 0.3
    half = 7.5 * (1 - np.cos(np.linspace(0, np.pi, 17)))  # closer at the edges and the joint
    across = np.concatenate([half, 15 + half[1:]])
    mesh = mapped_mesh(lambda y, z: (y, z), across, np.linspace(-1, 1, 9))
    right = mesh.nodes[0][mesh.elements].mean(axis=1)[:, 0] > 15
    E = np.where(right, copper, aluminium)
    C = isotropic(1.0, nu) * E[:, None, None, None]
    solution = section_stiffness(mesh, C, np.ones(1))
    torsion = torsion_stiffness(solution)[0] / (aluminium / (2 * (1 + nu)))
    assert solution.K[0, 0, 0] / aluminium == pytest.approx(83.36, abs=0.006)
    assert solution.K[0, 0, 0] / aluminium == pytest.approx(83.3653846, rel=1e-7)
    assert torsion == pytest.approx(106.22, rel=1.5e-3)
    assert torsion == pytest.approx(106.1166645, rel=1e-4)
