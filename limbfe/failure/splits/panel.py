"""Half of a strip with a knot or hole in it, meshed along the lines on which it may split.

The limb is taken as straight and as wide as at the zone, the zone and its load as alike on both
sides of it: one half, x > 0 from the zone's middle, stands for both.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.fem.cracks.slit import Slit, cut_slit, line_nodes
from limbfe.fem.delaunay import missing_segments, parts, triangulate
from limbfe.fem.mesh import Index, PlaneMesh, second_order
from limbfe.frames import Array

BELOW_TOP = np.radians(10.0)
"""Splits of straight grain leave a hole this far below its side: about where they start with the
least load, and no cusp is left between line and hole."""
SIDES_ROUND = 32.0
"""Elements round a zone; no element is longer than `COARSEST` of the width."""
FINEST, FINE = 0.15e-3, 0.5e-3
"""Least and greatest side (m) of the elements at a zone."""
COARSEST = 0.12
THIN_RIM = 0.15
"""Of a zone's half width: wood thinner than this between it and the edge carries nothing."""
_GROWTH, _ALONG = 0.3, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A knot or hole in a strip, seen on the face that is pulled hardest.

    Attributes
    ----------
    width : float, m
        Of the strip.
    y : float, m
        Of the zone's middle from that of the strip.
    a, b : float, m
        Half its length and width.
    hollow : bool
        Nothing is left in it.
    swerves : bool
        The fibres flow round it; else they are cut and run straight.
    """

    width: float
    y: float
    a: float
    b: float
    hollow: bool
    swerves: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """The mesh of an `Opening` with its lines doubled.

    Attributes
    ----------
    mesh : PlaneMesh
        Region 1 is the knot.
    joint : Slit or None
        The knot's rim; None for a hole.
    lines : tuple of Slit
        Where the wood may split: one on the zone's axis where fibres swerve, one at each side of
        it where they are cut.
    tips : ndarray, shape (k + 1,), m
        Places of a tip along every line.
    end : float, m
        Half the length of the panel.
    """

    mesh: PlaneMesh
    joint: Slit | None
    lines: tuple[Slit, ...]
    tips: Array
    end: float


def settled(opening: Opening) -> tuple[float, float, float]:
    """Return middle and the edges (m) of the wood: a rim too thin to carry is left to the zone.

    Returns
    -------
    y, low, high : float, m
    """
    half, y, thin = 0.5 * opening.width, opening.y, THIN_RIM * opening.b
    reach = opening.b - THIN_RIM * opening.b
    if abs(half - (y + opening.b)) < thin:
        y = half - reach
    elif abs(half + (y - opening.b)) < thin:
        y = -half + reach
    return y, -half, half


def mesh_panel(opening: Opening, reach: float, end: float) -> Panel:
    """Mesh a panel.

    Parameters
    ----------
    opening : Opening
    reach : float, m
        How far from the zone's middle the lines run.
    end : float, m
        Half the length of the panel, more than `reach`.

    Raises
    ------
    GeometryError
        If the zone spans the strip, or the mesh cannot be made.
    """
    y, low, high = settled(opening)
    a, b = opening.a, opening.b
    top, bottom = np.arcsin(np.clip([(high - y) / b, (low - y) / b], -1.0, 1.0))
    inner = low + FINEST < y < high - FINEST
    if (y + b >= high and y - b <= low) or (opening.swerves and not inner):
        raise GeometryError("split: no wood is left on one side of the zone to split from")
    near = float(np.clip(2.0 * np.pi * b / SIDES_ROUND, FINEST, FINE))

    def at(t: float | Array) -> Array:
        return np.array([a * np.cos(t), y + b * np.sin(t)])

    starts = [0.0]
    if not opening.swerves:
        sides = [np.pi / 2 - BELOW_TOP, BELOW_TOP - np.pi / 2]
        starts = [t for t in sides if bottom < t - 1e-6 and t + 1e-6 < top]
    if not starts:
        raise GeometryError("split: the zone lies outside the limb")
    turns = sorted({float(bottom), *starts, float(top)})
    pieces: list[_Path] = [_arc(at, *pair) for pair in pairwise(turns)]
    rim = list(range(len(pieces)))
    lines = []
    for t in starts:
        lines.append(len(pieces))
        pieces.append(_straight(at(t), np.array([reach, at(t)[1]])))
    corners = [(0.0, low), (end, low), (end, high), (0.0, high)]
    first, last = at(float(bottom)), at(float(top))
    if y + b >= high:
        corners[3] = (float(last[0]), high)
    if y - b <= low:
        corners[0] = (float(first[0]), low)
    path = [np.array(c) for c in corners]
    pieces += [_straight(p, q) for p, q in pairwise(path)]
    if y + b < high:
        pieces.append(_straight(path[3], last))
    if y - b > low:
        pieces.append(_straight(first, path[0]))
    if not opening.hollow:
        chord = [first, last]
        if y + b >= high:
            pieces.append(_straight(last, np.array([0.0, high])))
            chord[1] = np.array([0.0, high])
        if y - b <= low:
            pieces.append(_straight(first, np.array([0.0, low])))
            chord[0] = np.array([0.0, low])
        pieces.append(_straight(*chord))

    def in_zone(p: Array) -> NDArray[np.bool_]:
        return np.asarray((p[:, 0] / a) ** 2 + ((p[:, 1] - y) / b) ** 2 < 1.0)

    def inside(p: Array) -> NDArray[np.bool_]:
        within = (p[:, 0] > 0) & (p[:, 0] < end) & (p[:, 1] > low) & (p[:, 1] < high)
        return within & ~in_zone(p) if opening.hollow else within

    levels = np.array([at(t)[1] for t in starts])

    def size(p: Array) -> Array:
        off = np.maximum(np.hypot(p[..., 0] / a, (p[..., 1] - y) / b) - 1.0, 0.0) * min(a, b)
        along = np.maximum(p[..., 0] - 2.0 * a, 0.0)
        aside = np.abs(p[..., 1, None] - levels).min(axis=-1)
        line = near + _ALONG * along + _GROWTH * (aside + np.maximum(p[..., 0] - reach, 0.0))
        out: Array = np.minimum(np.minimum(near + _GROWTH * off, line), COARSEST * opening.width)
        return out

    mesh, chains = _meshed(pieces, size, inside, in_zone)
    joint = None
    if not opening.hollow:
        chain = np.concatenate([chains[k][:-1] for k in rim] + [chains[rim[-1]][-1:]])
        mesh, joint = cut_slit(mesh, line_nodes(mesh, chain), open_start=True)
    slits = []
    for k in lines:
        mesh, slit = cut_slit(mesh, line_nodes(mesh, chains[k]), open_start=True)
        slits.append(slit)
    corners_at = mesh.nodes[chains[lines[0]]]
    tips = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corners_at, axis=0), axis=1))])
    return Panel(mesh=mesh, joint=joint, lines=tuple(slits), tips=tips, end=end)


_Path = Callable[[Array], Array]


def _straight(start: Array, stop: Array) -> _Path:
    return lambda s: start + s[:, None] * (stop - start)


def _arc(at: Callable[[float | Array], Array], start: float, stop: float) -> _Path:
    def path(s: Array) -> Array:
        out: Array = np.stack(list(at(start + s * (stop - start))), axis=1)
        return out

    return path


def _meshed(
    pieces: list[_Path],
    size: Callable[[Array], Array],
    inside: Callable[[Array], NDArray[np.bool_]],
    in_zone: Callable[[Array], NDArray[np.bool_]],
) -> tuple[PlaneMesh, list[Index]]:
    """Triangles between pieces of boundary and lines; the corner nodes of every piece."""
    sampled = [_sampled(piece, size) for piece in pieces]
    every = np.vstack(sampled)
    key = np.round(every / 1e-9).astype(np.int64)
    _, first, number = np.unique(key, axis=0, return_index=True, return_inverse=True)
    chains = np.split(number.ravel(), np.cumsum([len(one) for one in sampled])[:-1])
    segments = np.vstack([np.stack([one[:-1], one[1:]], axis=1) for one in chains])
    points, triangles = triangulate(every[first], segments, size, inside, 5)
    if missing_segments(points, triangles, segments).any():
        raise GeometryError("split: its line cannot be meshed; shift the zone a little")
    count, part = parts(triangles, segments, len(points))
    centre = points[triangles].mean(axis=1)

    def mostly(flag: NDArray[np.bool_]) -> NDArray[np.bool_]:
        share = np.bincount(part, weights=flag, minlength=count)
        return np.asarray(share > 0.5 * np.bincount(part, minlength=count))[part]

    keep, knot = mostly(inside(centre)), mostly(in_zone(centre))
    used = np.unique(triangles[keep])
    new = np.full(len(points), -1)
    new[used] = np.arange(len(used))
    mesh = second_order(points[used], new[triangles[keep]], knot[keep].astype(np.intp))
    return mesh, [new[one] for one in chains]


def _sampled(piece: _Path, size: Callable[[Array], Array]) -> Array:
    points = piece(np.linspace(0.0, 1.0, 2000))
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    total = np.concatenate([[0.0], np.cumsum(step / size(0.5 * (points[1:] + points[:-1])))])
    count = max(int(np.ceil(total[-1])), 1)
    places = np.interp(np.linspace(0.0, total[-1], count + 1), total, np.linspace(0.0, 1.0, 2000))
    return piece(places)
