"""Which few strokes bring the weight down and ease the hardest worked wood.

Every stroke takes a whole number of tool steps off one stretch of one limb, belly or sides, fading
out towards the next stations.  Of all of them a mixed-integer programme picks the few that leave
the least strength used, to first order in the exact derivatives of the drawn bow:

    least  u + prices of: weight above the stop, tiller out of its range, each line, each step
    with   used + rates steps <= u <= most allowed,  weight >= stop,  lines <= 5

so that no wood comes off where it would be worked harder than the hardest place already is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from limbfe.analysis.rates.derivatives import DrawDerivatives
from limbfe.frames import Array
from limbfe.stave.stave import Stave
from limbfe.studies.take.results import TILLER, Side, out_of_tiller
from limbfe.studies.take.turns import best_order, fewest_turns

MOST_LINES = 5
MOST_STEPS = 4
"""Of one line: beyond 2 mm the derivatives are no guide any more."""
COLUMN: dict[Side, str] = {"belly": "thickness", "sides": "width"}
SHARE: dict[Side, float] = {"belly": 1.0, "sides": 2.0}
"""Of a tool step, that the thickness or the width loses: the sides lose it twice."""
_EXCESS, _PER_LINE, _PER_SIDES, _PER_STEP, _PER_METRE = 2.0, 1e-2, 2e-2, 2e-4, 60.0
"""Price of the weight left above the stop (of the whole), of a line, of one on the sides, of a step
and of a tiller out of its range, against 1 for all of the strength."""
_NODES = 60
"""Of the search tree: a better list than that finds is not told apart on a bow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A stretch of one limb from station `first` to `last` of the stave, and what comes off.

    The stations are numbered from the lower tip, whichever limb it is on.
    """

    side: Side
    first: int
    last: int
    steps: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """What the strokes are to do.

    Attributes
    ----------
    weight, tiller : float, N, m
        As the bow is.
    stop : float, N
    most_used : float
        Strength that no wood may use more of.
    step : float, m
    closed : ndarray of bool, shape (s,)
        Stations at which no wood is taken.
    """

    weight: float
    tiller: float
    stop: float
    most_used: float
    step: float
    closed: NDArray[np.bool_]


def strokes_of(stave: Stave, closed: NDArray[np.bool_]) -> list[Stroke]:
    """Return every stretch of open stations of one limb, off the belly and off the sides."""
    found = []
    for sign in (-1.0, 1.0):
        limb = np.flatnonzero((sign * stave.x > 0.0) & stave.bends(stave.x))
        # a stiff grip ends at a station of its own: wood off there would thin the handle
        limb = limb[np.abs(stave.x[limb]) > stave.half_grip + 1e-9]
        for first, last in combinations(limb.tolist(), 2):
            if not closed[first : last + 1].any():
                found += [Stroke(side=side, first=first, last=last) for side in COLUMN]
    return found


def taken(stave: Stave, strokes: Sequence[Stroke], step: float) -> dict[str, Array]:
    """Return what strokes take off `thickness` and `width` at every station, shape (s,), m."""
    off = {name: np.zeros(len(stave.x)) for name in COLUMN.values()}
    for one in strokes:
        off[COLUMN[one.side]][one.first : one.last + 1] += SHARE[one.side] * one.steps * step
    return off


def tiller_change(
    stave: Stave, rates: DrawDerivatives, strokes: Sequence[Stroke], step: float
) -> float:
    """Return by how much strokes change the tiller of the braced bow, m, to first order."""
    off = taken(stave, strokes, step)
    return -sum(float(rates.tiller_braced[name] @ off[name]) for name in off)


def choose(stave: Stave, rates: DrawDerivatives, wanted: Wanted) -> list[Stroke] | None:
    """Return the strokes to do, None where none leave the wood within what it may use."""
    strokes = strokes_of(stave, wanted.closed)
    if not strokes:
        return None
    count = len(strokes)
    weight, tiller = np.empty(count), np.empty(count)
    used = np.empty((len(rates.hot_spots), count))
    for k, one in enumerate(strokes):
        here, name = slice(one.first, one.last + 1), COLUMN[one.side]
        off = SHARE[one.side] * wanted.step
        weight[k] = -off * rates.force[name][here].sum()
        tiller[k] = -off * rates.tiller_braced[name][here].sum()
        used[:, k] = -off * rates.strength_used[name][here].sum(axis=0)
    now = np.array([spot.strength_used for spot in rates.hot_spots])
    low, high = (bound - wanted.tiller for bound in TILLER)
    # unknowns: steps and whether, of every stroke; then u and how far the tiller is out
    zeros = np.zeros((1, count))
    eye, nothing = np.eye(count), np.zeros((count, 2))
    matrix = np.block(
        [
            [used, np.zeros_like(used), -np.ones((len(now), 1)), np.zeros((len(now), 1))],
            [weight[None], zeros, np.zeros((1, 2))],
            [eye, -MOST_STEPS * eye, nothing],
            [zeros, np.ones((1, count)), np.zeros((1, 2))],
            [tiller[None], zeros, np.array([[0.0, -1.0]])],
            [-tiller[None], zeros, np.array([[0.0, -1.0]])],
        ]
    )
    least = np.full(len(matrix), -np.inf)
    most = np.concatenate([-now, [np.inf], np.zeros(count), [MOST_LINES], [high], [-low]])
    least[len(now)] = wanted.stop - wanted.weight
    excess = _EXCESS / wanted.weight * weight
    sides = np.array([_PER_SIDES * (one.side == "sides") for one in strokes])
    cost = np.concatenate([excess + _PER_STEP, _PER_LINE + sides, [1.0], [_PER_METRE]])
    result = milp(
        cost,
        constraints=LinearConstraint(matrix, least, most),
        integrality=np.concatenate([np.ones(2 * count), [0, 0]]),
        bounds=Bounds(
            np.zeros(2 * count + 2),
            np.concatenate(
                [np.full(count, MOST_STEPS), np.ones(count), [wanted.most_used, np.inf]]
            ),
        ),
        options={"node_limit": _NODES, "mip_rel_gap": 5e-3},
    )
    if result.x is None:
        return None
    steps = np.round(result.x[:count]).astype(int)
    return [
        Stroke(side=one.side, first=one.first, last=one.last, steps=int(number))
        for one, number in zip(strokes, steps, strict=True)
        if number > 0
    ]


def in_order(
    stave: Stave, rates: DrawDerivatives, wanted: Wanted, strokes: Sequence[Stroke]
) -> tuple[Stroke, ...]:
    """Return strokes in the order that on the way works no wood harder and keeps the tiller.

    To first order; of like orders the one in which the most comes off first.  Where none keeps it,
    so that the strokes are done in turns, the one that strays least in these.
    """
    tillers = [tiller_change(stave, rates, [one], wanted.step) for one in strokes]
    used, weights = [], []
    for one in strokes:
        off = taken(stave, [one], wanted.step)
        used.append(-sum(rates.strength_used[name].T @ off[name] for name in off))
        weights.append(sum(float(rates.force[name] @ off[name]) for name in off))
    now = np.array([spot.strength_used for spot in rates.hot_spots])

    def price(order: tuple[int, ...]) -> float:
        tiller = wanted.tiller + np.cumsum([tillers[k] for k in order])
        out = max(out_of_tiller(float(one)) for one in tiller)
        harder = (now + np.cumsum([used[k] for k in order], axis=0)).max()
        return round(max(float(harder - wanted.most_used), 0.0) + float(out), 3)

    first = sorted(range(len(strokes)), key=lambda k: -weights[k])
    best = min(permutations(first), key=price)
    if fewest_turns(wanted.tiller, [tillers[k] for k in best]) > 1:
        best = best_order(wanted.tiller, tillers)
    return tuple(strokes[k] for k in best)
