"""A bow exercised as it is done: drawn a little further each time, the string taken up each time.

The first pull of a bow that goes straight to full draw is nobody's bow.  What counts is the bow
that has been drawn there by stages, its string adjusted after each so that the brace height is
kept: crushed fibres unload elastically, the limbs come down with their set, and the last draw
crushes next to nothing any more.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import SolvedBow, solve_bow
from limbfe.analysis.bow.standing import check_stands
from limbfe.analysis.bow.yielding import crushed_by, draw_pressed, section_law
from limbfe.beam import BowState, brace_on, follow
from limbfe.errors import ConvergenceError
from limbfe.frames import read_only
from limbfe.section.yielding.pressing import PressedSection, carried_by, pressed_section
from limbfe.units import both_lengths

STAGES = (0.6, 0.8, 0.9, 1.0)
"""How far the draws of the exercise go, as shares of the way from brace to full draw."""
_STEPS_UP, _STEPS_DOWN = 2, 2


def exercised_bow(
    setup: BowSetup, *, through: tuple[float, ...] = (), beyond: bool = True
) -> SolvedBow:
    """Solve a bow and exercise it; see `limbfe.analysis.bow.solve.solve_bow` and `exercise`."""
    return exercise(solve_bow(setup, through=through, beyond=beyond))


def exercise(first: SolvedBow) -> SolvedBow:
    """Return a bow that was drawn straight to full draw as it is once exercised.

    Parameters
    ----------
    first : SolvedBow
        From `limbfe.analysis.bow.solve.solve_bow`.

    Returns
    -------
    SolvedBow
        The draw after the exercise, from the first brace height to the same draw lengths, with
        ``first`` in it and nothing beyond full draw.  Where the bow cannot be let down, strung or
        drawn again, the first pull itself, and a warning.
    """
    if first.first is not None:
        return first
    if not first.plastic[-1].any():
        return replace(first, first=first)
    try:
        return _exercised(first)
    except ConvergenceError as error:
        words = f"the bow cannot be exercised, so these figures are its first pull's: {error}"
        return replace(first, first=first, warnings=(*first.warnings, words))


def exercised_to(first: SolvedBow, number: int) -> SolvedBow:
    """Return a bow exercised no further than to one of the draws of its first pull.

    Drawn as far, one that has been exercised to more of a draw carries less: by a quarter at half
    the draw of the overworked elm longbow among the cases.

    Parameters
    ----------
    first : SolvedBow
        A first pull.
    number : int
        Of the draw, among its states and those beyond.
    """
    known = (*first.states, *first.beyond)
    after = number - len(first.states)
    if after < 0:
        plastic = first.plastic[number + 1]
    else:
        assert first.crushed_beyond is not None
        plastic = first.crushed_beyond[after]
    residual = carried_by(
        pressed_section(first.section, plastic), np.zeros((len(first.residual), 6))
    )
    less = replace(
        first, states=(known[number],), beyond=(), crushed_beyond=None,
        plastic=read_only(np.stack([first.plastic[0], plastic])), residual=read_only(residual),
    )  # fmt: skip
    return exercise(less)


def _exercised(first: SolvedBow) -> SolvedBow:
    bow, braced = first.model.bow, first.braced
    start, full = braced.draw_length, first.full_draw.draw_length
    pressed = crushed_by(pressed_section(first.section), braced)
    turns = [(braced, pressed.plastic)]
    for share in STAGES:
        goal = start + share * (full - start)
        lengths = np.linspace(braced.draw_length, goal, _STEPS_UP + 1)[1:]
        drawn = draw_pressed(bow, braced, lengths, pressed)
        if drawn.failure is not None:
            raise drawn.failure
        pressed = drawn.pressed[-1]
        turns.append((drawn.states[-1], pressed.plastic))
        braced = _strung_again(first, drawn.states[-1], pressed)
        pressed = crushed_by(pressed, braced)
        turns.append((braced, pressed.plastic))
    wanted = [s.draw_length for s in first.states if s.draw_length > braced.draw_length]
    drawn = draw_pressed(bow, braced, wanted, pressed)
    if drawn.failure is not None:
        raise drawn.failure
    cautions = first.warnings
    for state, after in zip(drawn.states, drawn.pressed[1:], strict=True):
        where = f"drawn to {both_lengths(state.draw_length)} once exercised"
        found = check_stands(bow, state, after, where)
        cautions = cautions or found
    residual = carried_by(drawn.pressed[-1], np.zeros((len(first.residual), 6)))
    return replace(
        first,
        braced=braced,
        states=drawn.states,
        beyond=(),
        crushed_beyond=None,
        plastic=read_only(np.stack([one.plastic for one in drawn.pressed])),
        residual=read_only(residual),
        first=first,
        warnings=cautions,
        turns=tuple(turns),
    )


def _strung_again(first: SolvedBow, drawn: BowState, pressed: PressedSection) -> BowState:
    """Return the bow let down and strung to its first brace height."""
    law, start = section_law(pressed), first.braced.draw_length
    way = np.linspace(drawn.draw_length, start, _STEPS_DOWN + 1)[1:]
    down = follow(first.model.bow, drawn, way, law, to_rest=True)
    if down.failure is not None:
        raise down.failure
    height = first.braced.brace_height
    return brace_on(first.model.bow, down.states[-1], law, height=height, length=None)
