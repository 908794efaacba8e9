"""Energies and momenta of a motion, step by step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.beam.shot.parts import FREE, LIES, ShotModel
from limbfe.beam.shot.run import Record
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Energies:
    """Where the energy is, every array of shape (k,), J.

    Attributes
    ----------
    limbs_bent, limbs_moving : strain energy, of what answers late too, and motion of the limbs,
        masses at the nocks included
    string_stretched, string_moving : of the string
    arrow : motion of what the nocking point carries beside the string, and of a flying arrow
    hand : motion of a free grip, and of the hand, less the work of its push
    """

    limbs_bent: Array
    limbs_moving: Array
    string_stretched: Array
    string_moving: Array
    arrow: Array
    hand: Array

    @property
    def total(self) -> Array:
        """All of it; undamped it stays as it is."""
        out: Array = (
            self.limbs_bent + self.limbs_moving + self.string_stretched + self.string_moving
        )
        return out + self.arrow + self.hand


def energies(model: ShotModel, record: Record, carried: Array) -> Energies:
    """Return the energies of a record.

    Parameters
    ----------
    carried : ndarray, shape (k,), kg
        Mass on the nocking point in every state; its energy is kept once it is gone.

    Notes
    -----
    Strain energy of an element is that of its mean resultant, ``L (K e^2/2 + s_0 e)`` with the
    strain counted from where ``K e + s_0`` is zero.
    """
    free = np.linalg.solve(model.stiffness, model.offset[..., None])[..., 0]
    strain = record.twist / model.length[:, None] + free
    inside = slice(model.lower, model.upper)
    density = _half_square(strain, model.stiffness)
    for d, share in enumerate(model.shares):
        late = (record.twist - record.delayed[:, :, d]) / model.length[:, None]
        density += share * _half_square(late, model.stiffness)
    density[:, inside] = 0.0
    bent = density @ model.length
    moving = _half_square(record.speed, model.mass)
    moving[:, model.lower : model.upper + 1] = 0.0
    limbs = moving.sum(axis=1)
    k = len(record.time)
    zero = np.zeros(k)
    hand = zero
    if model.grip == FREE:
        body = record.speed[:, model.lower]
        hand = 0.5 * ((body @ model.grip_mass) * body).sum(axis=1)
        moved = hand_places(model, record) - model.hand_from
        hand = hand + 0.5 * model.hand_stiffness * (moved**2).sum(axis=1) - moved @ model.hand_push
    if not len(model.rest):
        return Energies(
            limbs_bent=bent, limbs_moving=limbs, string_stretched=zero, string_moving=zero,
            arrow=zero, hand=hand,
        )  # fmt: skip
    _, speeds = string_of(record)
    length = segment_lengths(model, record)
    stretch = np.maximum(length - model.rest, 0.0)
    stretched = 0.5 * model.string_stiffness * (stretch**2 / model.rest).sum(axis=1)
    a, b = speeds[:, :-1], speeds[:, 1:]
    yarn = (a * a + a * b + b * b).sum(axis=2) @ model.yarn / 6.0
    limbs = limbs + 0.5 * (record.nock_speed**2).sum(axis=2) @ model.nock_mass
    nocking = record.point_speed[:, model.nocking]
    arrow = 0.5 * carried * (nocking**2).sum(axis=1)
    return Energies(
        limbs_bent=bent, limbs_moving=limbs, string_stretched=stretched, string_moving=yarn,
        arrow=arrow, hand=hand,
    )  # fmt: skip


def _half_square(values: Array, matrices: Array) -> Array:
    """Return ``v^T M v / 2``, shape (k, n), of vectors (k, n, 6), symmetric matrices (n, 6, 6)."""
    # a product of three arrays is summed without BLAS, an eighth of a whole shot
    loads = np.matmul(values.transpose(1, 0, 2), matrices).transpose(1, 0, 2)
    out: Array = 0.5 * np.einsum("kni,kni->kn", loads, values)
    return out


def hand_places(model: ShotModel, record: Record) -> Array:
    """Return where the hand presses in every state, shape (k, 3), m."""
    turned = record.rotations[:, model.lower] @ model.hand_arm
    out: Array = record.positions[:, model.lower] + turned
    return out


def string_of(record: Record) -> tuple[Array, Array]:
    """Return places and speeds of the string's points, nocks included, shape (k, s + 1, 3)."""
    places = (record.nocks[:, :1], record.points, record.nocks[:, 1:])
    speeds = (record.nock_speed[:, :1], record.point_speed, record.nock_speed[:, 1:])
    return np.concatenate(places, axis=1), np.concatenate(speeds, axis=1)


def segment_lengths(model: ShotModel, record: Record) -> Array:
    """Return the length of every segment in every state, shape (k, s), m, over the limbs too."""
    places, _ = string_of(record)
    length: Array = np.linalg.norm(np.diff(places, axis=1), axis=2)
    if model.lies == LIES:
        length[:, [0, -1]] = record.along[:, :, 0]
    return length


def touching(model: ShotModel, record: Record) -> Array:
    """Return how much of the string lies on the lower and the upper limb, shape (k, 2), m.

    From the nock to where it leaves the limb, what spans a hollow between two stretches with it.
    """
    if model.lies != LIES:
        return np.zeros((len(record.time), 2))
    free = np.linalg.norm(record.points[:, [0, -1]] - record.leaves, axis=2)
    out: Array = record.along[:, :, 0] - free
    out[record.along[:, :, 1] == 0.0] = 0.0
    return out


def tensions(model: ShotModel, record: Record) -> Array:
    """Return the tension of every segment in every state, shape (k, s), N; damping left out."""
    length = segment_lengths(model, record)
    out: Array = model.string_stiffness * np.maximum(length / model.rest - 1.0, 0.0)
    return out
