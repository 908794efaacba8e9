"""Orthotropic constants: matrices, direction dependence, refusals."""

import numpy as np
import pytest

from limbfe.errors import MaterialError
from limbfe.frames import rotate_stiffness
from limbfe.wood import (
    Elasticity,
    compliance,
    isotropic,
    modulus_along,
    scale_elasticity,
    stiffness,
)
from limbfe.wood.elasticity import swap_RT

ELM = {
    "E_L": 11.7e9,
    "E_R": 1.75e9,
    "E_T": 0.85e9,
    "G_LR": 1.11e9,
    "G_LT": 0.84e9,
    "G_RT": 0.23e9,
    "nu_LR": 0.38,
    "nu_LT": 0.45,
    "nu_RT": 0.65,
}


def test_stiffness_is_the_inverse_of_a_symmetric_compliance():
    e = Elasticity(**ELM)
    C, S = stiffness(e), compliance(e)
    np.testing.assert_allclose(C @ S, np.eye(6), atol=1e-14)
    np.testing.assert_array_equal(C, C.T)
    np.testing.assert_array_equal(S, S.T)
    assert np.all(np.linalg.eigvalsh(C) > 0.0)


def test_each_constant_sits_where_its_definition_says():
    e = Elasticity(**ELM)
    S = compliance(e)
    load_along = {"L": 0, "R": 1, "T": 2}
    for i, j in ("LR", "LT", "RT"):
        strain = S[:, load_along[i]]
        assert -strain[load_along[j]] / strain[load_along[i]] == pytest.approx(ELM[f"nu_{i}{j}"])
    shear = {"G_RT": 3, "G_LT": 4, "G_LR": 5}
    for name, row in shear.items():
        assert 1.0 / S[row, row] == pytest.approx(ELM[name])


def test_exchanged_axes_are_a_quarter_turn_about_the_grain():
    quarter = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    e = Elasticity(**ELM)
    turned = rotate_stiffness(stiffness(e), quarter)
    np.testing.assert_allclose(stiffness(swap_RT(e)), turned, rtol=1e-12, atol=1e-3)


def test_modulus_along_agrees_with_a_turned_stiffness():
    """A bar cut at any angle: the compliance of the rotated stiffness gives the same modulus."""
    e = Elasticity(**ELM)
    rng = np.random.default_rng(3)
    axes = np.linalg.qr(rng.normal(size=(5, 3, 3)))[0]
    turned = np.linalg.inv(rotate_stiffness(stiffness(e), axes))
    load_in_wood_axes = axes[:, 0, :]
    np.testing.assert_allclose(modulus_along(e, load_in_wood_axes), 1.0 / turned[:, 0, 0])


def test_modulus_at_45_degrees_between_L_and_R():
    """Closed form: 4/E = 1/E_L + 1/E_R - 2 nu_LR/E_L + 1/G_LR."""
    e = Elasticity(**ELM)
    expected = 4.0 / (1 / e.E_L + 1 / e.E_R - 2 * e.nu_LR / e.E_L + 1 / e.G_LR)
    assert modulus_along(e, [2.0, 2.0, 0.0]) == pytest.approx(expected)


def test_isotropic_material_is_the_same_in_every_direction():
    e = isotropic(2.5e9, 0.35)
    directions = np.random.default_rng(0).normal(size=(7, 3))
    np.testing.assert_allclose(modulus_along(e, directions), 2.5e9)


def test_scaling_moduli_keeps_poisson_ratios():
    e = scale_elasticity(Elasticity(**ELM), E=0.75, G=0.6)
    assert (e.E_T, e.G_LT, e.nu_RT) == pytest.approx((0.75 * 0.85e9, 0.6 * 0.84e9, 0.65))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"E_R": -1.0}, "E_R = -1 Pa"),
        ({"G_LT": 0.0}, "G_LT = 0 Pa"),
        ({"nu_RT": np.nan}, "finite"),
        ({"nu_RT": 1.5}, r"\|nu_RT\| must stay below 1.435"),
        ({"nu_LR": 2.0, "nu_LT": 2.0, "nu_RT": 0.9}, "together"),
    ],
)
def test_impossible_constants_are_refused(change, words):
    with pytest.raises(MaterialError, match=words):
        Elasticity(**ELM | change)


def test_refusal_is_exactly_the_limit_of_positive_definiteness():
    limit = np.sqrt(ELM["E_R"] / ELM["E_T"])
    # Without the other two ratios the R-T pair alone decides.
    alone = ELM | {"nu_LR": 0.0, "nu_LT": 0.0}
    assert np.all(
        np.linalg.eigvalsh(compliance(Elasticity(**alone | {"nu_RT": 0.999 * limit}))) > 0
    )
    with pytest.raises(MaterialError):
        Elasticity(**alone | {"nu_RT": 1.001 * limit})
