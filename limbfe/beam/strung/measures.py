"""What a bowyer reads off a strung bow: tiller, balance at the hand, twist, tracking."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState, own_frame, path_of
from limbfe.beam.limbs.chain import GAUSS, energy_given
from limbfe.beam.limbs.motion import move
from limbfe.beam.string.course import middle_line, string_line
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TradeMeasures:
    """Measures of one state; those named for both limbs are (lower, upper).

    Attributes
    ----------
    tiller : float
        Distance of the upper limb from the string less that of the lower, m, each measured at
        right angles to the string at equal distance along the limb from the grip's middle
        (common practice: positive when the upper limb stands further off); of a string that lies on
        a limb, from the line of its free part.
    balance : float
        Height at which the line of pull crosses the grip, above where the bow is held, m; nan
        without a pull.
    share : ndarray, shape (2,)
        Share of the pull along the bow's own X that each limb carries; nan without a pull.
    tip_twist : ndarray, shape (2,), rad
        Turn of the tip's section about its own axis against the unstrung bow.
    tip_shift : ndarray, shape (2,), m
        Sideways movement of the tip against the unstrung bow, to the archer's right.
    track : float
        Where the string, seen from behind, crosses the grip: to the right of its middle, m.
    """

    tiller: float
    balance: float
    share: Array
    tip_twist: Array
    tip_shift: Array
    track: float


def measure(bow: Bow, state: BowState, *, distance: float) -> TradeMeasures:
    """Return the trade's measures of a state.

    Parameters
    ----------
    bow : Bow
    state : BowState
    distance : float
        Where the limbs' distance from the string is taken, m along each limb from the grip's
        middle.
    """
    positions = own_frame(bow, state, state.positions)
    string = own_frame(bow, state, state.free_string)
    rotations = state.frame.T @ state.rotations
    x = arc_from_grip(bow)
    off = limb_distances(x, positions, string, distance)
    unit = np.diff(string, axis=0)
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    pulls = state.string_tension * np.array([unit[0, 0], -unit[1, 0]])
    tips = [0, -1]
    turn = np.einsum("tji,tjk->tik", bow.chain.rotations[tips], rotations[tips])
    return TradeMeasures(
        tiller=float(off[1] - off[0]),
        balance=_balance(bow, state),
        share=pulls / pulls.sum() if state.draw_force > 0.0 else np.full(2, np.nan),
        tip_twist=np.arctan2(turn[:, 2, 1] - turn[:, 1, 2], turn[:, 1, 1] + turn[:, 2, 2]),
        tip_shift=(positions - bow.chain.positions)[tips, 1],
        track=_track(bow, string),
    )


def tip_stiffness(bow: Bow) -> Array:
    """Return how hard each limb is at its nock, small movements from rest, shape (2,), N/m.

    Force at the lower and the upper nock, along the bow's own X, for a unit of movement that way
    while the grip is held: free of how the bow is strung and held, so it compares limb with limb.

    Notes
    -----
    Unit-load theorem: the movement is the integral of the resultants of the unit load times the
    strains they cause, by each element's two Gauss points.
    """
    chain, model = bow.chain, bow.model
    frames, places = _gauss_frames(bow)
    stiffness = np.empty(2)
    for end, limb in ((0, slice(0, model.lower)), (-1, slice(model.upper, None))):
        tip = chain.positions[end] + chain.rotations[end] @ model.nocks[end]
        force = np.array([1.0, 0.0, 0.0])
        turned = np.swapaxes(frames[limb], -1, -2)
        moment = np.cross(tip - places[limb], force)
        loads = np.concatenate([turned @ force, np.einsum("mgij,mgj->mgi", turned, moment)], axis=2)
        work = np.einsum("mgi,mgij,mgj->m", loads, chain.compliance[limb], loads)
        everywhere = np.zeros((len(chain.length), *loads.shape[1:]))
        everywhere[limb] = loads
        work += 4.0 * energy_given(chain, everywhere)[limb]
        stiffness[end] = 2.0 / (chain.length[limb] @ work)
    return stiffness


def _gauss_frames(bow: Bow) -> tuple[Array, Array]:
    """Return section frames (m, 2, 3, 3) and places (m, 2, 3) of the Gauss points at rest."""
    chain = bow.chain
    m = len(chain.length)
    frames = np.repeat(chain.rotations[:-1, None], 2, axis=1)
    places = np.repeat(chain.positions[:-1, None], 2, axis=1)
    for g, share in enumerate(0.5 + GAUSS):
        for e in range(m):
            move(frames[e, g], places[e, g], share * chain.twist[e])
    return frames, places


def arc_from_grip(bow: Bow) -> Array:
    """Return arc positions of the nodes, zero at the height of the grip's middle."""
    arc = bow.chain.arc_positions
    middle = np.interp(bow.grip_belly[2], bow.chain.positions[:, 2], arc)
    out: Array = arc - middle
    return out


def limb_distances(x: Array, positions: Array, string: Array, distance: float) -> Array:
    """Return how far the lower and the upper limb stand off the string, shape (2,), m.

    Parameters
    ----------
    x : ndarray, shape (n,), m
        Arc positions of the nodes from the middle of the grip, `arc_from_grip`.
    positions : ndarray, shape (n, 3), m
    string : ndarray, shape (3, 3), m
        Where it leaves the lower limb, nocking point, where it leaves the upper limb.
    distance : float, m
        Along each limb.
    """
    return np.array([_distance(x, positions, string, sign * distance) for sign in (-1.0, 1.0)])


def _distance(x: Array, positions: Array, string: Array, at: float) -> float:
    point = np.array([np.interp(at, x, positions[:, i]) for i in range(3)])
    a, b = (string[0], string[1]) if at < 0.0 else (string[1], string[2])
    along = (b - a) / np.linalg.norm(b - a)
    away = point - a
    return float(np.linalg.norm(away - (away @ along) * along))


def _balance(bow: Bow, state: BowState) -> float:
    if not state.draw_force > 0.0:
        return float("nan")
    point = own_frame(bow, state, state.nocking_point)
    direction = state.frame[0]
    reach = (bow.hold.point[0] - point[0]) / direction[0]
    return float(point[2] + reach * direction[2] - bow.hold.point[2])


def _track(bow: Bow, string: Array) -> float:
    middle = 0.5 * (bow.grip_belly + bow.grip_back)
    segment = 0 if middle[2] < string[1, 2] else 1
    low, high = string[segment], string[segment + 1]
    share = (middle[2] - low[2]) / (high[2] - low[2])
    return float(low[1] + share * (high[1] - low[1]) - middle[1])


def string_of(bow: Bow, state: BowState) -> Array:
    """Return the string from nock to nock as a line over the limbs where it lies on them.

    Returns
    -------
    ndarray, shape (k, 3), m, world frame
        Lower nock, nocking point, upper nock alone where it lies on neither.
    """
    if not np.any(state.string_lies > 0.0):
        return state.string_points
    return _in_the_world(bow, state, string_line(bow.model, path_of(bow, state)[0]))


def line_below(bow: Bow, state: BowState, limb: int) -> Array:
    """Return the middle line of a limb's belly where the string lies on it.

    Parameters
    ----------
    bow : Bow
    state : BowState
    limb : int
        0 for the lower one.

    Returns
    -------
    ndarray, shape (k, 3), m, world frame
        From the nock to where the string leaves the limb.
    """
    return _in_the_world(bow, state, middle_line(bow.model, path_of(bow, state)[0], limb))


def _in_the_world(bow: Bow, state: BowState, line: Array) -> Array:
    out: Array = state.grip_back + (line - bow.grip_back) @ state.frame.T
    return out
