"""What crushing leaves of the stiffness of the belly round a zone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.yielding import wood_law
from limbfe.defect.plate.wood import Left
from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import FibreLaw, crush, yield_stress
from limbfe.stave.knot import Plane
from limbfe.stave.stave import Stave
from limbfe.wood.belly import LEFT_AT_PEAK

LEAST_LEFT = 0.02
"""Of the stiffness of crushed wood: less than this is not asked of the plate's equations."""
_LEAST_STRAIN = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrushedBelly:
    """The secant of the law of crushing in a plate: a `limbfe.defect.plate.wood.Softening`.

    An object, not a function made on the way, so that a plate can go to another process.

    Attributes
    ----------
    stations : ndarray, shape (S,), m
        Of the bow.
    strains : ndarray, shape (S, 6)
        Of its sections.
    stave : Stave
    plane : {"flat", "side"}
    """

    stations: Array
    strains: Array
    stave: Stave
    plane: Plane

    def __call__(self, points: Array, z: Array, modulus: Array) -> Left:
        """Look up the wood and the limb's own strain at points (p, 2) and depths (p, n)."""
        stave = self.stave
        x = np.clip(points[:, 0], stave.x[0], stave.x[-1])
        y, height = np.broadcast_to(points[:, 1, None], z.shape), z
        if self.plane == "side":
            y, height = height, y
        axial, bent, aside = (
            np.interp(x, self.stations, self.strains[:, k])[:, None] for k in (0, 4, 5)
        )
        law = wood_law(stave, x, np.stack([y, height], axis=-1), modulus)
        return _Left(law=law, limb=axial - y * aside + height * bent)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Left:
    """What is left at some points: see `limbfe.defect.plate.wood.Left`.

    The fall of the stress past the peak goes with the mean strain over a length of limb: a law
    that softens point by point has no one answer, its strain gathers in a band as narrow as the
    mesh allows.
    """

    law: FibreLaw
    limb: Array

    def __call__(self, along: Array | None, spread: Array | None) -> Array:
        """Return what is left of the stiffness, shape (p, n)."""
        strain = self.limb if along is None else along
        stress, plastic = self._crushed(strain)
        peak = yield_stress(self.law, np.full(strain.shape, LEFT_AT_PEAK))
        held = np.where(plastic > LEFT_AT_PEAK, -peak, stress)
        if spread is None:
            fallen = np.where(plastic > LEFT_AT_PEAK, stress / -peak, 1.0)
        else:
            mean, past = self._crushed(spread)
            fallen = np.where(past > LEFT_AT_PEAK, mean / -peak, 1.0)
        elastic = self.law.modulus * np.minimum(strain, -_LEAST_STRAIN)
        left: Array = np.where(strain < 0.0, fallen * held / elastic, 1.0)
        return np.clip(left, LEAST_LEFT, 1.0)

    def _crushed(self, strain: Array) -> tuple[Array, Array]:
        stress, plastic, _ = crush(self.law, strain, np.zeros(strain.shape))
        return stress, plastic
