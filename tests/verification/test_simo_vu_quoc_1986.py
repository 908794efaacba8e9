"""Roll-up, 45-degree bend, follower force and Lee's frame.

J. C. Simo, L. Vu-Quoc, A three-dimensional finite-strain rod model. Part II: computational
aspects, Comput. Methods Appl. Mech. Engng 58 (1986), 79-116 (examples read second-hand); the bend
goes back to K.-J. Bathe, S. Bolourchi, Int. J. Numer. Meth. Engng 14 (1979), 961-986, the frame to
S.-L. Lee, F. S. Manuel, E. C. Rossow, J. Eng. Mech. Div. ASCE 94 (1968) (from memory).  Targets
are closed forms and independent rod shooting solutions, recomputed (rtol 1e-11); the published
figures stand beside them with their own scatter.
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Chain
from limbfe.section.meshing.mesh import mapped_mesh
from limbfe.section.stiffness import section_stiffness

from ..beam.statics import Loads, follow_load


def clamp_first(n: int) -> np.ndarray:
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    return fixed


def uniform(positions: np.ndarray, rotations: np.ndarray, stiffness: np.ndarray) -> Chain:
    m = len(positions) - 1
    return Chain(
        positions=positions,
        rotations=rotations,
        stiffness=np.broadcast_to(stiffness, (m, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (m, 2, 6, 6)),
    )


def straight(length: float, elements: int, stiffness: np.ndarray) -> Chain:
    x = np.linspace(0.0, length, elements + 1)
    eye = np.broadcast_to(np.eye(3), (elements + 1, 3, 3))
    return uniform(np.column_stack([x, 0 * x, 0 * x]), eye, stiffness)


@pytest.mark.parametrize("elements", [5, 8])
def test_roll_up_is_exact_at_every_node_with_few_elements(elements: int):
    # mu = M L/EI up to 4 pi (twice round): x/L = sin(mu)/mu, y/L = (1 - cos mu)/mu
    L, EI = 1.7, 2.0
    chain = straight(L, elements, np.diag([40.0, 30.0, 20.0, 1.0, 3.0, EI]))
    dead = np.zeros((elements + 1, 6))
    dead[-1, 5] = EI / L
    turns = np.pi * np.array([0.25, 0.4, 1.0, 1.6, 2.0, 4.0 if elements > 5 else 3.0])
    states = follow_load(
        chain, clamp_first(elements + 1), Loads(dead=dead, follower=0 * dead), turns
    )
    for mu, state in zip(turns, states, strict=True):
        s = mu * np.arange(elements + 1) / elements
        exact = np.column_stack([np.sin(s), 1.0 - np.cos(s), 0 * s]) * L / mu
        assert np.abs(state.positions - exact).max() < 1e-9 * L
        assert state.resultants[..., 5] == pytest.approx(mu * EI / L, rel=1e-9)


BENDS = {
    ("V1", 300.0): (58.77889733, 22.24467943, 40.19239233),
    ("V1", 600.0): (47.15009624, 15.68468948, 53.47547800),
    ("V1", 3000.0): (23.02358946, 4.23285079, 68.54039900),
    ("V3", 300.0): (58.53570924, 22.11251380, 40.48075738),
    ("V3", 450.0): (51.96942458, 18.36916304, 48.70534894),
    ("V3", 600.0): (46.89158639, 15.55767624, 53.60798632),
}


def bend(variant: str, elements: int) -> Chain:
    """Arc of radius 100, 45 degrees, unit square section, E = 1e7, nu = 0."""
    angle = np.linspace(0.0, np.pi / 4, elements + 1)
    c, s, o = np.cos(angle), np.sin(angle), 0 * angle
    rotations = np.stack(
        [np.column_stack([c, s, o]), np.column_stack([-s, c, o]), np.column_stack([o, o, o + 1])], 2
    )
    J = 1.0 / 6.0 if variant == "V1" else 0.1405770150
    GA = 5e6 * 5.0 / 6.0
    stiffness = np.diag([1e7, GA, GA, 5e6 * J, 1e7 / 12.0, 1e7 / 12.0])
    return uniform(100.0 * np.column_stack([s, 1.0 - c, o]), rotations, stiffness)


@pytest.mark.parametrize("key", BENDS)
def test_45_degree_bend(key: tuple[str, float]):
    variant, force = key
    # the error falls as h^2: 1e-4 with 32 elements, 4e-4 in y at the highest load
    chain = bend(variant, 256)
    dead = np.zeros((257, 6))
    dead[-1, 2] = 1.0
    state = follow_load(chain, clamp_first(257), Loads(dead=dead, follower=0 * dead), [force])[0]
    assert state.positions[-1] == pytest.approx(BENDS[key], rel=1e-5)
    if key == ("V1", 600.0):
        # Simo and Vu-Quoc print 47.23, 15.79, 53.37 for 8 straight elements
        assert state.positions[-1] == pytest.approx((47.23, 15.79, 53.37), rel=0.01)


@pytest.fixture(scope="module")
def unit_square() -> np.ndarray:
    """6x6 of the bend's section by our own finite elements; no Poisson's ratio."""
    even = np.linspace(-0.5, 0.5, 17)
    mesh = mapped_mesh(lambda y, z: (y, z), even, even)
    C = np.diag([1e7, 1e7, 1e7, 5e6, 5e6, 5e6])
    return section_stiffness(mesh, C, np.ones(1)).K[0]


@pytest.mark.parametrize("force", [300.0, 450.0, 600.0])
def test_45_degree_bend_with_our_own_section(unit_square: np.ndarray, force: float):
    """The unit square by the section's finite elements: torsion constant and shear included.

    Saint-Venant's torsion constant (V3), not the polar moment of Simo and Vu-Quoc's example:
    published figures by authors who use it (A. Cardona, M. Geradin, 1988, from memory: 58.64,
    22.14, 40.35 at 300) are near.
    """
    K = unit_square
    assert K[3, 3] / 5e6 == pytest.approx(0.1405770150, rel=2e-5)
    assert K[1, 1] / 5e6 == pytest.approx(5.0 / 6.0, rel=1e-5)
    own = bend("V3", 256)
    chain = uniform(np.array(own.positions), np.array(own.rotations), K)
    dead = np.zeros((257, 6))
    dead[-1, 2] = 1.0
    state = follow_load(chain, clamp_first(257), Loads(dead=dead, follower=0 * dead), [force])[0]
    assert state.positions[-1] == pytest.approx(BENDS["V3", force], rel=2e-5)
    if force == 300.0:
        assert state.positions[-1] == pytest.approx((58.64, 22.14, 40.35), rel=4e-3)


def test_eight_elements_bend_within_two_thousandths():
    chain = bend("V3", 8)
    dead = np.zeros((9, 6))
    dead[-1, 2] = 600.0
    state = follow_load(chain, clamp_first(9), Loads(dead=dead, follower=0 * dead), [1.0])[0]
    assert state.positions[-1] == pytest.approx(BENDS["V3", 600.0], rel=2e-3)


def test_follower_force():
    # P L^2/EI: u/L, w/L (inextensible)
    table = {
        1.0: (0.06435433, 0.32064199),
        5.0: (0.82772212, 0.78069014),
        10.0: (1.09212318, 0.54698326),
        20.0: (0.72428988, 0.33015766),
        37.142857142857146: (0.75861141, -0.47858983),
    }
    chain = straight(1.0, 100, np.diag([1e7, 1e7, 1e7, 1.0, 1.0, 2.0]))
    follower = np.zeros((101, 6))
    follower[-1, 2] = 1.0
    states = follow_load(
        chain, clamp_first(101), Loads(dead=0 * follower, follower=follower), list(table)
    )
    for state, (u, w) in zip(states, table.values(), strict=True):
        assert 1.0 - state.positions[-1, 0] == pytest.approx(u, abs=1e-5)
        assert state.positions[-1, 2] == pytest.approx(w, abs=1e-5)


def test_limit_load_of_lees_frame():
    # Published 18532 (nu = 0.3, ten quadratic elements).
    E, A, inertia = 7.2e6, 6.0, 2.0
    leg = np.linspace(0.0, 120.0, 41)
    beam = np.concatenate([np.linspace(0.0, 24.0, 9)[1:], np.linspace(24.0, 120.0, 33)[1:]])
    n, corner = len(leg) + len(beam), len(leg) - 1
    positions = np.zeros((n, 3))
    positions[: corner + 1, 1], positions[corner + 1 :, 1] = leg, 120.0
    positions[corner + 1 :, 0] = beam
    GA = E / 2.6 * A * 5.0 / 6.0
    # one frame for the whole chain, so that the corner is rigid and sharp: in the leg the axis
    # of the member is the frame's y
    along_x = np.diag([E * A, GA, GA, 1e7, E * inertia, E * inertia])
    along_y = np.diag([GA, E * A, GA, E * inertia, 1e7, E * inertia])
    stiffness = np.array([along_y] * corner + [along_x] * (n - 1 - corner))
    chain = Chain(
        positions=positions,
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=np.repeat(stiffness[:, None], 2, axis=1),
        mass=np.broadcast_to(np.eye(6), (n - 1, 2, 6, 6)),
    )
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[:, 2:5] = True
    fixed[[0, -1], :3] = True
    dead = np.zeros((n, 6))
    loaded = corner + 8
    dead[loaded, 1] = -1.0
    v = np.array([10.0, 20.0, 30.0, 40.0, 48.75424, 50.0])
    states = follow_load(
        chain, fixed, Loads(dead=dead, follower=0 * dead), -v, controlled=(loaded, 1)
    )
    loads = [state.factor for state in states]
    target = [9626.34156, 13446.78462, 15939.66544, 17793.59679, 18544.52709, 18522.16670]
    assert loads == pytest.approx(target, rel=1e-4)
    assert max(loads) == pytest.approx(18532.0, rel=2e-3)
