"""Sections on their way through many strains: what they were crushed by, and what they answer.

`inelastic.fibre_response` looks at every fibre.  Here the state of a section keeps
besides what every fibre was crushed by what follows from it: the resultants all crushed fibres add
and the shortening at which each is crushed further.  The answer to other strains then concerns only
fibres that go beyond, exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from limbfe.compiled import as_read
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import yield_stress
from limbfe.section.yielding.fibres import press_fibres
from limbfe.section.yielding.inelastic import (
    FibreResponse,
    FibreSection,
    fibre_response,
    fresh_state,
)

_NEWTON_LIMIT = 60
_TOLERANCE = 1e-10
_TRACE = 1e-9
_TINY = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressedSection:
    """S sections, m elements, q points each, in a state of crushing.

    Attributes
    ----------
    section : FibreSection
    middle, spread : ndarray, shape (S, m, 6)
        Of ``section.fibre`` in an element, the middle of its range and half its width.
    plastic : ndarray, shape (S, m, q)
        How far every fibre is crushed.
    held : ndarray, shape (S, 6), N and N m
        What the crushed fibres add to the resultants of the elastic section.
    limit : ndarray, shape (S, m, q)
        Shortening (strain) beyond which each fibre is crushed further.
    reference : ndarray, shape (S, 6)
        Strains near which sections are to be strained; the bounds on elements start there.
    earliest : ndarray, shape (S, m)
        Least shortening from the reference at which an element is crushed further.
    """

    section: FibreSection
    middle: Array
    spread: Array
    plastic: Array
    held: Array
    limit: Array
    reference: Array
    earliest: Array


def pressed_section(
    section: FibreSection, plastic: Array | None = None, reference: Array | None = None
) -> PressedSection:
    """Return sections in a state.

    Parameters
    ----------
    section : FibreSection
    plastic : ndarray, shape (S, m, q), optional
        How far every fibre is crushed; never loaded when left out.
    reference : ndarray, shape (S, 6), optional
        Strains in this state; none when left out.  Only speed depends on them.
    """
    law, fibre, stations = section.law, section.fibre, len(section.weights)
    low, high = (reduce(pick, np.moveaxis(fibre, 2, 0)) for pick in (np.minimum, np.maximum))
    if plastic is None:
        plastic, held = fresh_state(section), np.zeros((stations, 6))
    else:
        plastic = np.array(plastic)
        lacking = (law.modulus * plastic * section.weights).reshape(stations, 1, -1)
        held = (lacking @ fibre.reshape(stations, -1, 6))[:, 0]
    limit = yield_stress(law, plastic) / law.modulus + plastic
    room = limit
    if reference is None:
        reference = np.zeros((stations, 6))
    else:
        there = fibre.reshape(stations, -1, 6) @ reference[..., None]
        room = limit + there.reshape(limit.shape)
    return PressedSection(
        section=section,
        middle=0.5 * (high + low),
        spread=0.5 * (high - low),
        plastic=plastic,
        held=held,
        limit=limit,
        reference=reference,
        earliest=reduce(np.minimum, np.moveaxis(room, 2, 0)),
    )


def press(state: PressedSection, strains: Array) -> tuple[Array, Array]:
    """Return the resultants (S, 6) at strains (S, 6) and their tangent (S, 6, 6)."""
    return _strain(state, strains, keep=False)


def crushed_at(state: PressedSection, strains: Array) -> PressedSection:
    """Return the state after sections were strained to `strains`, shape (S, 6)."""
    after = replace(
        state,
        plastic=state.plastic.copy(),
        limit=state.limit.copy(),
        earliest=state.earliest.copy(),
    )
    resultants, _ = _strain(after, strains, keep=True)
    elastic = (state.section.solution.K @ strains[..., None])[..., 0]
    return replace(after, held=resultants - elastic)


def _strain(state: PressedSection, strains: Array, *, keep: bool) -> tuple[Array, Array]:
    section, law = state.section, state.section.law
    K = section.solution.K
    resultants = (K @ strains[..., None])[..., 0] + state.held
    softening = np.empty_like(K)
    press_fibres(
        as_read(state.middle), as_read(state.spread),
        as_read(section.fibre), as_read(section.weights),
        as_read(law.modulus), as_read(law.start), as_read(law.slope), as_read(law.level),
        as_read(state.reference), state.earliest, state.limit, state.plastic,
        as_read(strains), resultants, softening, keep,
    )  # fmt: skip
    return resultants, K - softening


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
    strains = carried_by(pressed_section(section, plastic), resultants, start=start)
    return strains, fibre_response(section, strains, plastic)


def carried_by(state: PressedSection, resultants: Array, *, start: Array | None = None) -> Array:
    """Return the strains (S, 6) of `strains_under`, from a state; raises as it does."""
    section, F, held = state.section, state.section.solution.compliance, state.held
    if start is None:
        start = (F @ (resultants - held)[..., None])[..., 0]
    scale = np.maximum(np.maximum(_energy(F, resultants), _energy(F, held)), _TINY)
    strains, history = start, []
    for _ in range(_NEWTON_LIMIT):
        found, tangent = press(state, strains)
        gap = resultants - found
        size = _energy(F, gap) / scale
        history.append(float(np.sqrt(size.max())))
        if history[-1] < _TOLERANCE:
            return strains
        # A section crushed through has no stiffness left; a trace of the elastic one keeps the
        # step finite, and the failure then shows in the residual.
        stiff = tangent + _TRACE * section.solution.K
        strains = strains + np.linalg.solve(stiff, gap[..., None])[..., 0]
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
