"""The split beside a knot whose middle lies at the edge of the limb or beyond it.

Fibres that swerve round a knot are whole while they stay in the limb; only those split off that
the edge cuts.  Of a knot whose middle lies inside the edge they are a strip as thick as the wood
between middle and edge, and the split runs on the knot's axis.  Where the edge has cut the middle
off they are a sliver between rim and the first fibre that stays inside, thick beside the knot and
fading along the edge.  Either is so slender beside the limb that its energy is that of a strip let
go: what a notch of its depth in the edge of a strip with free ends sets free, less that of the knot
itself.  As the middle passes the edge there is nothing to split off, from either side.

The sliver is taken to bear the full stress of the back before it splits; its fibres slope, so that
it bears less: what it sets free is an upper bound.  The fibres that stay whole split no later than
beside the same knot in the middle of the limb, where there are more of them to bend.

References
----------
Notch in the edge: energy balance (tests/fem/cracks/test_strips.py).  Shares of opening and sliding
under a thin strip let go, 52.1 degrees: Z. Suo, J. W. Hutchinson, Interface crack between two
elastic layers, International Journal of Fracture 43 (1990), 1-18 (from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.errors import GeometryError
from limbfe.failure.splits.course import REACH, SHORT, SHORT_LENGTH, Board, deep_share
from limbfe.failure.splits.criterion import Split
from limbfe.failure.splits.grain_split import GrainSplit, Line, Way
from limbfe.failure.splits.panel import Opening
from limbfe.frames import Array

SLENDER = 0.35
"""Of the knot's half width: middles nearer to an edge than this leave no strip of their own to
mesh a split in."""
MIX = np.radians(52.1)
_STEPS = 600


def at_the_edge(opening: Opening) -> bool:
    """Return whether what may split off beside a knot is a sliver at the edge."""
    return opening.swerves and _inside(opening) < SLENDER * opening.b


def _inside(opening: Opening) -> float:
    """How far the knot's middle lies inside the nearer edge, m; below 0 beyond it."""
    return 0.5 * opening.width - abs(opening.y)


def notch_release(depth: Array, width: float) -> Array:
    """Return what a notch in the edge of a strip with free ends sets free as it grows along it.

    Parameters
    ----------
    depth : ndarray, m
    width : float, m

    Returns
    -------
    ndarray, m
        Times the square of the stress over Young's modulus: energy release, J/m2.
    """
    left = width - depth
    out: Array = 0.5 * width**2 * (1.0 / left - 1.0 / width + 3.0 * depth**2 / left**3)
    return out


def cut_depths(opening: Opening, x: Array) -> tuple[Array, Array]:
    """Return how deep knot and cut fibres reach into the limb from its edge, m.

    Parameters
    ----------
    opening : Opening
        At the edge.
    x : ndarray, m
        From the knot's middle, along the limb.

    Returns
    -------
    knot, fibres : ndarray, m
        The latter of a strip, beside the knot, without what of the knot lies within it.

    Notes
    -----
    Fibres: `limbfe.defect.grain_flow`, ``psi = y (1 - r0^2 / (x^2 + y^2))`` in the plane in which
    the ellipse is a circle of radius r0; found by bisection.
    """
    inside, a, b = _inside(opening), opening.a, opening.b
    if inside >= 0.0:
        return np.zeros(len(x)), np.full(len(x), inside)
    beyond = -inside
    rim = b * np.sqrt(np.maximum(1.0 - (x / a) ** 2, 0.0))
    low, high = np.maximum(rim, beyond), np.full(len(x), beyond + 2.0 * max(a, b))
    for _ in range(60):
        middle = 0.5 * (low + high)
        within = _stream(x, middle, a, b) < beyond
        low, high = np.where(within, middle, low), np.where(within, high, middle)
    return np.maximum(rim - beyond, 0.0), 0.5 * (low + high) - beyond


def _stream(x: Array, y: Array, a: float, b: float) -> Array:
    """Stream function of fibres along x round an ellipse, outside it; far away it is y."""
    z = x + 1j * y
    root = np.sqrt(z**2 - (a**2 - b**2) + 0j)
    zeta = 0.5 * (z + np.where((root * z.conj()).real < 0.0, -root, root))
    out: Array = (zeta + (0.5 * (a + b)) ** 2 / zeta).imag
    return out


def edge_sliver(
    opening: Opening, board: Board, middle: GrainSplit, *, pull: float, stress_used: float
) -> GrainSplit:
    """Return the split of a sliver at the edge.

    Parameters
    ----------
    opening : Opening
        `at_the_edge`.
    board : Board
    middle : GrainSplit
        That of the same knot in the middle of the limb.
    pull : float, Pa
        Stress of the sound limb's back there, above 0.
    stress_used : float
        Strength used by stress alone, above 0: a split starts when stress and energy suffice.

    Raises
    ------
    GeometryError
        If nothing of the limb is left beside the knot.
    """
    reach, width, strength = opening.a + REACH * opening.width, opening.width, board.strength
    beyond = max(-_inside(opening), 0.0)
    start = opening.a * np.sqrt(max(1.0 - (beyond / opening.b) ** 2, 0.0))
    along = np.linspace(0.0, reach, _STEPS + 1)
    knot, fibres = cut_depths(opening, along)
    if not max(float(fibres.max()), opening.b + _inside(opening)) < width:
        raise GeometryError("split: no wood is left on one side of the zone to split from")
    tough = np.cos(MIX) ** 2 / strength.opening + np.sin(MIX) ** 2 / strength.sliding
    freed = notch_release(fibres, width) - notch_release(knot, width)
    length = np.maximum(along - start, 0.0)
    g = deep_share(length, board.depth, board.wood) * freed * pull**2 / board.wood.E_L * tough
    with np.errstate(divide="ignore"):
        need = 1.0 / np.sqrt(np.maximum(g, 0.0))
    out = np.flatnonzero(length > 0.0)
    split = Split(
        start=float(max(need.min(), 1.0 / stress_used)),
        start_length=float(length[out[0]]),
        length=length[out],
        need=need[out],
        end=float(length[-1]),
    )
    gains = _net(float(fibres[0]), width) / _net(float(knot[0]), width) if beyond else 1.0
    way = Way(split=split, lines=(0,), mix=float(MIX), fibres=np.full(len(out), gains))
    whole = (
        replace(one, split=replace(one.split, start=max(one.split.start, 1.0 / stress_used)))
        for one in middle.ways
    )
    side = np.sign(opening.y) * (0.5 * width - float(np.interp(start, along, fibres)))
    return GrainSplit(
        ways=(way, *whole),
        joint=middle.joint if beyond < opening.b else None,
        short=max(SHORT * 2.0 * opening.b, SHORT_LENGTH),
        lines=(Line(start=float(start), side=float(side)),),
        at_edge=True,
    )


def _net(depth: float, width: float) -> float:
    """Stress at the bottom of a notch in the edge of a strip with free ends, over the gross one."""
    left = width - depth
    return width / left * (1.0 + 3.0 * depth / left)
