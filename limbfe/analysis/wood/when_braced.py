"""A bow that breaks or gives way as soon as it is braced: said before anything else of it."""

from __future__ import annotations

import numpy as np

from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.bow.yielding import brace_with_yield, yielding_sections
from limbfe.analysis.wood.hot_spots import Place, describe
from limbfe.analysis.wood.stress import CLEAR_OF, clear_stations
from limbfe.analysis.wood.stretched import stretch_size, worked_wood
from limbfe.beam import BowState
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.stave.named_zones import zones_of
from limbfe.units import Length, Sentence, Words
from limbfe.wood.bar import HOLDS


def when_braced(solved: SolvedBow) -> tuple[Words, ...]:
    """Return where a bow breaks or gives way while it is braced for the first time, if it does.

    Of every section that bends, the rotten and the knotty ones too: of those what counts at a knot
    in an assessment as well (`limbfe.analysis.zones.own_sections`), so that none is said to break
    whose verdict says that it does not.  What a knot does to the wood beside it is its verdict's.
    """
    first = solved.first_pull
    return past_strength(first.model, first.section, first.braced, first.plastic[0])


def would_be_braced(setup: BowSetup) -> tuple[Words, ...]:
    """Return the same of a bow that has not been solved; a bracing that fails is told as it is."""
    model = build_model(setup)
    section = yielding_sections(model.stations)
    try:
        braced, pressed, cautions = brace_with_yield(model.bow, setup.stringing, section)
    except (ConvergenceError, GeometryError) as error:
        # of a string too long to brace it there is nothing to say
        if isinstance(error, GeometryError):
            return ()
        return (f"Do not string this bow as the case says: {error}",)
    return (*cautions, *past_strength(model, section, braced, pressed.plastic))


def look_at_zones(setup: BowSetup) -> tuple[Words, ...]:
    """Return the word that zones are for an assessment to judge, by name, of a bow that has any.

    Of rot as of knots: shear and tension across the grain in it are left out of `past_strength`.
    """
    named = [str(zone.label) for zone in zones_of(setup.stave)]
    if not named:
        return ()
    *most, last = named
    listed = f"{', '.join(most)} and {last}" if most else last
    return (
        f"of {listed} only how the whole section bends is looked at here, and the wood there may "
        "split or break before that: the command assess judges every knot and patch",
    )


def past_strength(
    model: LimbModel, section: FibreSection, braced: BowState, plastic: Array
) -> tuple[Words, ...]:
    """Return where a braced bow breaks or gives way, if it does; `plastic` as in `SolvedBow`."""
    stations = model.stations
    skin, inside = worked_wood(stations, section, braced.strains.reshape(-1, 6), plastic)
    clear = clear_stations(stations)[:, None]
    ways = {
        "tension": (skin, skin.used.tension * counts_at_knots(stations, skin.size)[:, None]),
        # wood that is not clear is no bar: it gives way where it is crushed through
        "compression": (
            skin,
            np.where(skin.clear & clear, skin.used.compression, skin.shortened / HOLDS),
        ),
        "shear": (inside, np.where(inside.clear & clear, inside.used.shear, 0.0)),
        "across": (inside, np.where(inside.clear & clear, inside.used.across, 0.0)),
    }
    found = []
    for mode, (stress, used) in ways.items():
        bent = np.where(stations.bends[:, None], used, 0.0)
        station, point = (int(k) for k in np.unravel_index(bent.argmax(), bent.shape))
        limb = "upper" if stations.x[station] > 0.0 else "lower"
        found.append((stress, Place(limb, mode, station, point, float(bent[station, point]))))
    stress, worst = max(found, key=lambda one: one[1].used)
    if worst.used < 1.0:
        return ()
    spot = describe(stations, stress, worst)
    return (
        Sentence(
            "Do not string this bow: braced {} high it already {}, {} up the {} limb ({}: {}); "
            "brace it lower, or make it thinner or of sound wood there",
            Length(braced.brace_height),
            "gives way" if worst.mode == "compression" else "breaks",
            Length(spot.at),
            spot.limb,
            spot.face,
            spot.how_hard,
        ),
    )


def counts_at_knots(stations: Stations, size: float) -> Array:
    """Return how much of the strength used in tension counts at every station, shape (S,).

    That of clear wood counts the whole back, whose weakest place may lie anywhere; a section that a
    knot weakens is as short as the knot (`stretch_size`).
    """
    stave = stations.setup.stave
    out = np.where(clear_stations(stations), size, 0.0)
    for knot in stave.knots:
        x, reach = knot.extent
        here = np.abs(stations.x - x) <= CLEAR_OF * reach
        out[here] = np.maximum(out[here], min(stretch_size(stave, knot), size))
    return np.asarray(out / size)
