"""A quarter of a strip with a hole in its middle, and half of one with a hole in its edge; the
line starts on the rim and runs along the grain."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from tests.fem.cracks.bodies import Body, arc, meshed, split_body, straight

Index = NDArray[np.int64]
FLAT = 0.25e-3
"""A line that touches the hole starts this far from its top: closer, the wood between them is a
cusp that no mesh can follow.  It is 8 micrometres thick there."""


def _sizes(level: float, near: float, fine: float) -> object:
    def size(points: Array) -> Array:
        x, y = np.abs(points[..., 0]), points[..., 1]
        past = np.maximum(x - fine, 0.0)
        return np.minimum(
            near + 0.25 * np.maximum(np.abs(y - level) - 5 * near, 0.0) + 0.06 * past, 2e-3
        )

    return size


def _meshed(
    radius: float, sides: tuple[float, float], line: tuple[tuple[float, float], float], near: float
) -> tuple[Array, Array]:
    """Mesh the wood above and beside a hole about the origin, x from 0, within `sides` (L, W).

    `line` is the corner a split starts from and its end; the rim runs from there to the edge, and
    from the hole's top to it, which is a straight of almost no length where it starts at the top.
    """
    (L, W), ((x, y), end) = sides, line
    t = np.arctan2(y, x) if y < radius else np.arccos(x / radius)
    low = arc(radius, (0.0, 0.0), t, 0.0)
    start = np.array([x, y])
    bent = low(np.zeros(1))[0]
    pieces = [
        arc(radius, (0.0, 0.0), 0.5 * np.pi, t) if y < radius else straight((0.0, radius), (x, y)),
        lambda s: low(s) + (start - bent) * ((1 - s) * np.exp(-40 * s))[:, None],
        straight((x, y), (end, y)),
        straight((radius, 0.0), (L, 0.0)),
        straight((L, 0.0), (L, W)),
        straight((L, W), (0.0, W)),
        straight((0.0, W), (0.0, radius)),
    ]

    def inside(p: Array) -> NDArray[np.bool_]:
        within = (p[:, 0] > 0) & (p[:, 1] > 0) & (p[:, 0] < L) & (p[:, 1] < W)
        return within & (np.hypot(p[:, 0], p[:, 1]) > radius)

    return meshed(pieces, _sizes(y, near, 2.0 * radius), inside, 2)


def holed_quarter(
    *, radius: float, width: float, half_length: float, end: float, near: float, angle: float = 0.0
) -> Body:
    """Quarter of a strip under tension 1 N/m in the quarter: a split from the hole's top, or from
    `angle` (rad) below it, to x = `end`."""
    R, W, L = radius, 0.5 * width, half_length
    y = R * np.cos(angle)
    x = R * np.sin(angle) if angle else FLAT
    mesh, line = _meshed(R, (L, W), ((x, y), end), near)

    def held(nodes: Array) -> Index:
        return np.concatenate([2 * np.flatnonzero(np.abs(nodes[:, 0]) < 1e-9),
                               2 * np.flatnonzero(np.abs(nodes[:, 1]) < 1e-9) + 1])  # fmt: skip

    def moved(nodes: Array) -> tuple[Index, Array]:
        far = np.flatnonzero(np.abs(nodes[:, 0] - L) < 1e-9)
        return 2 * far, np.ones((len(far), 1))

    return split_body(mesh, line, held, moved=moved)


def edge_holed_half(
    *, radius: float, width: float, half_length: float, end: float, near: float, turning: bool
) -> Body:
    """Half of a strip, x > 0, with half a hole in its lower edge, under tension 1 N/m: a split from
    the hole's top to x = `end`.  The end stays plane and may turn, or not."""
    R, W, L = radius, width, half_length
    mesh, line = _meshed(R, (L, W), ((FLAT, R), end), near)

    def held(nodes: Array) -> Index:
        middle = np.flatnonzero(np.abs(nodes[:, 0]) < 1e-9)
        corner = middle[np.argmax(nodes[middle, 1])]
        return np.concatenate([2 * middle, [2 * corner + 1]])

    def moved(nodes: Array) -> tuple[Index, Array]:
        far = np.flatnonzero(np.abs(nodes[:, 0] - L) < 1e-9)
        motions = [np.ones(len(far)), 0.5 * W - nodes[far, 1]]
        return 2 * far, np.stack(motions[: 2 if turning else 1], axis=1)

    return split_body(mesh, line, held, moved=moved)
