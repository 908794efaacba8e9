"""The split beside a judged knot, followed; and what it makes of the outcome."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.defect.strip import edge, half_extent
from limbfe.defect.zone import KnotTrace
from limbfe.failure.problem import DepthLayer, LocalOutcome, LocalProblem, factors
from limbfe.failure.splits.course import GrainSplit, follow_split
from limbfe.failure.splits.criterion import GrainStrength
from limbfe.failure.splits.panel import Opening


def beside_knot(problem: LocalProblem) -> GrainSplit | None:
    """Follow the split beside a knot on the plane that is pulled hardest.

    Returns
    -------
    GrainSplit or None
        None where nothing of a knot is pulled, and where no plate is judged (zones that show aside,
        trials).

    Raises
    ------
    GeometryError
        If its lines cannot be meshed.
    ConvergenceError
        If the contact of its faces does not settle.
    """
    limb = problem.limb
    body = problem.body
    if body.wood.plane == "side" or limb is None or problem.rough:
        return None
    pulled = [(piece, _own(problem, piece)) for piece in problem.layers if piece.strain.axial > 0.0]
    found = [(piece, knot) for piece, knot in pulled if knot is not None]
    if not found:
        return None
    piece, knot = max(found, key=lambda one: one[0].strain.axial)
    own = piece.wood.E_L * piece.strain.axial
    strength = piece.strength
    return follow_split(
        _opening(piece, knot),
        piece.wood,
        GrainStrength(
            across=strength.tension_across,
            shear=strength.shear,
            opening=strength.toughness_opening,
            sliding=strength.toughness_sliding,
        ),
        pull=max(limb.back, own) if piece is problem.layers[0] else own,
        depth=limb.depth,
        knot=None
        if knot.state == "missing"
        else (knot.modulus or problem.band.knot_modulus[1], knot.poisson),
        joined=knot.state == "live",
    )


def _own(problem: LocalProblem, piece: DepthLayer) -> KnotTrace | None:
    return next((knot for knot in piece.knots if knot.name == problem.zone), None)


def _opening(piece: DepthLayer, knot: KnotTrace) -> Opening:
    e, strip = knot.ellipse, piece.strip
    at = np.array([e.x])
    right, left = float(edge(strip, "right", at)[0]), float(edge(strip, "left", at)[0])
    half_length, half_width = half_extent(e)
    return Opening(
        width=left - right,
        y=e.y - 0.5 * (right + left),
        a=half_length,
        b=half_width,
        hollow=knot.state == "missing",
        swerves=knot.diverts,
    )


def with_split(problem: LocalProblem, outcome: LocalOutcome, followed: GrainSplit) -> LocalOutcome:
    """Return the outcome with its split judged by where it runs, not by where it starts.

    The band is that of the toughness, whose root the load goes with.
    """
    used = 1.0 / followed.run if np.isfinite(followed.run) and followed.run > 0.0 else 0.0
    short, long = problem.band.split_factor
    piece = max(problem.layers, key=lambda one: one.strain.axial)
    knot = _own(problem, piece)
    x = piece.strain.x0 if knot is None else knot.ellipse.x
    split = replace(
        outcome.modes["split"],
        low=used / np.sqrt(long),
        typical=used,
        high=used / np.sqrt(short),
        x=x,
        z=piece.z,
        high_z=piece.z,
        mix=followed.mix,
        station=None,
        high_station=None,
    )
    split = replace(split, y=followed.side, high_y=followed.side)
    return replace(
        outcome,
        modes={**outcome.modes, "split": split},
        split=factors(split),
        grain_split=followed,
    )
