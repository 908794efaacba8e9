"""The line of a limb at full draw when the shape of its bend is known: where the string pulls."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array

MOST_TURN = 2.6
"""Turn of the tip, rad, at which the search for the drawn limb ends: far past any bow."""
SHORTEST = 1e-3
"""Lever arm at the first station, over the limb's length, below which no bow pulls."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reach:
    """How a bow is strung and drawn, measured from the middle of the grip's thickness, m.

    Attributes
    ----------
    rigid : float
        Length from the middle of the grip that does not bend.
    bending : float
        Length of limb from there to the nock.
    brace : float or None
        To the string of the braced bow; None when `string` is given.
    string : float or None
        Length of half the string.
    draw : float
        To the string at full draw.
    """

    rigid: float
    bending: float
    brace: float | None
    string: float | None
    draw: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnLine:
    """A limb at full draw.

    Attributes
    ----------
    lever : ndarray, shape (n,)
        The string's lever arm about every station over that about the first: the bending moment
        over the first one's, as the tension is the same (statics).  Zero at the nock.
    turn : float, rad
        By how much the tip has turned.
    """

    lever: Array
    turn: float


def drawn_line(along: Array, curvature: Array, reach: Reach) -> DrawnLine:
    """Return a limb at full draw from the shape of its bend.

    Parameters
    ----------
    along : ndarray, shape (n,)
        Share of the bending length, from 0 to 1.
    curvature : ndarray, shape (n,)
        Shape of the bend; its scale is found here.
    reach : Reach

    Notes
    -----
    Straight unstrung limb, neither limb nor string stretches.  The braced limb has a bend of the
    same shape; from its brace height follows the string, from string and draw length the drawn
    limb.  Lengths that no limb reaches give the nearest it can.
    """
    s = reach.bending * along
    turned = _running(curvature, s)
    unit = MOST_TURN / turned[-1]

    def line(share: float) -> tuple[Array, Array]:
        angle = share * unit * turned
        return _running(np.sin(angle), s), reach.rigid + _running(np.cos(angle), s)

    half_string = reach.string
    if half_string is None:
        brace = reach.brace or 0.0
        half_string = float(line(_root(lambda share: brace - line(share)[0][-1]))[1][-1])

    def too_long(share: float) -> float:
        x, z = line(share)
        return float(np.hypot(reach.draw - x[-1], z[-1])) - half_string

    drawn = _root(too_long)
    x, z = line(drawn)
    pull = np.array([reach.draw - x[-1], -z[-1]])
    pull /= np.linalg.norm(pull)
    lever = np.abs((x[-1] - x) * pull[1] - (z[-1] - z) * pull[0])
    return DrawnLine(
        lever=lever / max(float(lever[0]), SHORTEST * reach.bending), turn=drawn * MOST_TURN
    )


def _running(values: Array, s: Array) -> Array:
    pieces = 0.5 * (values[1:] + values[:-1]) * np.diff(s)
    return np.concatenate([[0.0], np.cumsum(pieces)])


def _root(function: Callable[[float], float]) -> float:
    """Return where a function that begins positive passes zero between 0 and 1, or the end."""
    from scipy.optimize import brentq  # only a case with a taper has to wait for it

    if function(1.0) >= 0.0:
        return 1.0
    return float(brentq(function, 0.0, 1.0, xtol=1e-10)) if function(0.0) > 0.0 else 0.0
