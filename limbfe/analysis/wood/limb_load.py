"""What a drawn limb hands to the local models of its knots and patches."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.stress import WoodStress
from limbfe.analysis.wood.stretched import worked_wood
from limbfe.beam import BowState, own_frame
from limbfe.frames import Array, read_only
from limbfe.stave.profile import axis_at
from limbfe.stave.stave import Stave


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbLoad:
    """Stress and strain of a bow in one state.

    Attributes
    ----------
    inside, skin : WoodStress
        At every integration point of the sections, and at their outline nodes.
    strains : ndarray, shape (S, 6)
        Of the beam at its Gauss stations, section axes.
    resultants : ndarray, shape (S, 6), N and N m
    state : BowState or None
        At rest; None in motion, when the grip is not loaded by the string alone.
    """

    inside: WoodStress
    skin: WoodStress
    strains: Array
    resultants: Array
    state: BowState | None


def limb_load(solved: SolvedBow, step: int = -1) -> LimbLoad:
    """Return the load of a bow at one of its states, full draw when left out."""
    state = solved.states[step]
    plastic = solved.plastic[1:][step]
    strains = state.strains.reshape(-1, 6)
    skin, inside = worked_wood(solved.model.stations, solved.section, strains, plastic)
    return LimbLoad(
        inside=inside,
        skin=skin,
        strains=strains,
        resultants=state.resultants.reshape(-1, 6),
        state=state,
    )


def drawn_stress(solved: SolvedBow) -> tuple[WoodStress, WoodStress]:
    """Return the stress at full draw inside the sections and on their skin."""
    load = limb_load(solved)
    return load.inside, load.skin


def resultants_at(model: LimbModel, load: LimbLoad, x: Array) -> Array:
    """Return the resultants at any stations, shape (n, 6), N and N m, section axes there.

    Straight between the stations of a bending limb, past its first and its last by statics.  In the
    stiff grip, which carries the moment though its beam does not bend, they are those of one half
    of the string, the halves parting where the bow is held; in motion, what the limb hands on.
    """
    stave, stations, hand = model.setup.stave, model.stations, model.setup.holding.at
    result = np.empty((len(x), 6))
    for upper in (False, True):
        here = (x >= hand) == upper
        if not here.any():
            continue
        limb = stations.bends & ((stations.x >= hand) == upper)
        result[here] = _along_limb(stave, load.resultants[limb], stations.x[limb], x[here])
    if load.state is not None:
        grip = ~stave.bends(x)
        result[grip] = _in_grip(model, load.state, x[grip], hand)
    return result


def _in_grip(model: LimbModel, state: BowState, x: Array, hand: float) -> Array:
    places, frames = axis_at(model.setup.stave, x)
    string, upper = own_frame(model.bow, state, state.free_string), x >= hand
    nock = np.where(upper[:, None], string[2], string[0])
    pull = string[1] - nock
    pull *= (state.string_tension[upper.astype(int)] / np.linalg.norm(pull, axis=1))[:, None]
    # the section's positive face looks up the bow: below the hand the string pulls on the other
    pull *= np.where(upper, 1.0, -1.0)[:, None]
    loads = np.stack([pull, np.cross(nock - places, pull)])
    turned: Array = np.einsum("sji,ksj->ski", frames, loads).reshape(-1, 6)
    return turned


def _along_limb(stave: Stave, resultants: Array, known: Array, x: Array) -> Array:
    """Interpolate in the unstrung bow's axes, so that it does not matter how the sections turn."""
    frames = _frames_at(stave, known.tobytes())
    fixed = np.einsum("sij,skj->ski", frames, resultants.reshape(-1, 2, 3))
    at = [np.interp(x, known, column) for column in fixed.reshape(-1, 6).T]
    force, moment = np.stack(at, axis=1).reshape(-1, 2, 3).swapaxes(0, 1)
    here, there = axis_at(stave, x)
    inner = np.clip(x, known[0], known[-1])
    if np.any(inner != x):
        moment = moment + np.cross(axis_at(stave, inner)[0] - here, force)
    turned: Array = np.einsum("sji,ksj->ski", there, np.stack([force, moment])).reshape(-1, 6)
    return turned


@lru_cache(maxsize=4)
def _frames_at(stave: Stave, x: bytes) -> Array:
    """Return the section frames at the stations of a limb, which every zone in it asks for."""
    return read_only(axis_at(stave, np.frombuffer(x))[1])
