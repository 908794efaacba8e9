"""Strains of back and belly through a shot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.beam.shot.shoot import Shot
from limbfe.frames import Array


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


def limb_strains(solved: SolvedBow, shot: Shot) -> LimbStrains:
    """Return the strains of a shot: those of full draw and what the sections answer elastically.

    Of the plane section; a knot's own neighbourhood is not in it.
    """
    chain, full, model = solved.model.bow.chain, solved.full_draw, shot.model
    stations = solved.model.stations
    twist = shot.record.twist - shot.record.twist[0]
    mean = np.einsum("eij,kej->kei", model.stiffness, twist / chain.length[:, None])
    # from the element's mean to its Gauss points, and there to strains
    answer = np.einsum("egij,egjl->egil", chain.compliance, chain.transport)
    change = np.einsum("egil,kel->kegi", answer, mean).reshape(len(twist), -1, 6)
    bends = stations.bends
    half = 0.5 * stations.shapes.thickness[bends]
    drawn = full.strains.reshape(-1, 6)[bends]
    moved, kept = drawn + change[:, bends], solved.residual[bends]
    return LimbStrains(
        x=stations.x[bends],
        back=moved[..., 0] + half * moved[..., 4],
        belly=moved[..., 0] - half * moved[..., 4],
        back_drawn=drawn[:, 0] + half * drawn[:, 4],
        belly_drawn=drawn[:, 0] - half * drawn[:, 4],
        belly_unstrung=kept[:, 0] - half * kept[:, 4],
    )
