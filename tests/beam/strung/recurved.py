"""Bows whose string lies on the limbs, for the tests of the beam floor."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import numpy as np

from limbfe.beam import Bow, BowString, Chain, Hold, StringBed
from limbfe.frames import Array

HINGE = 1e-6
"""Length (m) of the element that stands for a hinge."""


def limb_nodes(grip: float, turns: Any, lengths: Any) -> tuple[Array, Array]:
    """Places (n, 2) along X and Z and angles (n,) of an upper limb of arcs, bent away from +X."""
    turns, lengths = np.asarray(turns, float), np.asarray(lengths, float)
    angle = np.concatenate([[0.0], np.cumsum(turns)])
    half = 0.5 * turns
    chord = lengths * np.sinc(half / np.pi)
    middle = angle[:-1] + half
    steps = np.column_stack([-chord * np.sin(middle), chord * np.cos(middle)])
    places = np.cumsum([[0.0, grip], *steps], axis=0)
    return places, angle


def both_limbs(places: Array, angle: Array) -> tuple[Array, Array]:
    """Nodes (2n, 3) and frames of a symmetric bow from those of its upper limb."""
    n = len(angle)
    positions, rotations = np.zeros((2 * n, 3)), np.zeros((2 * n, 3, 3))
    for k in range(n):
        for node, side in ((n + k, 1.0), (n - 1 - k, -1.0)):
            positions[node] = [places[k, 0], 0.0, side * places[k, 1]]
            sine, cosine = np.sin(angle[k]), np.cos(angle[k])
            # x up the bow, z towards the back
            along = np.array([-side * sine, 0.0, cosine])
            y = np.array([0.0, 1.0, 0.0])
            rotations[node] = np.column_stack([along, y, np.cross(along, y)])
    return positions, rotations


def lever(
    *,
    grip: float = 0.05,
    straight: float = 0.65,
    radius: float = 0.25,
    turn: float = 0.8,
    k: float = 100.0,
    off: float = 0.0,
    EA: float = np.inf,
    elements: int = 6,
    kind: Literal["clamp", "hand", "tiller"] = "clamp",
) -> Bow:
    """Rigid recurved levers on hinges of stiffness k (N m), the belly `off` the axis."""
    lengths = [HINGE, straight - 0.5 * HINGE, *[radius * turn / elements] * elements]
    turns = [0.0, 0.0, *[turn / elements] * elements]
    places, angle = limb_nodes(grip - 0.5 * HINGE, turns, lengths)
    positions, rotations = both_limbs(places, angle)
    m, n = len(positions) - 1, len(positions)
    stiffness = np.zeros((m, 2, 6, 6))
    stiffness[:] = np.diag([1e10, 1e10, 1e10, 1e8, 1e8, 1e8])
    hinge = [n // 2 - 2, n // 2]
    stiffness[hinge] = np.diag([1e10, 1e10, 1e10, 1e8 * HINGE, k * HINGE, 1e8 * HINGE])
    return strung(positions, rotations, stiffness, off=off, EA=EA, kind=kind)


def strung(
    positions: Array,
    rotations: Array,
    stiffness: Array,
    *,
    off: float = 0.0,
    EA: float = np.inf,
    kind: Literal["clamp", "hand", "tiller"] = "clamp",
    lies: bool = True,
) -> Bow:
    """A bow whose string is tied to and lies on a belly at one distance from the axis."""
    n = len(positions)
    arm = np.zeros((n, 3))
    arm[:, 2] = -off
    # a belly off a hinge would fold there, and no string comes near it
    arm[n // 2 - 2 : n // 2 + 2] = 0.0
    return Bow(
        chain=Chain(positions=positions, rotations=rotations, stiffness=stiffness, mass=stiffness),
        clamped=(n // 2 - 1, n // 2),
        string=BowString(stiffness=EA, mass=0.0, nock_lower=arm[0], nock_upper=arm[0]),
        hold=Hold(kind=kind, point=np.zeros(3), half_length=0.05),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
        bed=StringBed(arm=arm, slope=np.zeros((n, 2))) if lies else None,
    )


def recurve(elements: int = 12, off: float = 0.005, lies: bool = True) -> Bow:
    """A recurved bow of limbs that bend, EI 60 to 12 N m2, its string off the axis."""
    turns = np.concatenate([np.zeros(elements), np.full(6, 0.9 / 6)])
    lengths = np.concatenate([np.full(elements, 0.6 / elements), np.full(6, 0.2 / 6)])
    positions, rotations = both_limbs(*limb_nodes(0.08, turns, lengths))
    m = len(positions) - 1
    bending = np.linspace(60.0, 12.0, len(turns))
    stiffness = np.zeros((m, 2, 6, 6))
    for k in range(len(turns)):
        for e in (m // 2 - 1 - k, m // 2 + 1 + k):
            stiffness[e] = np.diag([5e6, 1e6, 1e6, 40.0, bending[k], 4.0 * bending[k]])
    stiffness[m // 2] = np.diag([1e8] * 6)
    return strung(positions, rotations, stiffness, off=off, EA=60e3, lies=lies)


def sideways_recurve() -> Bow:
    """A recurve whose bending couples with twist and with bending to the side."""
    bow = recurve(8)
    stiffness = np.array(bow.chain.stiffness)
    m = len(stiffness)
    for row, column, share in ((3, 4, 0.15), (4, 5, 0.12)):
        more = share * np.sqrt(stiffness[..., row, row] * stiffness[..., column, column])
        more[m // 2] = 0.0
        more *= np.where(np.arange(m) < m // 2, 1.0, -0.7)[:, None]
        stiffness[..., row, column] += more
        stiffness[..., column, row] += more
    chain = replace(bow.chain, stiffness=stiffness, mass=stiffness)
    return replace(bow, chain=chain)
