"""The columns of a stave: what may be said at every station of a limb.

This table stands once.  The case file's keys, the headings of CSV tables, the checks, the case
writer and `Stave` take the names, units and defaults from here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.curves import Curve, joined, monotone_cubic
from limbfe.frames import Array, read_only

FLAT = "flat"
"""What a case file writes for an infinite radius."""
FLATTEST = 1e-6
"""1/m; an arch of less curvature is flat: over any limb it is lower than a nanometre."""
Part = Literal["stave", "outline", "grain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column.

    Attributes
    ----------
    name : str
    about : str
        What it says, for the reader of a case file.
    example : str
    kind : {"length", "angle"}
        m or rad; bare angles of a case file are degrees.
    default : float or None
        Where nothing is said, m or rad; None for a column that must be given.
    otherwise : str
        What is taken where nothing is said, for the list of assumptions; empty if that is nothing
        to tell.
    part : {"stave", "outline", "grain"}
        The object that holds it.
    whole : tuple of str or None
        Table and key of a case file that say it of the whole stave instead.
    flat : bool
        Whether it is a radius that may be infinite, "flat", at some stations.  Between stations
        its reciprocal, the curvature, is interpolated.
    size : bool
        Whether it is a size of the section, which may have a corner in the middle of the grip:
        each limb is a curve of its own there, and one of two stations a straight taper.  What
        gives the limb's course and the wood in it runs through the grip.
    """

    name: str
    about: str
    example: str
    kind: Literal["length", "angle"] = "length"
    default: float | None = 0.0
    otherwise: str = ""
    part: Part = "stave"
    whole: tuple[str, str] | None = None
    flat: bool = False
    size: bool = False


STATION = Column(
    name="station",
    about="distances from the middle of the grip to the nock, along the back",
    example="[0, 50, 110, 300]",
    default=None,
)
TABLE = (
    Column(
        name="width",
        about="width of the limb at each station",
        example="[30, 30, 34, 32]",
        default=None,
        size=True,
    ),
    Column(
        name="thickness",
        about="thickness at the middle, sapwood and backing included",
        example="[34, 31, 24, 22]",
        default=None,
        size=True,
    ),
    Column(
        name="sapwood",
        about="depth of the sapwood at the middle",
        example="[6, 6, 5, 4]",
        size=True,
    ),
    Column(
        name="lean",
        about="lean of the rings in degrees, positive when the sapwood is thicker on the archer's "
        "right",
        example="[0, 2, 4, 0]",
        kind="angle",
        otherwise="the rings are taken level across the limb",
    ),
    Column(
        name="backing",
        about="thickness of the strip glued on the back",
        example="[3, 3, 3, 3]",
        size=True,
    ),
    Column(
        name="reflex",
        about="how far the unstrung back lies ahead of the line tangent to the grip",
        example="[0, 0, 2, 8]",
        otherwise="the unstrung back is taken straight seen from the side",
    ),
    Column(
        name="sideways",
        about="how far the limb's middle lies to the archer's right of the line from nock to nock",
        example="[0, 1, 1, 0]",
        otherwise="the limb is taken straight seen from the back",
    ),
    Column(
        name="twist",
        about="how far the unstrung section is turned about the limb's axis, in degrees, positive "
        "when the back faces more to the archer's right",
        example="[0, 0, 2, 5]",
        kind="angle",
        otherwise="the unstrung limb is taken untwisted",
    ),
    Column(
        name="crown",
        about='radius of the arched back, "flat" where it is not arched; [section] back is then '
        '"crowned"',
        example='["flat", 120, 90, 80]',
        default=math.inf,
        part="outline",
        whole=("section", "back"),
        flat=True,
        size=True,
    ),
    Column(
        name="ring_radius",
        about="from the pith to the back, in place of that of [grain]",
        example="[110, 108, 104, 100]",
        default=math.inf,
        otherwise="the rings are taken flat, parallel to the back",
        part="grain",
        whole=("grain", "ring_radius"),
    ),
    Column(
        name="run_out",
        about="slope of the grain between back and belly, positive when fibres come out at the "
        "back going up the bow, in place of that of [grain]; in degrees, as all slopes",
        example="[0, 0, 2, 3]",
        kind="angle",
        otherwise="no run-out between back and belly",
        part="grain",
        whole=("grain", "run_out"),
    ),
    Column(
        name="sideways_grain",
        about="slope of the grain in the face, positive when fibres go to the archer's right going "
        "up the bow, in place of [grain] sideways",
        example="[0, 1, 2, 0]",
        kind="angle",
        otherwise="no slope of the grain in the face",
        part="grain",
        whole=("grain", "sideways"),
    ),
    Column(
        name="spiral",
        about="slope of the spiral grain at the back, positive towards the archer's right going up "
        "the bow, in place of that of [grain]",
        example="[3, 3, 4, 4]",
        kind="angle",
        otherwise="no spiral grain",
        part="grain",
        whole=("grain", "spiral"),
    ),
)
COLUMNS = tuple(column.name for column in TABLE)
"""Their names, without the station."""
NAMED: Mapping[str, Column] = {column.name: column for column in (STATION, *TABLE)}


def names_of(part: Part) -> tuple[str, ...]:
    """Return the names of the columns that one object holds."""
    return tuple(column.name for column in TABLE if column.part == part)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Between:
    """Columns between their stations.

    Attributes
    ----------
    names : tuple of str
    alike : mapping of str to float
        Of columns that are the same everywhere.
    curves : tuple of (names, Curve)
        Of the others, those of flat radii curvatures.
    """

    names: tuple[str, ...]
    alike: Mapping[str, float]
    curves: tuple[tuple[tuple[str, ...], Curve], ...]

    def at(self, at: Any) -> dict[str, Array]:
        """Return the columns at stations (m), each read-only and of their shape."""
        at = np.asarray(at, dtype=np.float64)
        out = {name: np.full(at.shape, value) for name, value in self.alike.items()}
        for names, curve in self.curves:
            values = curve(at)
            out |= {name: values[..., k] for k, name in enumerate(names)}
            for name in names:
                if NAMED[name].flat:
                    bent = out[name] > FLATTEST
                    flat = np.full(at.shape, math.inf)
                    out[name] = np.divide(1.0, out[name], out=flat, where=bent)
        return {name: read_only(out[name]) for name in self.names}


def read_between(x: Array, columns: Mapping[str, Array], at: Any) -> dict[str, Array]:
    """Return columns between their stations; see `between`.

    Parameters
    ----------
    x, columns
        As of `between`.
    at : array_like, shape (...), m

    Returns
    -------
    dict of str to ndarray, shape (...)
        Read-only.
    """
    return between(x, columns).at(at)


def between(x: Array, columns: Mapping[str, Array]) -> Between:
    """Return what columns are between their stations.

    Parameters
    ----------
    x : ndarray, shape (n,), m
        Stations, growing.
    columns : mapping of str to ndarray, shape (n,)
        By name.

    Notes
    -----
    Each column is a piecewise cubic that never leaves the range of the two stations beside it, so a
    width that only falls stays one; a size has a piecewise cubic of its own for each limb.  Of a
    radius that may be "flat" the curvature goes so; a ring radius that is infinite is so
    everywhere.
    """
    alike = {name: values[0] for name, values in columns.items() if np.all(values == values[0])}
    curved = {
        name: 1.0 / values if NAMED[name].flat else values
        for name, values in columns.items()
        if name not in alike
    }
    curves = []
    for size in (True, False):
        names = tuple(name for name in curved if NAMED[name].size == size)
        if names:
            values = np.stack([curved[name] for name in names], axis=1)
            curves.append((names, column_curve(x, values, size)))
    return Between(names=tuple(columns), alike=alike, curves=tuple(curves))


def column_curve(x: Array, values: Array, size: bool) -> Curve:
    """Return the curve of columns between their stations.

    Parameters
    ----------
    x : ndarray, shape (n,), m
    values : ndarray, shape (n, ...)
        Of a column that may be "flat" the curvatures.
    size : bool
        Whether they are sizes, with a corner at the station in the middle of the grip.
    """
    middle = int(np.searchsorted(x, 0.0))
    if not size or not 0 < middle < len(x) - 1 or x[middle] != 0.0:
        return monotone_cubic(x, values)
    lower, upper = slice(0, middle + 1), slice(middle, len(x))
    return joined(monotone_cubic(x[lower], values[lower]), monotone_cubic(x[upper], values[upper]))
