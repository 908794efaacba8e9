"""How hard the bow's own sections work the wood where a zone lies, what the zone takes left out.

The layers round a zone carry the strain of the sound limb.  A zone that takes much of a section
makes a hinge of it: the limb's own strain there, under the same moment, is then the worse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.stations import Stations, solve_stations
from limbfe.analysis.bow.yielding import yielding_sections
from limbfe.analysis.wood.limb_load import LimbLoad, resultants_at
from limbfe.analysis.wood.stress import (
    WoodStress,
    clear_stations,
    stress_inside,
    stress_on_skin,
)
from limbfe.analysis.wood.stretched import sized, stretch_size
from limbfe.analysis.zones.surroundings import Surroundings
from limbfe.errors import ConvergenceError
from limbfe.failure.criteria import MODES, StrengthUsed
from limbfe.failure.problem import Place, SectionUse
from limbfe.failure.verdict import SOUND_TYPICAL
from limbfe.frames import Array
from limbfe.section.yielding.inelastic import fresh_state
from limbfe.section.yielding.pressing import strains_under
from limbfe.stave.decay import Decay
from limbfe.stave.named_zones import Zone
from limbfe.stave.stave import Stave
from limbfe.wood.bar import HOLDS, wrinkled_at

NOTHING_BELOW = 0.75
"""Part of `SOUND_TYPICAL` below which a section crushed through counts nothing at a knot: a choice,
so that neither strength used nor chance jumps as a knot grows or the draw goes on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Worked:
    """Some sections of a limb: the beam's stations they belong to, where they lie, their state."""

    index: NDArray[np.intp]
    x: Array
    skin: WoodStress
    inside: WoodStress


def own_sections(
    model: LimbModel,
    load: LimbLoad,
    around: Surroundings,
    zone: Zone,
    stave: Stave | None = None,
) -> tuple[SectionUse, ...]:
    """Return the hardest worked place of the sections in a zone, for every way of failing.

    Wood inside knots counts nothing.  A section is crushed through where its clear wood is
    shortened as a bar of it is when it breaks, as in the limb itself, and wood that is no bar to
    the end of its plateau.  At a knot that counts in full from where a break would no longer be
    called sound, and sets in before as `NOTHING_BELOW` says; rot makes hinges.  Of a knot's own
    sections the stress along the limb counts only: shear and tension across beside it would be
    those of an endlessly long knot.  Fibres that are strained more than in the sound limb are so
    over the length of the zone, and count by that volume; no less than the sound limb's own there,
    which count by the whole of its back.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    around : Surroundings
        Of the zone.
    zone : Knot or Decay
    stave : Stave, optional
        With the zone in it, if the bow was drawn without: then its sections are solved anew, under
        the resultants of the bow that was drawn.

    Raises
    ------
    ConvergenceError
        If such sections cannot carry the limb's resultants.
    """
    centre, reach = zone.extent
    stations = model.stations
    if stave is not None:
        stations = replace(stations, setup=replace(model.setup, stave=stave))
    size = stretch_size(stations.setup.stave, zone)
    within = np.abs(stations.x - centre) <= reach
    apart = isinstance(zone, Decay) & ~clear_stations(stations)
    index = np.flatnonzero(within & ~apart)
    if within.any() and not index.size:
        return ()
    if stave is None and index.size and stations.bends[index].all():
        return _hardest(_as_drawn(load, index, stations.x[index]), around, zone, size)
    x = stations.x[index]
    if not index.size:
        index, x = np.array([np.abs(stations.x - centre).argmin()]), np.array([centre])
    own, resultants = solve_stations(stations.setup, x), resultants_at(model, load, x)
    try:
        return _hardest(_worked_anew(own, resultants, index, load.skin.size), around, zone, size)
    except ConvergenceError as error:
        raise ConvergenceError(
            f'"{zone.name}": what it leaves of the limb cannot carry the load: {error}'
        ) from error


def share_at_station(load: LimbLoad, loading: Array, place: Place) -> Array:
    """Return the strain at a place of a station in every state over that of the judged one.

    Along the limb it is the plane section's; that of shear, the size of its three strains.

    Parameters
    ----------
    load : LimbLoad
        That is judged.
    loading : ndarray, shape (k, S, 6)
        Beam strains of every state.
    place : Place
        Of a station.

    Returns
    -------
    ndarray, shape (k,)
        Never falling.
    """
    y, z = place.y, place.z
    assert place.station is not None
    states = np.vstack([loading[:, place.station], load.strains[place.station]])
    if place.shear:
        strain = np.linalg.norm(states[:, 1:4] * [1.0, 1.0, np.hypot(y, z)], axis=1)
    else:
        strain = states @ [1.0, 0.0, 0.0, 0.0, z, -y]
    share: Array = np.maximum.accumulate(strain[:-1] / strain[-1])
    return share


def _as_drawn(load: LimbLoad, index: NDArray[np.intp], x: Array) -> _Worked:
    def rows(stress: WoodStress) -> WoodStress:
        used = {mode: getattr(stress.used, mode)[index] for mode in MODES}
        return replace(
            stress,
            points=stress.points[index],
            strain=stress.strain[index],
            stress=stress.stress[index],
            used=StrengthUsed(**used),
            shortened=stress.shortened[index],
            bar=stress.bar.pick(index),
            clear=stress.clear[index],
        )

    return _Worked(
        index=index,
        x=x,
        skin=rows(load.skin),
        inside=rows(load.inside),
    )


def _worked_anew(own: Stations, resultants: Array, index: NDArray[np.intp], size: float) -> _Worked:
    section = yielding_sections(own)
    strains, response = strains_under(section, resultants, fresh_state(section))
    inside = stress_inside(own, section, strains, response.plastic)
    skin = sized(stress_on_skin(own, strains, inside), size)
    return _Worked(index=index, x=own.x, skin=skin, inside=sized(inside, size))


def _hardest(
    worked: _Worked, around: Surroundings, zone: Zone, size: float
) -> tuple[SectionUse, ...]:
    skin, inside = worked.skin, worked.inside
    pressed = np.maximum(-skin.strain[..., 0], 0.0)
    ways = [
        ("fibre", skin, skin.used.tension),
        ("through", skin, _through(skin, pressed)),
        ("yield", skin, np.where(skin.shortened > 0.0, pressed / wrinkled_at(skin.bar), 0.0)),
    ]
    if isinstance(zone, Decay):
        ways += [("sliding", inside, inside.used.shear), ("opening", inside, inside.used.across)]
    found = []
    for mode, stress, used in ways:
        row, point = np.unravel_index(used.argmax(), used.shape)
        most = float(used[row, point])
        counts = 1.0
        if mode == "through" and not isinstance(zone, Decay):
            counts = _counts_at_knot(most)
            if counts == 0.0:
                continue
        x, (y, z) = float(worked.x[row]), stress.points[row, point]
        lost = 1.0
        if mode == "fibre" and isinstance(zone, Decay) and not stress.clear[row, point]:
            lost = zone.effect.tension / zone.effect.E
        # the strain behind its stress: of a bow let go that is what is left without the crushing
        own = float(stress.strain[row, point, 0])
        sound = most * lost * _strain_without(around, own, x, y, z)
        if mode == "fibre":
            # a knot that takes the hardest worked fibre makes the limb no stronger
            sound = max(sound, most * lost * _hardest_without(around, own, x, stress.points[row]))
            most = max(sound, min(most, most / stress.size * size))
        found.append(
            SectionUse(
                mode=mode,
                used=counts * most,
                sound=counts * sound,
                station=int(worked.index[row]),
                x=x,
                y=float(y),
                z=float(z),
            )
        )
    return tuple(found)


def _through(skin: WoodStress, pressed: Array) -> Array:
    """Return how near every point of the skin is to giving way by being crushed, 1 where it does.

    No bending test says what clear wood bears beyond the shortening at which the bar broke.
    """
    bar = np.where(skin.clear & (skin.shortened > 0.0), pressed / skin.bar.broken, 0.0)
    return np.maximum(bar, skin.shortened / HOLDS)


def _counts_at_knot(used: float) -> float:
    """Return the share with which a section crushed through counts at a knot, 0 to 1."""
    first = NOTHING_BELOW * SOUND_TYPICAL
    return float(np.clip((used - first) / (SOUND_TYPICAL - first), 0.0, 1.0))


def _strain_without(around: Surroundings, own: float, x: float, y: float, z: float) -> float:
    """Return the sound limb's strain at a place over the section's own, at most 1."""
    place = np.array([1.0, 0.0, 0.0, 0.0, z, -y])
    (first, last), share = around.strains @ place, (x - around.x[0]) / np.ptp(around.x)
    sound = float(first + share * (last - first))
    return float(np.clip(sound / own, 0.0, 1.0)) if own != 0.0 else 1.0


def _hardest_without(around: Surroundings, own: float, x: float, points: Array) -> float:
    """Return the sound limb's greatest stretch on a section over the section's own at a point.

    `points` are those on the section's skin, shape (p, 2).
    """
    y, z = points.T
    places = np.stack([np.ones_like(y), *np.zeros((3, len(y))), z, -y])
    (first, last), share = around.strains @ places, (x - around.x[0]) / np.ptp(around.x)
    return float((first + share * (last - first)).max() / own) if own > 0.0 else 0.0
