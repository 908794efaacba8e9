"""What the compiled motion is given and works on, and where its unknowns stand.

The moving bow is one row of bodies: the lower limb from the grip to its tip, the points of the
string from the lower nock to the upper, the upper limb from its tip back to the grip.  Only
neighbours act on each other, so the equations of a step have a narrow band; a grip that is free
to move joins both ends of the row and borders the band.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import Limbs
from limbfe.frames import Array

BAND = 11
"""Neighbours of six unknowns each: so many places beside the diagonal, either way; more where the
string's ends act on more of the limbs' nodes than the tips."""
FREE_ENDS, LIES = range(2)
"""Where the string meets the limbs: at its nocks alone, or all along its first and last segment."""
HELD, FREE = range(2)
"""How the grip is kept: moved as prescribed, or a body with a mass of its own."""


class ShotModel(NamedTuple):
    """A bow as arrays, for the motion.

    Attributes
    ----------
    stiffness, offset, length : ndarray, shapes (m, 6, 6), (m, 6), (m,)
        Elements as in `limbfe.beam.limbs.element`; they unload and load elastically.
    shares, delays : ndarray, shape (d,), -, s
        Damping of the limbs: beside an element act springs of so many times its stiffness, each in
        a row with a damper, whose force dies away over its delay.
    mass : ndarray, shape (n, 6, 6), kg, kg m, kg m2
        Of every node as a rigid body, in its section axes; what the grip moves is in `grip_mass`.
    lower, upper : int
        The clamped nodes next to the limbs; what lies between them is rigid.
    grip : int
        `HELD` or `FREE`.
    grip_mass : ndarray, shape (6, 6)
        Of the grip with the hand, in the axes of node `lower`.
    carry : ndarray, shape (k, 6, 6)
        Takes a body increment of node `lower` to those of `lower` to `upper`.
    hand_arm, hand_from, hand_push : ndarray, shape (3,)
        Where the hand presses, in the axes of node `lower`; where that was at the start, m; the
        hand's push there, N.
    hand_stiffness : float, N/m
    arms : ndarray, shape (2, 3), m
        Of the lower and the upper nock, in the axes of the tips' sections.
    nock_mass : ndarray, shape (2,), kg
        Point masses at the nocks.
    rest : ndarray, shape (s,), m
        Unstretched lengths of the string's segments, lower nock to upper nock; empty for none.
    yarn : ndarray, shape (s,), kg
        Their masses.
    string_stiffness : float, N
        EA.
    string_lag : float, s
        Damping of the string: its pull has ``lag * stiffness * strain rate`` in it; it never
        pushes.
    lies : int
        `FREE_ENDS` or `LIES`.
    limbs : Limbs
        What the string lies on; `kept` nodes of each limb, from the tips, may be met.
    nocking : int
        Which of the s - 1 points of the string is the nocking point.
    drag : ndarray, shape (s - 1,), N s2/m2
        Air drag of every point of the string over the square of its speed.
    gravity : ndarray, shape (3,), m/s2
    place, point : ndarray of int, shapes (n,), (s - 1,)
        Where the unknowns of every node and every point of the string begin; -1 for held nodes.
    size, band : int
        Number of unknowns in the band, and its places beside the diagonal, either way.
    force : float, N
        Force by which residuals are measured.
    """

    stiffness: Array
    offset: Array
    length: Array
    shares: Array
    delays: Array
    mass: Array
    lower: int
    upper: int
    grip: int
    grip_mass: Array
    carry: Array
    hand_arm: Array
    hand_from: Array
    hand_push: Array
    hand_stiffness: float
    arms: Array
    nock_mass: Array
    rest: Array
    yarn: Array
    string_stiffness: float
    string_lag: float
    lies: int
    limbs: Limbs
    nocking: int
    drag: Array
    gravity: Array
    place: NDArray[np.int64]
    point: NDArray[np.int64]
    size: int
    band: int
    force: float


class Motion(NamedTuple):
    """Where everything is and how it moves.

    Attributes
    ----------
    rotations, positions : ndarray, shapes (n, 3, 3), (n, 3)
    speed : ndarray, shape (n, 6), m/s, rad/s, section axes
    points, point_speed : ndarray, shape (s - 1, 3), m, m/s
        Of the string between the nocks.
    nocks, nock_speed : ndarray, shape (2, 3), m, m/s
    twist : ndarray, shape (m, 6)
        Of the elements.
    delayed : ndarray, shape (m, d, 6)
        The twists to which their dampers have come.
    leaves : ndarray, shape (2, 3), m
        Where the string leaves the lower and the upper limb, of a model whose string `LIES`.
    along : ndarray, shape (2, 2)
        Length (m) of its first and last segment from the nock, over the limb, and where it leaves
        that, in elements from the tip.
    """

    rotations: Array
    positions: Array
    speed: Array
    points: Array
    point_speed: Array
    nocks: Array
    nock_speed: Array
    twist: Array
    delayed: Array
    leaves: Array
    along: Array

    def copy(self) -> Motion:
        """Return a motion of its own in the same state."""
        return Motion(*(array.copy() for array in self))


class Load(NamedTuple):
    """What acts from outside during a step: forces and moments on the nodes (n, 6), N and N m,
    global axes, at the middle of the step; body increment (6,) of a held grip."""

    wrench: Array
    grip_step: Array


class Scratch(NamedTuple):
    """Arrays of a step: body increments, the nodes half-way, how increments turn into those of the
    end (`turn`) and of the middle (`half`), the band, its factors, right-hand sides and border, and
    what every segment of the string pulls with; what the elements' dampers came to (`late`)."""

    delta: Array
    rotations: Array
    positions: Array
    turn: Array
    half: Array
    band: Array
    factors: Array
    rhs: Array
    border: Array
    corner: Array
    corner_rhs: Array
    pull: Array
    hand: Array
    element_force: Array
    element_tangent: Array
    late: Array
    node_force: Array
    node_tangent: Array
    segment_force: Array
    segment_tangent: Array
    went: Array
    points_went: Array


def new_motion(nodes: int, segments: int, dampers: int = 0) -> Motion:
    """Return an empty motion of nodes, a string of segments and dampers beside every element."""
    points = max(segments - 1, 0)
    return Motion(
        rotations=np.zeros((nodes, 3, 3)),
        positions=np.zeros((nodes, 3)),
        speed=np.zeros((nodes, 6)),
        points=np.zeros((points, 3)),
        point_speed=np.zeros((points, 3)),
        nocks=np.zeros((2, 3)),
        nock_speed=np.zeros((2, 3)),
        twist=np.zeros((nodes - 1, 6)),
        delayed=np.zeros((nodes - 1, dampers, 6)),
        leaves=np.zeros((2, 3)),
        along=np.zeros((2, 2)),
    )


def new_scratch(model: ShotModel) -> Scratch:
    """Return scratch arrays for a model."""
    n = len(model.mass)
    return Scratch(
        delta=np.zeros((n, 6)),
        rotations=np.zeros((n, 3, 3)),
        positions=np.zeros((n, 3)),
        turn=np.zeros((n, 6, 6)),
        half=np.zeros((n, 6, 6)),
        band=np.zeros((model.size, 2 * model.band + 1)),
        factors=np.zeros((model.size, 2 * model.band + 1)),
        rhs=np.zeros((model.size, 7)),
        border=np.zeros((6, model.size)),
        corner=np.zeros((6, 6)),
        corner_rhs=np.zeros((6, 1)),
        pull=np.zeros(len(model.rest)),
        hand=np.zeros(3),
        element_force=np.zeros((n - 1, 2, 6)),
        element_tangent=np.zeros((n - 1, 2, 2, 6, 6)),
        late=np.zeros((n - 1, 6)),
        node_force=np.zeros((n, 6)),
        node_tangent=np.zeros((n, 6, 6)),
        segment_force=np.zeros((len(model.rest), 2, 3)),
        segment_tangent=np.zeros((len(model.rest), 2, 3, 3)),
        went=np.zeros((2, n, 6)),
        points_went=np.zeros((2, max(len(model.rest) - 1, 0), 3)),
    )


def places(
    nodes: int, lower: int, upper: int, segments: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
    """Return where the unknowns of nodes and string points begin, and how many there are."""
    place = np.full(nodes, -1, dtype=np.int64)
    point = np.full(max(segments - 1, 0), -1, dtype=np.int64)
    at = 0
    for node in range(lower - 1, -1, -1):
        place[node], at = at, at + 6
    for k in range(len(point)):
        point[k], at = at, at + 3
    for node in range(nodes - 1, upper, -1):
        place[node], at = at, at + 6
    return place, point, at
