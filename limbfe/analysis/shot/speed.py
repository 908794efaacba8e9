"""How fast an arrow leaves an exercised bow, and what takes part in its shot."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.setup import Shooting
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.flight import AIR
from limbfe.beam.shot.modes import Modes, natural_modes, slowest_frequency
from limbfe.beam.shot.parts import Motion, ShotModel
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.beam.shot.shoot import room_to_lie, shoot_from
from limbfe.units import unit_factor
from limbfe.wood.creep import SHORT, late_share, loss_factor

ROUND = 1.1
"""Coefficient of drag of a round cord across the wind, Reynolds numbers of 1e3 to 1e5 (Hoerner,
Fluid-Dynamic Drag, 1965; from memory)."""
COARSE = 1e-4
"""Step for differences of speeds, s: the speed itself is within 2e-4 with it."""
GRAIN_A_POUND = unit_factor("gr", "mass") / unit_factor("lbf", "force")
"""Mass of an arrow over the draw weight, kg/N."""


def arrow_speed(first: SolvedBow, arrow: float | None = None) -> float:
    """Return the speed (m/s) at which an arrow leaves the exercised bow, losses counted.

    Parameters
    ----------
    first : SolvedBow
    arrow : float, kg, optional
        `usual_arrow` of the bow when left out.

    Raises
    ------
    ConvergenceError
        If a step of the shot does not converge.
    """
    solved = exercise(first)
    mass = usual_arrow(solved.full_draw.draw_force) if arrow is None else arrow
    held, slowest = _touching(solved), None
    if solved.model.setup.shooting.string_loss_factor > 0.0:
        slowest = slowest_frequency(*_braced(solved, held), held.serving)
    gear = with_losses(solved, _in_hand(solved, held), slowest)
    bow, full = solved.model.bow, solved.full_draw
    return shoot_from(bow, full, mass, gear, step=COARSE, after=0.0).speed


def usual_arrow(weight: float) -> float:
    """Return the mass (kg) of ten grains a pound of draw weight (N), as wooden bows shoot (common
    practice)."""
    return 10.0 * GRAIN_A_POUND * weight


def bare_gear(solved: SolvedBow) -> tuple[Gear, Modes]:
    """Return what takes part in the shot, without losses, and the vibrations of the braced bow."""
    held = _touching(solved)
    model, motion = _braced(solved, held)
    return _in_hand(solved, held), natural_modes(model, motion, 8, extra=held.serving)


def _braced(solved: SolvedBow, held: Gear) -> tuple[ShotModel, Motion]:
    return shot_model(solved.model.bow, solved.braced, held)


def _touching(solved: SolvedBow) -> Gear:
    """Return what takes part with the grip held fast, the string lying as on the braced bow."""
    shooting = solved.model.setup.shooting
    far = _touches_to(solved)
    return Gear(
        serving=shooting.serving,
        tip_mass=(shooting.tip_mass,) * 2,
        lies=room_to_lie(far) if far > 0.0 else 0.0,
    )


def _touches_to(solved: SolvedBow) -> float:
    """Return how far from its nock (m) the string of the braced bow lies on a limb, 0 if nowhere.

    More than what touches where it stands off a tip and comes down on the limb behind it.
    """
    braced = solved.braced
    stretch = 1.0 + braced.string_tension / solved.model.bow.string.stiffness
    free = np.linalg.norm(np.diff(braced.free_string, axis=0), axis=1)
    to = braced.string_lengths * stretch - free
    return float(np.where(braced.string_lies > 0.0, to, 0.0).max())


def _in_hand(solved: SolvedBow, held: Gear) -> Gear:
    """Return the gear held by the case's hand, if it has one."""
    shooting = solved.model.setup.shooting
    if shooting.hand_mass is None:
        return held
    stiffness = shooting.hand_stiffness or 0.0
    return replace(held, free=True, hand_mass=shooting.hand_mass, hand_stiffness=stiffness)


def loss_factor_of(solved: SolvedBow, shooting: Shooting) -> float:
    """Return the loss factor of the wood: the case's, or that of its moisture."""
    if shooting.loss_factor is not None:
        return shooting.loss_factor
    return loss_factor(solved.model.setup.stave.heartwood.moisture)


def with_losses(solved: SolvedBow, gear: Gear, slowest: float | None) -> Gear:
    """Return the gear with what wood, string and air take; of the string at the `slowest` vibration
    in Hz, None where it loses nothing."""
    shooting = solved.model.setup.shooting
    share = late_share(loss_factor_of(solved, shooting))
    return replace(
        gear,
        shares=(share,) * len(SHORT) if share > 0.0 else (),
        delays=tuple(SHORT) if share > 0.0 else (),
        string_lag=shooting.string_loss_factor / (2.0 * math.pi * slowest) if slowest else 0.0,
        drag=0.5 * AIR * ROUND * (shooting.string_diameter or 0.0),
    )
