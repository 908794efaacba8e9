"""Circular inclusions, soft and stiff, and rotten patches as inclusions.

J. N. Goodier, Concentration of stress around spherical and cylindrical inclusions and flaws,
Journal of Applied Mechanics 1 (1933), 39-44; J. D. Eshelby, The determination of the elastic
field of an ellipsoidal inclusion, Proceedings of the Royal Society A 241 (1957), 376-396: the
stress inside is uniform.  Plane-stress closed form, recomputed from the complex potentials:
with g the ratio of shear moduli, k = (3 - nu) / (1 + nu) of each, B = g (k + 1) / (2 g + k_i - 1)
and C = g (k + 1) / (1 + g k), the stress inside is (B + C) / 2 along and (B - C) / 2 across.
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plane import knot_stiffness, plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.stave.decay import Decay
from limbfe.wood.decay import DecayEffect
from limbfe.wood.elasticity import isotropic

E, NU, STRAIN, RADIUS = 6.2e9, 0.28, 1.0e-3, 3.0e-3


def inside(ratio, nu_inside):
    """Stress along and across inside, over the far stress."""
    g = ratio * (1.0 + NU) / (1.0 + nu_inside)
    k, ki = (3.0 - NU) / (1.0 + NU), (3.0 - nu_inside) / (1.0 + nu_inside)
    B, C = g * (k + 1.0) / (2.0 * g + ki - 1.0), g * (k + 1.0) / (1.0 + g * k)
    return 0.5 * (B + C), 0.5 * (B - C)


@pytest.mark.parametrize(("ratio", "nu_inside"), [(0.1, 0.35), (3.0, 0.2), (1e4, 0.3)])
def test_stress_inside_is_uniform_and_right(plate, ratio, nu_inside):
    """Mean within 0.1 % of the far stress and spread below 0.1 %; 1e4 stands for rigid."""
    solved = plate(
        wood=isotropic(E, NU),
        ellipse=Ellipse(x=0.0, y=0.0, a=RADIUS, b=RADIUS),
        half_width=320 * RADIUS,
        half_length=320 * RADIUS,
        near=RADIUS / 12,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
        modulus=ratio * E,
        poisson=nu_inside,
    )
    inner = solved.meshed.mesh.mesh.region == 1
    strain = solved.strain()[inner].reshape(-1, 3)
    stress = strain @ knot_stiffness(ratio * E, nu_inside) / (E * STRAIN)
    along, across = inside(ratio, nu_inside)
    assert stress.mean(axis=0) == pytest.approx([along, across, 0.0], abs=1e-3)
    assert stress.std(axis=0).max() < 1e-3


@pytest.mark.parametrize(("rot", "left"), [("moderate", 0.75), ("advanced", 0.25)])
def test_rotten_patch_is_an_inclusion(plate, rot, left):
    """A sharp patch of equal loss in E and G keeps Poisson's ratio; inside as the closed form.

    No mesh line follows the rim of a patch, which elements are cut by: within 0.7 of its radius the
    mean is right to 0.3 % of the far stress and the spread stays below 1 %.
    """
    effect = DecayEffect(
        E=left,
        G=left,
        density=1.0,
        tension=1.0,
        compression=1.0,
        shear=1.0,
        across=1.0,
        toughness=1.0,
    )
    patch = Decay(
        name=rot,
        limb="upper",
        face="back",
        center=np.zeros(3),
        semi_axes=np.array([RADIUS, RADIUS, 1e3]),
        effect=effect,
        stage=rot,
        rot="brown",
    )
    solved = plate(
        wood=isotropic(E, NU),
        ellipse=Ellipse(x=0.0, y=0.0, a=RADIUS, b=RADIUS),
        half_width=320 * RADIUS,
        half_length=320 * RADIUS,
        near=RADIUS / 30,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
        decay=patch,
    )
    inner = np.linalg.norm(solved.meshed.at.points, axis=-1) < 0.7 * RADIUS
    assert np.count_nonzero(inner) > 100
    C = left * plane_stiffness(isotropic(E, NU), np.array(0.0), np.array(0.0))
    stress = solved.strain()[inner] @ C / (E * STRAIN)
    along, across = inside(left, NU)
    assert stress.mean(axis=0) == pytest.approx([along, across, 0.0], abs=3e-3)
    assert stress.std(axis=0).max() < 1e-2
