"""The 6x6 of simple sections against closed forms, and invariants of the solver."""

import numpy as np
import pytest

from limbfe.errors import MaterialError
from limbfe.frames import rotate_stiffness
from limbfe.section import (
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    moved_reference,
    section_mesh,
    section_stiffness,
)
from limbfe.stave.outline import sapwood_z
from limbfe.stave.profile import SectionShapes

from ..section_fields import recover, resultants_of, strain_at


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def anisotropic(seed):
    """A full 21-constant stiffness, positive definite, in the range of a wood (Pa)."""
    r = np.random.default_rng(seed).normal(size=(6, 6))
    return 1e9 * (np.diag([11.0, 1.2, 0.8, 0.15, 0.7, 0.9]) + 0.02 * (r @ r.T))


def limb_shapes(belly="round", crown=0.06, corner=0.0, backing=0.0):
    x = np.array([-0.55, 0.1, 0.62])
    return SectionShapes(
        x=x,
        width=np.array([0.021, 0.034, 0.017]),
        thickness=np.array([0.017, 0.023, 0.013]),
        sapwood=np.array([0.004, 0.006, 0.0025]),
        lean=np.array([0.1, -0.16, 0.05]),
        backing=np.array([0.8, 1.0, 0.6]) * backing,
        crown=crown,
        belly=belly,
        belly_corner=corner,
    )


def two_woods(shapes, mesh, heart, sap):
    points, _ = integration_points(mesh)
    in_sap = points[..., 1] > sapwood_z(shapes, points[..., 0])
    return np.where(in_sap[..., None, None], sap, heart), np.where(in_sap, 560.0, 690.0)


@pytest.fixture(scope="module")
def layered():
    shapes = limb_shapes()
    mesh = section_mesh(shapes, fineness=0.6)
    return section_stiffness(mesh, *two_woods(shapes, mesh, anisotropic(1), anisotropic(2)))


def test_axial_and_bending_terms_with_their_signs():
    """Closed form: EA and its first and second moments, exact for equal Poisson ratios.

    Two layers of unequal thickness and a section off the origin on both axes, so that
    K[N, My] = int E z dA and K[N, Mz] = -int E y dA show their signs.
    """
    width, low, high = 0.031, 0.005, 0.011
    y0, z0 = 0.004, -0.007
    across, up = np.linspace(0, width, 6), np.array([0, low / 2, low, low + high / 2, low + high])
    mesh = mapped_mesh(lambda y, z: (y + y0, z + z0), across, up)
    points, _ = integration_points(mesh)
    E = np.where(points[..., 1] < z0 + low, 9.0e9, 12.5e9)
    K = section_stiffness(mesh, isotropic(1.0, 0.3) * E[..., None, None], np.ones(1)).K[0]

    parts = [(9.0e9, 0.0, low), (12.5e9, low, low + high)]
    y1, y2 = y0, y0 + width
    moment = {}
    for p in range(3):
        for q in range(3 - p):
            moment[p, q] = sum(
                e
                * (y2 ** (p + 1) - y1 ** (p + 1))
                / (p + 1)
                * ((z0 + b) ** (q + 1) - (z0 + a) ** (q + 1))
                / (q + 1)
                for e, a, b in parts
            )
    expected = np.array(
        [
            [moment[0, 0], moment[0, 1], -moment[1, 0]],
            [moment[0, 1], moment[0, 2], -moment[1, 1]],
            [-moment[1, 0], -moment[1, 1], moment[2, 0]],
        ]
    )
    assert K[np.ix_([0, 4, 5], [0, 4, 5])] == pytest.approx(expected, rel=1e-9)


def test_mass_matrix_of_an_offset_rectangle():
    """Closed form: rho times area, first and second moments about the origin."""
    b, h, y0, z0, rho = 0.03, 0.014, 0.005, -0.004, 640.0
    mesh = mapped_mesh(
        lambda y, z: (y + y0, z + z0), np.linspace(-b / 2, b / 2, 4), np.linspace(-h / 2, h / 2, 3)
    )
    mass = section_stiffness(mesh, isotropic(1e10, 0.3), np.array(rho)).mass[0]
    m = rho * b * h
    yy, zz = m * (b**2 / 12 + y0**2), m * (h**2 / 12 + z0**2)
    expected = np.zeros((6, 6))
    expected[[0, 1, 2], [0, 1, 2]] = m
    expected[3, 3], expected[4, 4], expected[5, 5] = yy + zz, zz, yy
    expected[4, 5] = expected[5, 4] = -m * y0 * z0
    expected[0, 4] = expected[4, 0] = m * z0
    expected[0, 5] = expected[5, 0] = -m * y0
    expected[1, 3] = expected[3, 1] = -m * z0
    expected[2, 3] = expected[3, 2] = m * y0
    assert mass == pytest.approx(expected, rel=1e-12, abs=1e-15)


def test_resultants_of_recovered_stress_are_the_input(layered):
    loads = np.random.default_rng(3).normal(size=(3, 6)) * [900, 40, 70, 4, 60, 12]
    field = recover(layered, loads)
    _, weights = integration_points(layered.mesh)
    assert resultants_of(field.points, weights, field.stress) == pytest.approx(loads, rel=1e-8)


def test_energy_of_the_recovered_field_is_that_of_the_6x6(layered):
    loads = np.random.default_rng(4).normal(size=(3, 6)) * [900, 40, 70, 4, 60, 12]
    field = recover(layered, loads)
    _, weights = integration_points(layered.mesh)
    energy = (field.strain * field.stress).sum(axis=-1)
    work = np.einsum("si,sij,sj->s", loads, layered.compliance, loads)
    assert (energy * weights).sum(axis=(1, 2)) == pytest.approx(work, rel=1e-10)


def test_strain_at_given_points_is_the_recovered_strain(layered):
    loads = np.array([300.0, 30.0, -50.0, 2.0, 40.0, 9.0])
    field = recover(layered, loads)
    some = field.points[:, ::7, 4]
    assert strain_at(layered, loads, some) == pytest.approx(field.strain[:, ::7, 4], rel=1e-8)


def test_strain_on_the_skin_where_the_mesh_has_corners_and_the_outline_has_none():
    """A homogeneous bar of any anisotropy bends with the stress z My/I alone, closed form.

    The half ellipse runs smoothly through two corners of the mesh, where the map is singular.
    """
    C = anisotropic(8)
    mesh = section_mesh(limb_shapes())
    solution = section_stiffness(mesh, C, np.ones(1))
    points, weights = integration_points(mesh)
    z = points[..., 1]
    centre = (weights * z).sum(axis=(1, 2)) / weights.sum(axis=(1, 2))
    second = (weights * (z - centre[:, None, None]) ** 2).sum(axis=(1, 2))
    moment = np.array([0.0, 0, 0, 0, 35.0, 0])
    skin = mesh.nodes[:, mesh.outline]
    stress = 35.0 * (skin[..., 1] - centre[:, None]) / second[:, None]
    expected = stress[..., None] * np.linalg.inv(C)[0]
    found = strain_at(solution, moment, skin)
    scale = np.abs(expected).max(axis=(1, 2))[:, None, None]
    assert (np.abs(found - expected) / scale).max() < 0.02


def test_rotated_section_has_the_rotated_stiffness(layered):
    angle = 0.7
    turn = np.array(
        [[1, 0, 0], [0, np.cos(angle), -np.sin(angle)], [0, np.sin(angle), np.cos(angle)]]
    )
    mesh = layered.mesh
    turned = mesh_from_arrays(mesh.nodes @ turn[1:, 1:].T, mesh.elements)
    found = section_stiffness(turned, rotate_stiffness(layered.C, turn), np.ones(1)).K
    both = np.kron(np.eye(2), turn)
    scale = np.abs(layered.K).max()
    assert found == pytest.approx(both @ layered.K @ both.T, rel=1e-9, abs=1e-12 * scale)


def test_moved_section_has_the_moved_stiffness(layered):
    shift = np.array([0.011, -0.006])
    mesh = layered.mesh
    moved = mesh_from_arrays(mesh.nodes + shift, mesh.elements)
    found = section_stiffness(moved, layered.C, np.ones(1)).K
    back, compliance = moved_reference(layered, -shift)
    assert found == pytest.approx(back, rel=1e-8, abs=1e-10 * np.abs(found).max())
    assert np.linalg.inv(found) == pytest.approx(
        compliance, rel=1e-7, abs=1e-10 * np.abs(compliance).max()
    )


def test_units_rescale(layered):
    """Millimetres and megapascals: N, N mm, N mm2."""
    mesh = layered.mesh
    scaled = mesh_from_arrays(1e3 * mesh.nodes, mesh.elements)
    found = section_stiffness(scaled, 1e-6 * layered.C, np.ones(1)).K
    unit = np.diag([1, 1, 1, 1e3, 1e3, 1e3])
    assert found == pytest.approx(unit @ layered.K @ unit, rel=1e-9, abs=1e-7)


def test_batch_gives_what_each_station_gives_alone():
    shapes = limb_shapes(belly="corner", corner=0.003, backing=0.002)
    mesh = section_mesh(shapes, fineness=0.5)
    C, density = two_woods(shapes, mesh, anisotropic(5), anisotropic(6))
    together = section_stiffness(mesh, C, density)
    for s in range(3):
        one = mesh_from_arrays(mesh.nodes[s], mesh.elements)
        alone = section_stiffness(one, C[s], density[s])
        assert alone.K[0] == pytest.approx(together.K[s], rel=1e-10, abs=1e-6)


def test_material_that_is_not_positive_definite_is_refused_with_the_station():
    mesh = section_mesh(limb_shapes(), fineness=0.4)
    C = np.broadcast_to(isotropic(1e10, 0.3), (3, 1, 1, 6, 6)).copy()
    C[1, ..., 4, 4] *= -1.0
    with pytest.raises(MaterialError, match=r"x = 100 mm.*positive definite"):
        section_stiffness(mesh, C, np.ones(1))
    m, q = integration_points(mesh)[1].shape[1:]
    one_point = np.broadcast_to(isotropic(1e10, 0.3), (3, m, q, 6, 6)).copy()
    one_point[1, m // 2, 4] *= -1.0
    with pytest.raises(MaterialError, match=r"x = 100 mm .*: stiffness is negative"):
        section_stiffness(mesh, one_point, np.ones(1))
    density = np.full((3, m, q), 700.0)
    density[1, 2, 3] = -700.0
    with pytest.raises(MaterialError, match=r"x = 100 mm .*: density is negative"):
        section_stiffness(mesh, isotropic(1e10, 0.3), density)
    C[1] = isotropic(1e10, 0.3)
    C[1, ..., 1, 2] = C[1, ..., 2, 1] = 5e10
    with pytest.raises(MaterialError, match=r"x = 100 mm.*lowest eigenvalue"):
        section_stiffness(mesh, C, np.ones(1))
    C[1] = np.nan
    with pytest.raises(MaterialError, match=r"x = 100 mm.*finite"):
        section_stiffness(mesh, C, np.ones(1))
