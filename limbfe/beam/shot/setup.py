"""From a drawn bow to the model of its motion and the state it starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.beam.bow import Bow, rest_offset
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.limbs.chain import Chain, force_scale
from limbfe.beam.model import Bed, Limbs
from limbfe.beam.shot.elements import element_twists
from limbfe.beam.shot.lumps import carried, joined_mass, node_masses, point_mass
from limbfe.beam.shot.lying import lay_ends
from limbfe.beam.shot.parts import (
    BAND,
    FREE,
    FREE_ENDS,
    HELD,
    LIES,
    Motion,
    ShotModel,
    new_motion,
    places,
)
from limbfe.errors import ConvergenceError, MaterialError
from limbfe.frames import Array

STRETCHED = 1.05
"""Nodes are kept for as much more of a limb than of the string that may lie on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gear:
    """What beside the bow itself takes part in a shot.

    Attributes
    ----------
    segments : int
        Of each half of the string; one if the string has no mass.
    lies : float, m
        How much of the string from either nock may come to lie on its limb: one segment, where it
        is not 0.
    serving : float, kg
        Mass on the string at the nocking point.
    tip_mass : pair of float, kg
        At the lower and the upper nock.
    shares, delays : tuple of float, -, s
        Damping of the limbs, see `ShotModel`.
    string_lag : float, s
        Damping of the string: its loss factor at a frequency over the circular frequency.
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
    lies: float = 0.0
    serving: float = 0.0
    tip_mass: tuple[float, float] = (0.0, 0.0)
    shares: tuple[float, ...] = ()
    delays: tuple[float, ...] = ()
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
        shares=np.zeros(0),
        delays=np.zeros(0),
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
        lies=FREE_ENDS,
        limbs=_nothing_lies(chain),
        nocking=0,
        drag=np.zeros(0),
        gravity=zero.copy(),
        place=place,
        point=point,
        size=size,
        band=BAND,
        force=force_scale(chain),
    )


def shot_model(bow: Bow, state: BowState, gear: Gear) -> tuple[ShotModel, Motion]:
    """Return the model of a drawn bow that is let go, and where it starts, at rest.

    In the world frame of the state: X along the pull.  The limbs unload and load elastically from
    where they are: of a belly that was crushed, the resultants of the state stand, and change with
    the sections' elastic stiffness.  Of `gear.lies` of the string from either nock what touches its
    limb lies on it, at rest and as it moves.

    Raises
    ------
    MaterialError
        If the string does not stretch: its shock has no bound then.
    ConvergenceError
        If more of the string lies on a limb than `gear.lies`.
    """
    chain, string = bow.chain, bow.string
    if not np.isfinite(string.stiffness):
        raise MaterialError("string: a shot needs a string that stretches; give its stiffness EA")
    n, lower, upper = len(chain.positions), bow.clamped[0], bow.clamped[-1]
    halves = gear.segments if string.mass > 0.0 else 1
    rest = _rest_lengths(state, halves, gear.lies)
    motion = start_motion(state, rest, string.stiffness, len(gear.delays))
    model = limb_model(chain, motion, lower=lower, upper=upper)
    place, point, size = places(n, lower, upper, 2 * halves)
    # the mean resultant from that at the first Gauss point
    carried_on = np.linalg.solve(chain.transport[:, 0], state.resultants[:, 0, :, None])[..., 0]
    strain = motion.twist / chain.length[:, None]
    hand = state.grip_back + state.frame @ (bow.hold.point - bow.grip_back)
    arm = state.rotations[lower].T @ (hand - state.positions[lower])
    model = model._replace(
        offset=carried_on - (model.stiffness @ strain[..., None])[..., 0],
        shares=np.array(gear.shares, dtype=np.float64),
        delays=np.array(gear.delays, dtype=np.float64),
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
        limbs=_limbs(bow, 1),
        nocking=halves - 1,
        drag=gear.drag * 0.5 * (rest[1:] + rest[:-1]),
        place=place,
        point=point,
        size=size,
        force=max(float(np.max(state.string_tension)), model.force),
    )
    if gear.lies > 0.0:
        model = _lying(bow, model, gear.lies)
        if not lay_ends(model, motion):
            raise ConvergenceError(
                "shot: the string lies farther down a limb than the shot can follow",
                draw_length=state.draw_length,
            )
    return model, motion


def _nothing_lies(chain: Chain) -> Limbs:
    """Return limbs without a bed."""
    n = len(chain.positions)
    bed = Bed(np.zeros((2, 3)), np.zeros((n, 3)), np.zeros((n, 2)), 0)
    return Limbs(np.array(chain.length), 1, n - 2, 1, bed, float(np.sum(chain.length)))


def _limbs(bow: Bow, kept: int) -> Limbs:
    model = bow.model
    return Limbs(model.length, model.lower, model.upper, kept, model.bed, model.size)


def _lying(bow: Bow, model: ShotModel, lies: float) -> ShotModel:
    """Return a model whose string may lie on the limbs as far from the nocks as `lies`, m."""
    length, lower, upper = model.length, model.lower, model.upper
    inwards = (np.cumsum(length[:lower]), np.cumsum(length[: upper - 1 : -1]))
    # the elements touched, and the node at the inner end of the last; the one at the grip is held
    kept = max(int(np.searchsorted(side, STRETCHED * lies)) + 2 for side in inwards)
    kept = min(kept, lower, len(length) - upper)
    band = max(BAND, 6 * kept + 2)
    return model._replace(lies=LIES, limbs=_limbs(bow, kept), band=band)


def _rest_lengths(state: BowState, halves: int, lies: float) -> Array:
    """Return the unstretched lengths (2 halves,) of the string's segments, nock to nock.

    All of a half are as long, but those that may lie on the limbs, where there are others.
    """
    out = np.empty((2, halves))
    for side, whole in enumerate(state.string_lengths):
        first = lies if halves > 1 and lies > 0.0 else whole / halves
        if halves > 1 and first >= whole:
            raise ConvergenceError(
                "shot: the string comes down on the whole of a limb, and a shot does not follow it "
                "there",
                draw_length=state.draw_length,
            )
        out[side] = (whole - first) / max(halves - 1, 1)
        out[side, 0] = first
    return np.concatenate([out[0], out[1, ::-1]])


def start_motion(state: BowState, rest: Array, stiffness: float, dampers: int = 0) -> Motion:
    """Return a drawn bow at rest, with the string's points where its free halves run.

    Parameters
    ----------
    state : BowState
    rest : ndarray, shape (s,), m
        Unstretched lengths of the string's segments.
    stiffness : float, N
        EA of the string.
    dampers : int
        Beside every element, none of them pulling yet.
    """
    halves = len(rest) // 2
    motion = chain_motion(state.rotations, state.positions, 2 * halves, dampers)
    low, middle, high = state.string_points
    motion.nocks[0], motion.nocks[1] = low, high
    for side, leaves in enumerate(state.free_string[[0, -1]]):
        own = rest[:halves] if side == 0 else rest[: halves - 1 : -1]
        stretch = 1.0 + state.string_tension[side] / stiffness
        # from the nocking point back: what is straight is as long as the segments that lie on it
        away = (own.sum() - np.cumsum(own)) * stretch
        back = (leaves - middle) / np.linalg.norm(leaves - middle)
        places = middle + away[:, None] * back
        if side == 0:
            motion.points[:halves] = places
        else:
            motion.points[halves - 1 :] = places[::-1]
    return motion


def chain_motion(rotations: Array, positions: Array, segments: int = 0, dampers: int = 0) -> Motion:
    """Return a chain at rest in a shape."""
    motion = new_motion(len(positions), segments, dampers)
    motion.rotations[:], motion.positions[:] = rotations, positions
    element_twists(motion)
    motion.delayed[:] = motion.twist[:, None]
    return motion
