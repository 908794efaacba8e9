"""Bending of a rectangle whose compression side yields.

B. H. Bechtel, C. B. Norris, Strength of wood beams and columns, Forest Products Laboratory (1952):
elastic-brittle tension f_t, elastic-perfectly plastic compression f_c.  With n = f_t / f_c the
modulus of rupture is f_c (3 n - 1) / (n + 1) and the neutral axis lies c/h = 2 n / (n + 1)^2 from
the tension face (authors from memory; the algebra is derived from equilibrium).
"""

import numpy as np
import pytest

from limbfe.analysis.yielding import FibreLaw, Fibres, axial_basis, fibre_stress, secant_stiffness

E, CRUSH = 9.7e9, 47e6
B, H = 0.031, 0.0173


def rectangle(fibres: int = 4000) -> Fibres:
    z = (np.arange(fibres) + 0.5) / fibres * H - H / 2
    points = np.stack([np.zeros(fibres), z], axis=-1)[None]
    law = FibreLaw(
        modulus=np.full((1, fibres), E),
        limit=np.full((1, fibres), CRUSH),
        crushing=np.full((1, fibres), CRUSH),
        crushing_strain=np.full((1, fibres), 0.02),
    )
    elastic = np.diag([E * B * H, 1e6, 1e6, 1e2, E * B * H**3 / 12, E * H * B**3 / 12])[None]
    area = np.full((1, fibres), B * H / fibres)
    return Fibres(law=law, area=area, basis=axial_basis(points), elastic=elastic)


def bend_to(fibres: Fibres, back_stress: float) -> tuple[float, float]:
    """Return moment and neutral-axis depth when the back reaches a stress, without axial force."""
    low, high = 1e-6, 10.0
    for _ in range(200):
        kappa = (low + high) / 2
        gamma = 0.0
        for _ in range(60):
            strains = np.array([[gamma, kappa, 0.0]])
            K = secant_stiffness(fibres, strains)[0]
            gamma = -K[0, 4] * kappa / K[0, 0]
        if E * (gamma + kappa * H / 2) > back_stress:
            high = kappa
        else:
            low = kappa
    moment = K[4, 0] * gamma + K[4, 4] * kappa
    return moment, H / 2 + gamma / kappa


@pytest.mark.parametrize("n", [1.0, 1.5, 2.0, 3.0])
def test_modulus_of_rupture_and_neutral_axis(n):
    moment, depth = bend_to(rectangle(), n * CRUSH)
    rupture = moment / (B * H**2 / 6)
    # 4000 fibres: the midpoint rule puts the yield front within half a fibre, 1e-4 of the depth.
    assert rupture == pytest.approx(CRUSH * (3 * n - 1) / (n + 1), rel=5e-4)
    assert depth == pytest.approx(H * 2 * n / (n + 1) ** 2, rel=5e-4)


def test_secant_stiffness_reproduces_the_stress_resultants():
    fibres = rectangle(500)
    strains = np.array([[-0.0011, 0.83, 0.0]])
    axial = fibres.basis @ strains[0]
    stress = fibre_stress(fibres.law, axial)
    force = (stress * fibres.area).sum()
    moment = (stress * fibres.area * fibres.basis[..., 1]).sum()
    elastic = fibres.elastic.copy()
    exact = np.einsum("sp,spi,spj->sij", fibres.area * E, fibres.basis, fibres.basis)
    elastic[:, [[0], [4], [5]], [0, 4, 5]] = exact
    K = secant_stiffness(
        Fibres(law=fibres.law, area=fibres.area, basis=fibres.basis, elastic=elastic), strains
    )[0]
    resultants = K[np.ix_([0, 4, 5], [0, 4, 5])] @ strains[0]
    assert resultants[:2] == pytest.approx([force, moment], rel=1e-10)


def test_softening_law_is_continuous_and_stays_below_the_elastic_line():
    law = FibreLaw(
        modulus=np.array(E),
        limit=np.array(0.75 * CRUSH),
        crushing=np.array(CRUSH),
        crushing_strain=np.array(0.01),
    )
    strain = np.linspace(-0.03, 0.01, 4001)
    stress = fibre_stress(law, strain)
    assert np.abs(np.diff(stress)).max() <= E * (strain[1] - strain[0]) * 1.000001
    assert np.all(stress[strain < 0] >= E * strain[strain < 0] - 1e-3)
    assert stress.min() == pytest.approx(-CRUSH)
    assert np.allclose(stress[strain > 0], E * strain[strain > 0])
