"""Brace and draw one bow, and put the states into the words of the results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.cautions import (
    STANDING_CAUTIONS,
    contradicting_wood,
    unmeasured_wood,
    unusual,
)
from limbfe.analysis.bow.drawn import DrawCurve, DrawnBow, Pose, Tiller, Tip
from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.string_lies import free_length, lying_string, slip_words
from limbfe.analysis.bow.string_load import string_warning
from limbfe.analysis.bow.upper_limb import upper_limb
from limbfe.analysis.bow.yielding import draw_with_yield, yielding_sections
from limbfe.beam import (
    BowState,
    TradeMeasures,
    brace,
    draw,
    force_to_string,
    measure,
    string_of,
    unstrung_shape,
)
from limbfe.curves import spline
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.stave.profile import axis_at
from limbfe.stave.recurve import recurved
from limbfe.units import Length, Sentence, Words, both_lengths

OVERDRAW = 1.25
OVERDRAW_STEPS = 5
"""The bow is also drawn on to this many times the draw length, where equilibrium exists, so that
what holds at full draw can be given the draw length at which it would not."""


LOPSIDED = 0.7
"""A braced bow is called lopsided when one tip comes back less than this share of the other."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SolvedBow:
    """The model with its braced state and a draw: its first, or the one once it is exercised.

    Attributes
    ----------
    model : LimbModel
    braced : BowState
    states : tuple of BowState
        From the first step to full draw.
    beyond : tuple of BowState
        Further out, as far as equilibrium exists.
    section : FibreSection
        The sections with the law their fibres follow.
    plastic : ndarray, shape (k + 1, S, m, q)
        How far every fibre is crushed, braced and in `states`.
    residual : ndarray, shape (S, 6)
        Strain the sections keep after the draw; zero for a limb that stays elastic.
    first : SolvedBow or None
        The first pull of a bow that has been exercised; None for a first pull.
    warnings : tuple of str
        That it hardly stands; why it could not be exercised.
    turns : tuple of (BowState, ndarray)
        Of an exercised bow, the braced and the drawn states between which it went to and fro, from
        the first brace to the last, and how far every fibre (S, m, q) was crushed in each.
    crushed_beyond : ndarray, shape (b, S, m, q), or None
        As `plastic`, in the states beyond; None where there are none.
    """

    model: LimbModel
    braced: BowState
    states: tuple[BowState, ...]
    beyond: tuple[BowState, ...]
    section: FibreSection
    plastic: Array
    residual: Array
    first: SolvedBow | None = None
    warnings: tuple[str, ...] = ()
    turns: tuple[tuple[BowState, Array], ...] = ()
    crushed_beyond: Array | None = None

    @property
    def way(self) -> tuple[tuple[BowState, Array], ...]:
        """All `turns`, or the first brace, and full draw."""
        turns = self.turns or ((self.braced, self.plastic[0]),)
        return (*turns, (self.full_draw, self.plastic[-1]))

    @property
    def first_pull(self) -> SolvedBow:
        """The bow drawn for the first time."""
        return self if self.first is None else self.first

    @property
    def full_draw(self) -> BowState:
        """The last state of the draw."""
        return self.states[-1]


def solve_bow(setup: BowSetup, *, through: Sequence[float] = (), beyond: bool = True) -> SolvedBow:
    """Build the model, brace it and draw it to the setup's draw length, belly yielding.

    Parameters
    ----------
    setup : BowSetup
    through : sequence of float, m
        Draw lengths between brace and full draw that shall be among the states too.
    beyond : bool
        Draw on past full draw too; only the judgement of defects needs it.

    Returns
    -------
    SolvedBow
        The model, braced and drawn states, and how far every fibre was crushed; SI.

    Raises
    ------
    GeometryError
        If the draw length is no more than the braced bow's.
    ConvergenceError
        If there is no braced state or the draw cannot be finished; carries the draw length
        reached.
    """
    full = setup.drawing.length
    further = np.linspace(full, OVERDRAW * full, OVERDRAW_STEPS + 1)[1:].tolist() if beyond else []

    def plan(start: float) -> tuple[Sequence[float], Sequence[float]]:
        if full <= start:
            raise GeometryError(
                f"draw length {both_lengths(full)}: the braced string already stands "
                f"{both_lengths(start)} from the back of the grip; draw further"
            )
        wanted = np.linspace(start, full, setup.drawing.steps + 1)[1:]
        new = [at for at in through if start < at and np.abs(wanted - at).min() > 1e-6]
        return np.union1d(wanted, new).tolist(), further

    model = build_model(setup)
    section = yielding_sections(model.stations)
    drawn = draw_with_yield(model.bow, setup.stringing, section, plan)
    return SolvedBow(
        model=model,
        braced=drawn.braced,
        states=drawn.states,
        beyond=drawn.beyond,
        section=section,
        plastic=read_only(drawn.plastic),
        residual=read_only(drawn.residual),
        warnings=drawn.cautions,
        crushed_beyond=read_only(drawn.crushed_beyond) if drawn.beyond else None,
    )


def solve_elastic(setup: BowSetup) -> SolvedBow:
    """Brace and draw the bow as if its wood stayed elastic, for comparison and for checks.

    Parameters
    ----------
    setup : BowSetup

    Returns
    -------
    SolvedBow

    Raises
    ------
    ConvergenceError
        If there is no braced state or the draw cannot be finished.
    """
    model = build_model(setup)
    braced = brace(model.bow, height=setup.stringing.brace_height, length=setup.stringing.length)
    lengths = np.linspace(braced.draw_length, setup.drawing.length, setup.drawing.steps + 1)[1:]
    section = yielding_sections(model.stations)
    return SolvedBow(
        model=model,
        braced=braced,
        states=draw(model.bow, braced, lengths).states,
        beyond=(),
        section=section,
        plastic=read_only(np.zeros((setup.drawing.steps + 1, *section.weights.shape))),
        residual=read_only(np.zeros((len(model.stations.x), 6))),
    )


def drawn_bow(solved: SolvedBow) -> DrawnBow:
    """Return the states of a solved bow as results."""
    setup = solved.model.setup
    braced, full = solved.braced, solved.full_draw
    drawn = _tiller(solved, full)
    lying = lying_string(solved.model, braced, solved.states)
    return DrawnBow(
        setup=setup,
        poses=_poses(solved),
        brace_height=braced.brace_height,
        string_length=float(braced.string_lengths.sum()),
        brace_tension=float(braced.string_tension.mean()),
        brace_energy=braced.strain_energy + braced.string_energy,
        curve=curve_of(braced, solved.states),
        lower_tip=_tip(full, drawn.tip_twist, 0),
        upper_tip=_tip(full, drawn.tip_twist, -1),
        cautions=(
            *_warnings(solved),
            *slip_words(lying),
            *unusual(setup, braced.brace_height, full.draw_length),
            *STANDING_CAUTIONS,
        ),
        assumptions=setup.assumptions,
        tiller_braced=_tiller(solved, braced),
        tiller_drawn=drawn,
        upper_limb=upper_limb(setup, solved.model.bow, full),
        string_lies=lying,
        free_string=read_only(free_length((braced, *solved.states))),
        force_to_string=force_to_string(solved.model.bow, float(braced.string_lengths.sum())),
    )


def _measures(solved: SolvedBow, state: BowState) -> TradeMeasures:
    stave = solved.model.setup.stave
    half_way = 0.5 * float(min(-stave.x[0], stave.x[-1]))
    return measure(solved.model.bow, state, distance=half_way)


def _tiller(solved: SolvedBow, state: BowState) -> Tiller:
    found = _measures(solved, state)
    return Tiller(
        tiller=found.tiller,
        tip_twist=found.tip_twist,
        tip_shift=found.tip_shift,
        track=found.track,
        balance=found.balance if np.isfinite(found.balance) else None,
    )


def _warnings(solved: SolvedBow) -> tuple[Words, ...]:
    """Return what the states themselves warn of: uneven limbs, a weak string."""
    warnings: list[Words] = []
    chain = solved.model.bow.chain
    back = (solved.braced.positions - chain.positions)[[0, -1], 0]
    if back.min() < LOPSIDED * back.max():
        recurve = bool(np.any(recurved(solved.model.setup.stave)))
        warnings.append(
            Sentence(
                "braced, the lower tip comes back {} and the upper {}: one limb bends far more "
                "than the other; even out the limbs, and {}",
                *(Length(float(value)) for value in back),
                "give strongly recurved tips less recurve"
                if recurve
                else "see that neither belly is crushed: then limbs once alike are so no longer",
            )
        )
    setup = solved.model.setup
    weak = string_warning(setup.stringing.strength, solved.full_draw.draw_force)
    woods = (*contradicting_wood(setup.stave), *unmeasured_wood(setup.stave))
    return (*warnings, *solved.model.zones.words, *weak, *woods)


def curve_of(braced: BowState, drawn: tuple[BowState, ...]) -> DrawCurve:
    """Return a draw curve; its energy is the work of the pull, part of which yielding keeps.

    Raises
    ------
    ConvergenceError
        If the nocking point does not move on from state to state, so that there is no curve.
    """
    states = (braced, *drawn)
    force = np.array([0.0, *(state.draw_force for state in drawn)])
    travel = np.array([state.travel for state in states])
    if not np.all(np.diff(travel) > 0.0):
        back = states[int(np.diff(travel).argmin()) + 1].draw_length
        raise ConvergenceError(
            f"draw curve: the nocking point does not move on at {both_lengths(back)} of draw; take "
            "fewer [draw] steps",
            draw_length=back,
        )
    work = spline(travel, force).antiderivative()
    return DrawCurve(
        draw_length=read_only([state.draw_length for state in states]),
        travel=read_only(travel - travel[0]),
        force=read_only(force),
        tension=read_only([state.string_tension for state in states]),
        energy=read_only(work(travel) - work(travel[0])),
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
        pose_of("braced", model, solved.braced),
        pose_of("drawn", model, solved.full_draw),
    )


def pose_of(name: str, model: LimbModel, state: BowState) -> Pose:
    """Return one state of the bow as a pose for results and pictures."""
    return Pose(
        name=name,
        draw_length=state.draw_length,
        node_x=model.node_x,
        positions=state.positions,
        rotations=state.rotations,
        string=read_only(string_of(model.bow, state)),
    )


def _tip(state: BowState, twist: Array, end: int) -> Tip:
    return Tip(position=read_only(state.positions[end]), twist=float(twist[end]))


def set_depth(solved: SolvedBow) -> float:
    """Return how far the tips stay behind after the draw (string follow), m, mean of both limbs."""
    return float(set_at_tips(solved, solved.residual).mean())


def set_at_tips(solved: SolvedBow, residual: Array) -> Array:
    """Return how far the lower and the upper tip stay behind, shape (2,), m, towards the archer.

    Parameters
    ----------
    solved : SolvedBow
    residual : ndarray, shape (S, 6)
        Strains the unstrung sections keep.
    """
    chain = solved.model.bow.chain
    after = unstrung_shape(solved.model.bow, residual.reshape(-1, 2, 6))[0]
    return read_only((after - chain.positions)[[0, -1], 0])
