"""How the limb is strained where a zone lies, as if its wood were sound."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.limb_load import LimbLoad, resultants_at
from limbfe.analysis.model import LimbModel, solve_sections
from limbfe.analysis.yielding import yielding_sections
from limbfe.frames import Array, read_only
from limbfe.section.inelastic import fresh_state
from limbfe.section.mesh import integration_points
from limbfe.section.pressing import strains_under
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
    """

    x: Array
    strains: Array
    index: Array
    beside: Array


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

    bends = np.abs(model.x) >= stave.stiff_length / 2.0
    clear = np.flatnonzero(bends & (np.abs(model.x - x) > 1.5 * reach))
    if not clear.size:
        clear = np.flatnonzero(bends)
    beyond = np.searchsorted(model.x[clear], x)
    index = clear[np.clip([beyond - 1, beyond], 0, len(clear) - 1)]
    return Surroundings(
        x=pair,
        strains=sound_strains(model, resultants_at(model, load, pair), pair),
        index=index,
        beside=load.strains[index],
    )


def sound_strains(model: LimbModel, resultants: Array, x: Array) -> Array:
    """Return the strains of sections without knots and decay on their first draw, shape (n, 6).

    Parameters
    ----------
    model : LimbModel
    resultants : ndarray, shape (n, 6), N and N m
    x : ndarray, shape (n,), m

    Raises
    ------
    ConvergenceError
        If even sound wood is crushed through.
    """
    setup = replace(model.setup, stave=replace(model.setup.stave, knots=(), decays=()))
    shapes, mesh, sections = solve_sections(setup, x)
    points, _ = integration_points(mesh)
    sound = replace(
        model, setup=setup, x=x, shapes=shapes, mesh=mesh, points=points, sections=sections
    )
    section = yielding_sections(sound)
    return strains_under(section, resultants, fresh_state(section))[0]
