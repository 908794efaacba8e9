"""Sections whose fibres yield in compression: resultants, tangent, set.

Each integration point carries a fibre along the grain.  Its crushing is an eigenstrain over the
elastic section: a fibre crushed by ``p`` would shorten along the grain and swell across it as in
simple compression, so the stress it lacks is ``E_L p`` along the grain and nothing else.  With
``Gamma`` the elastic strain fields per generalised strain, virtual work gives the resultants

    theta = K eps + integral of Gamma_L' E_L p        (p >= 0: crushed)

exactly, whatever warping the eigenstrain brings, because the elastic fields do no work on a
warping.  Only the local stress of that extra warping is left out, which straightens the edge of
the crushed zone a little.

References
----------
The reciprocal theorem for eigenstrains: T. Mura, Micromechanics of Defects in Solids (1987) (from
memory); the fibre section with eigenstrain over an elastic 6x6 is derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.compiled import as_read
from limbfe.frames import VOIGT_PAIRS, Array
from limbfe.section.kinematics import reference_rule
from limbfe.section.point_fields import fibre_rows, moduli_along, recover_points
from limbfe.section.stiffness import SectionStiffness
from limbfe.section.yielding.fibre_law import FibreLaw, crushing_work, pick_law
from limbfe.section.yielding.fibres import strain_fibres


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreSection:
    """S sections, m elements, q points each, ready to be strained beyond the elastic range.

    Attributes
    ----------
    solution : SectionStiffness
    points : ndarray, shape (S, m, q, 2), m
    weights : ndarray, shape (S, m, q), m2
    loads : ndarray, shape (S, 6, 6)
        Resultants per generalised strain with which the warping of `solution` was found.
    grain : ndarray, shape (S, m, q, 3)
        Unit vectors along the grain, section axes.
    fibre : ndarray, shape (S, m, q, 6)
        The strain along the grain per generalised strain.
    law : FibreLaw
        Arrays of shape (S, m, q).
    """

    solution: SectionStiffness
    points: Array
    weights: Array
    loads: Array
    grain: Array
    fibre: Array
    law: FibreLaw

    @property
    def along(self) -> Array:
        """Voigt stress of a unit stress along the grain, shape (S, m, q, 6), section axes."""
        n = self.grain
        return np.stack([n[..., i] * n[..., j] for i, j in VOIGT_PAIRS], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreResponse:
    """What S strained sections answer.

    Attributes
    ----------
    resultants : ndarray, shape (S, 6), N and N m
    tangent : ndarray, shape (S, 6, 6)
        Change of the resultants per change of the strains; symmetric.
    plastic : ndarray, shape (S, m, q)
        How far each fibre is now crushed, 0 or more: the state to hand on.
    stress : ndarray, shape (S, m, q), Pa
        Along the grain.
    """

    resultants: Array
    tangent: Array
    plastic: Array
    stress: Array


def fibre_section(solution: SectionStiffness, grain: Array, law: FibreLaw) -> FibreSection:
    """Return sections ready for `fibre_response`.

    Parameters
    ----------
    solution : SectionStiffness
        S stations, m elements, q points.
    grain : ndarray, shape broadcastable to (S, m, q, 3)
        Unit vectors along the grain, section axes.
    law : FibreLaw
        Arrays broadcastable to (S, m, q); see `grain_modulus` for its modulus.
    """
    shape, mesh = solution.C.shape[:3], solution.mesh
    directions = _per_point(grain, (*shape, 3))
    points, scale, fibre = np.empty((*shape, 2)), np.empty(shape), np.empty((*shape, 6))
    rule, values, gradients = reference_rule(mesh.elements.shape[1], mesh.order)
    fibre_rows(
        as_read(mesh.nodes), mesh.elements, as_read(values), as_read(gradients),
        as_read(solution.warping), as_read(solution.warping_slope),
        as_read(solution.plane_strain), as_read(solution.K), as_read(directions),
        points, scale, fibre,
    )  # fmt: skip
    lines = (len(law.start), *shape)
    return FibreSection(
        solution=solution,
        points=points,
        weights=rule * scale,
        loads=solution.K,
        grain=directions,
        fibre=fibre,
        law=FibreLaw(
            modulus=_per_point(law.modulus, shape),
            start=_per_point(_by_line(law.start, shape), lines),
            slope=_per_point(_by_line(law.slope, shape), lines),
            level=_per_point(law.level, shape),
        ),
    )


def _by_line(lines: Array, shape: tuple[int, ...]) -> Array:
    """Return the lines of a law with as many axes behind the first as there are in `shape`."""
    return lines.reshape(len(lines), *(1,) * (1 + len(shape) - lines.ndim), *lines.shape[1:])


def _per_point(values: Array, shape: tuple[int, ...]) -> Array:
    return np.ascontiguousarray(np.broadcast_to(np.asarray(values, dtype=np.float64), shape))


def grain_modulus(solution: SectionStiffness, grain: Array) -> Array:
    """Return Young's modulus along the grain at every integration point, shape (S, m, q), Pa."""
    return modulus_along(solution.C, grain)


def modulus_along(C: Array, direction: Array) -> Array:
    """Return Young's modulus along a direction, shape (...), Pa.

    Parameters
    ----------
    C : ndarray, shape (..., 6, 6), Pa
    direction : ndarray, shape broadcastable to (..., 3)
        Unit vectors, in the axes of `C`.
    """
    modulus, unit = np.empty(C.shape[:-2]), _per_point(direction, (*C.shape[:-2], 3))
    moduli_along(as_read(C).reshape(-1, 6, 6), as_read(unit).reshape(-1, 3), modulus.reshape(-1))
    return modulus


def fresh_state(section: FibreSection) -> Array:
    """Return the state of sections that were never loaded, shape (S, m, q)."""
    return np.zeros(section.weights.shape)


def fibre_response(section: FibreSection, strains: Array, plastic: Array) -> FibreResponse:
    """Strain sections from a state.

    Parameters
    ----------
    section : FibreSection
    strains : ndarray, shape (S, 6)
        Generalised strains, total.
    plastic : ndarray, shape (S, m, q)
        State before: `fresh_state`, or ``plastic`` of an earlier response that was accepted.
    """
    K, law = section.solution.K, section.law
    resultants = (K @ strains[..., None])[..., 0]
    softening, crushed, stress = np.empty_like(K), np.empty(plastic.shape), np.empty(plastic.shape)
    strain_fibres(
        as_read(section.fibre), as_read(section.weights),
        as_read(law.modulus), as_read(law.start), as_read(law.slope), as_read(law.level),
        as_read(strains), as_read(plastic), resultants, softening, crushed, stress,
    )  # fmt: skip
    return FibreResponse(
        resultants=resultants, tangent=K - softening, plastic=crushed, stress=stress
    )


def stored_energy(section: FibreSection, strains: Array, plastic: Array) -> Array:
    """Return the elastic energy per length, shape (S,), J/m.

    Parameters
    ----------
    section : FibreSection
    strains : ndarray, shape (S, 6)
    plastic : ndarray, shape (S, m, q)
        The state at these strains.
    """
    strain = (section.fibre @ strains[:, None, :, None])[..., 0]
    fibres = section.law.modulus * plastic * (strain + 0.5 * plastic) * section.weights
    stored: Array = 0.5 * np.einsum(
        "si,sij,sj->s", strains, section.solution.K, strains
    ) + fibres.sum(axis=(1, 2))
    return stored


def lost_energy(section: FibreSection, plastic: Array) -> Array:
    """Return the work lost in crushing so far, per length, shape (S,), J/m."""
    law, crushed = section.law, plastic > 0.0
    work = np.zeros_like(plastic)
    theirs = pick_law(law, crushed)
    work[crushed] = crushing_work(theirs, plastic[crushed]) * section.weights[crushed]
    return np.asarray(work.sum(axis=(1, 2)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecoveredField:
    """Strain and stress at the integration points of S sections, section axes, Voigt order.

    Attributes
    ----------
    points : ndarray, shape (S, m, q, 2), m
    strain : ndarray, shape (S, m, q, 6), engineering shears
    stress : ndarray, shape (S, m, q, 6), Pa
    """

    points: Array
    strain: Array
    stress: Array


def recover_inelastic(section: FibreSection, strains: Array, plastic: Array) -> RecoveredField:
    """Return strain and stress at every integration point, the crushed fibres' loss included.

    Parameters
    ----------
    section : FibreSection
    strains : ndarray, shape (S, 6)
    plastic : ndarray, shape (S, m, q)
        The state at these strains.
    """
    solution, mesh = section.solution, section.solution.mesh
    stations, nodes = mesh.nodes.shape[:2]
    loads = section.loads @ strains[..., None]
    _, values, gradients = reference_rule(mesh.elements.shape[1], mesh.order)
    warping, slope = (
        (field.reshape(stations, 3 * nodes, 6) @ loads).reshape(stations, nodes, 3)
        for field in (solution.warping, solution.warping_slope)
    )
    plane = (solution.plane_strain @ loads)[..., 0]
    strain, stress = np.empty(solution.C.shape[:-1]), np.empty(solution.C.shape[:-1])
    recover_points(
        as_read(mesh.nodes), mesh.elements, as_read(values), as_read(gradients),
        as_read(warping), as_read(slope), as_read(plane), as_read(solution.C),
        as_read(section.grain), as_read(section.law.modulus), as_read(plastic), strain, stress,
    )  # fmt: skip
    return RecoveredField(points=section.points, strain=strain, stress=stress)
