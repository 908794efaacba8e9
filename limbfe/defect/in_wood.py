"""Which points lie in the wood of a strip, and how far it reaches from them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from limbfe.compiled import as_read, compiled, compiled_inside
from limbfe.curves import monotone_cubic
from limbfe.defect.strip import Ellipse, Strip
from limbfe.frames import Array

STEPS, HALVINGS = 24, 8
"""In which a way through the wood is gone, and the step that leaves it halved."""
ASIDE = 12
"""Halvings of half a short line that leaves the wood."""


def is_wood(strip: Strip, solids: tuple[Ellipse, ...], points: Array) -> NDArray[np.bool_]:
    """Return which points, shape (..., 2), lie in the strip and off its knots and holes."""
    x, y = (as_read(points[..., k].ravel()) for k in (0, 1))
    wood = np.empty(len(x), dtype=np.bool_)
    _mark(wood, x, y, *_numbers(strip, solids))
    return wood.reshape(points.shape[:-1])


def free_run(
    strip: Strip, solids: tuple[Ellipse, ...], start: Array, way: Array, length: Array
) -> Array:
    """Return how far the wood reaches unbroken from points along unit vectors, shape (n,), m.

    Parameters
    ----------
    strip, solids
        As of `is_wood`.
    start, way : ndarray, shape (n, 2)
    length : ndarray, shape (n,), m
        As far as is looked.
    """
    free = np.empty(len(start))
    _run(free, as_read(start), as_read(way), as_read(length), *_numbers(strip, solids))
    return free


def wood_across(
    strip: Strip, solids: tuple[Ellipse, ...], middle: Array, across: Array, half: Array
) -> tuple[Array, Array]:
    """Return where the wood of short lines begins and ends, from their middles, (n, q) each, m.

    Of a line with its middle off the wood, it is what one of its ends lies in; nothing, where both
    or neither do.

    Parameters
    ----------
    strip, solids
        As of `is_wood`.
    middle, across : ndarray, shape (2, n, q)
        Unit vectors along the lines.
    half : ndarray, shape (n,), m
        Of their lengths, so short that between two points of the wood there is only wood.
    """
    low, high = np.zeros(middle.shape[1:]), np.zeros(middle.shape[1:])
    (x, y), (dx, dy) = as_read(middle), as_read(across)
    _clip(low, high, x, y, dx, dy, as_read(half), *_numbers(strip, solids))
    return low, high


@lru_cache(maxsize=64)
def _numbers(strip: Strip, solids: tuple[Ellipse, ...]) -> tuple[Array, Array, Array, Array]:
    """Return a strip and what lies in it as compiled passes take them.

    Ends along it and the least and most of either edge; breaks of the edges' curves and their
    coefficients, shape (2, 4, pieces); middle, axes and turn of the ellipses, shape (s, 6).
    """
    x, right, left = strip.x, strip.right, strip.left
    limits = np.array([x[0], x[-1], right.min(), right.max(), left.min(), left.max()])
    if len(x) == 2:
        edges = np.zeros((2, 4, 1))
        for k, side in enumerate((right, left)):
            edges[k, 2:, 0] = (side[1] - side[0]) / (x[1] - x[0]), side[0]
        breaks = x
    else:
        curves = [monotone_cubic(x, side) for side in (right, left)]
        breaks, edges = curves[0].breaks, np.stack([one.coefficients for one in curves])
    turned = [(np.cos(one.angle), np.sin(one.angle)) for one in solids]
    rims = [
        (one.x, one.y, c / one.a, s / one.a, c / one.b, s / one.b)
        for one, (c, s) in zip(solids, turned, strict=True)
    ]
    return as_read(limits), as_read(breaks), as_read(edges), as_read(np.reshape(rims, (-1, 6)))


@compiled_inside
def _lies_in(x: float, y: float, limits: Array, breaks: Array, edges: Array, rims: Array) -> bool:
    if not (limits[0] < x < limits[1] and limits[2] < y < limits[5]):
        return False
    # The curves of the edges never leave the range of their values.
    if y <= limits[3] or y >= limits[4]:
        piece = 0
        while piece < edges.shape[2] - 1 and x >= breaks[piece + 1]:
            piece += 1
        step = x - breaks[piece]
        low, high = edges[0, 0, piece], edges[1, 0, piece]
        for power in range(1, edges.shape[1]):
            low = low * step + edges[0, power, piece]
            high = high * step + edges[1, power, piece]
        if not low < y < high:
            return False
    for k in range(len(rims)):
        dx, dy = x - rims[k, 0], y - rims[k, 1]
        u, v = rims[k, 2] * dx + rims[k, 3] * dy, rims[k, 4] * dy - rims[k, 5] * dx
        if not u * u + v * v > 1.0:
            return False
    return True


@compiled
def _mark(
    wood: NDArray[np.bool_], x: Array, y: Array,
    limits: Array, breaks: Array, edges: Array, rims: Array,
) -> None:  # fmt: skip
    for k in range(len(x)):
        wood[k] = _lies_in(x[k], y[k], limits, breaks, edges, rims)


@compiled
def _run(
    free: Array, start: Array, way: Array, length: Array,
    limits: Array, breaks: Array, edges: Array, rims: Array,
) -> None:  # fmt: skip
    for k in range(len(start)):
        x, y, along, across = start[k, 0], start[k, 1], way[k, 0], way[k, 1]
        pace = length[k] / STEPS
        steps = 0
        while steps < STEPS:
            reach = pace * (steps + 1)
            if not _lies_in(x + reach * along, y + reach * across, limits, breaks, edges, rims):
                break
            steps += 1
        sure = pace * steps
        if steps < STEPS:
            gap = pace
            for _ in range(HALVINGS):
                gap = 0.5 * gap
                reach = sure + gap
                if _lies_in(x + reach * along, y + reach * across, limits, breaks, edges, rims):
                    sure = reach
        free[k] = sure


@compiled_inside
def _well_in(x: float, y: float, h: float, limits: Array, rims: Array, steepest: Array) -> bool:
    """Whether all within `h` is wood for certain; `steepest` as the ellipses' radius rises."""
    if not (limits[0] + h < x < limits[1] - h and limits[3] + h < y < limits[4] - h):
        return False
    for k in range(len(rims)):
        dx, dy = x - rims[k, 0], y - rims[k, 1]
        u, v = rims[k, 2] * dx + rims[k, 3] * dy, rims[k, 4] * dy - rims[k, 5] * dx
        clear = 1.0 + h * steepest[k]
        if not u * u + v * v > clear * clear:
            return False
    return True


@compiled_inside
def _edge(
    x: float, y: float, dx: float, dy: float, wood: float, off: float,
    limits: Array, breaks: Array, edges: Array, rims: Array,
) -> float:  # fmt: skip
    for _ in range(ASIDE):
        at = 0.5 * (wood + off)
        if _lies_in(x + at * dx, y + at * dy, limits, breaks, edges, rims):
            wood = at
        else:
            off = at
    return wood


@compiled
def _clip(
    low: Array, high: Array, x: Array, y: Array, dx: Array, dy: Array, half: Array,
    limits: Array, breaks: Array, edges: Array, rims: Array,
) -> None:  # fmt: skip
    steepest = np.empty(len(rims))
    for k in range(len(rims)):
        _, _, c, s, d, t = rims[k]
        steepest[k] = np.sqrt(max(c * c + s * s, d * d + t * t))
    for k in range(low.shape[0]):
        h = half[k]
        for j in range(low.shape[1]):
            a, b, u, v = x[k, j], y[k, j], dx[k, j], dy[k, j]
            if _well_in(a, b, h, limits, rims, steepest):
                low[k, j], high[k, j] = -h, h
                continue
            before = _lies_in(a - h * u, b - h * v, limits, breaks, edges, rims)
            after = _lies_in(a + h * u, b + h * v, limits, breaks, edges, rims)
            inner = _lies_in(a, b, limits, breaks, edges, rims)
            if not inner and before == after:
                continue
            first, last = -h, h
            if not before:
                wood = 0.0 if inner else h
                first = _edge(a, b, u, v, wood, wood - h, limits, breaks, edges, rims)
            if not after:
                wood = 0.0 if inner else -h
                last = _edge(a, b, u, v, wood, wood + h, limits, breaks, edges, rims)
            low[k, j], high[k, j] = first, last
