"""Shoot an exercised bow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.setup import Shooting
from limbfe.analysis.bow.solve import SolvedBow, curve_of
from limbfe.analysis.shot.clear_wood import clear_wood
from limbfe.analysis.shot.flight import Shaft, flights
from limbfe.analysis.shot.reshaping import reshaping
from limbfe.analysis.shot.results import (
    DRAG,
    SHAFT,
    Costs,
    ShotResult,
    Shots,
    Undamped,
)
from limbfe.analysis.shot.speed import COARSE, bare_gear, loss_factor_of, with_losses
from limbfe.analysis.shot.strains import limb_strains
from limbfe.analysis.shot.turned_back import Turned, reversals
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.beam.shot.setup import Gear
from limbfe.beam.shot.shoot import Shot, shoot_from
from limbfe.memory import MOST_MEMORY

GRAM = 1e-3
MEMORY = (0.3e9, 2e6, 0.9e6)
"""Bytes of bow and libraries, of a shot, and of it for every element a limb (measured: 12.3e6 with
12 elements, 22.8e6 with 24, 36.6e6 with 40)."""


def most_shots(elements: int) -> int:
    """Return how many shots of a bow with so many elements a limb a gigabyte holds."""
    base, each, an_element = MEMORY
    return int((MOST_MEMORY - base) / (each + an_element * elements))


def shoot_bow(
    first: SolvedBow,
    arrows: Sequence[float],
    *,
    dry: bool = False,
    damped: bool = True,
    costs: bool = True,
) -> Shots:
    """Shoot a bow as it is once exercised.

    Parameters
    ----------
    first : SolvedBow
        Drawn for the first time, or exercised.
    arrows : sequence of float, kg
    dry : bool
        Let go without an arrow, too.
    damped : bool
        With the losses of `Shooting`; else none.
    costs : bool
        Find what a gram costs, for the first arrow.

    Returns
    -------
    Shots
        Efficiencies are the arrow's energy over the work of drawing the exercised bow from brace.

    Raises
    ------
    ConvergenceError
        If a step of a shot does not converge; says at which time.
    """
    solved = exercise(first)
    shooting = solved.model.setup.shooting
    bare, modes = bare_gear(solved)
    gear = with_losses(solved, bare, float(modes.frequency[0])) if damped else bare
    work = float(curve_of(solved.braced, solved.states).energy[-1])
    results = [_result(solved, mass, gear, bare, work) for mass in arrows]
    dry_shot = _result(solved, 0.0, gear, bare, work) if dry else None
    turned = [
        Turned(arrow=one.arrow, shot=one.shot, strains=one.strains)
        for one in (*results, *(() if dry_shot is None else (dry_shot,)))
    ]
    return Shots(
        solved=solved,
        work=work,
        loss_factor=loss_factor_of(solved, shooting) if damped else 0.0,
        modes=modes,
        shots=tuple(results),
        when_braced=when_braced(solved),
        dry=dry_shot,
        reversals=reversals(solved, turned),
        costs=_costs(solved, arrows[0], gear) if arrows and costs else None,
        reshaped=reshaping(solved.model.setup, arrows[0]) if len(arrows) == 1 and costs else (),
    )


def _result(solved: SolvedBow, arrow: float, gear: Gear, bare: Gear, work: float) -> ShotResult:
    bow, full, shooting = solved.model.bow, solved.full_draw, solved.model.setup.shooting
    shot = shoot_from(bow, full, arrow, gear)
    left = shot.left
    undamped = None
    if left is not None:
        plain = shot if gear is bare else shoot_from(bow, full, arrow, bare, after=0.0)
        undamped = Undamped(speed=plain.speed, efficiency=_share(arrow, plain.speed, work))
    strains = limb_strains(solved, shot)
    end = len(shot.time) if left is None else left + 1
    after = slice(0 if left is None else left, None)
    step = np.diff(shot.time, prepend=0.0)[:, None]
    push = (shot.record.hand * step)[:end].sum(axis=0)
    tension = shot.tension.max(axis=1)
    held = shot.tension[-1 if left is None else left]
    nocking = shot.model.nocking
    return ShotResult(
        arrow=arrow,
        shot=shot,
        strains=strains,
        clear=clear_wood(solved, shot),
        work=work,
        efficiency=_share(arrow, shot.speed, work),
        undamped=undamped,
        time=None if left is None else float(shot.time[left]),
        nock_at_leaving=None if left is None else float(shot.nocking[left, 0] - full.grip_back[0]),
        tension_at_leaving=None if left is None else float(held[nocking : nocking + 2].mean()),
        tension_least=float(shot.tension[:end].min()),
        tension_max=float(tension[:end].max()),
        tension_max_after=float(tension[after].max()),
        hand_momentum=-float(push[0]),
        drift=_drift(shot, work, damped=max(*gear.shares, gear.string_lag, gear.drag) > 0.0),
        flights=None if left is None else flights(shot.speed, arrow, shaft_of(shooting)),
    )


def shaft_of(shooting: Shooting) -> Shaft:
    """Return the arrow's shaft, by what the case says or as arrows are made."""
    diameter, drag = shooting.shaft_diameter, shooting.drag_coefficient
    return Shaft(
        diameter=SHAFT if diameter is None else diameter, drag=DRAG if drag is None else drag
    )


def _share(arrow: float, speed: float, work: float) -> float:
    return 0.5 * arrow * speed**2 / work


def _drift(shot: Shot, work: float, *, damped: bool) -> float:
    """Return the error of the energy over the work of drawing; of a damped shot, what is lost."""
    total = shot.energy.total
    change = total - total[0]
    return float((change[-1] if damped else change[np.abs(change).argmax()]) / work)


def _costs(solved: SolvedBow, arrow: float, gear: Gear) -> Costs:
    """Return what a gram costs, by shots with a gram more, and the speed with half the string."""
    bow, full = solved.model.bow, solved.full_draw

    def speed(mass: float, own: Gear, yarn: float) -> float:
        string = replace(bow.string, mass=bow.string.mass * yarn)
        changed = replace(bow, string=string)
        return shoot_from(changed, full, mass, own, step=COARSE, after=0.0).speed

    plain = speed(arrow, gear, 1.0)
    heavier = replace(gear, tip_mass=(gear.tip_mass[0] + GRAM, gear.tip_mass[1] + GRAM))
    string = bow.string.mass
    # a string's own waves let the speed go down in steps as it gets heavier: a gram is told by what
    # it costs on the way from half to one and a half times the string
    light = speed(arrow, gear, 0.5) if string > 0.0 else plain
    return Costs(
        tip=speed(arrow, heavier, 1.0) - plain,
        string=(speed(arrow, gear, 1.5) - light) * GRAM / string if string > 0.0 else None,
        arrow=speed(arrow + GRAM, gear, 1.0) - plain,
        half_string=light - plain if string > 0.0 else None,
    )
