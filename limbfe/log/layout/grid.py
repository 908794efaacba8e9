"""The cheapest smooth line through a grid of offsets, by dynamic programming.

The line has a node every few centimetres and at each a choice of offsets.  What it costs is a sum
over its pieces between nodes, and over its nodes of their bending, which hangs on three offsets in
a row.  So the best line up to a piece hangs on the two offsets at its ends alone (R. Bellman,
Dynamic Programming, 1957, from memory).  Both limbs are followed from their nocks to the grip, for
every offset of the nock, and put together there, where the straightness of the three is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choices:
    """What there is to choose from.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        Nodes, growing.
    offsets : ndarray, shape (n, m), m
        Offsets to choose from at each.
    pieces : ndarray, shape (n - 1, m, m)
        What a piece costs from one offset to the next; infinite where it cannot lie.
    stiffness : float, m
        Times the curvature squared and the length is what bending costs.
    grip : int
        Node at the middle of the grip, neither the first nor the last.
    tolerance : float, m
        How far the grip may lie from the straight line between the nocks.
    """

    x: Array
    offsets: Array
    pieces: Array
    stiffness: float
    grip: int
    tolerance: float


def bend_cost(
    x: tuple[float, float, float], a: Array, b: Array, c: Array, stiffness: float
) -> Array:
    """Return what the bend at the middle of three points costs; offsets broadcast.

    The curvature is that of the parabola through the three, over half the length of both pieces.
    """
    h1, h2 = x[1] - x[0], x[2] - x[1]
    curvature = 2.0 * ((c - b) / h2 - (b - a) / h1) / (h1 + h2)
    cost: Array = stiffness * curvature**2 * 0.5 * (h1 + h2)
    return cost


def cheapest_line(choices: Choices) -> tuple[float, Array] | None:
    """Return the cost of the cheapest line and the index of its offset at every node, shape (n,).

    Returns
    -------
    (cost, chosen) or None
        None where no line can lie.
    """
    x, g, n = choices.x, choices.grip, len(choices.x)
    lower = _follow(choices, range(g + 1))
    upper = _follow(choices, range(n - 1, g - 1, -1))
    best_cost, best = np.inf, None
    share = (x[g] - x[0]) / (x[-1] - x[0])
    first, last = choices.offsets[0], choices.offsets[-1]
    chord = (1.0 - share) * first[:, None] + share * last[None, :]
    before, after = choices.offsets[g - 1], choices.offsets[g + 1]
    at = (float(x[g - 1]), float(x[g]), float(x[g + 1]))
    for k, y in enumerate(choices.offsets[g]):
        allowed = np.abs(y - chord) <= choices.tolerance
        if not np.any(allowed):
            continue
        bend = bend_cost(at, before[:, None], y, after[None, :], choices.stiffness)
        # over the nocks' offsets t, u and the neighbours' i, j: lower[t, i] + bend[i, j] + ...
        below = np.min(lower.cost[:, :, k, None] + bend[None], axis=1)
        total = below[:, None, :] + upper.cost[None, :, :, k]
        through = np.min(total, axis=2)
        through[~allowed] = np.inf
        t, u = np.unravel_index(int(np.argmin(through)), through.shape)
        if through[t, u] < best_cost:
            j = int(np.argmin(total[t, u]))
            i = int(np.argmin(lower.cost[t, :, k] + bend[:, j]))
            best_cost = float(through[t, u])
            best = (int(t), i, k, j, int(u))
    if best is None or not np.isfinite(best_cost):
        return None
    below_grip = lower.trace(best[0], best[1], best[2])
    above_grip = upper.trace(best[4], best[3], best[2])
    return best_cost, np.array([*below_grip, *above_grip[-2::-1]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Followed:
    """The best ways from a nock to the grip.

    `cost` has shape (m, m, m): offset of the nock, of the node before the grip, of the grip;
    `before[p]` the node before two neighbours, for each nock.
    """

    cost: Array
    before: list[Array]

    def trace(self, nock: int, last: int, grip: int) -> list[int]:
        """Return the offsets' indices from the nock to the grip."""
        way = [grip, last]
        for step in reversed(self.before):
            way.append(int(step[nock, way[-1], way[-2]]))
        return way[::-1]


def _follow(choices: Choices, nodes: range) -> _Followed:
    order = list(nodes)
    m = choices.offsets.shape[1]

    def piece(p: int) -> Array:
        a, b = order[p], order[p + 1]
        one: Array = choices.pieces[min(a, b)]
        return one if a < b else one.T

    cost = np.full((m, m, m), np.inf)
    t = np.arange(m)
    cost[t, t, :] = piece(0)
    before: list[Array] = []
    for p in range(1, len(order) - 1):
        a, b, c = order[p - 1], order[p], order[p + 1]
        at = (float(choices.x[a]), float(choices.x[b]), float(choices.x[c]))
        y = choices.offsets
        bend = bend_cost(
            _growing(at),
            y[a][:, None, None],
            y[b][None, :, None],
            y[c][None, None, :],
            choices.stiffness,
        )
        ways = cost[:, :, :, None] + bend[None]
        before.append(np.argmin(ways, axis=1))
        cost = np.min(ways, axis=1) + piece(p)[None]
    return _Followed(cost=cost, before=before)


def _growing(at: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return three stations with the same steps, growing: bending knows no direction."""
    if at[2] > at[0]:
        return at
    return -at[0], -at[1], -at[2]
