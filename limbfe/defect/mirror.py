"""A strip meshed as its mirror image, so that mirrored limbs have mirrored meshes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from limbfe.defect.mesh import StripMesh
from limbfe.defect.strip import Ellipse, Strip
from limbfe.fem.mesh import PlaneMesh

_DIGITS = 10
"""Decimals of a metre kept of what is meshed: triangles shall not hang on the last bit."""


class Turn(NamedTuple):
    """Signs by which x and y are multiplied."""

    x: float
    y: float


def turned_strip(strip: Strip, turn: Turn) -> Strip:
    """Return a strip seen from the other end, the other side, or both."""
    order = slice(None, None, -1 if turn.x < 0.0 else 1)
    sides = (strip.right, strip.left) if turn.y > 0.0 else (-strip.left, -strip.right)
    x, right, left = (
        np.round(side[order], _DIGITS) for side in (turn.x * strip.x, sides[0], sides[1])
    )
    return Strip(x=x, right=right, left=left)


def turned_ellipse(e: Ellipse, turn: Turn) -> Ellipse:
    """Return an ellipse seen so."""
    x, y, a, b = (round(v, _DIGITS) for v in (turn.x * e.x, turn.y * e.y, e.a, e.b))
    return Ellipse(x=x, y=y, a=a, b=b, angle=round(turn.x * turn.y * e.angle, _DIGITS))


def turned_mesh(made: StripMesh, turn: Turn) -> StripMesh:
    """Return a mesh seen so: the same elements, each anticlockwise."""
    over = turn.x * turn.y < 0.0
    corners = [0, 2, 1, 5, 4, 3] if over else list(range(6))
    ends = (made.low_end, made.high_end) if turn.x > 0.0 else (made.high_end, made.low_end)
    sides = slice(None, None, -1 if over else 1)
    mesh = made.mesh
    return StripMesh(
        mesh=PlaneMesh(
            nodes=mesh.nodes * np.array(turn),
            elements=mesh.elements[:, corners],
            region=mesh.region,
        ),
        low_end=ends[0],
        high_end=ends[1],
        rims=tuple(side[:, sides] for side in made.rims),
        edges=made.edges[:, sides],
        fitted=tuple(None if e is None else turned_ellipse(e, turn) for e in made.fitted),
    )
