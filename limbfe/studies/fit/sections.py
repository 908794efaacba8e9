"""The sections and the law of their fibres as functions of the moduli along the grain.

A section is nearly linear in the moduli: only Poisson's ratios and the shear warping of two woods
bend it.  So it is taken as its tangent at moduli that the fit moves along with, until nothing
moves any more: the last tangent is exact where the fit ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.model import LimbModel, solve_sections
from limbfe.analysis.yielding import yielding_sections
from limbfe.frames import Array
from limbfe.section.fibre_law import FibreLaw
from limbfe.section.inelastic import FibreSection
from limbfe.studies.fit.parameters import with_moduli

_STEP = 1e-3
"""Relative change of a modulus for its central difference: the error is of its square."""
_Fields = tuple[Array, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionTangent:
    """S sections about given moduli.

    Attributes
    ----------
    E_L : ndarray, shape (w,), Pa
    section : FibreSection
        At these moduli.
    slopes : tuple of tuple of ndarray
        For each modulus, per pascal: of the 6x6 stiffness, of the fibres' strain per generalised
        strain, and of the fibre law's modulus, start and slope.
    """

    E_L: Array
    section: FibreSection
    slopes: tuple[_Fields, ...]

    def at(self, E_L: Array) -> FibreSection:
        """Return the sections at other moduli, shape (w,), Pa."""
        fields = list(_fields(self.section))
        for change, slopes in zip(E_L - self.E_L, self.slopes, strict=True):
            if change != 0.0:
                fields = [
                    field + change * slope for field, slope in zip(fields, slopes, strict=True)
                ]
        K, fibre, modulus, start, slope = fields
        return replace(
            self.section,
            solution=replace(self.section.solution, K=K, compliance=np.asarray(np.linalg.inv(K))),
            fibre=fibre,
            law=FibreLaw(modulus=modulus, start=start, slope=slope),
        )


def section_tangent(model: LimbModel, E_L: Array) -> SectionTangent:
    """Solve the sections of a model at and about moduli `E_L`, shape (w,), Pa.

    Raises
    ------
    MaterialError
        If such a wood is not possible with the rest of its constants.
    """
    slopes = []
    for k, modulus in enumerate(E_L):
        step = np.zeros_like(E_L)
        step[k] = _STEP * modulus
        more, less = (solved_fibres(model, E_L + sign * step) for sign in (1.0, -1.0))
        both = zip(_fields(more), _fields(less), strict=True)
        slopes.append(tuple(_slope(high, low, step[k]) for high, low in both))
    return SectionTangent(E_L=E_L.copy(), section=solved_fibres(model, E_L), slopes=tuple(slopes))


def solved_fibres(model: LimbModel, E_L: Array) -> FibreSection:
    """Solve the sections of a model with moduli `E_L`, shape (w,), Pa.

    Raises
    ------
    MaterialError
        If such a wood is not possible with the rest of its constants.
    """
    setup = with_moduli(model.setup, E_L)
    solved = solve_sections(setup, model.x)[2]
    return yielding_sections(replace(model, setup=setup, sections=solved))


def _fields(section: FibreSection) -> _Fields:
    law = section.law
    return section.solution.K, section.fibre, law.modulus, law.start, law.slope


def _slope(more: Array, less: Array, step: float) -> Array:
    """Return the central difference; zero where a fibre never yields."""
    finite = np.isfinite(more) & np.isfinite(less)
    change = np.subtract(more, less, out=np.zeros_like(more), where=finite)
    return change / (2.0 * step)
