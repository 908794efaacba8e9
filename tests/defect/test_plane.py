"""Plane-stress wood against the full three-dimensional rotation."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.plane import fibre_stress, plane_stiffness
from limbfe.frames import rotate_stiffness
from limbfe.wood.elasticity import Elasticity

WOOD = Elasticity(
    E_L=11.0e9,
    E_R=1.2e9,
    E_T=0.6e9,
    G_LR=0.9e9,
    G_LT=0.7e9,
    G_RT=0.08e9,
    nu_LR=0.33,
    nu_LT=0.41,
    nu_RT=0.52,
)


def three_dimensional(wood):
    """Stiffness in wood axes, Voigt L, T, R so that the third axis leaves the plane."""
    S = np.zeros((6, 6))
    S[0, 0], S[1, 1], S[2, 2] = 1 / wood.E_L, 1 / wood.E_T, 1 / wood.E_R
    S[0, 1] = S[1, 0] = -wood.nu_LT / wood.E_L
    S[0, 2] = S[2, 0] = -wood.nu_LR / wood.E_L
    S[1, 2] = S[2, 1] = -wood.nu_RT / wood.E_R
    S[3, 3], S[4, 4], S[5, 5] = 1 / wood.G_RT, 1 / wood.G_LR, 1 / wood.G_LT
    return np.linalg.inv(S)


@pytest.mark.parametrize(("angle", "dive"), [(0.0, 0.0), (0.4, 0.0), (-0.7, 0.3), (1.2, -0.5)])
def test_plane_stiffness_is_the_condensed_rotation(angle, dive):
    """Rotate the 6 x 6 stiffness with the frame's own Bond matrix, then set s_zz = 0."""
    c, s = np.cos(angle), np.sin(angle)
    p, q = np.cos(dive), np.sin(dive)
    L = np.array([c * p, s * p, q])
    T = np.array([-s, c, 0.0])
    axes = np.stack([L, T, np.cross(L, T)], axis=1)
    S = np.linalg.inv(rotate_stiffness(three_dimensional(WOOD), axes))
    keep = np.ix_([0, 1, 5], [0, 1, 5])
    expected = np.linalg.inv(S[keep])
    got = plane_stiffness(WOOD, np.array(angle), np.array(dive))
    assert got == pytest.approx(expected, rel=1e-10, abs=1e-3)


def test_multipliers_scale_moduli():
    full = np.linalg.inv(plane_stiffness(WOOD, np.array(0.0), np.array(0.0)))
    part = np.linalg.inv(plane_stiffness(WOOD, np.array(0.0), np.array(0.0), 0.5, 0.25))
    assert part[:2, :2] == pytest.approx(full[:2, :2] / 0.5)
    assert part[2, 2] == pytest.approx(full[2, 2] / 0.25)


def test_stress_in_fibre_axes_keeps_its_invariants():
    rng = np.random.default_rng(2)
    stress, angle = rng.normal(size=(20, 3)), rng.uniform(-2, 2, 20)
    turned = fibre_stress(stress, angle)
    assert turned[:, 0] + turned[:, 1] == pytest.approx(stress[:, 0] + stress[:, 1])
    first = stress[:, 0] * stress[:, 1] - stress[:, 2] ** 2
    assert turned[:, 0] * turned[:, 1] - turned[:, 2] ** 2 == pytest.approx(first)
    tension = fibre_stress(np.array([1.0, 0.0, 0.0]), np.array(0.3))
    assert tension == pytest.approx(
        [np.cos(0.3) ** 2, np.sin(0.3) ** 2, -np.sin(0.3) * np.cos(0.3)]
    )
