"""The sections and the law of their fibres as functions of the wood.

A section is nearly linear in the moduli and its fibres' law in the crushing strength: only
Poisson's ratios, the shear warping of two woods and the slope past yield bend them.  So both are
taken as their tangent at a wood that the fit moves along with, until nothing moves any more: the
last tangent is exact where the fit ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.stations import solve_stations
from limbfe.analysis.bow.yielding import yielding_sections
from limbfe.frames import Array
from limbfe.section.stiffness import SectionStiffness
from limbfe.section.yielding.fibre_law import FibreLaw
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.studies.fit.parameters import with_wood

_STEP = 1e-3
"""Relative change for a central difference: the error is of its square."""
_Fields = tuple[Array, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionTangent:
    """S sections about a given wood.

    Attributes
    ----------
    wood : ndarray, shape (w + 1,)
        Moduli (Pa) and the factor of the crushing strength.
    section : FibreSection
        Of this wood.
    slopes : tuple of tuple of ndarray
        For each of these, per unit: of the 6x6 stiffness, of the fibres' strain per generalised
        strain, and of the fibre law's modulus, start, slope and level.
    """

    wood: Array
    section: FibreSection
    slopes: tuple[_Fields, ...]

    def at(self, wood: Array) -> FibreSection:
        """Return the sections of another wood, shape (w + 1,)."""
        fields = list(_fields(self.section))
        for change, slopes in zip(wood - self.wood, self.slopes, strict=True):
            if change != 0.0:
                fields = [
                    field + change * slope for field, slope in zip(fields, slopes, strict=True)
                ]
        K, fibre, modulus, start, slope, level = fields
        return replace(
            self.section,
            solution=replace(self.section.solution, K=K, compliance=np.asarray(np.linalg.inv(K))),
            fibre=fibre,
            law=FibreLaw(modulus=modulus, start=start, slope=slope, level=level),
        )


def section_tangent(model: LimbModel, wood: Array) -> SectionTangent:
    """Solve the sections of a model for and about `wood`, shape (w + 1,).

    Raises
    ------
    MaterialError
        If such a wood is not possible with the rest of its properties.
    """
    section, slopes = solved_fibres(model, wood), []
    for k, value in enumerate(wood):
        step = np.zeros_like(wood)
        step[k] = _STEP * value
        same = section.solution if k == len(wood) - 1 else None
        more, less = (solved_fibres(model, wood + sign * step, same) for sign in (1.0, -1.0))
        both = zip(_fields(more), _fields(less), strict=True)
        slopes.append(tuple(_slope(high, low, step[k]) for high, low in both))
    return SectionTangent(wood=wood.copy(), section=section, slopes=tuple(slopes))


def solved_fibres(
    model: LimbModel, wood: Array, solution: SectionStiffness | None = None
) -> FibreSection:
    """Return the sections of a model for `wood`, shape (w + 1,).

    Parameters
    ----------
    solution : SectionStiffness, optional
        Of the same moduli, where it is known.

    Raises
    ------
    MaterialError
        If such a wood is not possible with the rest of its properties.
    """
    setup = with_wood(model.setup, wood)
    if solution is None:
        return yielding_sections(solve_stations(setup, model.stations.x))
    return yielding_sections(replace(model.stations, setup=setup, sections=solution))


def _fields(section: FibreSection) -> _Fields:
    law = section.law
    return section.solution.K, section.fibre, law.modulus, law.start, law.slope, law.level


def _slope(more: Array, less: Array, step: float) -> Array:
    """Return the central difference; zero where a fibre never yields."""
    finite = np.isfinite(more) & np.isfinite(less)
    change = np.subtract(more, less, out=np.zeros_like(more), where=finite)
    return change / (2.0 * step)
