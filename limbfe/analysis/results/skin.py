"""The limb's skin in space: section outlines swept along the axis of one pose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.drawn import Pose
from limbfe.frames import Array, read_only

Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skin:
    """A closed surface of the limb: outlines joined by quads, tips closed by triangles.

    Attributes
    ----------
    points : ndarray, shape (S*b + 2, 3), m, global
        Ring after ring, then the middles of the lower and the upper tip.
    quads : ndarray, shape ((S-1)*b, 4)
    triangles : ndarray, shape (2*b, 3)
        Both turn counter-clockwise seen from outside.
    station : ndarray, shape (S*b + 2,), m
        Where each point lies along the bow.
    """

    points: Array
    quads: Indices
    triangles: Indices
    station: Array


def locate(pose: Pose, x: Any) -> tuple[Array, Array]:
    """Return where the axis is at stations between the nodes, and how the sections stand.

    Parameters
    ----------
    pose : Pose
    x : array_like, shape (S,), m
        Stations; those beyond a tip are taken at the tip.

    Returns
    -------
    positions : ndarray, shape (S, 3), m, global
    rotations : ndarray, shape (S, 3, 3)
        Columns are the section axes in global axes.

    Notes
    -----
    Positions follow a cubic through the nodes whose tangents are the section normals (the
    shear angle is neglected between nodes); rotations turn at a constant rate between nodes.
    """
    from scipy.interpolate import CubicHermiteSpline  # an eighth of a second, for files alone
    from scipy.spatial.transform import Rotation, Slerp

    node_x = pose.node_x
    at = np.clip(np.asarray(x, dtype=np.float64), node_x[0], node_x[-1])
    chords = np.linalg.norm(np.diff(pose.positions, axis=0), axis=1)
    turns = np.einsum("nij,nij->n", pose.rotations[:-1, :, :1], pose.rotations[1:, :, :1])
    half = 0.5 * np.arccos(np.clip(turns, -1.0, 1.0))
    speed = chords / np.diff(node_x) / np.sinc(half / np.pi)
    at_nodes = np.concatenate([speed[:1], 0.5 * (speed[:-1] + speed[1:]), speed[-1:]])
    slopes = pose.rotations[:, :, 0] * at_nodes[:, None]
    positions: Array = CubicHermiteSpline(node_x, pose.positions, slopes)(at)
    # A copy: the oldest SciPy allowed refuses read-only arrays here.
    turned = Rotation.from_matrix(np.array(pose.rotations))
    rotations: Array = Slerp(node_x, turned)(at).as_matrix()
    return positions, rotations


def place(pose: Pose, points: Any) -> Array:
    """Return points of the bow where they are in this pose.

    Parameters
    ----------
    pose : Pose
    points : array_like, shape (..., 3), m
        Station x along the bow and section coordinates y, z.

    Returns
    -------
    ndarray, shape (..., 3), m, global
    """
    given = np.asarray(points, dtype=np.float64)
    flat = given.reshape(-1, 3)
    stations, index = np.unique(flat[:, 0], return_inverse=True)
    positions, rotations = locate(pose, stations)
    offsets = np.einsum("pij,pj->pi", rotations[index][:, :, 1:], flat[:, 1:])
    placed: Array = (positions[index] + offsets).reshape(given.shape)
    return placed


def sweep_skin(pose: Pose, x: Array, ring: Array) -> Skin:
    """Return the limb's closed skin in a pose.

    Parameters
    ----------
    pose : Pose
    x : ndarray, shape (S,), m
        Stations, lower tip to upper tip.
    ring : ndarray, shape (S, b, 2), m
        Section coordinates (y, z) of the outline at each station, once round, not closed;
        either sense of turning.
    """
    stations, count = ring.shape[:2]
    outlines = np.concatenate([np.repeat(x, count)[:, None], ring.reshape(-1, 2)], axis=1)
    middles = np.concatenate([x[[0, -1], None], ring[[0, -1]].mean(axis=1)], axis=1)
    sections = np.concatenate([outlines, middles])
    here = np.arange(stations * count).reshape(stations, count)
    after = np.roll(here, -1, axis=1)
    # In section axes y to the right and z up the page, x points at the reader.
    if _turns_clockwise(ring[stations // 2]):
        here, after = after, here
    quads = np.stack([here[:-1], after[:-1], after[1:], here[1:]], axis=-1).reshape(-1, 4)
    lower = np.stack([after[0], here[0], np.full(count, stations * count)], axis=-1)
    upper = np.stack([here[-1], after[-1], np.full(count, stations * count + 1)], axis=-1)
    return Skin(
        points=read_only(place(pose, sections)),
        quads=_frozen(quads),
        triangles=_frozen(np.concatenate([lower, upper])),
        station=read_only(sections[:, 0]),
    )


def spread(field: Array) -> Array:
    """Return values given ring by ring, shape (S, b), at the points of a `Skin`."""
    tips = field[[0, -1]].mean(axis=1)
    values: Array = np.concatenate([field.reshape(-1), tips])
    return values


def _turns_clockwise(outline: Array) -> bool:
    y, z = outline.T
    return bool(np.sum(y * np.roll(z, -1) - z * np.roll(y, -1)) < 0.0)


def _frozen(cells: NDArray[Any]) -> Indices:
    out = np.ascontiguousarray(cells, dtype=np.int64)
    out.setflags(write=False)
    return out
