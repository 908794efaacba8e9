"""Strain and strength used along the limb, from station to station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.wood.limb_load import LimbLoad, limb_load, resultants_at
from limbfe.analysis.wood.stress import clear_stations
from limbfe.analysis.wood.stretched import worked_wood
from limbfe.frames import Array, read_only
from limbfe.section.yielding.fibre_law import yield_stress
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.stave.outline import belly_z
from limbfe.wood.belly import LEFT_AT_LIMIT
from limbfe.wood.duration import load_duration_factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbField:
    """The limb at full draw, station by station (shape (S,)), lower tip to upper tip.

    Attributes
    ----------
    x : m along the bow, signed
    curvature : 1/m, bending towards the archer since the unstrung shape
    moment : N m, My at the reference point
    resultants : ndarray, shape (S, 6), section axes
    strains : ndarray, shape (S, 6), section axes
    back_strain, belly_strain : axial strain, the largest on the back, the lowest on the belly
    strength_used : the worst stress over strength anywhere in the section
    residual_curvature : 1/m, kept when the bow is unstrung after the draw
    yielded_depth : m, how deep the crushed wood reaches from the belly

    Across a knot, which has a verdict of its own, back and belly strain, strength used and yielded
    depth are carried over from the clear wood on both sides; curvature, strains, resultants and
    residual curvature are the bow's own there.

    The grip is taken as stiff: inside it strains and strength used are 0, the wood there is not
    judged (`to_dict` gives its strength used as null), and the resultants follow from statics.
    """

    x: Array
    curvature: Array
    moment: Array
    resultants: Array
    strains: Array
    back_strain: Array
    belly_strain: Array
    strength_used: Array
    residual_curvature: Array
    yielded_depth: Array


def limb_field(solved: SolvedBow, load: LimbLoad | None = None) -> LimbField:
    """Return strains and strength used along the limb at full draw, its zones left unjudged.

    `load` is that of full draw, where it is known.
    """
    load = limb_load(solved) if load is None else load
    stations, strains, skin = solved.model.stations, load.strains, load.skin
    x, grip = stations.x, ~stations.bends
    resultants = load.resultants.copy()
    resultants[grip] = resultants_at(solved.model, load, x[grip])
    axial = skin.strain[..., 0]
    worst = np.maximum(skin.used.worst.max(axis=1), load.inside.used.worst.max(axis=1))
    clear = clear_stations(stations)
    worst = np.interp(x, x[clear], worst[clear])
    return LimbField(
        x=x,
        curvature=read_only(strains[:, 4]),
        moment=read_only(resultants[:, 4]),
        resultants=read_only(resultants),
        strains=read_only(strains),
        back_strain=read_only(np.interp(x, x[clear], axial.max(axis=1)[clear])),
        belly_strain=read_only(np.interp(x, x[clear], axial.min(axis=1)[clear])),
        strength_used=read_only(worst),
        residual_curvature=read_only(solved.residual[:, 4]),
        yielded_depth=read_only(
            yielded_depth(stations, solved.section, strains, solved.plastic[-1])
        ),
    )


def brace_strength_used(solved: SolvedBow) -> float | None:
    """Return the most that clear wood uses of its strength while strung; None if not asked for.

    The strengths of the stave, and with them the law by which the braced belly yielded, are those
    of full draw, held for its own time; what the belly gives way to while strung is left out.
    """
    stations, setup = solved.model.stations, solved.model.setup
    if setup.stringing.strung is None:
        return None
    strains = solved.braced.strains.reshape(-1, 6)
    skin, inside = worked_wood(stations, solved.section, strains, solved.plastic[0])
    worst = np.maximum(skin.used.worst.max(axis=1), inside.used.worst.max(axis=1))
    drawn = float(load_duration_factor(setup.drawing.held))
    used = float(worst[stations.bends & clear_stations(stations)].max())
    return used * drawn / float(load_duration_factor(setup.stringing.strung))


def yielded_depth(
    stations: Stations, section: FibreSection, strains: Array, plastic: Array
) -> Array:
    """Return how deep crushed wood reaches from the belly at every station, shape (S,), m.

    Crushed is what is shortened beyond its proportional limit.
    From the deepest crushed integration point on to where the plane section's strain falls to the
    limit of that point's wood, at most to the next point that is not crushed; carried over from the
    clear wood on both sides across a knot, whose wood does not yield.

    Parameters
    ----------
    stations : Stations
    section : FibreSection
    strains : ndarray, shape (S, 6)
        Beam strains of the first draw.
    plastic : ndarray, shape (S, m, q)
        How far every fibre is crushed by them.
    """
    x, every, law = stations.x, np.arange(len(stations.x)), section.law
    limits = yield_stress(law, np.full(plastic.shape, LEFT_AT_LIMIT)) / law.modulus
    y, z, limit, pressed = (
        values.reshape(len(x), -1)
        for values in (
            stations.points[..., 0],
            stations.points[..., 1],
            limits + LEFT_AT_LIMIT,
            np.where(plastic > LEFT_AT_LIMIT, plastic, 0.0),
        )
    )
    depth = np.where(pressed > 0.0, z - belly_z(stations.shapes, y), 0.0)
    deepest = (every, depth.argmax(axis=1))
    next_up = np.where((pressed == 0.0) & (z > z[deepest][:, None]), z, np.inf).min(axis=1)
    strain = strains[:, 0] + z[deepest] * strains[:, 4] - y[deepest] * strains[:, 5]
    over = -strain - limit[deepest]
    bends = (depth[deepest] > 0.0) & (strains[:, 4] > 0.0) & (over > 0.0)
    reached = depth[deepest]
    further = over[bends] / strains[bends, 4]
    reached[bends] += np.minimum(further, (next_up - z[deepest])[bends])
    clear = clear_stations(stations)
    out: Array = np.interp(x, x[clear], reached[clear])
    return out
