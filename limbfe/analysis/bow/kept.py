"""The set of an exercised bow: what its tips keep at once, and after a night's rest.

Crushing stays.  To it comes delayed strain of the wood, most of which comes back: the sections
have been braced for as long as the bow is strung and bent to full draw for as long as that is held,
and what is left of either is an eigenstrain of every fibre, in compression another share of the
elastic strain than in tension (`limbfe.wood.creep`).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.cautions import set_warning
from limbfe.analysis.bow.drawn import DrawnBow, FirstPull, KeptSet, Pose
from limbfe.analysis.bow.solve import SolvedBow, curve_of, drawn_bow, set_at_tips
from limbfe.analysis.bow.string_load import check_string
from limbfe.analysis.bow.yielding import draw_with_yield
from limbfe.beam import unstrung_shape
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import lost_energy
from limbfe.stave.zones import zone_at
from limbfe.wood.creep import (
    AT_ONCE,
    REST,
    STRUNG,
    Delayed,
    creep_factor,
    delayed_strain,
    left_of_creep,
    lost_in_a_cycle,
)
from limbfe.wood.source import Flag
from limbfe.wood.wood import Wood

LAW_SPREAD = 0.08
"""Scatter of the plateau over the crushing strength that gives 22 hardwoods their published work to
maximum load (derived: `limbfe.wood.belly`)."""
KINSHIP = 0.6
"""Correlation of crushing strength and modulus from stave to stave: both follow the density (from
memory, fair)."""
_REDUCED_STEPS = 4


def kept_set(solved: SolvedBow, *, bounds: bool = True) -> KeptSet:
    """Return what an exercised bow keeps.

    Parameters
    ----------
    solved : SolvedBow
        Exercised, or a first pull.
    bounds : bool
        Find `low` and `high` too: two more draws in few steps.
    """
    strung = solved.model.setup.stringing.strung or STRUNG
    held = solved.model.setup.drawing.held
    factor = _creep_factors(solved)

    def tips(rest: float) -> tuple[Array, Array]:
        lasting = left_of_creep(strung, rest)
        brief = left_of_creep(held, rest)
        late = _delayed(solved, factor, lasting, brief)
        return set_at_tips(solved, solved.residual + late), solved.residual + late

    at_once, _ = tips(AT_ONCE)
    rested, residual = tips(REST)
    low = high = None
    if bounds:
        spread = crushing_spread(solved.model.setup.stave.heartwood)
        low, high = _bounds(solved, float(rested.mean()), spread)
    return KeptSet(
        at_once=read_only(at_once),
        rested=read_only(rested),
        low=low,
        high=high,
        residual=read_only(residual),
        unstrung=_unstrung(solved, residual),
    )


def told_draw(solved: SolvedBow) -> DrawnBow:
    """Return an exercised bow as results, with its set, its first pull and what is lost.

    Raises
    ------
    MaterialError
        If the string breaks.
    """
    first = solved.first_pull
    for one in (first, solved):
        check_string(one.model.setup.stringing.strength, (one.braced, *one.states))
    bow, kept = drawn_bow(solved), kept_set(solved)
    return replace(
        bow,
        kept=kept,
        first_pull=FirstPull(
            string_length=float(first.braced.string_lengths.sum()),
            curve=curve_of(first.braced, first.states),
            crushed=_crushed(first),
        ),
        lost=lost_of(solved, float(bow.curve.energy[-1])),
        cautions=(*solved.warnings, *set_warning(kept), *bow.cautions),
    )


def _crushed(solved: SolvedBow) -> float:
    """Return what crushing takes of a draw from brace, J."""
    taken = lost_energy(solved.section, solved.plastic[-1])
    taken = taken - lost_energy(solved.section, solved.plastic[0])
    return float(taken @ np.repeat(solved.model.bow.chain.length / 2.0, 2))


def _unstrung(solved: SolvedBow, residual: Array) -> Pose:
    positions, rotations = unstrung_shape(solved.model.bow, residual.reshape(-1, 2, 6))
    return Pose(
        name="unstrung after the draw",
        draw_length=0.0,
        node_x=solved.model.node_x,
        positions=read_only(positions),
        rotations=read_only(rotations),
        string=read_only(np.empty((0, 3))),
    )


def crushing_spread(wood: Wood) -> float:
    """Return the scatter (of the logarithm) of crushing strength over stiffness, and of the law.

    With one of the two measured, what is left of the crushing strength's; else their ratio's.
    """
    crushing, stiffness = wood.strength.cov["compression_strength"], wood.strength.cov["E_L"]
    if (
        wood.sources["compression_strength"].flag is Flag.GIVEN
        or wood.sources["E_L"].flag is Flag.GIVEN
    ):
        variance = crushing**2 * (1.0 - KINSHIP**2)
    else:
        variance = crushing**2 + stiffness**2 - 2.0 * KINSHIP * crushing * stiffness
    return math.sqrt(variance + LAW_SPREAD**2)


def lost_of(solved: SolvedBow, work: float) -> float:
    """Return what of the `work` of a draw, J, does not come back when the bow is let down, J.

    What is crushed, and what the wood itself turns to heat.
    """
    heat = work * lost_in_a_cycle(solved.model.setup.stave.heartwood.moisture)
    return _crushed(solved) + heat


def _creep_factors(solved: SolvedBow) -> Array | float:
    """Return how much more every fibre creeps than at 12 %, shape (S, m, q)."""
    stations = solved.model.stations
    stave = stations.setup.stave
    woods = (stave.heartwood, stave.sapwood_wood, stave.backing_wood)
    factors = [creep_factor((wood or stave.heartwood).moisture) for wood in woods]
    if len(set(factors)) == 1:
        return factors[0]
    y, z = stations.points[..., 0], stations.points[..., 1]
    return np.asarray(np.take(factors, zone_at(stave, stations.x[:, None, None], y, z).wood))


def _delayed(solved: SolvedBow, factor: Array | float, lasting: Delayed, brief: Delayed) -> Array:
    """Return the strains that delayed strain leaves unloaded sections, shape (S, 6)."""
    section = solved.section

    def elastic(strains: Array, plastic: Array) -> Array:
        total = (section.fibre @ strains.reshape(-1, 6)[:, None, :, None])[..., 0]
        return np.asarray(total + plastic)

    braced = elastic(solved.braced.strains, solved.plastic[0])
    drawn = elastic(solved.full_draw.strains, solved.plastic[-1])
    late = delayed_strain(braced, lasting, factor) + delayed_strain(drawn - braced, brief, factor)
    # without a load a fibre wants to be as much longer as it is delayed: an eigenstrain
    loads = section.law.modulus * late * section.weights
    held = np.einsum("smqi,smq->si", section.fibre, loads)
    return np.asarray((section.solution.compliance @ held[..., None])[..., 0])


def _bounds(solved: SolvedBow, rested: float, spread: float) -> tuple[float | None, float | None]:
    """Return the mean set of the same bow from a stronger and a weaker belly."""
    middle = float(set_at_tips(solved, solved.first_pull.residual).mean())
    found = [_first_pull_set(solved, math.exp(sign * spread)) for sign in (1.0, -1.0)]
    low, high = (None if one is None else rested + one - middle for one in found)
    return (None if low is None else max(low, 0.0)), high


def _first_pull_set(solved: SolvedBow, strength: float) -> float | None:
    """Return the mean set of one pull with the belly's stresses multiplied, in few steps."""
    model, section = solved.model, solved.section
    law = section.law
    scaled = replace(
        law, start=strength * law.start, slope=strength * law.slope, level=strength * law.level
    )
    full = solved.full_draw.draw_length

    def plan(start: float) -> tuple[list[float], list[float]]:
        return np.linspace(start, full, _REDUCED_STEPS + 1)[1:].tolist(), []

    try:
        drawn = draw_with_yield(
            model.bow, model.setup.stringing, replace(section, law=scaled), plan
        )
    except ConvergenceError:
        return None
    return float(set_at_tips(solved, drawn.residual).mean())
