"""The wood of a split stave as it lies on the bench.

Bench axes: x from the butt end along the line snapped on the back, across to the right of somebody
who stands at the butt and looks towards the top, depth down from the back.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from limbfe.curves import Curve, monotone_cubic, trapezoid
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.stave.knot import Filler, State

Side = Literal["back", "left", "right", "belly"]
COLUMNS = (
    *("left", "right", "depth", "left_below", "right_below", "rise", "fibre", "fibre_depth"),
    *("twist", "sapwood", "pith", "pith_across"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """A knot as it shows on a face of the stave.

    Attributes
    ----------
    name : str
    x, across : float, m
        On a side face `across` counts from the back down.
    face : {"back", "left", "right", "belly"}
    diameter : float, m
        Across the grain on that face.
    lean : float, rad
        Of the branch towards the top end, from square to the stave.
    state : {"live", "dead", "missing", "drilled", "filled"}
    filler : Filler or None
    far_diameter : float or None, m
        Where it leaves on the opposite face of the stave, 0 if it does not; None for a branch that
        comes from the pith, or goes straight through where there is none.
    """

    name: str
    x: float
    across: float
    face: Side
    diameter: float
    lean: float
    state: State
    filler: Filler | None = None
    far_diameter: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """A patch of rot as it shows on a face of the stave; sizes in m."""

    name: str
    x: float
    across: float
    face: Side
    length: float
    width: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crack:
    """A check: from x `start` to `end`, running straight from `across` to `across_end`; m."""

    start: float
    end: float
    across: float
    across_end: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Log:
    """A split stave.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        Stations from the butt end, zero first.
    left, right : ndarray, shape (n,), m
        Sound wood on either side of the snapped line, at the back.
    depth : ndarray, shape (n,), m
    left_below, right_below : ndarray, shape (n,), m
        The same as left and right at the bottom; the split faces are straight between.
    rise : ndarray, shape (n,), m
        Of the back over a straight edge on both ends.
    fibre, fibre_depth : ndarray, shape (n,), m
        How far one fibre has wandered to the right, and sunk below the back, since the butt.
    twist : ndarray, shape (n,), rad
        How far the back leans to the right against the butt.
    sapwood : ndarray, shape (n,), m
    pith : ndarray, shape (n,), m
        Depth of the pith below the back; infinite, and then everywhere, where it is not known.
    pith_across : ndarray, shape (n,), m
    spiral : float, rad
        Of the spiral grain on the back, positive to the right going up.
    marks : tuple of Mark
    patches : tuple of Patch
    cracks : tuple of Crack
    bark : float, m
        Still on the back; all else is measured from under it.
    curves : dict of str to Curve
        The columns that are not the same everywhere, between their stations; made here.

    Raises
    ------
    GeometryError
        If columns differ in length or the edges cross.

    Notes
    -----
    Between stations every column is the piecewise cubic that never leaves the range of the two
    beside it, as in the finished limb.  Rings are cones round the pith: at depth d below the back
    the ring's radius is the pith's depth less d, and it changes along the log in proportion to it.
    """

    x: Array
    left: Array
    right: Array
    depth: Array
    left_below: Array
    right_below: Array
    rise: Array
    fibre: Array
    fibre_depth: Array
    twist: Array
    sapwood: Array
    pith: Array
    pith_across: Array
    spiral: float
    marks: tuple[Mark, ...]
    patches: tuple[Patch, ...]
    cracks: tuple[Crack, ...]
    bark: float = 0.0
    curves: dict[str, Curve] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", read_only(self.x))
        for name in COLUMNS:
            values = read_only(getattr(self, name))
            object.__setattr__(self, name, values)
            if values.shape != self.x.shape:
                raise GeometryError(
                    f"stave: column {name} has {values.size} values for {self.x.size} stations"
                )
        if not np.all(np.diff(self.x) > 0.0):
            raise GeometryError("stave: stations must increase")
        if not np.all(self.left + self.right > 0.0):
            raise GeometryError("stave: the left edge lies to the right of the right edge")
        if not (np.all(np.isinf(self.pith)) or np.all(np.isfinite(self.pith))):
            raise GeometryError("stave: the pith's depth is finite at some stations only")
        columns = {name: getattr(self, name) for name in COLUMNS}
        uneven = {name: v for name, v in columns.items() if not np.all(v == v[0])}
        curves = {name: monotone_cubic(self.x, v) for name, v in uneven.items()}
        object.__setattr__(self, "curves", curves)

    @property
    def length(self) -> float:
        """From the butt end to the top end along the line, m."""
        return float(self.x[-1])

    @property
    def round(self) -> bool:
        """Whether the rings are known to be round: the pith's depth was measured."""
        return bool(np.isfinite(self.pith[0]))

    def at(self, name: str, x: Any, order: int = 0) -> Array:
        """Return a column, or a derivative of it, at stations `x`, shape of `x`; 0 past the ends.

        A pith at infinity stays there.
        """
        x = np.asarray(x, dtype=np.float64)
        curve = self.curves.get(name)
        if curve is None:
            return np.full(x.shape, getattr(self, name)[0] if order == 0 else 0.0)
        return curve(np.minimum(np.maximum(x, self.x[0]), self.x[-1]), order)

    def edges(self, x: Any, depth: Any = 0.0) -> tuple[Array, Array]:
        """Return where the left and the right face lie at some depth, m to the right of the line.

        Parameters
        ----------
        x, depth : array_like, m
            Broadcast against each other.
        """
        return self.edges_at(x, depth)[0]

    def edges_at(self, x: Any, *depths: Any) -> list[tuple[Array, Array]]:
        """Return the same at several depths; the columns are looked up once."""
        whole = self.at("depth", x)
        sides = [(self.at(side, x), self.at(f"{side}_below", x)) for side in ("left", "right")]
        found = []
        for depth in depths:
            share = np.asarray(depth, dtype=np.float64) / whole
            left, right = (above + (below - above) * share for above, below in sides)
            found.append((-left, right))
        return found

    def fibre_slope(self, x: Any) -> Array:
        """Return how fast the fibres of the back run to the right going up, shape of `x`."""
        if np.any(self.fibre != 0.0):
            return self.at("fibre", x, 1)
        return np.full(np.shape(x), np.tan(self.spiral))

    def volume(self) -> float:
        """Return the volume of the sound wood, m3: the sections' area over the stations."""
        t = np.linspace(0.0, self.length, 4001)
        wide = 0.5 * sum(
            self.at(name, t) for name in ("left", "right", "left_below", "right_below")
        )
        return float(trapezoid(wide * self.at("depth", t), t))
