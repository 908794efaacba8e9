"""Strains of back and belly through a shot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.wood.stress import clear_stations
from limbfe.analysis.wood.stretched import relieved_wood
from limbfe.beam.shot.shoot import Shot
from limbfe.frames import Array
from limbfe.stave.named_zones import Zone

BESIDE = 0.05
"""A zone farther from any station that bends (m) lies in the stiff handle."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbStrains:
    """Axial strain at the stations that bend, on the middle line; tension positive.

    Attributes
    ----------
    x : ndarray, shape (S,), m
    back, belly : ndarray, shape (k, S)
        Since the new bow was unstrung, in every state of the shot.
    back_drawn, belly_drawn : ndarray, shape (S,)
        At full draw.
    belly_unstrung : ndarray, shape (S,)
        What the exercised bow keeps when it is unstrung.
    """

    x: Array
    back: Array
    belly: Array
    back_drawn: Array
    belly_drawn: Array
    belly_unstrung: Array

    @property
    def stretched(self) -> Array:
        """How far the belly is stretched beyond its unstrung length, shape (k, S)."""
        return np.maximum(self.belly - self.belly_unstrung, 0.0)


def _change(
    solved: SolvedBow, shot: Shot, steps: slice, *, late: bool = False
) -> tuple[Array, Array]:
    """Return the change of strains and of resultants since the release, shape (k, S, 6) each.

    The sections answer elastically; with `late` they carry what answers late beside that, and the
    strains are those that would carry as much at rest.
    """
    chain, record = solved.model.bow.chain, shot.record
    twist = record.twist[steps] - record.twist[0]
    if late:
        behind = record.twist[steps, :, None] - record.delayed[steps]
        twist = twist + np.einsum("d,kedi->kei", shot.model.shares, behind)
    mean = np.einsum("eij,kej->kei", shot.model.stiffness, twist / chain.length[:, None])
    # from the element's mean to its Gauss points, and there to strains
    resultants = np.einsum("egij,kej->kegi", chain.transport, mean)
    strains = np.einsum("egij,kegj->kegi", chain.compliance, resultants)
    shape = (len(twist), -1, 6)
    return strains.reshape(shape), resultants.reshape(shape)


def shot_states(solved: SolvedBow, shot: Shot) -> tuple[Array, Array]:
    """Return the strains and the resultants of all stations in every state, shape (k, S, 6) each.

    What answers late counts, as in `shot_load`.
    """
    full = solved.full_draw
    strains, resultants = _change(solved, shot, slice(None), late=True)
    strains += full.strains.reshape(-1, 6)
    resultants += full.resultants.reshape(-1, 6)
    return strains, resultants


def shot_load(solved: SolvedBow, shot: Shot, step: int) -> LimbLoad:
    """Return the load of the limbs at one step of a shot, their belly relieved of its crushing.

    Wood that was held bent answers late: straight again within milliseconds, it carries load the
    other way.
    """
    stations, full = solved.model.stations, solved.full_draw
    (strains,), (resultants,) = _change(solved, shot, slice(step, step + 1), late=True)
    strains = full.strains.reshape(-1, 6) + strains
    skin, inside = relieved_wood(stations, solved.section, strains, solved.plastic[-1])
    return LimbLoad(
        inside=inside,
        skin=skin,
        strains=strains,
        resultants=full.resultants.reshape(-1, 6) + resultants,
        state=None,
    )


def reaching(strains: LimbStrains, zone: Zone) -> NDArray[np.bool_]:
    """Return which stations a zone reaches, the nearest where it lies between two, shape (S,).

    None where it lies in the stiff handle.
    """
    centre, reach = zone.extent
    apart = np.abs(strains.x - centre)
    nearest = float(apart.min())
    if nearest >= BESIDE:
        return np.zeros(len(apart), dtype=bool)
    return np.asarray(apart <= max(reach, nearest))


def limb_strains(solved: SolvedBow, shot: Shot) -> LimbStrains:
    """Return the strains of a shot: those of full draw and what the sections answer elastically.

    Of sound limb: across a zone, whose own wood strains as its plate says, that of the sections on
    either side of it.
    """
    full, stations = solved.full_draw, solved.model.stations
    change, _ = _change(solved, shot, slice(None))
    bends = stations.bends
    half = 0.5 * stations.shapes.thickness[bends]
    drawn = full.strains.reshape(-1, 6)[bends]
    moved, kept = drawn + change[:, bends], solved.residual[bends]
    x, clear = stations.x[bends], clear_stations(stations)[bends]
    if not clear.any():
        clear[:] = True
    beside = np.stack([np.interp(x, x[clear], one) for one in np.eye(int(clear.sum()))], axis=1)

    def sound(strain: Array) -> Array:
        return np.asarray(strain[..., clear] @ beside.T)

    return LimbStrains(
        x=x,
        back=sound(moved[..., 0] + half * moved[..., 4]),
        belly=sound(moved[..., 0] - half * moved[..., 4]),
        back_drawn=sound(drawn[:, 0] + half * drawn[:, 4]),
        belly_drawn=sound(drawn[:, 0] - half * drawn[:, 4]),
        belly_unstrung=sound(kept[:, 0] - half * kept[:, 4]),
    )
