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

from limbfe.errors import ConvergenceError
from limbfe.frames import VOIGT_PAIRS, Array
from limbfe.section.fibre_law import FibreLaw, crushing_work
from limbfe.section.fibres import strain_fibres
from limbfe.section.mesh import integration_points
from limbfe.section.recovery import RecoveredField, strain_basis
from limbfe.section.stiffness import SectionStiffness

_NEWTON_LIMIT = 60
_TOLERANCE = 1e-10
_TRACE = 1e-9
_TINY = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreSection:
    """S sections, m elements, q points each, ready to be strained beyond the elastic range.

    Attributes
    ----------
    solution : SectionStiffness
    points : ndarray, shape (S, m, q, 2), m
    weights : ndarray, shape (S, m, q), m2
    basis : ndarray, shape (S, m, q, 6, 6)
        Elastic Voigt strain (rows) per generalised strain (columns).
    fibre : ndarray, shape (S, m, q, 6)
        The strain along the grain per generalised strain.
    along : ndarray, shape (S, m, q, 6)
        Voigt stress, section axes, of a unit stress along the grain.
    law : FibreLaw
        Arrays of shape (S, m, q).
    """

    solution: SectionStiffness
    points: Array
    weights: Array
    basis: Array
    fibre: Array
    along: Array
    law: FibreLaw


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
    points, weights = integration_points(solution.mesh)
    along = _along(grain, weights.shape)
    basis = strain_basis(solution)
    return FibreSection(
        solution=solution,
        points=points,
        weights=weights,
        basis=basis,
        fibre=np.ascontiguousarray((along[..., None, :] @ basis)[..., 0, :]),
        along=along,
        law=FibreLaw(
            modulus=np.ascontiguousarray(np.broadcast_to(law.modulus, weights.shape)),
            start=_per_point(law.start, weights.shape),
            slope=_per_point(law.slope, weights.shape),
        ),
    )


def _per_point(lines: Array, shape: tuple[int, ...]) -> Array:
    missing = (1,) * (1 + len(shape) - lines.ndim)
    full = lines.reshape(len(lines), *missing, *lines.shape[1:])
    return np.ascontiguousarray(np.broadcast_to(full, (len(lines), *shape)))


def grain_modulus(solution: SectionStiffness, grain: Array) -> Array:
    """Return Young's modulus along the grain at every integration point, shape (S, m, q), Pa."""
    along = _along(grain, solution.C.shape[:3])
    strain = np.linalg.solve(solution.C, along[..., None])[..., 0]
    modulus: Array = 1.0 / (along * strain).sum(axis=-1)
    return modulus


def _along(grain: Array, shape: tuple[int, ...]) -> Array:
    n = np.broadcast_to(np.asarray(grain, dtype=np.float64), (*shape, 3))
    return np.stack([n[..., i] * n[..., j] for i, j in VOIGT_PAIRS], axis=-1)


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
    K, stations = section.solution.K, len(strains)
    resultants = (K @ strains[..., None])[..., 0]
    softening, crushed, stress = np.empty_like(K), np.empty(plastic.shape), np.empty(plastic.shape)
    law, flat = section.law, (stations, -1)
    given = (
        section.fibre.reshape(*flat, 6),
        section.weights.reshape(flat),
        law.modulus.reshape(flat),
        law.start.reshape(-1, stations, crushed[0].size),
        law.slope.reshape(-1, stations, crushed[0].size),
        strains,
        plastic.reshape(flat),
    )
    fibre, weights, modulus, start, slope, strained, old = (_one_kind(array) for array in given)
    strain_fibres(
        fibre,
        weights,
        modulus,
        start,
        slope,
        strained,
        old,
        resultants,
        softening,
        crushed.reshape(flat),
        stress.reshape(flat),
    )
    return FibreResponse(
        resultants=resultants, tangent=K - softening, plastic=crushed, stress=stress
    )


def _one_kind(array: Array) -> Array:
    """Return an array that Numba sees as every other: it would compile for read-only ones again."""
    return np.require(array, np.float64, ["C", "W"])


def strains_under(
    section: FibreSection, resultants: Array, plastic: Array, *, start: Array | None = None
) -> tuple[Array, FibreResponse]:
    """Return the strains under given resultants, by Newton's method.

    Parameters
    ----------
    section : FibreSection
    resultants : ndarray, shape (S, 6), N and N m
    plastic : ndarray, shape (S, m, q)
        State before.
    start : ndarray, shape (S, 6), optional
        First guess; the elastic strains over the state's own set when left out.

    Returns
    -------
    strains : ndarray, shape (S, 6)
    response : FibreResponse

    Raises
    ------
    ConvergenceError
        Naming the worst station, when a section cannot carry its resultants.
    """
    F = section.solution.compliance
    held = fibre_response(section, np.zeros_like(resultants), plastic).resultants
    if start is None:
        start = (F @ (resultants - held)[..., None])[..., 0]
    scale = np.maximum(np.maximum(_energy(F, resultants), _energy(F, held)), _TINY)
    strains, history = start, []
    for _ in range(_NEWTON_LIMIT):
        response = fibre_response(section, strains, plastic)
        gap = resultants - response.resultants
        size = _energy(F, gap) / scale
        history.append(float(np.sqrt(size.max())))
        if history[-1] < _TOLERANCE:
            return strains, response
        step = _solve(section, response.tangent, gap)
        strains = strains + step
    worst = int(size.argmax())
    raise ConvergenceError(
        f"{section.solution.mesh.where(worst)}: the section cannot carry its resultants, the "
        "compression side is crushed through; reduce the load",
        iteration=_NEWTON_LIMIT,
        residuals=tuple(history),
    )


def _energy(F: Array, resultants: Array) -> Array:
    energy: Array = np.einsum("si,sij,sj->s", resultants, F, resultants)
    return energy


def _solve(section: FibreSection, tangent: Array, gap: Array) -> Array:
    # A section crushed through has no stiffness left; a trace of the elastic one keeps the
    # step finite, and the failure then shows in the residual.
    trace = _TRACE * section.solution.K
    return np.asarray(np.linalg.solve(tangent + trace, gap[..., None])[..., 0])


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
    stored: Array = 0.5 * _energy(section.solution.K, strains) + fibres.sum(axis=(1, 2))
    return stored


def lost_energy(section: FibreSection, plastic: Array) -> Array:
    """Return the work lost in crushing so far, per length, shape (S,), J/m."""
    work = crushing_work(section.law, plastic) * section.weights
    return np.asarray(work.sum(axis=(1, 2)))


def recover_inelastic(section: FibreSection, strains: Array, plastic: Array) -> RecoveredField:
    """Return strain and stress at every integration point, the crushed fibres' loss included.

    Parameters
    ----------
    section : FibreSection
    strains : ndarray, shape (S, 6)
    plastic : ndarray, shape (S, m, q)
        The state at these strains.
    """
    strain = (section.basis @ strains[:, None, None, :, None])[..., 0]
    stress = (section.solution.C @ strain[..., None])[..., 0]
    stress += (section.law.modulus * plastic)[..., None] * section.along
    return RecoveredField(points=section.points, strain=strain, stress=stress)
