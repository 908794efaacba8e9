"""Stress in the wood's own axes, and sections with voids."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbfe.errors import GeometryError
from limbfe.frames import rotate_stiffness
from limbfe.section import (
    fibre_section,
    grain_modulus,
    integration_points,
    law_through,
    section_mesh,
    section_stiffness,
)
from limbfe.stave.profile import SectionShapes
from limbfe.wood.elasticity import Elasticity, stiffness

from ..section_fields import recover, resultants_of, to_local_axes

WOOD = stiffness(
    Elasticity(
        E_L=12.1e9,
        E_R=1.5e9,
        E_T=0.8e9,
        G_LR=1.1e9,
        G_LT=0.75e9,
        G_RT=0.25e9,
        nu_LR=0.37,
        nu_LT=0.45,
        nu_RT=0.6,
    )
)
LOADS = np.array([250.0, 21.0, -44.0, 1.7, 38.0, 6.0])


def limb():
    return SectionShapes(
        x=np.array([0.12, 0.44]),
        width=np.array([0.031, 0.023]),
        thickness=np.array([0.02, 0.015]),
        sapwood=np.array([0.005, 0.004]),
        lean=np.array([0.08, -0.03]),
        backing=np.zeros(2),
        crown=0.07,
        belly="round",
        belly_corner=0.0,
    )


def test_wood_axes_at_every_point():
    """Fibres that turn from point to point: the wood's law holds in the wood's own axes."""
    mesh = section_mesh(limb(), fineness=0.6)
    points, _ = integration_points(mesh)
    angles = np.stack(
        [40 * points[..., 0], 0.1 + 20 * points[..., 1], 0.2 + 0 * points[..., 0]], -1
    )
    straight = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
    axes = Rotation.from_euler("xyz", angles.reshape(-1, 3)).as_matrix() @ straight
    axes = axes.reshape(*points.shape[:-1], 3, 3)
    solution = section_stiffness(mesh, rotate_stiffness(WOOD, axes), np.ones(1))
    field = recover(solution, LOADS)
    strain, stress = to_local_axes(field.strain, field.stress, axes)
    assert stress == pytest.approx(strain @ WOOD, rel=1e-9, abs=1e-9 * np.abs(stress).max())
    density = (strain * stress).sum(axis=-1)
    assert density == pytest.approx((field.strain * field.stress).sum(axis=-1), rel=1e-9)
    # traction along the fibres, by the tensor itself
    s = field.stress
    tensor = s[..., [[0, 5, 4], [5, 1, 3], [4, 3, 2]]]
    fibre = axes[..., 0]
    along = np.einsum("...i,...ij,...j->...", fibre, tensor, fibre)
    assert stress[..., 0] == pytest.approx(along, rel=1e-9, abs=1e-9 * np.abs(along).max())


def test_fibre_strain_is_that_of_the_field_of_unit_strains():
    """Every generalised strain alone, by its resultants: strain along the grain, n'En."""
    mesh = section_mesh(limb(), fineness=0.5)
    solution = section_stiffness(mesh, WOOD, np.ones(1))
    n = np.array([0.98, 0.16, -0.09])
    n /= np.linalg.norm(n)
    modulus = grain_modulus(solution, n)
    stress = np.array([40e6, 50e6, 50e6])[:, None, None, None] * np.ones(modulus.shape)
    law = law_through(modulus, stress, np.array([0.0, 0.02, 1.0]))
    section = fibre_section(solution, n, law)
    along = [n[0] ** 2, n[1] ** 2, n[2] ** 2, n[1] * n[2], n[0] * n[2], n[0] * n[1]]
    for k in range(6):
        field = recover(solution, solution.K[:, :, k])
        assert section.fibre[..., k] == pytest.approx(field.strain @ along, rel=1e-9, abs=1e-10)


@pytest.mark.parametrize("softness", [1e-3, 1e-6, 1e-7])
def test_void_that_cuts_the_section_in_two(softness):
    """A missing knot as wide as the belly is thick: the two halves carry N and bending alone.

    Rounding grows as the halves come loose: shear then adds up to 1e-6 at a softness of 1e-8, with
    LAPACK's band solver to half of that, where the section begins to be refused.
    """
    mesh = section_mesh(limb())
    points, weights = integration_points(mesh)
    void = np.abs(points[..., 0] - 0.002) < 0.0024
    C = WOOD * np.where(void, softness, 1.0)[..., None, None]
    solution = section_stiffness(mesh, C, np.ones(1))
    field = recover(solution, LOADS)
    found = resultants_of(field.points, weights, field.stress)
    assert found == pytest.approx(np.tile(LOADS, (2, 1)), rel=1e-5)
    E_L = 1.0 / np.linalg.inv(WOOD)[0, 0]
    left = (weights * ~void).sum(axis=(1, 2))
    assert solution.K[:, 0, 0] == pytest.approx(E_L * left, rel=softness + 1e-6)


def test_void_too_soft_to_hold_the_parts_together_is_refused():
    mesh = section_mesh(limb())
    points, _ = integration_points(mesh)
    void = np.abs(points[..., 0] - 0.002) < 0.0024
    C = WOOD * np.where(void, 1e-13, 1.0)[..., None, None]
    with pytest.raises(GeometryError, match=r"x = 120 mm.*hold together"):
        section_stiffness(mesh, C, np.ones(1))


def test_knot_that_is_the_whole_section_scales_it():
    mesh = section_mesh(limb(), fineness=0.5)
    whole = section_stiffness(mesh, WOOD, np.ones(1))
    soft = section_stiffness(mesh, 1e-6 * WOOD, np.ones(1))
    ratio = soft.K / 1e-6
    assert ratio == pytest.approx(whole.K, rel=1e-9, abs=1e-6)
