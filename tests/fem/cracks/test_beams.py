"""Energy release of split beams against corrected beam theory.

Sources: S. Hashemi, A. J. Kinloch, J. G. Williams, Proc. R. Soc. Lond. A 427 (1990), 173-199, and
J. G. Williams, J. Strain Analysis 24 (1989), 207-214, for the length ``chi h`` that a crack is to
be taken longer by, since the wood at its root turns (from memory).
"""

import numpy as np
import pytest

from limbfe.fem.cracks.slit import Slit
from limbfe.frames import Array
from tests.fem.cracks.bodies import E_L, E_T, G_LT, Body, lattice, split_body

H = 10e-3
GAMMA = 1.18 * np.sqrt(E_L * E_T) / G_LT
CHI = np.sqrt(E_L / (11 * G_LT) * (3 - 2 * (GAMMA / (1 + GAMMA)) ** 2))


def _levels() -> Array:
    y = np.cumsum(np.geomspace(0.6e-3, 3e-3, 5))
    y *= H / y[-1]
    return np.concatenate([-y[::-1], [0.0], y])


def _double_cantilever() -> Body:
    x = np.concatenate([np.linspace(0, 0.05, 26), np.linspace(0.05, 0.07, 41)[1:],
                        np.linspace(0.07, 0.15, 21)[1:]])  # fmt: skip
    y = _levels()
    mesh, n = lattice(x, y)
    middle = len(y) // 2

    def load(nodes: Array, slit: Slit) -> Array:
        out = np.zeros(2 * len(nodes))
        first = int(np.argmin(slit.along))
        out[2 * slit.left[first] + 1], out[2 * slit.right[first] + 1] = 1.0, -1.0
        return out

    def held(nodes: Array) -> np.ndarray:
        return np.array([2 * n[-1, middle], 2 * n[-1, middle] + 1, 2 * n[-1, 0]])

    return split_body(mesh, n[:67, middle], held, load)


def _end_notched_flexure(half_span: float) -> Body:
    x = np.concatenate([np.linspace(0, 0.05, 26), np.linspace(0.05, 0.07, 41)[1:],
                        np.linspace(0.07, 2 * half_span, 53)[1:]])  # fmt: skip
    y = _levels()
    mesh, n = lattice(x, y)
    middle = len(y) // 2
    under = int(np.argmin(np.abs(x - half_span)))

    def load(nodes: Array, slit: Slit) -> Array:
        out = np.zeros(2 * len(nodes))
        out[2 * n[under, -1] + 1] = -1.0
        return out

    def held(nodes: Array) -> np.ndarray:
        return np.array([2 * n[0, 0] + 1, 2 * n[-1, 0] + 1, 2 * n[-1, 0]])

    return split_body(mesh, n[:67, middle], held, load)


def test_double_cantilever_opens_as_beams_on_turning_roots() -> None:
    growth = _double_cantilever().growth(5e3)
    k = int(np.argmin(np.abs(growth.middle - 0.060)))
    a = growth.middle[k]
    closed = 12 * 5e3**2 * (a + CHI * H) ** 2 / (H**3 * E_L)
    assert growth.G_I[k] == pytest.approx(closed, rel=0.02)
    assert abs(growth.G_II[k]) < 1e-3 * growth.G_I[k]


def test_end_notched_flexure_slides() -> None:
    growth = _end_notched_flexure(0.1).growth(100e3)
    k = int(np.argmin(np.abs(growth.middle - 0.060)))
    a = growth.middle[k]
    closed = 9 * 100e3**2 * (a + 0.42 * CHI * H) ** 2 / (16 * H**3 * E_L)
    assert growth.G_II[k] == pytest.approx(closed, rel=0.05)
    assert abs(growth.G_I[k]) < 1e-3 * growth.G_II[k]


@pytest.mark.parametrize("contact", [True, False])
def test_modes_add_up_to_the_energy_set_free(contact: bool) -> None:
    growth = _end_notched_flexure(0.1).growth(100e3, contact=contact)
    by_energy = np.diff(growth.energy) / np.diff(growth.length)
    total = growth.G_I + growth.G_II
    assert total == pytest.approx(by_energy, rel=1e-6, abs=1e-9)


def test_faces_press_but_never_overlap_or_pull() -> None:
    body = _end_notched_flexure(0.1)
    growth = body.growth(100e3)
    normal = body.closure.normal
    pairs = len(body.slit.right)
    freed = growth.opened[-1, :pairs]
    assert freed.min() > -1e-6 * np.abs(growth.opened).max()
    pressing = growth.force[-1, :pairs] < 0.0
    assert pressing.any()
    assert not (growth.force[-1][normal] > 1e-6).any()
    assert np.abs(freed[pressing]).max() < 1e-6 * np.abs(growth.opened).max()
