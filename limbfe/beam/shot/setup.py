"""From a drawn bow to the model of its motion and the state it starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.beam.bow import Bow, rest_offset
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.limbs.chain import Chain, force_scale
from limbfe.beam.shot.elements import element_twists
from limbfe.beam.shot.lumps import carried, joined_mass, node_masses, point_mass
from limbfe.beam.shot.parts import FREE, HELD, Motion, ShotModel, new_motion, places
from limbfe.errors import MaterialError
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gear:
    """What beside the bow itself takes part in a shot.

    Attributes
    ----------
    segments : int
        Of each half of the string; one if the string has no mass.
    serving : float, kg
        Mass on the string at the nocking point.
    tip_mass : pair of float, kg
        At the lower and the upper nock.
    lag, string_lag : float, s
        Damping of limbs and string: the loss factor at a frequency over its circular frequency.
    drag : float, N s2/m2 per m
        Air drag of the string over its length and the square of its speed.
    free : bool
        The grip moves as a body; else it is held fast.
    hand_mass : float, kg
        At the point where the hand presses, of a free grip.
    hand_stiffness : float, N/m
        Of the hand there; its push at full draw is what holds the drawn bow.
    """

    segments: int = 8
    serving: float = 0.0
    tip_mass: tuple[float, float] = (0.0, 0.0)
    lag: float = 0.0
    string_lag: float = 0.0
    drag: float = 0.0
    free: bool = False
    hand_mass: float = 0.0
    hand_stiffness: float = 0.0


def limb_model(chain: Chain, motion: Motion, *, lower: int, upper: int) -> ShotModel:
    """Return the model of a chain without a string, free of strain in its rest shape.

    Nodes `lower` to `upper` are rigid with each other and held; `motion` is where it starts.
    """
    n = len(chain.positions)
    place, point, size = places(n, lower, upper, 0)
    masses, between = node_masses(chain), motion.twist[lower:upper]
    carry = [np.eye(6)]
    for twist in between:
        carry.append(carried(twist) @ carry[-1])
    zero = np.zeros(3)
    return ShotModel(
        stiffness=np.array(chain.element_stiffness),
        offset=rest_offset(chain, chain.element_stiffness),
        length=np.array(chain.length),
        lag=0.0,
        mass=masses,
        lower=lower,
        upper=upper,
        grip=HELD,
        grip_mass=joined_mass(masses[lower : upper + 1], between),
        carry=np.array(carry),
        hand_arm=zero.copy(),
        hand_from=zero.copy(),
        hand_push=zero.copy(),
        hand_stiffness=0.0,
        arms=np.zeros((2, 3)),
        nock_mass=np.zeros(2),
        rest=np.zeros(0),
        yarn=np.zeros(0),
        string_stiffness=1.0,
        string_lag=0.0,
        nocking=0,
        drag=np.zeros(0),
        gravity=zero.copy(),
        place=place,
        point=point,
        size=size,
        force=force_scale(chain),
    )


def shot_model(bow: Bow, state: BowState, gear: Gear) -> tuple[ShotModel, Motion]:
    """Return the model of a drawn bow that is let go, and where it starts, at rest.

    In the world frame of the state: X along the pull.  The limbs unload and load elastically from
    where they are: of a belly that was crushed, the resultants of the state stand, and change with
    the sections' elastic stiffness.  A string that lies on a limb runs straight through it, as
    tight.

    Raises
    ------
    MaterialError
        If the string does not stretch: its shock has no bound then.
    """
    chain, string = bow.chain, bow.string
    if not np.isfinite(string.stiffness):
        raise MaterialError("string: a shot needs a string that stretches; give its stiffness EA")
    n, lower, upper = len(chain.positions), bow.clamped[0], bow.clamped[-1]
    halves = gear.segments if string.mass > 0.0 else 1
    motion = start_motion(state, halves)
    model = limb_model(chain, motion, lower=lower, upper=upper)
    place, point, size = places(n, lower, upper, 2 * halves)
    rest = np.repeat(_straight_lengths(bow, state) / halves, halves)
    # the mean resultant from that at the first Gauss point
    carried_on = np.linalg.solve(chain.transport[:, 0], state.resultants[:, 0, :, None])[..., 0]
    strain = motion.twist / chain.length[:, None]
    hand = state.grip_back + state.frame @ (bow.hold.point - bow.grip_back)
    arm = state.rotations[lower].T @ (hand - state.positions[lower])
    model = model._replace(
        offset=carried_on - (model.stiffness @ strain[..., None])[..., 0],
        lag=gear.lag,
        grip=FREE if gear.free else HELD,
        grip_mass=model.grip_mass + point_mass(gear.hand_mass, arm),
        hand_arm=arm,
        hand_from=hand,
        hand_push=-np.array(state.force),
        hand_stiffness=gear.hand_stiffness,
        arms=np.array([string.nock_lower, string.nock_upper]),
        nock_mass=np.array(gear.tip_mass, dtype=np.float64),
        rest=rest,
        yarn=string.mass * rest / rest.sum(),
        string_stiffness=float(string.stiffness),
        string_lag=gear.string_lag,
        nocking=halves - 1,
        drag=gear.drag * 0.5 * (rest[1:] + rest[:-1]),
        place=place,
        point=point,
        size=size,
        force=max(float(np.max(state.string_tension)), model.force),
    )
    return model, motion


def _straight_lengths(bow: Bow, state: BowState) -> Array:
    """Return the unstretched lengths (2,) of parts as tight, straight from nock to nocking point.

    Those of the string itself where it lies on neither limb.
    """
    if not np.any(state.string_lies > 0.0):
        return state.string_lengths
    straight = np.linalg.norm(np.diff(state.string_points, axis=0), axis=1)
    return np.asarray(straight / (1.0 + state.string_tension / bow.string.stiffness))


def start_motion(state: BowState, halves: int) -> Motion:
    """Return a drawn bow at rest, with the string's points along its straight halves."""
    motion = chain_motion(state.rotations, state.positions, 2 * halves)
    low, middle, high = state.string_points
    share = np.linspace(0.0, 1.0, halves + 1)[:, None]
    motion.nocks[0], motion.nocks[1] = low, high
    motion.points[:halves] = (low + share * (middle - low))[1:]
    motion.points[halves - 1 :] = (middle + share * (high - middle))[:-1]
    return motion


def chain_motion(rotations: Array, positions: Array, segments: int = 0) -> Motion:
    """Return a chain at rest in a shape."""
    motion = new_motion(len(positions), segments)
    motion.rotations[:], motion.positions[:] = rotations, positions
    element_twists(motion)
    return motion
