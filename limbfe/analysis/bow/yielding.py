"""The first draw of a bow whose belly yields.

Clear wood is elastic in tension until it breaks; in compression it follows `limbfe.wood.belly`.
The sections follow this law fibre by fibre, the beam's Newton iteration follows the sections, and
what every fibre was crushed by is handed from state to state.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.setup import LEAST_BRACE, Stringing
from limbfe.analysis.bow.standing import check_stands
from limbfe.analysis.bow.stations import Stations
from limbfe.beam import Bow, BowState, brace, brace_on, follow
from limbfe.beam.equilibrium.sections import SectionLaw
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import FibreLaw, law_through
from limbfe.section.yielding.inelastic import FibreSection, fibre_section, grain_modulus
from limbfe.section.yielding.pressing import (
    PressedSection,
    carried_by,
    crushed_at,
    press,
    pressed_section,
)
from limbfe.stave.field import strength_at
from limbfe.stave.grain import grain_direction
from limbfe.stave.stave import Stave
from limbfe.units import both_lengths
from limbfe.wood.belly import BellyLaw, yield_points

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
    braced : BowState
    states : tuple of BowState
        One for every draw length that had to be reached.
    beyond : tuple of BowState
        Further out, as far as there is stable equilibrium.
    plastic : ndarray, shape (k + 1, S, m, q)
        How far every fibre is crushed, braced and in the k states.
    residual : ndarray, shape (S, 6)
        Strains each section keeps once it is let go from the last of `states`.
    crushed_beyond : ndarray, shape (b, S, m, q)
        As `plastic`, in the states beyond.
    cautions : tuple of str
        Of the first state that stands only because fibres that are let go unload elastically.
    """

    braced: BowState
    states: tuple[BowState, ...]
    beyond: tuple[BowState, ...]
    plastic: Array
    residual: Array
    cautions: tuple[str, ...]
    crushed_beyond: Array


def wood_law(stave: Stave, x: Array, points: Array, modulus: Array) -> FibreLaw:
    """Return the law of the wood at section points; knots stay elastic.

    Parameters
    ----------
    stave : Stave
    x : ndarray, shape (S,), m
    points : ndarray, shape (S, ..., 2), m
    modulus : ndarray, shape (S, ...), Pa
        Along the grain.
    """
    along = x.reshape((-1,) + (1,) * (points.ndim - 2))
    found = strength_at(stave, along, points[..., 0], points[..., 1])
    law = BellyLaw(
        modulus=modulus,
        crushing=np.where(found.in_knot, np.inf, found.compression),
        limit=found.compression_proportional_limit,
        plateau=found.compression_plateau,
    )
    return law_through(modulus, *yield_points(law))


def yielding_sections(stations: Stations) -> FibreSection:
    """Return every section, ready to be strained past its elastic range."""
    setup, points = stations.setup, stations.points
    place = (stations.x[:, None, None], points[..., 0], points[..., 1])
    grain = grain_direction(setup.stave, *place)
    modulus = grain_modulus(stations.sections, grain)
    law = wood_law(setup.stave, stations.x, points, modulus)
    return fibre_section(stations.sections, grain, law)


def brace_with_yield(
    bow: Bow, stringing: Stringing, section: FibreSection
) -> tuple[BowState, PressedSection, tuple[str, ...]]:
    """Brace a bow for the first time; return it, its sections as that crushes them, and cautions.

    Raises
    ------
    GeometryError
        If the string is too long to brace it.
    ConvergenceError
        If there is no braced state, or it is not stable.
    """
    fresh = pressed_section(section)
    height, length = stringing.brace_height, stringing.length
    elastic = brace(bow, height=height, length=length)
    _check_string(elastic, length)
    braced = _brace(bow, elastic, section_law(fresh), height=height, length=length)
    pressed = crushed_by(fresh, braced)
    cautions = check_stands(
        bow, braced, pressed, f"braced {both_lengths(braced.brace_height)} high"
    )
    return braced, pressed, cautions


def draw_with_yield(
    bow: Bow, stringing: Stringing, section: FibreSection, plan: DrawPlan
) -> YieldedDraw:
    """Brace a bow for the first time and draw it to a growing sequence of draw lengths.

    Parameters
    ----------
    bow : Bow
    stringing : Stringing
    section : FibreSection
        All Gauss stations; their elastic stiffness is the chain's.
    plan : callable

    Raises
    ------
    ConvergenceError
        If a state that must be reached is not found.
    """
    braced, pressed, cautions = brace_with_yield(bow, stringing, section)
    lengths, further = plan(braced.draw_length)
    required = len(lengths)
    drawn = draw_pressed(bow, braced, [*lengths, *further], pressed)
    for state, after in zip(drawn.states[:required], drawn.pressed[1:], strict=False):
        found = check_stands(bow, state, after, f"drawn to {both_lengths(state.draw_length)}")
        cautions = cautions or found
    if len(drawn.states) < required and drawn.failure is not None:
        raise drawn.failure
    # further out the bound of the tangent modulus ends the draw
    further_out = enumerate(drawn.states[required:], start=required)
    reached = next((k for k, state in further_out if not state.stable), len(drawn.states))
    history = drawn.pressed[: required + 1]
    return YieldedDraw(
        braced=braced,
        states=drawn.states[:required],
        beyond=drawn.states[required:reached],
        plastic=np.stack([pressed.plastic for pressed in history]),
        crushed_beyond=np.array([one.plastic for one in drawn.pressed[required + 1 : reached + 1]]),
        residual=carried_by(history[-1], np.zeros((len(section.weights), 6))),
        cautions=cautions,
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

    followed = follow(bow, start, lengths, section_law(pressed), settled=settled)
    return PressedDraw(states=followed.states, pressed=tuple(history), failure=followed.failure)


def _brace(
    bow: Bow, elastic: BowState, law: SectionLaw, *, height: float | None, length: float | None
) -> BowState:
    """Brace for the first time: at once, or by a lower brace where Newton's method fails."""
    try:
        return brace_on(bow, elastic, law, height=height, length=length)
    except ConvergenceError:
        parts = _LOWER_BRACE
    while True:
        try:
            top = elastic.brace_height if height is None else height
            state = brace(bow, height=top / parts)
            state = brace_on(bow, state, law, height=top / parts)
            return brace_on(bow, state, law, height=height, length=length)
        except ConvergenceError:
            if parts >= _LOWEST_BRACE:
                raise
            parts *= 2


def _check_string(braced: BowState, length: float | None) -> None:
    """Refuse a string too long to brace the bow with."""
    if length is None:
        return
    if braced.slack or braced.brace_height < LEAST_BRACE:
        height = both_lengths(braced.brace_height)
        found = "is slack" if braced.slack else f"braces it {height} high"
        raise GeometryError(
            f"[string] length = {both_lengths(length)}: on this bow such a string {found}; give a "
            f"shorter one that braces it at least {both_lengths(LEAST_BRACE)}, or use the command "
            "pull for a long string"
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
