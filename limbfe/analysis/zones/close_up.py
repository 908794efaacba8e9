"""A judged zone close up, as plain arrays: layers, rims of zones, windows, strength used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.zones.verdicts import LocalModel
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.defect.strip import edge, rim
from limbfe.failure.problem import DepthLayer, ModeOutcome, StressField, trace_of
from limbfe.failure.verdict import governing_mode, split_way
from limbfe.frames import Array, read_only
from limbfe.stave.zone_label import ZoneLabel

PANELS = {
    "fibre": "fibres break",
    "opening": "split opens",
    "sliding": "split slides",
    "yield": "belly wrinkles",
}
SPLITS = ("opening", "sliding")
BENT_PLACES, BENT_ACROSS = 202, 5
SHOWN_FROM = 0.05
"""A way of failing that uses less of the strength than this has no panel."""
WINDOW_SIDE = 0.001
"""Short side of a window (m)."""
SUBTRIANGLES = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneRim:
    """The trace of a knot or patch on the strip.

    Attributes
    ----------
    name : str
    kind : {"knot", "decay"}
    loop : ndarray, shape (k, 2), m
        Its rim, once round.
    hole : bool
        True where there is no wood: fibres end at the rim.
    beyond : bool
        Whether it lies at another depth, above or below this one.
    """

    name: str
    kind: Literal["knot", "decay"]
    loop: Array
    hole: bool
    beyond: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """The patch of wood over which a stress was averaged.

    Attributes
    ----------
    corners : ndarray, shape (4, 2), m
    strength_used : float
        Of the averaged stress.
    """

    corners: Array
    strength_used: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SplitMark:
    """A followed split on the strip, to one end of the zone.

    Attributes
    ----------
    x : tuple of float, m
        Where its line leaves the zone, and where it comes to at the judged load; the same where
        nothing splits.
    to : float, m
        How far it would run.
    y : float, m
    """

    x: tuple[float, float]
    to: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One way of failing on the layer of the limb that decides it, as plain arrays.

    Attributes
    ----------
    mode : str
        The way of failing, in words; of a followed split with the load over that at which it runs.
    height : float, m
        Where the layer lies: from mid-thickness towards the back, or from mid-width towards the
        archer's right.
    points : ndarray, shape (n, 2), m
        Nodes; x along the limb from the middle of the grip, y towards the archer's right or,
        upright, towards the back.
    triangles : ndarray of int, shape (t, 3)
    fibre_angle : ndarray, shape (n,), rad
        From x towards y; nan in a hole.
    used : ndarray, shape (n,)
        Stress over strength.
    edge_x : ndarray, shape (m,), m
    left_edge, right_edge : ndarray, shape (m,), m
        The limb's edges at smaller and at larger y.
    zones : tuple of ZoneRim
        The one in question first.
    window : Window or None
        None where a section or a followed split is judged.
    splits : tuple of SplitMark
        Of a layer that is pulled.
    """

    mode: str
    height: float
    points: Array
    triangles: NDArray[np.int64]
    fibre_angle: Array
    used: Array
    edge_x: Array
    left_edge: Array
    right_edge: Array
    zones: tuple[ZoneRim, ...]
    window: Window | None
    splits: tuple[SplitMark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """The piece of limb from the side, as the load bends it.

    Attributes
    ----------
    x : ndarray, shape (k,), m
    zone, sound : ndarray, shape (k,), m
        How far it leaves the straight between its ends towards the back, on the mean of its width:
        with the zone in it and, of even curvature, without.
    more : float
        By which part it turns more from end to end than without the zone.
    """

    x: Array
    zone: Array
    sound: Array
    more: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CloseUp:
    """A zone close up.

    Attributes
    ----------
    title : str
    plane : {"flat", "side"}
        Layers parallel to the back, or upright between back and belly.
    panels : tuple of Panel
    bent : Bent or None
        None where the limb is not bent.
    """

    title: str
    plane: Literal["flat", "side"]
    panels: tuple[Panel, ...]
    bent: Bent | None = None


def close_up(result: ZoneVerdict, local: LocalModel, *, most: int = len(PANELS)) -> CloseUp:
    """Return the close-up of a judged zone: for every way of failing the layer that decides it.

    Parameters
    ----------
    result : ZoneVerdict
    local : LocalModel
        What it was judged by.
    most : int
        Panels at the most, those of the ways nearest to failing.
    """
    modes, followed = local.outcome.modes, local.outcome.grain_split
    worst = governing_mode(local.outcome).mode
    shown = [mode for mode in PANELS if modes[mode].typical >= SHOWN_FROM or mode == worst]
    if followed is not None:
        # a split that was followed has one panel, whichever way it is hardest to drive
        way = split_way(modes["split"])
        shown = [mode for mode in shown if mode not in SPLITS or mode == way]
    ranked = sorted(shown, key=lambda mode: (mode != worst, -modes[mode].typical))[:most]
    zone, state = result.kind, f" ({result.state})" if result.state else ""
    return CloseUp(
        title=f"{zone.capitalize()} {result.name}{state}: {result.verdict}",
        plane=local.plane,
        panels=tuple(_panel(local, mode) for mode in PANELS if mode in ranked),
        bent=_bent(local),
    )


def _bent(local: LocalModel) -> Bent | None:
    """Return the plate from the side, bent as the load bends it."""
    from scipy.interpolate import LinearNDInterpolator  # an eighth of a second to load

    layers = local.problem.layers
    field, piece = local.outcome.fields[0], layers[0]
    x = np.linspace(piece.strip.x[0], piece.strip.x[-1], BENT_PLACES)[1:-1]
    right, left = edge(piece.strip, "right", x), edge(piece.strip, "left", x)
    # mean over the width, since a bent board curls across
    node, weight = np.polynomial.legendre.leggauss(BENT_ACROSS)
    y = 0.5 * (right + left) + 0.5 * node[:, None] * (left - right)
    if local.plane == "flat":
        moved, turned = field.moved[:, 2], layers[-1].strain.axial - piece.strain.axial
        curvature = turned / (layers[-1].z - piece.z)
    else:
        moved, curvature = field.moved[:, 1], -piece.strain.bending
    if curvature <= 0.0:
        return None
    places = np.stack([np.broadcast_to(x, y.shape), y], axis=-1)
    line = 0.5 * weight @ LinearNDInterpolator(field.nodes, moved)(places)
    x, line = x[np.isfinite(line)], line[np.isfinite(line)]
    tenth = len(x) // 10
    ends = [np.polyfit(x[some], line[some], 1)[0] for some in (slice(tenth), slice(-tenth, None))]
    apart = float(x[-tenth:].mean() - x[:tenth].mean())
    sound = 0.5 * curvature * (x - x[0]) * (x[-1] - x)
    return Bent(
        x=read_only(x),
        zone=read_only(line - np.interp(x, x[[0, -1]], line[[0, -1]])),
        sound=read_only(sound),
        more=float((ends[0] - ends[1]) / (apart * curvature) - 1.0),
    )


def _panel(local: LocalModel, mode: str) -> Panel:
    followed = local.outcome.grain_split if mode in SPLITS else None
    one = local.outcome.modes[mode if followed is None else "split"]
    field = min(local.outcome.fields, key=lambda other: abs(other.z - one.z))
    piece = min(local.problem.layers, key=lambda other: abs(other.z - field.z))
    nodes, count = field.elements.ravel(), len(field.nodes)
    wood = field.part.repeat(6) < 0
    x = np.linspace(piece.strip.x[0], piece.strip.x[-1], 200)
    return Panel(
        mode=PANELS[mode]
        if followed is None
        else f"{PANELS[mode]}: {one.typical:.2f} of what makes it run",
        height=field.z,
        points=read_only(field.nodes),
        triangles=field.elements[:, SUBTRIANGLES].reshape(-1, 3).astype(np.int64),
        fibre_angle=read_only(_mean(nodes[wood], field.angle.ravel()[wood], count)),
        used=read_only(_mean(nodes, _used(piece, field, mode).ravel(), count)),
        edge_x=read_only(x),
        left_edge=read_only(edge(piece.strip, "right", x)),
        right_edge=read_only(edge(piece.strip, "left", x)),
        zones=_zones(piece, local.problem.zone),
        window=_window(one)
        if one.typical > 0.0 and one.station is None and followed is None
        else None,
        splits=_splits(local, piece),
    )


def _splits(local: LocalModel, piece: DepthLayer) -> tuple[SplitMark, ...]:
    """Return the lines of a followed split on a layer, to both ends of the zone."""
    followed, own = local.outcome.grain_split, trace_of(piece, local.problem.zone)
    pressed = local.plane == "flat" and piece.strain.axial <= 0.0
    if followed is None or own is None or pressed:
        return ()
    at = np.array([own.x])
    middle = 0.5 * sum(float(edge(piece.strip, side, at)[0]) for side in ("right", "left"))
    far = dict(followed.split_lines(1.0))
    marks = []
    for line in followed.lines:
        end = max(way.split.end for way in followed.ways)
        for sign in (-1.0, 1.0):
            start, come, to = (
                own.x + sign * (line.start + length)
                for length in (0.0, far.get(line, 0.0), min(end, line.room))
            )
            marks.append(SplitMark(x=(start, come), to=to, y=middle + line.side))
    return tuple(marks)


def _used(piece: DepthLayer, field: StressField, mode: str) -> Array:
    """Return stress over strength at the elements' nodes, 0 inside knots."""
    strength = piece.strength
    along, across, shear = np.moveaxis(field.stress, -1, 0)
    used: Array = {
        "fibre": np.maximum(along, 0.0) / strength.tension,
        "opening": np.maximum(across, 0.0) / strength.tension_across,
        "sliding": np.abs(shear) / strength.shear,
        "yield": np.maximum(-along, 0.0) / strength.compression,
    }[mode]
    return np.where((field.part < 0)[:, None], used, 0.0)


def _mean(nodes: NDArray[np.integer[Any]], values: Array, count: int) -> Array:
    """Return the mean of element values at every node, nan where a node has none."""
    total = np.bincount(nodes, weights=values, minlength=count)
    number = np.bincount(nodes, minlength=count)
    with np.errstate(invalid="ignore"):
        mean: Array = total / number
    return mean


def _zones(piece: DepthLayer, chief: ZoneLabel | str) -> tuple[ZoneRim, ...]:
    t = np.linspace(0.0, 2.0 * np.pi, 121)[:-1]
    knots = [
        ZoneRim(
            name=_bare(k.name),
            kind="knot",
            loop=read_only(rim(k.ellipse, t)),
            hole=k.state == "missing",
        )
        for k in piece.knots
    ]
    decays = [
        ZoneRim(name=_bare(d.name), kind="decay", loop=read_only(rim(d.ellipse, t)), hole=False)
        for d in piece.decays
    ]
    found = [*knots, *decays]
    if piece.focus is not None and not any(zone.name == _bare(chief) for zone in found):
        kind = chief.kind if isinstance(chief, ZoneLabel) else "decay"
        loop = read_only(rim(piece.focus, t))
        found.append(ZoneRim(name=_bare(chief), kind=kind, loop=loop, hole=False, beyond=True))
    return tuple(sorted(found, key=lambda zone: zone.name != _bare(chief)))


def _bare(label: ZoneLabel | str) -> str:
    return label.name if isinstance(label, ZoneLabel) else label


def _window(mode: ModeOutcome) -> Window:
    c, s = np.cos(mode.angle), np.sin(mode.angle)
    fibre, square = np.array([c, s]), np.array([-s, c])
    long, short = (square, fibre) if mode.mode in ("fibre", "yield") else (fibre, square)
    middle = np.array([mode.x, mode.y])
    a, b = 0.5 * mode.length * long, 0.5 * WINDOW_SIDE * short
    corners = np.stack([middle - a - b, middle + a - b, middle + a + b, middle - a + b])
    return Window(corners=read_only(corners), strength_used=mode.typical)
