"""Breaking load of the limb with a zone over that without it, both with the yielding belly.

Grading and measured pieces compare bending loads.  A zone that leaves the back a part of its
tension strength leaves more of the load, since the belly gives way before the back breaks; and a
zone that reaches the belly takes its part of the plateau of the pressed wood there.  With ``c`` the
part of the belly that still presses, ``rho`` the ratio in tension and ``M(t)`` the moment per width
at which the back of a clear bar bears t, the ratio is ``c M(rho T / c) / M(T)``: the net section,
its back at the mean stress of what is left.

References
----------
Plane sections, belly law of `limbfe.wood.belly`; net section by equilibrium.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.defect.strip import edge, half_extent
from limbfe.defect.zone import DecayTrace, KnotTrace
from limbfe.failure.measured import Kept, kept_by_measured
from limbfe.failure.problem import DepthLayer, LimbStrength, LocalProblem, ZoneUse
from limbfe.wood.bar import bent_bar, torn_at

LEAST_BELLY = 0.02
"""Part of the belly that is never taken for less, so that a limb cut through has a ratio."""
_ROUNDS = 12


def load_ratio(problem: LocalProblem, tension_ratio: float) -> float:
    """Return the breaking load of the limb with the zone over that without.

    Parameters
    ----------
    problem : LocalProblem
        The limb's strength is taken from it; without one the tension ratio is returned.
    tension_ratio : float
        Strength of the limb in tension with the zone over that without.
    """
    limb = problem.limb
    if limb is None or not np.isfinite(tension_ratio) or limb.used <= 0.0 or limb.back <= 0.0:
        return tension_ratio
    whole = limb.back / limb.used
    clear = bent_bar(limb.law, whole)
    held = 1.0
    # What presses in the zone depends on how far the belly is shortened when the limb breaks.
    for _ in range(_ROUNDS):
        shortened = float(torn_at(clear, tension_ratio * whole / held))
        shortened = min(shortened, float(bent_bar(limb.law, tension_ratio * whole / held).broken))
        held = 0.5 * (held + belly_left(problem, limb, shortened))
    with_zone = bent_bar(limb.law, tension_ratio * whole / held)
    return min(held * float(with_zone.strength) / float(clear.strength), 1.0)


def belly_left(problem: LocalProblem, limb: LimbStrength, shortened: float) -> float:
    """Return the part of the pressed wood's plateau that is left beside and in a zone.

    Parameters
    ----------
    problem : LocalProblem
    limb : LimbStrength
    shortened : float
        Shortening of the belly.
    """
    pressed = [one for one in problem.layers if one.strain.axial < 0.0]
    if problem.body.wood.plane == "side":
        pressed = list(problem.layers)
    if not pressed:
        return 1.0
    lost = [_lost(problem, one, limb, shortened) for one in pressed]
    return max(1.0 - float(np.mean(lost)), LEAST_BELLY)


def knot_share(problem: LocalProblem) -> float | None:
    """Return the width of the judged knot over that of the limb, None for a patch.

    At the plane that is pulled hardest, as a knot is measured on the face that shows it.
    """
    piece = max(problem.layers, key=lambda one: one.strain.axial)
    return next((share(problem, piece, k) for k in piece.knots if k.name == problem.zone), None)


def at_net_section(problem: LocalProblem, use: ZoneUse) -> ZoneUse:
    """Return the use of a zone, no stronger in tension than the fibres that it leaves whole.

    How little wood the weakest links beside a cut are counts for nothing against equilibrium: at
    the mean stress of what is left of the back the wood breaks.  Fibres that flow round a knot are
    not cut.
    """
    limb, gone = problem.limb, knot_share(problem)
    cut = any(
        knot.name == problem.zone and not knot.diverts
        for piece in problem.layers
        for knot in piece.knots
    )
    aside = problem.body.wood.plane == "side"
    if limb is None or not cut or gone is None or aside or limb.used <= 0.0:
        return use
    tension = max(problem.layers, key=lambda one: one.strain.axial).strength.tension
    mean = limb.back / tension / max(1.0 - gone, LEAST_BELLY)
    return replace(use, zone=max(use.zone, use.limb * mean / limb.used))


def measured(problem: LocalProblem) -> Kept | None:
    """Return what measured pieces with such a knot kept of their load; None for a patch.

    No pieces with drilled holes are known piece by piece.  An empty one does as much as a knot
    twice as wide (R. H. Falk et al., Forest Products Journal 53(5), 2003, 55-60: abstract read).
    """
    share = knot_share(problem)
    if share is None:
        return None
    knots = (knot for piece in problem.layers for knot in piece.knots if knot.name == problem.zone)
    drilled = any(knot.state == "missing" and not knot.diverts for knot in knots)
    return kept_by_measured(share, drilled=drilled)


def _lost(problem: LocalProblem, piece: DepthLayer, limb: LimbStrength, shortened: float) -> float:
    """Part of a plane's pressed wood that a zone takes."""
    plateau = float(limb.law.plateau)
    lost = 0.0
    for knot in piece.knots:
        if knot.name == problem.zone:
            presses = _presses(problem, piece, knot, shortened)
            lost += share(problem, piece, knot) * (1.0 - min(presses / plateau, 1.0))
    for decay in piece.decays:
        if decay.name == problem.zone:
            lost += share(problem, piece, decay) * (1.0 - decay.compression)
    return lost


def _presses(problem: LocalProblem, piece: DepthLayer, knot: KnotTrace, shortened: float) -> float:
    """Stress (Pa) with which a knot or its filling presses back: a loose one as one grown in."""
    if knot.state == "missing":
        return 0.0
    modulus = knot.modulus or problem.band.knot_modulus[1]
    stress = modulus * shortened
    return stress if knot.state == "filled" else min(stress, piece.strength.across_grain)


def share(problem: LocalProblem, piece: DepthLayer, trace: KnotTrace | DecayTrace) -> float:
    """Return the part of a strip's width that a zone takes where it is widest.

    Of a strip on edge, of the half towards the belly.
    """
    e, strip = trace.ellipse, piece.strip
    at = np.clip(np.array([e.x]), strip.x[0], strip.x[-1])
    right, left = float(edge(strip, "right", at)[0]), float(edge(strip, "left", at)[0])
    half = half_extent(e)[1]
    if problem.body.wood.plane == "side":
        left = 0.5 * (right + left)
    taken = min(e.y + half, left) - max(e.y - half, right)
    return float(np.clip(taken / (left - right), 0.0, 1.0))
