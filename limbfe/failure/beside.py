"""The split beside a judged knot, followed; and what it makes of the outcome."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.defect.strip import edge, half_extent
from limbfe.defect.zone import DecayTrace, KnotTrace
from limbfe.failure.layer_windows import chosen_lengths
from limbfe.failure.load_ratio import at_net_section, load_ratio
from limbfe.failure.problem import DepthLayer, LocalOutcome, LocalProblem, ModeOutcome, factors
from limbfe.failure.splits.course import Beyond, Board, follow_split
from limbfe.failure.splits.criterion import GrainStrength
from limbfe.failure.splits.grain_split import GrainSplit
from limbfe.failure.splits.panel import Opening
from limbfe.failure.splits.sliver import at_the_edge, edge_sliver


def beside_knot(problem: LocalProblem, stress_used: float) -> GrainSplit | None:
    """Follow the split beside a knot on the plane that is pulled hardest.

    Parameters
    ----------
    problem : LocalProblem
    stress_used : float
        Strength used by splitting, by stress alone.

    Returns
    -------
    GrainSplit or None
        None where nothing of a knot is pulled, and in trials.

    Raises
    ------
    GeometryError
        If its lines cannot be meshed.
    ConvergenceError
        If the contact of its faces does not settle.
    """
    limb = problem.limb
    found = _hardest(problem)
    if limb is None or problem.rough or found is None:
        return None
    piece, knot = found
    opening, aside = _opening(piece, knot), problem.body.wood.plane == "side"
    strength = piece.strength
    board = Board(
        wood=piece.wood,
        strength=GrainStrength(
            across=strength.tension_across,
            shear=strength.shear,
            opening=strength.toughness_opening,
            sliding=strength.toughness_sliding,
        ),
        depth=np.inf if aside else limb.depth,
        window=chosen_lengths(piece, problem.band, 0).fibre,
        beyond=_beyond(piece, knot),
    )
    pull, bend = _pull_on(problem, piece)

    def follow(opening: Opening, board: Board) -> GrainSplit:
        inside = (knot.modulus or problem.band.knot_modulus[1], knot.poisson)
        return follow_split(
            opening,
            board,
            pull=pull,
            bend=bend,
            knot=None if knot.state == "missing" else inside,
            joined=knot.state == "live",
        )

    if aside or not at_the_edge(opening) or stress_used <= 0.0:
        return follow(opening, board)
    middle = follow(replace(opening, y=0.0), replace(board, beyond=()))
    return edge_sliver(opening, board, middle, pull=pull, stress_used=stress_used)


def pull_beside(problem: LocalProblem) -> float:
    """Return the stress (Pa) that a split beside a knot goes with, 0 where nothing is pulled."""
    found = _hardest(problem)
    return 0.0 if found is None else sum(_pull_on(problem, found[0]))


def _pull_on(problem: LocalProblem, piece: DepthLayer) -> tuple[float, float]:
    """Return the pull on a layer, and on edge how much more of it the back has; Pa."""
    E_L = piece.wood.E_L
    if problem.body.wood.plane == "side":
        middle = E_L * _pulled(piece, 0.0)
        return middle, E_L * _pulled(piece, 1.0) - middle
    pull = E_L * piece.strain.axial
    if problem.limb is not None and piece is problem.layers[0]:
        pull = max(problem.limb.back, pull)
    return pull, 0.0


def _hardest(problem: LocalProblem) -> tuple[DepthLayer, KnotTrace] | None:
    """Return the layer in which the judged knot is pulled hardest, on edge that where it is widest.

    None where nothing of a knot is pulled.
    """
    both = ((piece, _own(problem, piece)) for piece in problem.layers)
    found = [(piece, knot) for piece, knot in both if knot is not None]
    if problem.body.wood.plane == "side":
        pulled = [one for one in found if _pulled(one[0], 1.0) > 0.0]
        return max(pulled, key=lambda one: half_extent(one[1].ellipse)[1], default=None)
    pulled = [one for one in found if one[0].strain.axial > 0.0]
    return max(pulled, key=lambda one: one[0].strain.axial, default=None)


def in_the_edge(problem: LocalProblem) -> bool:
    """Return whether an edge cuts the judged knot on the plane that is pulled hardest.

    A knot that comes out on a side and is judged on edge is another matter, and so is one of which
    no more than `NEXT_TO_NONE` is left in the limb.
    """
    found = _hardest(problem)
    if found is None or problem.body.wood.plane == "side":
        return False
    opening = _opening(*found)
    inside = 0.5 * opening.width - abs(opening.y)
    return NEXT_TO_NONE - opening.b < inside < opening.b


NEXT_TO_NONE = 25.4e-3 / 24.0
"""Width of a knot (m) that costs nothing: 1/24 in, ASTM D245 (its formula for narrow faces, read
in a technical note by M. Bather, 2021)."""


def _pulled(piece: DepthLayer, way: float) -> float:
    """Return the strain along a limb on edge, from its middle (0) to the back (1)."""
    at = np.array([piece.strain.x0])
    right, left = (float(edge(piece.strip, side, at)[0]) for side in ("right", "left"))
    y = 0.5 * (right + left) + way * 0.5 * (left - right)
    return piece.strain.axial - y * piece.strain.bending


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


EDGE_PLACES = 200
"""Places along the strip at which its edges are asked for."""


def _beyond(piece: DepthLayer, knot: KnotTrace) -> tuple[Beyond, ...]:
    """Where splits beside a knot would come to another zone, or out at an edge of the limb.

    They run alike to both ends of the knot; the nearer of two places counts.
    """
    e, strip = knot.ellipse, piece.strip
    right, left = (float(edge(strip, side, np.array([e.x]))[0]) for side in ("right", "left"))
    middle = 0.5 * (right + left)
    found = []
    others: tuple[KnotTrace | DecayTrace, ...] = (*piece.knots, *piece.decays)
    for other in others:
        half_length, half_width = half_extent(other.ellipse)
        gap = abs(other.ellipse.x - e.x) - half_length
        if other.name != knot.name and gap > 0.0:
            y = other.ellipse.y - middle
            found.append(
                Beyond(low=y - half_width, high=y + half_width, away=gap, words=str(other.name))
            )
    x = np.linspace(strip.x[0], strip.x[-1], EDGE_PLACES)
    low, high = edge(strip, "right", x) - middle, edge(strip, "left", x) - middle
    for at, bottom, top in zip(np.abs(x - e.x), low, high, strict=True):
        words = "the edge of the limb"
        found.append(Beyond(low=-np.inf, high=float(bottom), away=float(at), words=words))
        found.append(Beyond(low=float(top), high=np.inf, away=float(at), words=words))
    return tuple(found)


def with_split(problem: LocalProblem, outcome: LocalOutcome, followed: GrainSplit) -> LocalOutcome:
    """Return the outcome with its split judged by where it runs, not by where it starts.

    The band is that of the toughness, whose root the load goes with.  Fibres are judged in the
    state of splitting that the load at which they break has made.
    """
    used = 1.0 / followed.run if np.isfinite(followed.run) and followed.run > 0.0 else 0.0
    short, long = problem.band.split_factor
    found = _hardest(problem)
    assert found is not None
    piece, knot = found
    x = knot.ellipse.x
    way = followed.leading
    side = followed.lines[max(way.lines, key=lambda k: abs(followed.lines[k].side))].side
    right, left = (float(edge(piece.strip, one, np.array([x]))[0]) for one in ("right", "left"))
    side += 0.5 * (right + left)
    split = replace(
        outcome.modes["split"],
        low=used / np.sqrt(long),
        typical=used,
        high=used / np.sqrt(short),
        x=x,
        y=side,
        z=piece.z,
        high_y=side,
        high_z=piece.z,
        mix=way.mix,
        station=None,
        high_station=None,
    )
    joined = replace(
        outcome,
        modes={**outcome.modes, "split": split},
        split=factors(split),
        grain_split=followed,
    )
    return _fibres_beside(problem, joined, followed)


LOADS = 400
"""Loads at which the fibres beside a split are looked at."""


def _fibres_beside(
    problem: LocalProblem, outcome: LocalOutcome, followed: GrainSplit
) -> LocalOutcome:
    """Return the outcome with fibres judged in the split state, no chance taken on their relief.

    Strength used is that at which they break: one over the load.  What a short split relieves
    counts for that and for the ratios; the chance of failure is left to the wood unsplit, since
    pieces that break at a lower load have split less.
    """
    fibre = outcome.modes["fibre"]
    if fibre.station is not None or fibre.typical <= 0.0:
        return outcome
    changed = _in_split_state(fibre, followed)
    ratio = changed.typical / fibre.typical
    if ratio == 1.0:
        return outcome
    use = at_net_section(problem, replace(outcome.use, zone=outcome.use.zone * ratio))
    # a section that is crushed through has the say before the fibres
    crushed = outcome.tension_ratio < outcome.use.ratio
    tension = outcome.tension_ratio if crushed else use.ratio
    return replace(
        outcome,
        modes={**outcome.modes, "fibre": changed},
        rupture=factors(changed),
        strength_ratio=load_ratio(problem, tension),
        tension_ratio=tension,
        use=use if ratio > 1.0 else outcome.use,
    )


def _in_split_state(fibre: ModeOutcome, followed: GrainSplit) -> ModeOutcome:
    """Return the fibres' mode, its strength used one over the first load that breaks them."""
    loads = np.geomspace(0.2, 5.0, LOADS) / fibre.typical
    state = np.array([followed.fibres_at(load) for load in loads])

    def broken(used: float) -> float:
        if used <= 0.0:
            return 0.0
        over = np.flatnonzero(loads * used * state >= 1.0)
        if not len(over):
            return used
        k = int(over[0])
        if k == 0:
            return used * float(state[0])
        # a state that jumps between two loads breaks them at the later, one that does not between
        return float(max(1.0 / loads[k], used * min(state[k - 1], state[k])))

    return replace(
        fibre, low=broken(fibre.low), typical=broken(fibre.typical), high=broken(fibre.high)
    )
