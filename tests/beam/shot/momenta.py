"""Linear and angular momentum of a motion, by which it is checked."""

from __future__ import annotations

import numpy as np

from limbfe.beam.shot.energy import string_of
from limbfe.beam.shot.parts import FREE, ShotModel
from limbfe.beam.shot.run import Record
from limbfe.frames import Array


def momenta(model: ShotModel, record: Record, carried: Array) -> Array:
    """Return linear and angular momentum about the origin, shape (k, 6), of all that moves."""
    masses = model.mass.copy()
    masses[model.lower : model.upper + 1] = 0.0
    if model.grip == FREE:
        masses[model.lower] = model.grip_mass
    own = (masses @ record.speed[..., None])[..., 0]
    linear = (record.rotations @ own[..., :3, None])[..., 0]
    angular = (record.rotations @ own[..., 3:, None])[..., 0]
    total = np.concatenate(
        [linear.sum(axis=1), (angular + np.cross(record.positions, linear)).sum(axis=1)], axis=1
    )
    if len(model.rest):
        places, speeds = string_of(record)
        share = model.yarn[:, None] / 6.0
        flow = np.zeros_like(places)
        flow[:, :-1] += share * (2.0 * speeds[:, :-1] + speeds[:, 1:])
        flow[:, 1:] += share * (2.0 * speeds[:, 1:] + speeds[:, :-1])
        flow[:, [0, -1]] += model.nock_mass[:, None] * record.nock_speed
        flow[:, model.nocking + 1] += carried[:, None] * record.point_speed[:, model.nocking]
        total += np.concatenate([flow.sum(axis=1), np.cross(places, flow).sum(axis=1)], axis=1)
    return total
