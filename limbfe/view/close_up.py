"""From a judged zone to the arrays of its close-up picture."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.defects import LocalModel
from limbfe.analysis.results import DefectResult
from limbfe.defect.strip import edge, rim
from limbfe.failure.problem import DepthSlice, ModeOutcome, StressField
from limbfe.failure.verdict import governing_mode
from limbfe.frames import Array, read_only
from limbfe.view.defect_arrays import CloseUp, Panel, Window, Zone

PANELS = {
    "fibre": "fibres break",
    "opening": "split opens",
    "sliding": "split slides",
    "yield": "belly is crushed",
}
SHOWN_FROM = 0.05
"""A way of failing that uses less of the strength than this has no panel."""
WINDOW_SIDE = 0.001
"""Short side of a window (m)."""
SUBTRIANGLES = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])


def close_up(result: DefectResult, local: LocalModel, *, most: int = len(PANELS)) -> CloseUp:
    """Return the close-up of a judged zone: for every way of failing the slice that decides it.

    Parameters
    ----------
    result : DefectResult
    local : LocalModel
        What it was judged by.
    most : int
        Panels at the most, those of the ways nearest to failing.
    """
    modes = local.outcome.modes
    worst = governing_mode(local.outcome).mode
    shown = [mode for mode in PANELS if modes[mode].typical >= SHOWN_FROM or mode == worst]
    ranked = sorted(shown, key=lambda mode: (mode != worst, -modes[mode].typical))[:most]
    zone = result.kind
    return CloseUp(
        title=f"{zone.capitalize()} {result.name}: {result.verdict}",
        plane=local.plane,
        panels=tuple(_panel(local, mode) for mode in PANELS if mode in ranked),
    )


def _panel(local: LocalModel, mode: str) -> Panel:
    one = local.outcome.modes[mode]
    field = min(local.outcome.fields, key=lambda other: abs(other.z - one.z))
    piece = min(local.problem.slices, key=lambda other: abs(other.z - field.z))
    nodes, count = field.elements.ravel(), len(field.nodes)
    wood = field.part.repeat(6) < 0
    x = np.linspace(piece.strip.x[0], piece.strip.x[-1], 200)
    return Panel(
        mode=PANELS[mode],
        height=field.z,
        points=read_only(field.nodes),
        triangles=field.elements[:, SUBTRIANGLES].reshape(-1, 3).astype(np.int64),
        fibre_angle=read_only(_mean(nodes[wood], field.angle.ravel()[wood], count)),
        used=read_only(_mean(nodes, _used(piece, field, mode).ravel(), count)),
        edge_x=read_only(x),
        left_edge=read_only(edge(piece.strip, "right", x)),
        right_edge=read_only(edge(piece.strip, "left", x)),
        zones=_zones(piece, local.problem.zone),
        window=_window(one) if one.typical > 0.0 else None,
    )


def _used(piece: DepthSlice, field: StressField, mode: str) -> Array:
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


def _zones(piece: DepthSlice, chief: str) -> tuple[Zone, ...]:
    t = np.linspace(0.0, 2.0 * np.pi, 121)[:-1]
    knots = [
        Zone(
            name=_bare(k.name),
            kind="knot",
            loop=read_only(rim(k.ellipse, t)),
            hole=k.state == "missing",
        )
        for k in piece.knots
    ]
    decays = [
        Zone(name=_bare(d.name), kind="decay", loop=read_only(rim(d.ellipse, t)), hole=False)
        for d in piece.decays
    ]
    return tuple(sorted([*knots, *decays], key=lambda zone: zone.name != _bare(chief)))


def _bare(label: str) -> str:
    """Return the name in a label such as ``knot "A"``."""
    return label.partition('"')[2].rpartition('"')[0]


def _window(mode: ModeOutcome) -> Window:
    c, s = np.cos(mode.angle), np.sin(mode.angle)
    fibre, square = np.array([c, s]), np.array([-s, c])
    long, short = (square, fibre) if mode.mode in ("fibre", "yield") else (fibre, square)
    middle = np.array([mode.x, mode.y])
    a, b = 0.5 * mode.length * long, 0.5 * WINDOW_SIDE * short
    corners = np.stack([middle - a - b, middle + a - b, middle + a + b, middle - a + b])
    return Window(corners=read_only(corners), strength_used=mode.typical)
