"""The first draw of a bow whose belly yields.

Clear wood is elastic in tension until it breaks.  In compression, unless the case asks for another
law, it leaves the straight line at the proportional limit, goes on more softly to the crushing
strength, and then carries that strength while it shortens further.  The sections follow this law
fibre by fibre, the beam's Newton iteration follows the sections, and what every fibre was crushed
by is handed from state to state.

References
----------
Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006): strain at the
crushing strength 0.8 to 1.2 per cent, plateau to about three times that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from limbfe.analysis.model import LimbModel
from limbfe.analysis.settings import LEAST_BRACE, CompressionLaw
from limbfe.beam import Bow, BowState, brace, brace_inelastic, follow_inelastic
from limbfe.beam.coupled import SectionLaw
from limbfe.beam.stability import CURE
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.section.fibre_law import FibreLaw, bilinear_law, glos_law
from limbfe.section.inelastic import FibreSection, fibre_section, grain_modulus
from limbfe.section.pressing import (
    PressedSection,
    carried_by,
    crushed_at,
    press,
    pressed_section,
)
from limbfe.stave.field import strength_at
from limbfe.stave.grain import grain_direction
from limbfe.stave.stave import Stave

CRUSHING_STRAIN = 0.010
"""Strain at which compression reaches the crushing strength: the middle of the 0.8 to 1.2 per cent
of the JCSS code."""
GLOS_RESIDUAL = 0.8
"""Stress far beyond the peak over the crushing strength, same code."""
SOFTER = 1.3
"""The crushing strain is at least this many times crushing strength over modulus."""


DrawPlan = Callable[[float], tuple[Sequence[float], Sequence[float]]]
"""From the draw length of the braced bow to those it shall be drawn to, increasing, m: first those
that must be reached, then those where a length without equilibrium ends the draw."""

_LOWER_BRACE, _LOWEST_BRACE = 4, 16
"""Parts of the brace height tried as a lower brace, the first and the last."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YieldedDraw:
    """A first draw with a belly that yields.

    Attributes
    ----------
    section : FibreSection
        All Gauss stations.
    braced : BowState
    states : tuple of BowState
        One for every draw length that had to be reached.
    beyond : tuple of BowState
        Further out, as far as there is stable equilibrium.
    plastic : ndarray, shape (k + 1, S, m, q)
        How far every fibre is crushed, braced and in the k states.
    residual : ndarray, shape (S, 6)
        Strains each section keeps once it is let go from the last of `states`.
    """

    section: FibreSection
    braced: BowState
    states: tuple[BowState, ...]
    beyond: tuple[BowState, ...]
    plastic: Array
    residual: Array


def crushing_strain(modulus: Array, crushing: Array) -> Array:
    """Return the strain (positive) at which wood of this modulus is crushed."""
    finite = np.where(np.isfinite(crushing), crushing, 0.0)
    return np.maximum(CRUSHING_STRAIN, SOFTER * finite / modulus)


def wood_law(
    stave: Stave, x: Array, points: Array, modulus: Array, kind: CompressionLaw
) -> FibreLaw:
    """Return the law of the wood at section points; knots stay elastic.

    Parameters
    ----------
    stave : Stave
    x : ndarray, shape (S,), m
    points : ndarray, shape (S, ..., 2), m
    modulus : ndarray, shape (S, ...), Pa
        Along the grain.
    kind : {"bilinear", "plastic", "glos"}
        See `limbfe.analysis.settings.CompressionLaw`.
    """
    along = x.reshape((-1,) + (1,) * (points.ndim - 2))
    strengths = strength_at(stave, along, points[..., 0], points[..., 1])
    limit = np.where(strengths.in_knot, np.inf, strengths.compression_proportional_limit)
    crushing = np.where(strengths.in_knot, np.inf, strengths.compression)
    return compression_law(kind, modulus, limit, crushing)


def compression_law(
    kind: CompressionLaw, modulus: Array, limit: Array, crushing: Array
) -> FibreLaw:
    """Return the law of one kind from proportional limit and crushing strength, Pa."""
    strain = crushing_strain(modulus, crushing)
    if kind == "glos":
        return glos_law(modulus, crushing, strain, GLOS_RESIDUAL)
    return bilinear_law(modulus, crushing if kind == "plastic" else limit, crushing, strain)


def yielding_sections(model: LimbModel) -> FibreSection:
    """Return every section of the model, ready to be strained past its elastic range."""
    place = (model.x[:, None, None], model.points[..., 0], model.points[..., 1])
    setup = model.setup
    grain = grain_direction(setup.stave, *place)
    modulus = grain_modulus(model.sections, grain)
    law = wood_law(setup.stave, model.x, model.points, modulus, setup.compression_law)
    return fibre_section(model.sections, grain, law)


def draw_with_yield(
    model: LimbModel, plan: DrawPlan, *, section: FibreSection | None = None
) -> YieldedDraw:
    """Brace a bow for the first time and draw it to a growing sequence of draw lengths.

    Parameters
    ----------
    model : LimbModel
    plan : callable
    section : FibreSection, optional
        Sections to take in place of the model's own; their elastic stiffness is the chain's.

    Raises
    ------
    ConvergenceError
        If a state that must be reached is not found.
    """
    section = yielding_sections(model) if section is None else section
    setup, bow = model.setup, model.bow
    fresh = pressed_section(section)
    height, length = setup.brace_height, setup.string_length
    elastic = brace(bow, height=height, length=length)
    _check_string(elastic, length)
    braced = _brace(bow, elastic, section_law(fresh), height=height, length=length)
    _check_stable(braced, f"braced {1e3 * braced.brace_height:.0f} mm high")
    lengths, further = plan(braced.draw_length)
    required = len(lengths)
    drawn = draw_pressed(bow, braced, [*lengths, *further], crushed_by(fresh, braced))
    unstable = [k for k, state in enumerate(drawn.states) if not state.stable]
    reached = unstable[0] if unstable else len(drawn.states)
    if reached < required:
        if unstable:
            lost = drawn.states[reached]
            _check_stable(lost, f"drawn to {1e3 * lost.draw_length:.0f} mm")
        if drawn.failure is not None:
            raise drawn.failure
    history = drawn.pressed[: required + 1]
    return YieldedDraw(
        section=section,
        braced=braced,
        states=drawn.states[:required],
        beyond=drawn.states[required:reached],
        plastic=np.stack([pressed.plastic for pressed in history]),
        residual=carried_by(history[-1], np.zeros((len(model.x), 6))),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressedDraw:
    """A draw as far as there is equilibrium.

    Attributes
    ----------
    states : tuple of BowState, length k
    pressed : tuple of PressedSection, length k + 1
        The sections at the start and in every state.
    failure : ConvergenceError or None
        Why it ended before the last draw length.
    """

    states: tuple[BowState, ...]
    pressed: tuple[PressedSection, ...]
    failure: ConvergenceError | None


def draw_pressed(
    bow: Bow, start: BowState, lengths: Iterable[float], pressed: PressedSection
) -> PressedDraw:
    """Draw a bow through a sequence of draw lengths, every state's crushing handed on.

    Parameters
    ----------
    start : BowState
        Braced or drawn.
    lengths : iterable of float, m
    pressed : PressedSection
        All Gauss stations in that state.
    """
    history = [pressed]

    def settled(strains: Array) -> SectionLaw:
        history.append(crushed_at(history[-1], strains.reshape(-1, 6)))
        return section_law(history[-1])

    followed = follow_inelastic(bow, start, lengths, section_law(pressed), settled=settled)
    return PressedDraw(states=followed.states, pressed=tuple(history), failure=followed.failure)


def _brace(
    bow: Bow, elastic: BowState, law: SectionLaw, *, height: float | None, length: float | None
) -> BowState:
    """Brace for the first time: at once, or by a lower brace where Newton's method fails."""
    try:
        return brace_inelastic(bow, elastic, law, height=height, length=length)
    except ConvergenceError:
        parts = _LOWER_BRACE
    while True:
        try:
            top = elastic.brace_height if height is None else height
            state = brace(bow, height=top / parts)
            state = brace_inelastic(bow, state, law, height=top / parts)
            return brace_inelastic(bow, state, law, height=height, length=length)
        except ConvergenceError:
            if parts >= _LOWEST_BRACE:
                raise
            parts *= 2


def _check_string(braced: BowState, length: float | None) -> None:
    """Refuse a string too long to brace the bow with."""
    if length is None:
        return
    if braced.slack or braced.brace_height < LEAST_BRACE:
        found = "is slack" if braced.slack else f"braces it {1e3 * braced.brace_height:.0f} mm high"
        raise GeometryError(
            f"[string] length = {1e3 * length:.0f} mm: on this bow such a string {found}; give a "
            f"shorter one that braces it at least {1e3 * LEAST_BRACE:.0f} mm, or use the command "
            "pull for a long string"
        )


def _check_stable(state: BowState, where: str) -> None:
    if state.gives_way is not None:
        less = ", or draw less" if state.draw_force > 0.0 else ""
        raise ConvergenceError(
            f"{where} the bow is not stable: {CURE[state.gives_way]}{less}",
            draw_length=state.draw_length,
            last_state=state,
        )


def section_law(pressed: PressedSection) -> SectionLaw:
    """Return the sections' law in the beam's shapes, from a state on."""

    def answer(strains: Array) -> tuple[Array, Array]:
        resultants, tangent = press(pressed, strains.reshape(-1, 6))
        return resultants.reshape(strains.shape), tangent.reshape(*strains.shape, 6)

    return answer


def crushed_by(pressed: PressedSection, state: BowState) -> PressedSection:
    """Return the sections in a state of the bow that came from `pressed`."""
    return crushed_at(pressed, state.strains.reshape(-1, 6))
