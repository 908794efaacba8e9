"""The stave between its stations: cross-section sizes and the rest shape of its axis."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from limbfe.curves import Curve
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.stave.columns import Between, between, column_curve, names_of
from limbfe.stave.stave import Belly, Grain, Stave, column
from limbfe.units import both_lengths

_SHAPE_COLUMNS = ("width", "thickness", "sapwood", "lean", "backing", "crown")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionShapes:
    """Outlines at several stations.

    Attributes
    ----------
    x, width, thickness, sapwood, backing, crown : ndarray, shape (S,), m
    lean : ndarray, shape (S,), rad
    belly : {"flat", "round", "corner"}
    belly_corner : float, m
        As in `Stave` and its `Outline`; a single crown stands for all.
    """

    x: Array
    width: Array
    thickness: Array
    sapwood: Array
    lean: Array
    backing: Array
    crown: Array
    belly: Belly
    belly_corner: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "crown", np.broadcast_to(self.crown, np.shape(self.width)))


def shape_at(stave: Stave, x: Any) -> SectionShapes:
    """Return the cross-section sizes at any stations.

    Parameters
    ----------
    stave : Stave
    x : array_like, shape (S,), m
        Stations between the two tips.

    Returns
    -------
    SectionShapes
        Arrays of the shape of `x`.

    Raises
    ------
    GeometryError
        If a station lies beyond a tip.
    """
    at = _inside(stave, x)
    return SectionShapes(
        x=read_only(at),
        **_read(stave, _SHAPE_COLUMNS, at),
        belly=stave.outline.belly,
        belly_corner=stave.outline.belly_corner,
    )


def one_shape(shapes: SectionShapes, station: int) -> SectionShapes:
    """Return one of several outlines, as arrays of shape (1,)."""
    chosen = slice(station, station + 1)
    return replace(
        shapes, **{name: getattr(shapes, name)[chosen] for name in ("x", *_SHAPE_COLUMNS)}
    )


def grain_at(stave: Stave, x: Any) -> Grain:
    """Return how the grain runs at any stations.

    Parameters
    ----------
    stave : Stave
    x : array_like, shape (...), m

    Returns
    -------
    Grain
        Arrays of the shape of `x`.

    Raises
    ------
    GeometryError
        If a station lies beyond a tip.
    """
    return Grain(**_read(stave, names_of("grain"), _inside(stave, x)))


def _read(stave: Stave, names: tuple[str, ...], at: Array) -> dict[str, Array]:
    return _between(stave, names).at(at)


# A bow is judged by asking the same few staves thousands of times; a curve takes as long to make
# as to look up.
@lru_cache(maxsize=32)
def _between(stave: Stave, names: tuple[str, ...]) -> Between:
    return between(stave.x, {name: column(stave, name) for name in names})


def axis_at(stave: Stave, x: Any) -> tuple[Array, Array]:
    """Return the unstrung bow's mid-thickness axis and its section frames.

    Parameters
    ----------
    stave : Stave
    x : array_like, shape (S,), m
        Arc length along the middle of the back.

    Returns
    -------
    positions : ndarray, shape (S, 3), m, global axes
        Origin at mid-thickness in the middle of the grip.
    rotations : ndarray, shape (S, 3, 3)
        Columns are the section axes x, y, z in global axes: x the tangent of the mid-thickness
        axis; y the direction square to it that is nearest to the archer's right, turned with z
        about x by the stave's twist at rest, which brings z towards the archer's right.

    Raises
    ------
    GeometryError
        If a station lies beyond a tip, or reflex and sideways change faster than arc length.

    Notes
    -----
    The middle of the back is the curve ``(-reflex, sideways, Z)`` with ``Z`` the integral of
    ``sqrt(1 - reflex'^2 - sideways'^2)``; the axis is that curve moved inward by half the
    thickness along the back's normal.  That is where the axis of a twisted limb lies, too: its
    sections turn about the axis.  Where a station makes the back's curvature jump, the axis
    has a corner of about ``thickness' * thickness * jump / 4`` (below 1e-3 rad on a bow), and in
    the middle of the grip one of half the jump in the thickness's slope; the frame there is the
    mean of both sides.
    """
    at = _inside(stave, x)
    origin = _axis_position(stave, np.zeros(1))[0]
    positions = _axis_position(stave, at) - origin
    tangent = _axis_tangent(stave, at)
    return positions, _frame(tangent) @ _turns(stave, at)


def _turns(stave: Stave, x: Array) -> Array:
    """Return the turns of the sections about the axis, shape (S, 3, 3), in untwisted axes."""
    twist = _read(stave, ("twist",), x)["twist"]
    out = np.zeros((*x.shape, 3, 3))
    out[..., 0, 0] = 1.0
    out[..., 1, 1] = out[..., 2, 2] = np.cos(twist)
    out[..., 1, 2], out[..., 2, 1] = np.sin(twist), -np.sin(twist)
    return out


def _inside(stave: Stave, x: Any) -> Array:
    at = np.array(x, dtype=np.float64)
    slack = 1e-9 * (stave.x[-1] - stave.x[0])
    outside = (at < stave.x[0] - slack) | (at > stave.x[-1] + slack)
    if np.any(outside) or not np.all(np.isfinite(at)):
        worst = at[outside].flat[0] if np.any(outside) else np.nan
        raise GeometryError(
            f"station {both_lengths(worst)}: outside the stave, which runs from "
            f"{both_lengths(stave.x[0])} to {both_lengths(stave.x[-1])}; measure from the middle "
            "of the grip along the back"
        )
    return np.clip(at, stave.x[0], stave.x[-1])


@lru_cache(maxsize=8)
def _course(stave: Stave) -> Curve:
    """Return reflex and sideways as one piecewise cubic."""
    return column_curve(stave.x, np.stack([stave.reflex, stave.sideways], axis=1), size=False)


@lru_cache(maxsize=8)
def _thickness(stave: Stave) -> Curve:
    return column_curve(stave.x, stave.thickness, size=True)


def _back_slope(stave: Stave, course: Curve, x: Array) -> Array:
    """Return the back's unit tangent, shape (S, 3)."""
    d = course(x, 1)
    rise2 = 1.0 - d[..., 0] ** 2 - d[..., 1] ** 2
    if np.any(rise2 <= 0.0):
        raise GeometryError(
            f"station {x[rise2 <= 0.0].flat[0]:g} m: reflex and sideways change by more than the "
            "distance along the back there; check these columns"
        )
    return np.stack([-d[..., 0], d[..., 1], np.sqrt(rise2)], axis=-1)


def _back_height(stave: Stave, course: Curve, x: Array) -> Array:
    """Return Z of the back, zero at the middle of the grip, integrated piece by piece."""
    breaks = np.unique(np.concatenate([stave.x, [0.0], x.ravel()]))
    points, weights = np.polynomial.legendre.leggauss(10)
    half = 0.5 * np.diff(breaks)[:, None]
    at = breaks[:-1, None] + half * (points + 1.0)
    pieces = (half * weights * _back_slope(stave, course, at)[..., 2]).sum(axis=1)
    height = np.concatenate([[0.0], np.cumsum(pieces)])
    zero = height[np.searchsorted(breaks, 0.0)]
    result: Array = height[np.searchsorted(breaks, x)] - zero
    return result


def _axis_position(stave: Stave, x: Array) -> Array:
    course = _course(stave)
    values = course(x)
    back = np.stack([-values[..., 0], values[..., 1], _back_height(stave, course, x)], axis=-1)
    normal = _frame(_back_slope(stave, course, x))[..., 2]
    thickness = _thickness(stave)(x)
    result: Array = back - 0.5 * thickness[..., None] * normal
    return result


def _axis_tangent(stave: Stave, x: Array) -> Array:
    """Return the unit tangent of the mid-thickness axis, the mean of both sides at a station."""
    course, thickness = _course(stave), _thickness(stave)
    t = _back_slope(stave, course, x)
    _, y_axis, normal = np.moveaxis(_frame(t), -1, 0)
    d1 = course(x, 1)
    half = 0.5 * thickness(x)[..., None]
    total = np.zeros_like(t)
    for side in (-np.inf, np.inf):
        beside = np.nextafter(x, side)
        d2, thicker = course(beside, 2), thickness(beside, 1)[..., None]
        rise = (d1[..., 0] * d2[..., 0] + d1[..., 1] * d2[..., 1]) / t[..., 2]
        bend = np.stack([-d2[..., 0], d2[..., 1], -rise], axis=-1)
        w = np.array([0.0, 1.0, 0.0]) - t[..., 1, None] * t
        dw = -bend[..., 1, None] * t - t[..., 1, None] * bend
        dy = dw - y_axis * np.sum(dw * y_axis, axis=-1, keepdims=True)
        dy /= np.linalg.norm(w, axis=-1, keepdims=True)
        dn = np.cross(bend, y_axis) + np.cross(t, dy)
        tangent = t - 0.5 * thicker * normal - half * dn
        total += tangent / np.linalg.norm(tangent, axis=-1, keepdims=True)
    result: Array = total / np.linalg.norm(total, axis=-1, keepdims=True)
    return result


def _frame(tangent: Array) -> Array:
    """Return frames with x along `tangent` and y as near to global Y as that allows."""
    y = np.array([0.0, 1.0, 0.0]) - tangent[..., 1, None] * tangent
    y = y / np.linalg.norm(y, axis=-1, keepdims=True)
    return np.stack([tangent, y, np.cross(tangent, y)], axis=-1)
