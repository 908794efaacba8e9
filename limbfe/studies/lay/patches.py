"""What is left of a patch of rot in the finished limb."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.log.line import Line
from limbfe.log.log import Log, Patch
from limbfe.log.turn import Turn
from limbfe.stave.marks import Face
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave

LEAST = 0.0002
"""Sizes (m) below which nothing is left of a patch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPatch:
    """A patch as the case of the finished limb says it; m, `s` signed along the bow."""

    name: str
    s: float
    face: Face
    across: float
    length: float
    width: float
    depth: float


def laid_patch(log: Log, patch: Patch, line: Line, wanted: Stave) -> LaidPatch | None:
    """Return what is left of a patch, None where the saw takes it all.

    Parameters
    ----------
    log : Log
    patch : Patch
    line : Line
    wanted : Stave
        The finished limb.

    Notes
    -----
    A patch cut by an edge is taken as one as deep whose width is what is left of it; wood taken off
    the belly or a side takes as much off the depth of a patch that shows there.
    """
    turn, s = Turn(line.upper_end), float(line.along(patch.x))
    low, high = float(wanted.x[0]), float(wanted.x[-1])
    start, end = max(s - 0.5 * patch.length, low), min(s + 0.5 * patch.length, high)
    if end - start < LEAST:
        return None
    s, length = 0.5 * (start + end), end - start
    shapes = shape_at(wanted, np.array([s]))
    half, thick = 0.5 * float(shapes.width[0]), float(shapes.thickness[0])
    offset = float(line.offset_at(patch.x))
    if patch.face in ("back", "belly"):
        over = float(log.at("depth", patch.x)) - thick if patch.face == "belly" else 0.0
        middle = float(turn.across(patch.across - offset))
        cut = _overlap(middle, patch.width, -half, half)
        depth = patch.depth - over
        if cut is None or depth < LEAST:
            return None
        return LaidPatch(
            name=patch.name,
            s=s,
            face="back" if patch.face == "back" else "belly",
            across=cut[0],
            length=length,
            width=min(cut[1], 2.0 * half),
            depth=min(depth, thick),
        )
    faces = log.edges(patch.x, patch.across)
    side: Face = turn.side("left" if patch.face == "left" else "right")
    beside = (offset - half - faces[0]) if patch.face == "left" else (faces[1] - offset - half)
    depth = patch.depth - float(beside)
    cut = _overlap(0.5 * thick - patch.across, patch.width, -0.5 * thick, 0.5 * thick)
    if cut is None or depth < LEAST:
        return None
    return LaidPatch(
        name=patch.name,
        s=s,
        face=side,
        across=cut[0],
        length=length,
        width=cut[1],
        depth=min(depth, 2.0 * half),
    )


def _overlap(middle: float, width: float, low: float, high: float) -> tuple[float, float] | None:
    start, end = max(middle - 0.5 * width, low), min(middle + 0.5 * width, high)
    if end - start < LEAST:
        return None
    return 0.5 * (start + end), end - start
