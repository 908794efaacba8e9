"""From a judged zone to the arrays of its close-up picture."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.defect.strip import edge, rim
from limbfe.failure.problem import DepthSlice, LocalOutcome, LocalProblem, ModeOutcome, StressField
from limbfe.failure.verdict import governing_mode
from limbfe.frames import Array, read_only
from limbfe.view.defect import CloseUp, Window, Zone

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


def close_up(problem: LocalProblem, outcome: LocalOutcome, title: str) -> CloseUp:
    """Return the close-up of the slice in which the zone is nearest to breaking or splitting.

    Parameters
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
        Its judgement.
    title : str
    """
    worst = governing_mode(outcome)
    panels = {
        mode: words
        for mode, words in PANELS.items()
        if outcome.modes[mode].typical >= SHOWN_FROM or mode == worst.mode
    }
    piece = min(problem.slices, key=lambda one: abs(one.z - worst.z))
    field = min(outcome.fields, key=lambda one: abs(one.z - worst.z))
    nodes = field.elements.ravel()
    used, angle = _at_nodes(piece, field)
    x = np.linspace(piece.strip.x[0], piece.strip.x[-1], 200)
    wood = field.part.repeat(6) < 0
    return CloseUp(
        title=title,
        points=read_only(field.nodes),
        triangles=field.elements[:, SUBTRIANGLES].reshape(-1, 3).astype(np.int64),
        fibre_angle=read_only(_mean(nodes[wood], angle.ravel()[wood], len(field.nodes))),
        used={
            words: read_only(_mean(nodes, used[mode].ravel(), len(field.nodes)))
            for mode, words in panels.items()
        },
        edge_x=read_only(x),
        left_edge=read_only(edge(piece.strip, "right", x)),
        right_edge=read_only(edge(piece.strip, "left", x)),
        zones=_zones(piece, problem.zone),
        windows=tuple(
            _window(outcome.modes[mode], words)
            for mode, words in panels.items()
            if outcome.modes[mode].typical > 0.0
        ),
    )


def _at_nodes(piece: DepthSlice, field: StressField) -> tuple[dict[str, Array], Array]:
    strength = piece.strength
    along, across, shear = np.moveaxis(field.stress, -1, 0)
    # Inside a knot nothing is judged.
    clear = (field.part < 0)[:, None]
    used = {
        "fibre": np.where(clear, np.maximum(along, 0.0) / strength.tension, 0.0),
        "opening": np.where(clear, np.maximum(across, 0.0) / strength.tension_across, 0.0),
        "sliding": np.where(clear, np.abs(shear) / strength.shear, 0.0),
        "yield": np.where(clear, np.maximum(-along, 0.0) / strength.compression, 0.0),
    }
    return used, field.angle


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
        Zone(name=k.name, kind="knot", loop=read_only(rim(k.ellipse, t)), hole=k.state == "missing")
        for k in piece.knots
    ]
    decays = [
        Zone(name=d.name, kind="decay", loop=read_only(rim(d.ellipse, t)), hole=False)
        for d in piece.decays
    ]
    return tuple(sorted([*knots, *decays], key=lambda zone: zone.name != chief))


def _window(mode: ModeOutcome, words: str) -> Window:
    c, s = np.cos(mode.angle), np.sin(mode.angle)
    fibre, square = np.array([c, s]), np.array([-s, c])
    long, short = (square, fibre) if mode.mode in ("fibre", "yield") else (fibre, square)
    middle = np.array([mode.x, mode.y])
    a, b = 0.5 * mode.length * long, 0.5 * WINDOW_SIDE * short
    corners = np.stack([middle - a - b, middle + a - b, middle + a + b, middle - a + b])
    return Window(mode=words, corners=read_only(corners), strength_used=mode.typical)
