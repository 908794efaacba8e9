import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbfe.frames import (
    SECTION_IN_GLOBAL,
    VOIGT_PAIRS,
    read_only,
    rotate_stiffness,
    skew,
    stress_rotation,
)

TURN = Rotation.from_rotvec([0.3, -0.7, 1.1]).as_matrix()


def tensor(voigt: np.ndarray) -> np.ndarray:
    out = np.empty((3, 3))
    for value, (i, j) in zip(voigt, VOIGT_PAIRS, strict=True):
        out[i, j] = out[j, i] = value
    return out


def test_section_axes_are_right_handed_and_look_the_right_way():
    x, y, z = SECTION_IN_GLOBAL.T
    assert np.allclose(np.cross(x, y), z)
    # x up the bow, y to the archer's right, the back towards the target.
    assert np.allclose([x, y, z], [[0, 0, 1], [0, 1, 0], [-1, 0, 0]])


def test_stress_rotation_is_the_tensor_rotation():
    local = np.array([1.0, -2.0, 3.0, 0.4, -0.5, 0.6])
    outer = stress_rotation(TURN) @ local
    assert np.allclose(tensor(outer), TURN @ tensor(local) @ TURN.T)


def test_rotated_stiffness_stores_the_same_energy():
    rng = np.random.default_rng(4)
    root = rng.standard_normal((6, 6))
    stiffness = root @ root.T
    strain = rng.standard_normal(6)
    local = stress_rotation(TURN).T @ strain
    turned = rotate_stiffness(stiffness, TURN)
    assert strain @ turned @ strain == pytest.approx(local @ stiffness @ local, rel=1e-12)


def test_isotropic_stiffness_does_not_see_a_rotation():
    lam, mu = 1.7, 0.9
    stiffness = np.diag([2 * mu] * 3 + [mu] * 3)
    stiffness[:3, :3] += lam
    assert np.allclose(rotate_stiffness(stiffness, TURN), stiffness)


def test_skew_is_the_cross_product():
    a, b = np.array([[1.0, 2.0, 3.0], [-1.0, 0.5, 4.0]]), np.array([0.3, -0.8, 2.0])
    assert np.allclose(skew(a) @ b, np.cross(a, b))


def test_read_only_arrays_refuse_writing_and_wrong_shapes():
    array = read_only([1, 2, 3])
    with pytest.raises(ValueError, match="read-only"):
        array[0] = 5.0
    with pytest.raises(ValueError, match="expected shape"):
        read_only([1, 2, 3], (2,))
