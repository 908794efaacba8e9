"""Let a bow down, and draw it again: what the belly's crushing leaves for the second draw.

A crushed fibre unloads elastically, so the bow comes down with its set.  The old string then pulls
less, stretches less, and braces it higher.  Drawn again to the same length on that string the bow
meets nearly the state it left, and crushes nearly nothing; only the nocking point, level with the
arrow at the new brace, has moved a little on the string.  So it shakes down in two or three draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow, set_at_tips
from limbfe.analysis.bow.yielding import crushed_by, draw_pressed, section_law
from limbfe.beam import BowState, brace_on, follow
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import lost_energy
from limbfe.section.yielding.pressing import PressedSection, carried_by, pressed_section

_WAY_DOWN = 8
"""Steps from full draw to the first brace; fewer where the string braces the bow higher."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cycle:
    """One draw from brace, and what it leaves when the bow is let down and unstrung.

    Attributes
    ----------
    braced : BowState
        Before the draw.
    states : tuple of BowState
    pressed : PressedSection
        All Gauss stations at the end.
    residual : ndarray, shape (S, 6)
        Strains the unstrung sections keep.
    set_at_tips : ndarray, shape (2,), m
        How far the lower and the upper tip stay behind (string follow), towards the archer.
    lost : float, J
        What this draw crushed.
    """

    braced: BowState
    states: tuple[BowState, ...]
    pressed: PressedSection
    residual: Array
    set_at_tips: Array
    lost: float

    @property
    def plastic(self) -> Array:
        """How far every fibre is crushed at the end, shape (S, m, q)."""
        return self.pressed.plastic


def repeated_draws(
    solved: SolvedBow, count: int, *, keep: Literal["string", "height"] = "string"
) -> tuple[Cycle, ...]:
    """Return the first draw of a solved bow and `count` - 1 further ones to the same length.

    Parameters
    ----------
    solved : SolvedBow
        From `limbfe.analysis.bow.solve.solve_bow`.
    count : int
        1 or more.
    keep : {"string", "height"}
        Between draws the bow keeps its string, or it is strung to its first brace height again
        with another one.

    Raises
    ------
    ConvergenceError
        If the bow cannot be let down, strung or drawn again; carries the draw length reached.
    """
    fresh = np.zeros_like(solved.plastic[0])
    strains = solved.full_draw.strains.reshape(-1, 6)
    first = pressed_section(solved.section, solved.plastic[-1], strains)
    cycles = [_cycle(solved, fresh, solved.braced, solved.states, first)]
    for _ in range(count - 1):
        last = cycles[-1]
        height = solved.braced.brace_height if keep == "height" else None
        braced = let_down(solved, last, height=height)
        lengths = np.linspace(
            braced.draw_length, solved.full_draw.draw_length, len(solved.states) + 1
        )
        pressed = crushed_by(last.pressed, braced)
        drawn = draw_pressed(solved.model.bow, braced, lengths[1:], pressed)
        if drawn.failure is not None:
            raise drawn.failure
        cycles.append(_cycle(solved, last.plastic, braced, drawn.states, drawn.pressed[-1]))
    return tuple(cycles)


def let_down(solved: SolvedBow, cycle: Cycle, *, height: float | None = None) -> BowState:
    """Return the bow let down to brace, on its own string or strung anew to a brace `height`, m.

    Raises
    ------
    ConvergenceError
        If there is no such state.
    """
    law = section_law(cycle.pressed)
    bow, drawn = solved.model.bow, cycle.states[-1]
    length = None if height is not None else float(drawn.string_lengths.sum())
    way = np.linspace(drawn.draw_length, solved.braced.draw_length, _WAY_DOWN + 1)[1:]
    down = follow(bow, drawn, way, law, to_rest=True)
    if down.failure is not None:
        raise down.failure
    return brace_on(bow, down.states[-1], law, height=height, length=length)


def _cycle(
    solved: SolvedBow,
    before: Array,
    braced: BowState,
    states: tuple[BowState, ...],
    pressed: PressedSection,
) -> Cycle:
    section = solved.section
    residual = carried_by(pressed, np.zeros((len(before), 6)))
    lost = lost_energy(section, pressed.plastic) - lost_energy(section, before)
    return Cycle(
        braced=braced,
        states=states,
        pressed=pressed,
        residual=read_only(residual),
        set_at_tips=set_at_tips(solved, residual),
        lost=float(lost @ np.repeat(solved.model.bow.chain.length / 2.0, 2)),
    )
