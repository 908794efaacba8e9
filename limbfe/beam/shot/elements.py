"""The forces of the limbs' elements in a step, in compiled code.

The resultant of a step is the mean of those at its ends, so what it does on the change of an
element's twist is exactly what its energy gains; the forces on the nodes are those of that
resultant half-way, where they balance, so momentum is kept.  Both ends move along motions of the
group, so a limb that turns as a whole is not strained (a midpoint rule in straight lines would
shorten it by an eighth of the square of its turn in the step).  What is left of an error of
energy is that ``P delta_2 - Q delta_1`` half-way is not exactly the change of the twist: third
order in the strains' change.

Wood answers late: beside the element act springs in a row with dampers (Maxwell's), whose twists q
follow the element's, ``dq/dt = (d - q)/delay``.  Half-way through a step that gives

    d - q = (d - q_0)/(1 + h/(2 delay)),

so a damper is one more factor of the mean twist, never adds energy, and takes no unknown.

References
----------
J. C. Simo, N. Tarnow, M. Doblare, Non-linear dynamics of three-dimensional rods: exact energy and
momentum conserving algorithms, Int. J. Numer. Methods Eng. 38 (1995), 1431-1473 (mean resultants;
from memory).
"""

from __future__ import annotations

import numpy as np

from limbfe.beam.limbs.motion import tangent_derivatives, tangent_operators, twist_between
from limbfe.beam.shot.band import add_product, multiply
from limbfe.beam.shot.parts import Motion, Scratch, ShotModel
from limbfe.compiled import compiled, compiled_inside


@compiled_inside
def element_steps(
    model: ShotModel, old: Motion, new: Motion, work: Scratch, h: float, slopes: bool
) -> None:
    """Write the forces (m, 2, 6) of all elements on both nodes, middle axes, and their derivatives
    if `slopes` are asked for.

    `work.element_tangent` (m, 2, 2, 6, 6) holds those of the force at the first index by the
    increment at the second; the elements' twists at the end are kept in `new`.  What the dampers
    have come to, which is the same all through a step, is summed with the slopes, into `work.late`
    (m, 6).  Numba hands over a named tuple array by array, so the loop stands inside.
    """
    middle, s, strain = np.empty(6), np.empty(6), np.empty(6)
    p, q = np.empty((6, 6)), np.empty((6, 6))
    pn, qn = np.empty((6, 6)), np.empty((6, 6))
    mr, ml = np.empty((6, 6)), np.empty((6, 6))
    a, low, high = np.empty((6, 6)), np.empty((6, 6)), np.empty((6, 6))
    r, x, rm, xm = new.rotations, new.positions, work.rotations, work.positions
    stiffness, offset, length, delays = model.stiffness, model.offset, model.length, model.delays
    before, after, turn, half = old.twist, new.twist, work.turn, work.half
    force, tangent, came = work.element_force, work.element_tangent, work.late
    pulls, whole = np.empty(len(delays)), 1.0
    for d in range(len(delays)):
        pulls[d] = model.shares[d] / (1.0 + 0.5 * h / delays[d])
        whole += pulls[d]
    for e in range(len(length)):
        if model.lower <= e < model.upper:
            for i in range(6):
                after[e, i] = before[e, i]
            continue
        twist_between(rm[e], xm[e], rm[e + 1], xm[e + 1], middle)
        twist_between(r[e], x[e], r[e + 1], x[e + 1], after[e])
        late = 0.5 * whole / length[e]
        for i in range(6):
            if slopes:
                came[e, i] = 0.0
                for d in range(len(delays)):
                    came[e, i] += pulls[d] * old.delayed[e, d, i]
            strain[i] = (0.5 * whole * (before[e, i] + after[e, i]) - came[e, i]) / length[e]
        for i in range(6):
            s[i] = offset[e, i]
            for j in range(6):
                s[i] += stiffness[e, i, j] * strain[j]
        tangent_operators(middle, p, q)
        for i in range(6):
            force[e, 0, i] = force[e, 1, i] = 0.0
            for j in range(6):
                force[e, 0, i] -= q[j, i] * s[j]
                force[e, 1, i] += p[j, i] * s[j]
        if not slopes:
            continue
        tangent_operators(after[e], pn, qn)
        tangent_derivatives(middle, s, mr, ml)
        # change of the resultant, and of the middle's twist, with either node's increment
        multiply(qn, turn[e], a)
        multiply(stiffness[e], a, low)
        multiply(pn, turn[e + 1], a)
        multiply(stiffness[e], a, high)
        multiply(q, half[e], a)
        add_product(ml, a, 1.0, q, low, late, tangent[e, 0, 0])
        add_product(mr, a, -1.0, p, low, -late, tangent[e, 1, 0])
        multiply(p, half[e + 1], a)
        add_product(ml, a, -1.0, q, high, -late, tangent[e, 0, 1])
        add_product(mr, a, 1.0, p, high, late, tangent[e, 1, 1])


@compiled_inside
def end_dampers(model: ShotModel, old: Motion, new: Motion, h: float) -> None:
    """Write what the elements' dampers have come to at a step's end, whose twists are known."""
    for d in range(len(model.delays)):
        way = 1.0 - 1.0 / (1.0 + 0.5 * h / model.delays[d])
        for e in range(len(model.length)):
            if model.lower <= e < model.upper:
                continue
            for i in range(6):
                came = old.delayed[e, d, i]
                # twice the way to the mean twist
                to = old.twist[e, i] + new.twist[e, i]
                new.delayed[e, d, i] = came + way * (to - 2.0 * came)


@compiled
def element_twists(motion: Motion) -> None:
    """Write the twists of all elements of a motion."""
    for e in range(len(motion.twist)):
        twist_between(
            motion.rotations[e], motion.positions[e],
            motion.rotations[e + 1], motion.positions[e + 1], motion.twist[e],
        )  # fmt: skip
