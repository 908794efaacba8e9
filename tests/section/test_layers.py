"""Layered sections of unequal thickness against closed forms and independent series.

The transformed section is exact when Poisson's ratios agree.  Torsion values are two-element
spectral Ritz solutions whose orders 16, 24 and 32 agree to 1e-9, recomputed.
"""

import numpy as np
import pytest

from limbfe.section import (
    axial_stiffness,
    bending_stiffness,
    integration_points,
    mapped_mesh,
    section_mesh,
    section_stiffness,
    tension_centre,
    torsion_stiffness,
)
from limbfe.stave.outline import backing_z, sapwood_z
from limbfe.stave.profile import SectionShapes


def orthotropic(E, G, nu=0.3):
    """Young's modulus E in every direction, nu and the shear modulus chosen freely."""
    S = (np.eye(3) * (1 + nu) - nu) / E
    C = np.diag([0.0] * 3 + [G] * 3)
    C[:3, :3] = np.linalg.inv(S)
    return C


def flat(width, thickness, sapwood, backing=0.0):
    one = np.ones(1)
    return SectionShapes(
        x=0 * one,
        width=width * one,
        thickness=thickness * one,
        sapwood=sapwood * one,
        lean=0 * one,
        backing=backing * one,
        crown=np.inf,
        belly="flat",
        belly_corner=0.0,
    )


def test_two_layer_strip():
    """30 mm wide, 11 mm of E 12.5, G 0.95 GPa under 5 mm of E 10, G 0.70 GPa on the back."""
    shapes = flat(0.03, 0.016, 0.005)
    mesh = section_mesh(shapes)
    assert set(mesh.layer.tolist()) == {0, 1}
    points, _ = integration_points(mesh)
    sap = points[..., 1] > sapwood_z(shapes, points[..., 0])
    assert (sap == (mesh.layer == 1)[None, :, None]).all()
    C = np.where(sap[..., None, None], orthotropic(10e9, 0.70e9), orthotropic(12.5e9, 0.95e9))
    solution = section_stiffness(mesh, C, np.ones(1))
    assert axial_stiffness(solution)[0] == pytest.approx(5.625e6, rel=1e-9)
    # 8.3666667 mm from the face of the 5 mm layer, which is the back at z = +8 mm
    assert tension_centre(solution)[0] == pytest.approx([0.0, 0.008 - 0.0251 / 3], abs=1e-12)
    EI = bending_stiffness(solution)[0]
    assert np.diag(EI) == pytest.approx([115.11875, 421.875], rel=1e-9)
    assert torsion_stiffness(solution)[0] == pytest.approx(22.8601133, rel=5e-5)


def test_three_layers_with_a_backing():
    """EA, the neutral plane and EI of backing over sapwood over heartwood, transformed section."""
    width, layers, E = 0.028, [0.009, 0.0045, 0.0025], [11e9, 9.5e9, 16e9]
    shapes = flat(width, sum(layers), layers[1], layers[2])
    mesh = section_mesh(shapes)
    points, _ = integration_points(mesh)
    y, z = points[..., 0], points[..., 1]
    modulus = np.where(
        z > backing_z(shapes, y), E[2], np.where(z > sapwood_z(shapes, y), E[1], E[0])
    )
    C = orthotropic(1.0, 0.07) * modulus[..., None, None]
    solution = section_stiffness(mesh, C, np.ones(1))

    edges = np.concatenate([[0.0], np.cumsum(layers)]) - sum(layers) / 2
    moment = [
        width * sum(e * (b**n - a**n) / n for e, a, b in zip(E, edges[:-1], edges[1:], strict=True))
        for n in (1, 2, 3)
    ]
    centre = moment[1] / moment[0]
    assert axial_stiffness(solution)[0] == pytest.approx(moment[0], rel=1e-9)
    assert tension_centre(solution)[0, 1] == pytest.approx(centre, rel=1e-9)
    expected = moment[2] - moment[1] * centre
    assert bending_stiffness(solution)[0, 0, 0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("ratio", "GJ"), [(2.0, 0.196964423164), (3.0, 0.239450732088)])
def test_square_of_two_halves(ratio, GJ):
    u = np.linspace(-0.5, 0.5, 17)
    mesh = mapped_mesh(lambda y, z: (y, z), u, u)
    points, _ = integration_points(mesh)
    G = np.where(points[..., 0] < 0, 1.0, ratio)
    C = orthotropic(2.6, 1.0) * G[..., None, None]
    solution = section_stiffness(mesh, C, np.ones(1))
    assert torsion_stiffness(solution)[0] == pytest.approx(GJ, rel=2e-5)


def test_flitch_beam():
    """Two 50 x 200 mm timbers, E 12 GPa, on a 12 x 200 mm steel plate, E 205 GPa: EI 2.44 MN m2.

    Section from www.ilyas.jp/post?id=263 (read); EI by transformed section, common practice.
    """
    across = np.concatenate([np.linspace(-56, -6, 4), [0.0], np.linspace(6, 56, 4)]) * 1e-3
    mesh = mapped_mesh(lambda y, z: (y, z), across, np.linspace(-0.1, 0.1, 9))
    points, _ = integration_points(mesh)
    E = np.where(np.abs(points[..., 0]) < 0.006, 205e9, 12e9)
    C = orthotropic(1.0, 0.385) * E[..., None, None]
    EI = bending_stiffness(section_stiffness(mesh, C, np.ones(1)))[0, 0, 0]
    assert pytest.approx(2.44e6, rel=1e-9) == EI
    transformed = EI / 205e9
    assert transformed == pytest.approx(11.902439e-6, rel=1e-7)
