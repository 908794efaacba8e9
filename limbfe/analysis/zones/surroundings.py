"""How the limb is strained where a zone lies, as if its wood were sound."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import solve_stations
from limbfe.analysis.bow.yielding import yielding_sections
from limbfe.analysis.wood.limb_load import LimbLoad, resultants_at
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import fresh_state
from limbfe.section.yielding.pressing import strains_under
from limbfe.stave.profile import shape_at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """How the limb would be strained at a zone if its wood were sound.

    Attributes
    ----------
    x : ndarray, shape (2,), m
        Two stations of the zone, or near it, towards the lower and the upper tip.
    strains : ndarray, shape (2, 6)
        Beam strains of the sound limb there, section axes, under the resultants of the bow.
    index : ndarray of int, shape (2,)
        The nearest stations of the beam clear of the zone, on both sides if there are any.
    beside : ndarray, shape (2, 6)
        Beam strains at these.
    resultants : ndarray, shape (2, 6), N and N m
        Of the bow at `x`.
    """

    x: Array
    strains: Array
    index: Array
    beside: Array
    resultants: Array


def surroundings(model: LimbModel, load: LimbLoad, x: float, reach: float) -> Surroundings:
    """Return the sound limb's strain at a zone, and the nearest stations clear of it.

    The resultants are known from statics and change little by the zone; sections without any zone
    answer them.  Two stations make the straight line along the zone: its Gauss points, or half
    the width away where the zone is shorter.
    """
    stave = model.setup.stave
    half_width = float(shape_at(stave, [x]).width[0]) / 2.0
    apart = max(reach / np.sqrt(3.0), half_width)
    low, high = stave.x[0], stave.x[-1]
    middle = np.clip(x, low + apart, high - apart)
    pair = read_only(middle + apart * np.array([-1.0, 1.0]))

    at, bends = model.stations.x, model.stations.bends
    clear = np.flatnonzero(bends & (np.abs(at - x) > 1.5 * reach))
    if not clear.size:
        clear = np.flatnonzero(bends)
    beyond = np.searchsorted(at[clear], x)
    index = clear[np.clip([beyond - 1, beyond], 0, len(clear) - 1)]
    resultants = resultants_at(model, load, pair)
    return Surroundings(
        x=pair,
        strains=sound_strains(model.setup, resultants, pair),
        index=index,
        beside=load.strains[index],
        resultants=resultants,
    )


def sound_strains(setup: BowSetup, resultants: Array, x: Array) -> Array:
    """Return the strains of sections without knots and decay on their first draw, shape (n, 6).

    Parameters
    ----------
    setup : BowSetup
    resultants : ndarray, shape (n, 6), N and N m
    x : ndarray, shape (n,), m

    Raises
    ------
    ConvergenceError
        If even sound wood is crushed through.
    """
    sound = replace(setup, stave=replace(setup.stave, knots=(), decays=()))
    section = yielding_sections(solve_stations(sound, x))
    return strains_under(section, resultants, fresh_state(section))[0]
