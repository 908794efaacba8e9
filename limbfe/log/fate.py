"""What becomes of each knot: gone with which cut, or where and how big in the finished limb."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from limbfe.log.branch import (
    Words,
    back_level,
    branch_in_section,
    in_words,
    lean_to_tip,
    mark_on_back,
)
from limbfe.log.line import Line
from limbfe.log.log import Log, Mark
from limbfe.log.turn import Turn
from limbfe.stave.knot import Knot, inside_knot, knot_span
from limbfe.stave.outline import back_z, belly_z, edge_z
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave

Fate = Literal["gone", "back", "belly", "through", "edge"]
ACROSS, ALONG = 161, 61
"""Points of the faces at which it is looked whether a branch shows."""
AT_EDGE = 0.985
"""Share of the half width from which on a knot on a round belly is at the edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """A stage of roughing: how much is left over the finished limb, m."""

    name: str
    side: float
    belly: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A knot as a stage shows it; `fate`, `diameter` and `edge` as in `KnotFate`."""

    stage: str
    fate: Fate
    diameter: float | None
    edge: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnotFate:
    """One knot.

    Attributes
    ----------
    name : str
    fate : {"gone", "back", "belly", "through", "edge"}
    gone_at : str
        The cut that takes it away; empty where it stays.
    diameter, edge : float or None, m
        In the finished limb: across the grain where it is widest, and from its rim to the nearer
        edge, negative where it is cut by it.
    swirl : bool
        Whether the knot is gone and the swirl of its fibres is still in the limb.
    words : Words or None
        As the case of the finished limb says it; None where nothing of it is left there.
    x : float, m
        Its station on the stave.
    shown : tuple of Shown
        At every stage of roughing, down to the one that takes it away.
    """

    name: str
    fate: Fate
    gone_at: str
    diameter: float | None
    edge: float | None
    swirl: bool
    words: Words | None
    x: float
    shown: tuple[Shown, ...] = ()


def knot_fate(
    log: Log, mark: Mark, line: Line, wanted: Stave, stages: tuple[Stage, ...] = ()
) -> KnotFate:
    """Return what becomes of a knot under a layout.

    Parameters
    ----------
    log : Log
    mark : Mark
    line : Line
    wanted : Stave
        The finished limb; its outline and sizes are used.
    stages : tuple of Stage
        Cuts on the way to it, the first one first.
    """
    turn, s = Turn(line.upper_end), float(line.along(mark.x))
    if not wanted.x[0] < s < wanted.x[-1]:
        end = "butt" if mark.x < line.nocks[0] else "top"
        return _gone(mark, f"sawn off at the {end}")
    shapes = shape_at(wanted, np.array([s]))
    offset = float(line.offset_at(mark.x))
    shown: list[Shown] = []
    for stage in stages:
        rough = replace(
            shapes,
            width=shapes.width + 2.0 * stage.side,
            thickness=shapes.thickness + stage.belly,
        )
        branch = branch_in_section(log, mark, offset, turn, rough)
        fate = fate_in(branch, rough)
        if fate == "gone":
            gone = replace(_gone(mark, stage.name), shown=tuple(shown))
            return _swirling(log, mark, line, shapes, gone)
        diameter, edge = size_and_edge(branch, rough)
        shown.append(Shown(stage=stage.name, fate=fate, diameter=diameter, edge=edge))
    knot = branch_in_section(log, mark, offset, turn, shapes)
    fate = fate_in(knot, shapes)
    if fate == "gone":
        gone = replace(_gone(mark, "the finished limb"), shown=tuple(shown))
        return _swirling(log, mark, line, shapes, gone)
    words = in_words(knot, mark, s, lean_to_tip(mark, line), shapes)
    diameter, edge = size_and_edge(knot, shapes)
    return KnotFate(
        name=mark.name,
        fate=fate,
        gone_at="",
        diameter=diameter,
        edge=edge,
        swirl=False,
        words=words,
        x=mark.x,
        shown=tuple(shown),
    )


def _swirling(log: Log, mark: Mark, line: Line, shapes: SectionShapes, gone: KnotFate) -> KnotFate:
    """Return the fate with the words of what the swirl of a knot that is gone still disturbs."""
    knot = branch_in_section(log, mark, float(line.offset_at(mark.x)), Turn(line.upper_end), shapes)
    words = in_words(knot, mark, float(line.along(mark.x)), lean_to_tip(mark, line), shapes)
    beside = words is not None and (words.face == "back" or mark.face not in ("left", "right"))
    return replace(gone, words=words if beside else None, swirl=beside)


def _gone(mark: Mark, cut: str) -> KnotFate:
    return KnotFate(
        name=mark.name,
        fate="gone",
        gone_at=cut,
        diameter=None,
        edge=None,
        swirl=False,
        words=None,
        x=mark.x,
    )


def fate_in(knot: Knot, shapes: SectionShapes) -> Fate:
    """Return where a cone shows on a limb, taken as straight over the length of the cone.

    Parameters
    ----------
    knot : Knot
        In the axes of the section.
    shapes : SectionShapes
        One station.
    """
    half, top = 0.5 * float(shapes.width[0]), float(edge_z(shapes)[0])
    low, high = knot_span(knot)
    reach = max(0.5 * (high - low), 1e-4)
    x = np.linspace(low - 0.1 * reach, high + 0.1 * reach, ALONG)[:, None]
    y = np.linspace(-half, half, ACROSS)
    back, belly = back_z(shapes, y[None, :])[0], belly_z(shapes, y[None, :])[0]
    on_back = bool(np.any(inside_knot(knot, x, y, back)))
    under = inside_knot(knot, x, y, belly)
    on_belly = bool(np.any(under))
    edges = np.abs(y) >= AT_EDGE * half
    side = np.linspace(float(belly[0]), top, 41)
    on_side = any(bool(np.any(inside_knot(knot, x, sign * half, side))) for sign in (-1.0, 1.0))
    on_side |= bool(np.any(under[:, edges]))
    if on_side:
        return "edge"
    if on_back and on_belly:
        return "through"
    if on_back:
        return "back"
    return "belly" if on_belly else "gone"


def size_and_edge(knot: Knot, shapes: SectionShapes) -> tuple[float, float]:
    """Return how wide a cone is in the limb, and how far its rim is from the nearer edge, m.

    By the ellipses in which back and belly cut the cone; where neither does so in an ellipse, by
    its diameter on its axis.
    """
    half_width, half = 0.5 * float(shapes.width[0]), 0.5 * float(shapes.thickness[0])
    found = []
    for z in (back_level(knot, shapes), -half):
        cut = mark_on_back(knot, z)
        if cut is not None and abs(cut[0]) - 0.5 * cut[1] < half_width:
            found.append(cut)
    if not found:
        return 2.0 * knot.radius, half_width - abs(float(knot.entry[1])) - knot.radius
    widest = max(width for _, width in found)
    nearest = min(half_width - abs(across) - 0.5 * width for across, width in found)
    return widest, nearest
