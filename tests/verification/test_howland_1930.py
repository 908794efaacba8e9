"""Holes in strips of finite width.

R. C. J. Howland, On the stresses in the neighbourhood of a circular hole in a strip under
tension, Philosophical Transactions of the Royal Society A 229 (1930), 49-86: peak over net
stress (values from memory, three figures).
R. C. J. Howland, A. C. Stevenson, Biharmonic analysis in a perforated strip, Philosophical
Transactions of the Royal Society A 232 (1934), 155-222: the strip in bending; for a small hole
at the centre the peak is twice the stress that the unbroken strip has there (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.wood.elasticity import isotropic

E, NU = 5.0e9, 0.3
WIDTH = 40e-3


def solved_strip(plate, share, strain, offset=0.0):
    radius = 0.5 * share * WIDTH
    return plate(
        wood=isotropic(E, NU),
        ellipse=Ellipse(x=0.0, y=0.0, a=radius, b=radius),
        half_width=0.5 * WIDTH,
        half_length=2.5 * WIDTH,
        near=radius / 28,
        strain=strain,
        offset=offset,
    )


def exact_net_factor(share):
    """Peak over net stress of a central hole, by collocation on Muskhelishvili's potentials.

    phi and psi are series of odd powers, positive and negative, with real coefficients; traction
    is matched in least squares on the rim, the straight edge and a far uniformly loaded end.
    Written for this test only: it shares nothing with finite elements.
    """
    radius, length, n = share, 3.2, 500
    s = (np.arange(n) + 0.5) / n
    rim = radius * np.exp(0.5j * np.pi * s)
    places = [rim, length * s + 1j, length + 1j * s]
    normals = [rim / radius, np.full(n, 1j), np.ones(n, dtype=complex)]
    powers = np.concatenate([np.arange(-39.0, 0.0, 2.0), np.arange(1.0, 60.0, 2.0)])
    scale = np.where(powers < 0.0, radius, length)

    def stresses(z):
        # s_xx + s_yy = 4 Re phi', s_yy - s_xx + 2 i s_xy = 2 (conj(z) phi'' + psi')
        ratio = z[:, None] / scale
        first = powers * ratio ** (powers - 1.0)
        second = powers * (powers - 1.0) * ratio ** (powers - 2.0) / scale
        total = np.hstack([4.0 * first.real, np.zeros_like(first.real)])
        turning = 2.0 * np.hstack([np.conj(z)[:, None] * second, first])
        return 0.5 * (total - turning.real), 0.5 * (total + turning.real), 0.5 * turning.imag

    rows = []
    for z, normal in zip(places, normals, strict=True):
        xx, yy, xy = stresses(z)
        x, y = normal.real[:, None], normal.imag[:, None]
        rows += [x * xx + y * xy, x * xy + y * yy]
    wanted = np.concatenate([np.zeros(4 * n), np.ones(n), np.zeros(n)])
    system = np.vstack(rows)
    size = np.linalg.norm(system, axis=0)
    answer = np.linalg.lstsq(system / size, wanted, rcond=1e-15)[0] / size
    assert np.abs(system @ answer - wanted).max() < 2e-4
    return float(stresses(np.array([1j * radius]))[0][0] @ answer) * (1.0 - share)


@pytest.mark.parametrize(("share", "table"), [(0.1, 2.73), (0.3, 2.35), (0.5, 2.16)])
def test_tension(plate, share, table):
    """Within 0.15 % of the series; within 1 % of the recalled table, which lies up to 0.9 % below
    the series at d / w = 0.5: figures recalled from a curve.
    """
    strain = 1.1e-3
    _, stress = solved_strip(plate, share, LimbStrain(x0=0.0, axial=strain)).rim_stress()
    got = stress.max() / (E * strain / (1.0 - share))
    assert got == pytest.approx(exact_net_factor(share), rel=1.5e-3)
    assert got == pytest.approx(table, rel=1e-2)


def test_bending_of_a_small_hole(plate):
    """Twice the unbroken stress at the rim's flank, d / w = 0.05, within 1 %."""
    curvature, share = 0.21, 0.05
    strain = LimbStrain(x0=0.0, axial=0.0, bending=curvature)
    _, stress = solved_strip(plate, share, strain).rim_stress()
    nominal = E * curvature * 0.5 * share * WIDTH
    assert stress.max() / nominal == pytest.approx(2.0, rel=1e-2)
    assert stress.min() / nominal == pytest.approx(-2.0, rel=1e-2)


def test_off_centre_hole_in_a_strip_that_only_stretches(plate):
    """Off centre the plane ends must not bend: force and moment on top of the limb's own are 0."""
    solved = solved_strip(plate, 0.2, LimbStrain(x0=0.0, axial=1e-3), offset=5e-3)
    C = plane_stiffness(isotropic(E, NU), np.array(0.0), np.array(0.0))
    extra = solved.strain() @ C[0] - E * 1e-3
    weights = solved.meshed.at.weights
    x, y = np.moveaxis(solved.meshed.at.points, -1, 0)
    far = np.abs(x) > 2.2 * WIDTH
    force = (extra * weights)[far].sum() / weights[far].sum()
    moment = (extra * (y - 5e-3) * weights)[far].sum() / weights[far].sum()
    assert abs(force) < 1e-4 * E * 1e-3
    assert abs(moment) < 1e-4 * E * 1e-3 * WIDTH
