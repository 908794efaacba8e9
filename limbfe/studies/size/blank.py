"""How thick each station of a stave may become: what is left of the blank, and what must stay."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import CaseError
from limbfe.frames import Array, read_only
from limbfe.stave.recurve import recurved
from limbfe.stave.stave import Stave, arch_height
from limbfe.units import both_lengths

LEAST_HEARTWOOD = 1e-3
"""m below the sapwood and the backing: a stave must keep some."""
LEAST_DEPTH = 2e-3
"""m below the arch of the back, and the least thickness a case file may state."""

STIFF_TIP = 1.08
"""A tip this much thicker than the thinnest place of its limb is meant to be stiff."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blank:
    """The room between too thin and not enough wood, station by station.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        The case's stations, lower tip to upper tip.
    present : ndarray, shape (n,), m
        Thickness as the case states it.
    least, most : ndarray, shape (n,), m
    start : ndarray, shape (n,), m
        Thickness to begin with; that of the stations that are not free stays.
    free : ndarray of bool, shape (n,)
        Stations whose thickness is sought: not those in the stiff grip, nor those settled already.
    """

    x: Array
    present: Array
    least: Array
    most: Array
    start: Array
    free: NDArray[np.bool_]

    def lacking(self, thickness: Array) -> Array:
        """Return by how much a thickness exceeds the blank, shape (n,), m; negative for room."""
        return np.where(self.free, thickness - self.most, -np.inf)

    def place(self, k: int) -> str:
        """Return the words for station `k`."""
        x = float(self.x[k])
        if x == 0.0:
            return "in the middle of the grip"
        return f"{both_lengths(abs(x))} up the {'upper' if x > 0 else 'lower'} limb"


def blank_of(
    stave: Stave,
    *,
    allowance: float = 0.0,
    tip: float | None = None,
    tips_stay: bool = False,
    keep: Array | None = None,
) -> Blank:
    """Return the room a stave leaves.

    Parameters
    ----------
    stave : Stave
    allowance : float, m
        How much thicker the blank still is than the stave's columns.
    tip : float, optional
        m; the limbs get no thinner than this anywhere, nor, where the stave is thinner already,
        than it is.
    tips_stay : bool
        Where `tip` is not given: keep the tips and let nothing be thinner than the thinnest now;
        of a limb with a thicker, stiff tip keep that whole tip, and the recurve it ends in, and set
        no least.
    keep : ndarray, shape (n,), m, optional
        Thickness of stations that are settled already; nan at the others.

    Raises
    ------
    CaseError
        If the tips are already thinner than `tip` and the blank.
    """
    layers, outline = stave.sapwood + stave.backing, stave.outline
    least = np.maximum(
        np.where(layers > 0.0, layers + LEAST_HEARTWOOD, 0.0),
        arch_height(stave) / 0.9
        + max(LEAST_DEPTH, outline.belly_corner if outline.belly == "corner" else 0.0),
    )
    free = np.abs(stave.x) > stave.half_grip + 1e-9
    if stave.stiff_length == 0.0:
        free = np.ones_like(free)
    most = stave.thickness + allowance
    if tip is not None:
        _check_tip(stave, tip, most)
        least = np.maximum(least, np.minimum(tip, stave.thickness))
    elif tips_stay:
        for limb in (free & (stave.x < 0.0), free & (stave.x > 0.0)):
            free = _keep_tip(stave, limb, least, free)
    start = np.where(free, np.maximum(stave.thickness, least), stave.thickness)
    if keep is not None:
        free = free & np.isnan(keep)
        start = np.where(np.isnan(keep), start, keep)
    return Blank(
        x=stave.x,
        present=stave.thickness,
        least=read_only(np.where(free, least, start)),
        most=read_only(np.where(free, most, start)),
        start=read_only(start),
        free=free,
    )


def _keep_tip(
    stave: Stave, limb: NDArray[np.bool_], least: Array, free: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Raise `least` on one limb to its thin tip, or return `free` without its stiff one."""
    thin = float(stave.thickness[limb].min())
    nock = int(np.flatnonzero(limb)[np.abs(stave.x[limb]).argmax()])
    if stave.thickness[nock] < STIFF_TIP * thin:
        least[limb] = np.maximum(least[limb], thin)
        least[nock] = max(least[nock], stave.thickness[nock])
        return free
    return free & ~_beyond_the_bending(stave, limb)


def levers(stave: Stave) -> NDArray[np.bool_]:
    """Return the stations of recurves, thick or not, and of stiff tips, shape (n,)."""
    found = np.zeros(stave.x.shape, dtype=np.bool_)
    for limb in (stave.x < -stave.half_grip, stave.x > stave.half_grip):
        found |= _beyond_the_bending(stave, limb)
    return found


def _beyond_the_bending(stave: Stave, limb: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the stations outside the last of one limb that is thin and no recurve, shape (n,)."""
    thin = float(stave.thickness[limb & ~recurved(stave)].min())
    bending = limb & (stave.thickness < STIFF_TIP * thin) & ~recurved(stave)
    beyond: NDArray[np.bool_] = limb & (np.abs(stave.x) > np.abs(stave.x[bending]).max())
    return beyond


def _check_tip(stave: Stave, tip: float, most: Array) -> None:
    for k, limb in ((0, "lower"), (-1, "upper")):
        if tip > most[k] + 1e-9:
            raise CaseError(
                f'--tip "{both_lengths(tip)}": the {limb} tip of the case is only '
                f"{both_lengths(float(most[k]))} thick; ask for no more, or give "
                "--blank-allowance when the blank is thicker than the case says"
            )
