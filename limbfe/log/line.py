"""The centre line of a bow on the back of a stave."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from limbfe.curves import Curve, natural_spline
from limbfe.frames import Array, read_only

End = Literal["butt", "top"]
FINE = 2001
"""Points of a line along which its length is summed: exact to a micrometre."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line on the back, and where the bow lies along it.

    Attributes
    ----------
    grip : float, m
        Station of the middle of the grip on the stave.
    upper_end : {"butt", "top"}
        End of the stave that is up.
    lower, upper : float, m
        Lengths of the limbs from the middle of the grip.
    x : ndarray, shape (n,), m
        Nodes along the stave, growing, from nock to nock.
    offset : ndarray, shape (n,), m
        How far the line lies to the right of the snapped line there.
    curve : Curve
        The offset between its nodes; made here.

    Notes
    -----
    Between its nodes the line is the natural cubic spline: of all curves through them the one
    of least bending, as a thin batten lies (C. de Boor, A Practical Guide to Splines, 1978,
    chapter V, from memory).
    """

    grip: float
    upper_end: End
    lower: float
    upper: float
    x: Array
    offset: Array
    curve: Curve = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", read_only(self.x))
        object.__setattr__(self, "offset", read_only(self.offset))
        object.__setattr__(self, "curve", natural_spline(self.x, self.offset))

    @property
    def sign(self) -> float:
        """1 where going up the bow is going up the stave, -1 where it is going down."""
        return 1.0 if self.upper_end == "top" else -1.0

    @property
    def nocks(self) -> tuple[float, float]:
        """Stations of the nock towards the butt and of that towards the top, m."""
        return float(self.x[0]), float(self.x[-1])

    def offset_at(self, x: Any, order: int = 0) -> Array:
        """Return the offset, or a derivative, at stations of the stave; straight past the nocks."""
        x = np.asarray(x, dtype=np.float64)
        inside = np.clip(x, self.x[0], self.x[-1])
        value = self.curve(inside, order)
        if order == 0:
            value = value + self.curve(inside, 1) * (x - inside)
        elif order > 1:
            value = np.where(inside == x, value, 0.0)
        return value

    def along(self, x: Any) -> Array:
        """Return stations of the bow (m from the grip, up positive) at stations of the stave."""
        t = np.linspace(*self.nocks, FINE)
        speed = np.hypot(1.0, self.offset_at(t, 1))
        run = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(t))])
        run -= np.interp(self.grip, t, run)
        x = np.asarray(x, dtype=np.float64)
        past = x - np.clip(x, t[0], t[-1])
        along: Array = self.sign * (np.interp(x, t, run) + past)
        return along

    def station(self, s: Any) -> Array:
        """Return stations of the stave at stations of the bow (m from the grip, up positive)."""
        t = np.linspace(*self.nocks, FINE)
        at = self.sign * self.along(t)
        s = self.sign * np.asarray(s, dtype=np.float64)
        past = s - np.clip(s, at[0], at[-1])
        station: Array = np.interp(s, at, t) + past
        return station

    def chord(self, x: Any) -> Array:
        """Return the offset of the straight line from nock to nock, shape of `x`, m."""
        chord: Array = np.interp(x, self.x[[0, -1]], self.offset[[0, -1]])
        return chord

    @property
    def grip_off(self) -> float:
        """How far the middle of the grip lies from the straight line between the nocks, m."""
        return float(self.offset_at(self.grip) - self.chord(self.grip))


def bending(x: Array, offset: Array) -> float:
    """Return the bending of the natural cubic spline through points: the integral of y''^2, 1/m.

    Closed form from the moments at the points: y'' is straight between them, so the integral over
    a piece of length h is ``h (a^2 + a b + b^2) / 3``.
    """
    bend = natural_spline(x, offset)(x, 2)
    a, b = bend[:-1], bend[1:]
    return float(np.sum(np.diff(x) * (a * a + a * b + b * b)) / 3.0)
