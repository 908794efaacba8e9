"""Brace and draw one bow, and put the states into the words of the results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.cautions import STANDING_CAUTIONS
from limbfe.analysis.model import LimbModel, build_model
from limbfe.analysis.results import DrawCurve, DrawnBow, Pose, Tip
from limbfe.analysis.settings import BowSetup
from limbfe.beam import BowState, DrawHistory, brace, draw
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.stave.profile import axis_at

OVERDRAW = 1.25
OVERDRAW_STEPS = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SolvedBow:
    """The model with its braced state and its draw."""

    model: LimbModel
    braced: BowState
    history: DrawHistory

    @property
    def full_draw(self) -> BowState:
        """The last state of the draw."""
        return self.history.states[-1]


def solve_bow(setup: BowSetup) -> SolvedBow:
    """Build the model, brace it and draw it to the setup's draw length.

    Raises
    ------
    ConvergenceError
        If there is no braced state or the draw cannot be finished; carries the draw length
        reached.
    """
    model = build_model(setup)
    if setup.brace_height is not None:
        braced = brace(model.bow, height=setup.brace_height)
    else:
        braced = brace(model.bow, length=setup.string_length)
    lengths = np.linspace(braced.draw_length, setup.draw_length, setup.draw_steps + 1)[1:]
    return SolvedBow(model=model, braced=braced, history=draw(model.bow, braced, lengths))


def drawn_bow(solved: SolvedBow) -> DrawnBow:
    """Return the states of a solved bow as results."""
    setup = solved.model.setup
    braced, full = solved.braced, solved.full_draw
    return DrawnBow(
        setup=setup,
        poses=_poses(solved),
        brace_height=braced.brace_height,
        string_length=float(braced.string_lengths.sum()),
        brace_tension=float(braced.string_tension.mean()),
        brace_energy=braced.strain_energy + braced.string_energy,
        curve=_curve(solved),
        lower_tip=_tip(solved, full, 0),
        upper_tip=_tip(solved, full, -1),
        cautions=STANDING_CAUTIONS,
        assumptions=setup.assumptions,
    )


def known_loading(solved: SolvedBow) -> tuple[Array, Array]:
    """Return beam strains and draw lengths from brace to beyond full draw.

    The bow is drawn on as far as `OVERDRAW` allows or equilibrium exists, so that a zone that
    holds at full draw can be given the draw length at which it would not.

    Returns
    -------
    strains : ndarray, shape (k, S, 6)
    lengths : ndarray, shape (k,), m
    """
    full = solved.model.setup.draw_length
    states = [solved.braced, *solved.history.states]
    for length in np.linspace(full, OVERDRAW * full, OVERDRAW_STEPS + 1)[1:]:
        try:
            states += draw(solved.model.bow, solved.braced, [length]).states
        except ConvergenceError:
            # No equilibrium further out (the string is too short): the range ends here.
            break
    strains = np.stack([state.strains.reshape(-1, 6) for state in states])
    return strains, np.array([state.draw_length for state in states])


def _curve(solved: SolvedBow) -> DrawCurve:
    braced, history = solved.braced, solved.history
    at_brace = braced.strain_energy + braced.string_energy
    return DrawCurve(
        draw_length=read_only([braced.draw_length, *history.draw_length]),
        force=read_only([0.0, *history.force]),
        tension=read_only(np.vstack([braced.string_tension, history.string_tension])),
        energy=read_only([0.0, *(history.energy - at_brace)]),
    )


def _poses(solved: SolvedBow) -> tuple[Pose, ...]:
    model = solved.model
    positions, rotations = axis_at(model.setup.stave, model.node_x)
    unstrung = Pose(
        name="unstrung",
        draw_length=0.0,
        node_x=model.node_x,
        positions=read_only(positions),
        rotations=read_only(rotations),
        string=read_only(np.empty((0, 3))),
    )
    return (
        unstrung,
        _pose("braced", model, solved.braced),
        _pose("drawn", model, solved.full_draw),
    )


def _pose(name: str, model: LimbModel, state: BowState) -> Pose:
    return Pose(
        name=name,
        draw_length=state.draw_length,
        node_x=model.node_x,
        positions=state.positions,
        rotations=state.rotations,
        string=state.string_points,
    )


def _tip(solved: SolvedBow, state: BowState, end: int) -> Tip:
    rest = axis_at(solved.model.setup.stave, solved.model.node_x[[end]])[1][0]
    return Tip(position=read_only(state.positions[end]), twist=_twist(rest, state.rotations[end]))


def _twist(rest: Array, drawn: Array) -> float:
    """Return how far the tip turned about its own long axis.

    The turn of the section from rest is split into a swing of its long axis and a twist about
    it; the twist is the part about the axis (swing-twist decomposition of the rotation).
    """
    turn = rest.T @ drawn
    w = 1.0 + np.trace(turn)
    about_x = turn[2, 1] - turn[1, 2]
    return float(2.0 * np.arctan2(about_x, w))
