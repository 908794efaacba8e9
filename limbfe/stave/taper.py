"""Limbs drawn up from a strategy: how width and thickness go from the grip to the nock.

The thickness laws that follow the bending need the moment along the drawn limb: the string's pull
times its lever arm about each station.  The lever arms are those of the limb bent as the law asks,
by statics alone (`limbfe.stave.drawn_line`); shear, the string's stretch and a belly that yields
are left to the solved bow, which shows what is left of the evenness asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.stave.drawn_line import Reach, drawn_line

WidthLaw = Literal["parallel", "straight", "convex"]
ThicknessLaw = Literal["constant", "linear", "even strain", "circular bend", "elliptical bend"]
Tips = Literal["plain", "whip", "stiff"]

SPACING = 0.045
"""Longest distance between two stations, m."""
BEFORE = np.array([0.09, 0.055, 0.03, 0.012, 0.0])
"""Distances of stations before the place where plain tips begin, m."""
GRID = 161
TURNS = 6
"""Each brings the thickness nearer by a factor of about thirty, from 1 per cent."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taper:
    """One limb as a strategy; both limbs are alike.  Lengths in m from the middle of the grip.

    Attributes
    ----------
    length : float
        To the nock, along the back.
    half_grip, fade : float
        Half the handle that does not bend, and the length beyond it over which the handle's size
        runs out into the limb's; both zero for a bow that bends through the grip.
    grip_width, grip_thickness : float
    width, tip_width : float
        Where the limb begins, and at the nock.
    outline : {"parallel", "straight", "convex"}
        Full width up to `parallel_to` and straight from there; straight from the beginning (a
        pyramid); or a parabola with its vertex where the limb begins.
    parallel_to : float
        Read only for the parallel outline.
    thickness, tip_thickness : float
        Where the limb begins, and at the nock.
    law : {"constant", "linear", "even strain", "circular bend", "elliptical bend"}
    ellipse_ratio : float
        Shorter over longer half axis of the ellipse the limb is bent to, the grip at the flat
        side; read only for the elliptical bend.
    tips : {"plain", "whip", "stiff"}
        Plain tips follow the law but never get thinner than `tip_thickness`; whip and stiff tips
        leave the law `tip_length` before the nock and go straight to `tip_thickness`.
    tip_length : float
        Read only for whip and stiff tips.
    brace, string : float or None
        Brace height and half the string's length, one of them, and
    draw : float
        the draw length, from the middle of the grip's thickness; read by the laws that follow the
        bending.
    """

    length: float
    half_grip: float
    fade: float
    grip_width: float
    grip_thickness: float
    width: float
    tip_width: float
    outline: WidthLaw
    parallel_to: float
    thickness: float
    tip_thickness: float
    law: ThicknessLaw
    ellipse_ratio: float
    tips: Tips
    tip_length: float
    brace: float | None
    string: float | None
    draw: float

    @property
    def start(self) -> float:
        """Where the handle has run out and the limb begins, m."""
        return self.half_grip + self.fade


def taper_stations(taper: Taper) -> Array:
    """Return stations from the grip's middle to the nock, shape (n,), m.

    Every place where a law changes is a station, the spans between are divided evenly.
    """
    marks = [0.0, taper.half_grip, taper.half_grip + 0.5 * taper.fade, taper.start, taper.length]
    if taper.outline == "parallel":
        marks.append(taper.parallel_to)
    if taper.tips != "plain":
        marks.append(taper.length - taper.tip_length)
    elif taper.law not in ("constant", "linear"):
        marks.extend(_floor(taper))
    marks = sorted(marks)
    stations = [0.0]
    for mark in marks:
        gap = mark - stations[-1]
        if gap > 1e-3:
            stations.extend(np.linspace(stations[-1], mark, math.ceil(gap / SPACING) + 1)[1:])
    stations[-1] = taper.length
    return np.array(stations)


def _floor(taper: Taper) -> list[float]:
    """Return where plain tips stop getting thinner, and closer and closer places before it.

    The law falls ever faster there, and the columns' smooth curve runs level into the first station
    of even thickness: between stations far apart it would sag below the law.
    """
    x = np.linspace(taper.start, taper.length, 1001)
    begin = float(x[np.argmax(lawful_thickness(taper, x) <= taper.tip_thickness)])
    return [float(mark) for mark in begin - BEFORE if mark > taper.start]


def width_at(taper: Taper, x: Any) -> Array:
    """Return the width at stations `x` (m) of one limb, shape of `x`, m."""
    x = np.asarray(x, dtype=np.float64)
    begin = taper.parallel_to if taper.outline == "parallel" else taper.start
    share = np.clip((x - begin) / (taper.length - begin), 0.0, 1.0)
    if taper.outline == "convex":
        share = share**2
    limb = taper.width + (taper.tip_width - taper.width) * share
    return _blend(taper, x, taper.grip_width, limb)


def thickness_at(taper: Taper, x: Any) -> Array:
    """Return the thickness at stations `x` (m) of one limb, shape of `x`, m.

    Notes
    -----
    With moment M and width w, both against their values where the limb begins, and sections of
    like shape, whose strain is ``kappa t / 2`` and whose stiffness goes with ``w t^3``:

    - even strain, ``M t / (w t^3)`` constant: ``t ~ (M / w)^(1/2)`` [1]_;
    - a bend of given curvature ``kappa``, ``M / (w t^3) ~ kappa``: ``t ~ (M / (w kappa))^(1/3)``.

    References
    ----------
    .. [1] S. Timoshenko, Strength of Materials, part I, 1940: beams of uniform strength (from
       memory).
    """
    x = np.asarray(x, dtype=np.float64)
    limb = lawful_thickness(taper, x)
    if taper.tips == "plain":
        limb = np.maximum(limb, taper.tip_thickness)
    else:
        begin = taper.length - taper.tip_length
        at_begin = lawful_thickness(taper, np.array(begin))
        share = np.clip((x - begin) / taper.tip_length, 0.0, 1.0)
        limb = np.where(x < begin, limb, at_begin + (taper.tip_thickness - at_begin) * share)
    return _blend(taper, x, taper.grip_thickness, limb)


def lawful_thickness(taper: Taper, x: Any) -> Array:
    """Return the thickness the law alone gives, shape of `x`, m: nothing at all at some nocks."""
    x = np.asarray(x, dtype=np.float64)
    along = np.clip((x - taper.start) / (taper.length - taper.start), 0.0, 1.0)
    if taper.law == "constant":
        share = np.ones_like(along)
    elif taper.law == "linear":
        share = 1.0 + (taper.tip_thickness / taper.thickness - 1.0) * along
    else:
        share = np.interp(along, *_bent_thickness(taper))
    result: Array = taper.thickness * share
    return result


def _bent_thickness(taper: Taper) -> tuple[Array, Array]:
    """Return the thickness over that at the limb's beginning, at shares of the limb's length.

    The moments depend on the bend.  A circle is given.  An ellipse's arc depends on how far the tip
    turns, and the bend of even strain on the thickness that the moments ask for: both are found by
    turns, from a circle.
    """
    # Closer together towards the nock, where the moment and with it the thickness end.
    grid = 1.0 - (1.0 - np.linspace(0.0, 1.0, GRID)) ** 2
    reach = Reach(
        rigid=taper.start,
        bending=taper.length - taper.start,
        brace=taper.brace,
        string=taper.string,
        draw=taper.draw,
    )
    x = taper.start + grid * reach.bending
    width = _bare_width(taper, x) / taper.width
    least = taper.tip_thickness / taper.thickness
    bend = np.ones(GRID)
    for _ in range(TURNS):
        line = drawn_line(grid, bend, reach)
        load = line.lever / width
        if taper.law == "even strain":
            share = np.sqrt(load)
            bend = load / np.maximum(share, least) ** 3
        else:
            share = np.cbrt(load / bend)
            if taper.law == "elliptical bend":
                bend = ellipse_curvature(grid, taper.ellipse_ratio, line.turn)
    return grid, share


def ellipse_curvature(along: Any, ratio: float, turn: float) -> Array:
    """Return the curvature of an ellipse's arc over that at its beginning.

    Parameters
    ----------
    along : array_like
        Share of the arc's length, from the flat vertex.
    ratio : float
        Shorter over longer half axis.
    turn : float, rad
        By how much the tangent turns along the arc; below a right angle.

    Notes
    -----
    With psi the tangent's turn since the vertex, ``kappa ~ (sin^2 psi + ratio^2 cos^2
    psi)^(3/2)`` (geometry of the ellipse), and the arc's length is the integral of ``1 / kappa``.
    """
    psi = np.linspace(0.0, turn, 2001)
    curvature = (np.sin(psi) ** 2 + (ratio * np.cos(psi)) ** 2) ** 1.5 / ratio**3
    arc = np.concatenate([[0.0], np.cumsum(0.5 / curvature[1:] + 0.5 / curvature[:-1])])
    return np.interp(np.asarray(along, dtype=np.float64), arc / arc[-1], curvature)


def tip_reflex(taper: Taper, x: Any, reflex: float) -> Array:
    """Return a back that leaves the grip's line in a parabola to `reflex` (m) at the nock."""
    along = (np.asarray(x, dtype=np.float64) - taper.half_grip) / (taper.length - taper.half_grip)
    result: Array = reflex * np.clip(along, 0.0, 1.0) ** 2
    return result


def _bare_width(taper: Taper, x: Array) -> Array:
    """Return the limb's width as if it began at full width without a handle."""
    return width_at(taper, np.maximum(x, taper.start))


def _blend(taper: Taper, x: Array, grip: float, limb: Array) -> Array:
    """Return the handle's size, run out into the limb's with a smooth step over the fade."""
    if taper.start == 0.0:
        return limb
    share = np.clip((x - taper.half_grip) / taper.fade, 0.0, 1.0)
    step = share * share * (3.0 - 2.0 * share)
    result: Array = grip + (limb - grip) * step
    return result
