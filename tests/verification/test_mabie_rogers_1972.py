"""Natural frequencies of uniform and tapered cantilevers.

H. H. Mabie, C. B. Rogers, Transverse vibrations of double-tapered cantilever beams, J. Acoust.
Soc. Am. 51 (1972), 1771-1774 (values read second-hand in a public validation manual: 23.289, 73.9,
165.23 and 24.308, 75.56, 167.21); uniform beam and wedge: textbook values (from memory).  Targets
are Bessel-function and converged Ritz solutions, recomputed.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from limbfe.beam import Chain, gauss_positions

from ..beam.statics import Loads, follow_load, natural_frequencies


def frequencies(
    width: Callable, depth: Callable, elements: int, *, clamped: bool = True
) -> np.ndarray:
    """omega L^2 sqrt(rho A0/EI0) of a slender tapered beam, bending about y only."""
    x = np.linspace(0.0, 1.0, elements + 1)
    b, h = width(gauss_positions(x)), depth(gauss_positions(x))
    n = elements + 1
    stiffness, mass = np.zeros((elements, 2, 6, 6)), np.zeros((elements, 2, 6, 6))
    for i, value in enumerate(
        [1e7 * b * h, 1e7 * b * h, 1e7 * b * h, b * h**3, b * h**3, b**3 * h]
    ):
        stiffness[..., i, i] = value
    for i, value in enumerate([b * h] * 3 + [1e-9 * b * h] * 3):
        mass[..., i, i] = value
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=stiffness,
        mass=mass,
    )
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[:, [0, 1, 3, 5]] = True
    if clamped:
        fixed[0] = True
    none = Loads(dead=np.zeros((n, 6)), follower=np.zeros((n, 6)))
    state = follow_load(chain, fixed, none, [0.0])[0]
    return natural_frequencies(chain, state, fixed, 7 if not clamped else 5)


def one(x: np.ndarray) -> np.ndarray:
    return np.ones_like(x)


CASES = {
    "uniform": (one, one, [3.5160152685, 22.0344915647, 61.6972144135, 120.901916052]),
    "wedge": (one, lambda x: 1.0 - x, [5.3150994237, 15.207167955, 30.0198091463]),
    "cone": (lambda x: 1.0 - x, lambda x: 1.0 - x, [8.719258855, 21.145662387, 38.453771228]),
    "width to 1/4": (lambda x: 1.0 - 0.75 * x, one, [5.145714303, 25.119543848, 65.056944712]),
    "depth to 1/2": (one, lambda x: 1.0 - 0.5 * x, [3.823784847, 18.317260911, 47.264827011]),
}


@pytest.mark.parametrize("name", CASES)
def test_frequencies(name: str):
    width, depth, exact = CASES[name]
    found = frequencies(width, depth, 120)[: len(exact)]
    assert found == pytest.approx(exact, rel=1e-3 if name in ("wedge", "cone") else 3e-4)
    assert found[0] == pytest.approx(exact[0], rel=1e-4)


@pytest.mark.parametrize(
    ("ratio", "exact", "printed"),
    [(4.0, (23.292263488, 73.91881905, 165.285370271), (23.289, 73.9, 165.23)),
     (5.0, (24.311231151, 75.577907024, 167.251966113), (24.308, 75.56, 167.21))],
)  # fmt: skip
def test_double_taper_in_terms_of_the_tip_depth(ratio: float, exact: tuple, printed: tuple):
    root = frequencies(lambda x: 1.0 - (1.0 - 1.0 / ratio) * x, lambda x: 1.0 - 0.75 * x, 120)
    # lambda counts with the tip's depth, a quarter of the root's
    assert 4.0 * root[:3] == pytest.approx(exact, rel=2e-4)
    assert 4.0 * root[:3] == pytest.approx(printed, rel=5e-4)


def test_free_beam_has_two_rigid_motions_and_converges_with_the_square_of_the_length():
    exact = np.array([4.730040745, 7.853204624, 10.995607838]) ** 2
    errors = []
    for elements in (20, 40):
        found = frequencies(one, one, elements, clamped=False)
        assert found[:2] == pytest.approx([0.0, 0.0], abs=1e-2)
        errors.append(np.abs(found[2:5] / exact - 1.0))
    order = np.log2(errors[0] / errors[1])
    assert np.all(order > 1.9)
