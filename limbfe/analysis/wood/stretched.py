"""How much wood a bow stretches, and what so much wood bears less than the back of a test bar.

Strengths in tension are those of the back of a standard bar, which stretches one or two cubic
centimetres; a limb worked alike from fade to tip stretches thirty times as much, and breaks where
its weakest place is (`limbfe.wood.weakest_link`).  The clear wood of both limbs is taken together:
strength used in tension is raised everywhere by one factor, so that at its highest place on the
skin it is that of the whole back.  A bow that stretches less than the bar gains nothing.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.wood.limb_wood import limb_wood
from limbfe.analysis.wood.stress import WoodStress, clear_stations, look_at, look_at_relieved
from limbfe.frames import Array
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.stave.named_zones import Zone
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.stave.zones import zone_at
from limbfe.wood.weakest_link import SHAPE, bar_volume, joint_use


@lru_cache(maxsize=1)  # asked for state after state of one bow
def link_parts(stations: Stations, section: FibreSection) -> Array:
    """Return the volume that every integration point stands for over that of its wood's bar.

    Parameters
    ----------
    stations : Stations
        Two Gauss points an element of the beam.
    section : FibreSection

    Returns
    -------
    ndarray, shape (S, p)
        Zero in knots, in decay, across a knot and in the stiff grip, whose wood is judged apart or
        not at all.
    """
    stave, x = stations.setup.stave, stations.x
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    behind = np.array([bar_volume(wood) for wood in woods])
    points = section.points.reshape(len(x), -1, 2)
    zones = zone_at(stave, x[:, None], points[..., 0], points[..., 1])
    judged = (zones.knot < 0) & (zones.decay < 0)
    judged &= (clear_stations(stations) & stations.bends)[:, None]
    # the Gauss points of an element lie its length over the root of three apart
    length = np.repeat(0.5 * np.sqrt(3.0) * np.diff(x.reshape(-1, 2), axis=1)[:, 0], 2)
    volume = section.weights.reshape(len(x), -1) * length[:, None]
    return np.asarray(np.where(judged, volume / behind[zones.wood], 0.0))


def skin_tension(parts: Array, skin: WoodStress) -> Array:
    """Return the strength used in tension on the skin of the wood that `parts` counts, else 0."""
    judged = skin.clear & np.asarray((parts > 0.0).any(axis=1))[:, None]
    return np.where(judged, skin.used.tension, 0.0)


def size_factor(parts: Array, skin: WoodStress, inside: WoodStress) -> float:
    """Return by how much strength used in tension is higher than that of a test bar, at least 1.

    Parameters
    ----------
    parts : ndarray, shape (S, p)
        From `link_parts`.
    skin, inside : WoodStress
        With the strength used as of a test bar.

    Notes
    -----
    Over the highest on the skin, where tension is reported, not over that of the outermost fibre
    point, which lies inside it by a share of the depth that goes with the mesh.
    """
    highest = float(skin_tension(parts, skin).max(initial=0.0))
    used = np.where(parts > 0.0, inside.used.tension, 0.0)
    return max(joint_use(used, parts) / highest, 1.0) if highest > 0.0 else 1.0


def sized(stress: WoodStress, factor: float) -> WoodStress:
    """Return a stress with its strength used in tension raised by `size_factor`."""
    used = replace(stress.used, tension=factor * stress.used.tension)
    return replace(stress, used=used, size=factor * stress.size)


def stretch_size(stave: Stave, zone: Zone) -> float:
    """Return by how much strength used is higher for the zone's stretch of back than for a bar.

    A zone's own sections strain its length, not the whole limb: the outer fibres of a bent section
    are worth the depth of its neutral plane over the exponent and one.
    """
    x, reach = zone.extent
    shape = shape_at(stave, np.clip([x], stave.x[0], stave.x[-1]))
    volume = 2.0 * reach * float(shape.width[0] * shape.thickness[0]) * 0.5 / (SHAPE + 1.0)
    return float((volume / bar_volume(stave.heartwood)) ** (1.0 / SHAPE))


def worked_wood(
    stations: Stations, section: FibreSection, strains: Array, plastic: Array
) -> tuple[WoodStress, WoodStress]:
    """Return the stress on the skin and inside of a whole bow in one state, size counted.

    Parameters
    ----------
    stations : Stations
    section : FibreSection
    strains : ndarray, shape (S, 6)
    plastic : ndarray, shape (S, m, q)
    """
    return _sized(stations, section, *look_at(limb_wood(stations, section), strains, plastic))


def relieved_wood(
    stations: Stations, section: FibreSection, strains: Array, plastic: Array
) -> tuple[WoodStress, WoodStress]:
    """Return the same of a bow let go: see `limbfe.analysis.wood.stress.look_at_relieved`."""
    found = look_at_relieved(limb_wood(stations, section), strains, plastic)
    return _sized(stations, section, *found)


def _sized(
    stations: Stations, section: FibreSection, skin: WoodStress, inside: WoodStress
) -> tuple[WoodStress, WoodStress]:
    factor = size_factor(link_parts(stations, section), skin, inside)
    return sized(skin, factor), sized(inside, factor)
