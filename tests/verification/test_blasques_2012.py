"""J. P. Blasques, User's Manual for BECAS, Riso-R-1785, DTU (2012): the validation sections.

Printed matrices (coarse meshes) read second-hand in byuflowlab/GXBeam.jl, test/section.jl; the
exact columns beside them are closed forms and converged Ritz series, recomputed.  The manual
orders ``Fx Fy Fz Mx My Mz`` with z along the beam; here that is ``Vy Vz N My Mz T``.
"""

import numpy as np
import pytest

from limbfe.section import (
    integration_points,
    mapped_mesh,
    section_stiffness,
    shear_centre,
    tension_centre,
    torsion_stiffness,
)

OURS = np.array([1, 2, 0, 4, 5, 3])


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def square(columns=16, rows=12):
    u = 0.05 * np.linspace(-1, 1, columns + 1)
    return mapped_mesh(lambda y, z: (y, z), u, 0.05 * np.linspace(-1, 1, rows + 1))


def ring(first, last, columns, rows, closed):
    """A ring from 0.09 to 0.1, clockwise: the other way round the map turns over."""
    return mapped_mesh(
        lambda a, r: (r * np.cos(-a), r * np.sin(-a)),
        np.linspace(-last, -first, columns + 1),
        np.linspace(0.09, 0.1, rows + 1),
        closed=closed,
    )


def theirs(solution):
    return solution.K[0][np.ix_(OURS, OURS)]


def test_isotropic_square():
    """S1: E 100, nu 0.2, side 0.1; printed on 10 x 10 bilinear elements."""
    K = theirs(section_stiffness(square(), isotropic(100.0, 0.2), np.ones(1)))
    printed = [0.34899, 0.34899, 1.0, 8.3384e-4, 8.3384e-4, 5.9084e-4]
    exact = [0.3461095, 0.3461095, 1.0, 8.3333333e-4, 8.3333333e-4, 5.85742248e-4]
    assert np.diag(K) == pytest.approx(printed, rel=0.015)
    assert np.diag(K) == pytest.approx(exact, rel=2e-5)
    assert pytest.approx(np.diag(np.diag(K)), abs=1e-12) == K


def test_square_of_two_materials():
    """S2: E 100 for x < 0 and 10 for x > 0, reference at the middle of the square."""
    mesh = square()
    points, _ = integration_points(mesh)
    E = np.where(points[..., 0] < 0.0, 100.0, 10.0)
    solution = section_stiffness(mesh, isotropic(1.0, 0.2) * E[..., None, None], np.ones(1))
    K = theirs(solution)
    printed = [0.128, 0.192, 0.550, 4.59e-4, 4.59e-4, 2.77e-4]
    assert np.diag(K) == pytest.approx(printed, rel=0.015)
    assert K[1, 5] == pytest.approx(-3.93e-3, rel=0.015)
    assert K[2, 4] == pytest.approx(1.13e-2, rel=0.015)
    assert K[2, 2] == pytest.approx(0.55, rel=1e-9)
    assert K[2, 4] == pytest.approx(0.01125, rel=1e-9)
    assert K[[3, 4], [3, 4]] == pytest.approx(4.583333e-4, rel=1e-6)
    assert torsion_stiffness(solution)[0] == pytest.approx(1.94203913e-4, rel=1e-4)
    assert K[5, 5] - K[1, 5] ** 2 / K[1, 1] == pytest.approx(1.94203913e-4, rel=1e-4)


def test_orthotropic_square():
    """S3's shear moduli, 60 and 50: the torsion series of an orthotropic rectangle.

    S. G. Lekhnitskii, Theory of Elasticity of an Anisotropic Body (series from memory; it keeps
    its value when the axes are swapped and has the isotropic limit).
    """
    nu = 0.19
    S = np.array([[1, -nu, -nu], [-nu, 1, -nu], [-nu, -nu, 1]]) / 100.0
    C = np.zeros((6, 6))
    C[:3, :3] = np.linalg.inv(S)
    C[3, 3], C[4, 4], C[5, 5] = 42.0, 50.0, 60.0
    solution = section_stiffness(square(), C, np.ones(1))
    assert orthotropic_GJ(0.1, 0.1, 60.0, 50.0) == pytest.approx(7.670053468e-4, rel=1e-9)
    assert torsion_stiffness(solution)[0] == pytest.approx(7.670053468e-4, rel=2e-5)


@pytest.mark.parametrize(("G_xy", "G_xz"), [(0.7e9, 0.9e9), (0.9e9, 0.7e9), (0.8e9, 0.8e9)])
def test_orthotropic_rectangle(G_xy, G_xz):
    """30 x 16 mm; 20.193679 N m2 for G_xy 0.7 and G_xz 0.9 GPa, 21.814084 for 0.8 GPa both."""
    b, h = 0.03, 0.016
    C = np.diag([12e9, 0.8e9, 1.1e9, 0.2e9, G_xz, G_xy])
    mesh = mapped_mesh(
        lambda y, z: (y, z), np.linspace(-b / 2, b / 2, 21), np.linspace(-h / 2, h / 2, 15)
    )
    found = torsion_stiffness(section_stiffness(mesh, C, np.ones(1)))[0]
    assert found == pytest.approx(orthotropic_GJ(b, h, G_xy, G_xz), rel=2e-5)
    known = {0.7e9: 20.193679358, 0.8e9: 21.814084473}
    if G_xy in known:
        assert found == pytest.approx(known[G_xy], rel=2e-5)


def orthotropic_GJ(b, h, G_xy, G_xz):
    n = np.arange(1, 400, 2)
    ratio = np.sqrt(G_xy / G_xz) * h / b
    total = (np.tanh(n * np.pi / (2 * ratio)) / n**5).sum()
    return G_xy * b * h**3 / 3 * (1 - 192 / np.pi**5 * ratio * total)


def test_tube():
    """C1: outer radius 0.1, wall 0.01, E 100, nu 0.2."""
    mesh = ring(0, 2 * np.pi, 72, 2, True)
    K = theirs(section_stiffness(mesh, isotropic(100.0, 0.2), np.ones(1)))
    printed = [0.1249, 0.5965, 2.697e-3, 2.248e-3]
    assert K[[0, 2, 3, 5], [0, 2, 3, 5]] == pytest.approx(printed, rel=3e-3)
    area, second = np.pi * (0.1**2 - 0.09**2), np.pi * (0.1**4 - 0.09**4) / 4
    assert K[2, 2] == pytest.approx(100 * area, rel=1e-6)
    assert K[[3, 4], [3, 4]] == pytest.approx(100 * second, rel=1e-6)
    assert K[5, 5] == pytest.approx(2 * second * 100 / 2.4, rel=1e-6)


def test_half_tube():
    """C2: the half of C1 with x < 0."""
    mesh = ring(np.pi / 2, 3 * np.pi / 2, 40, 4, False)
    solution = section_stiffness(mesh, isotropic(100.0, 0.2), np.ones(1))
    K = theirs(solution)
    printed = [0.04964, 0.06244, 0.2982, 1.349e-3, 1.349e-3, 9.120e-4]
    assert np.diag(K) == pytest.approx(printed, rel=3e-3)
    assert K[2, 4] == pytest.approx(0.01805, rel=3e-3)
    assert K[1, 5] == pytest.approx(-7.529e-3, rel=3e-3)
    assert shear_centre(solution)[0] == pytest.approx([-0.1206, 0.0], rel=3e-3, abs=1e-9)
    assert tension_centre(solution)[0] == pytest.approx([-0.06051, 0.0], rel=3e-3, abs=1e-9)
    assert K[2, 2] == pytest.approx(0.29845130, rel=1e-6)
    assert K[[3, 4], [3, 4]] == pytest.approx(1.35049214e-3, rel=1e-6)
    assert K[2, 4] == pytest.approx(0.01806667, rel=1e-6)
    assert tension_centre(solution)[0, 0] == pytest.approx(-0.06053472, rel=1e-6)
