"""Nodes as rigid bodies through one step, in compiled code.

A node goes from frame g to ``g exp(delta)``, half-way it is at ``g exp(delta / 2)``; its speed is
``delta / h`` there and, as for the midpoint rule, ``2 delta / h - V`` at the end.  The momenta at
both ends are carried to the middle, so those of a free body are kept exactly, and so is its kinetic
energy:

    Ad*(exp(-delta/2)) M V' - Ad*(exp(delta/2)) M V = h f    in the axes of the middle.

References
----------
J. C. Simo, K. K. Wong, Unconditionally stable algorithms for rigid body dynamics that exactly
preserve energy and momentum, Int. J. Numer. Methods Eng. 31 (1991), 19-52 (the midpoint form; from
memory); written here for motions instead of rotations.
"""

from __future__ import annotations

import numpy as np

from limbfe.beam.limbs.motion import move
from limbfe.beam.shot.band import multiply
from limbfe.beam.shot.parts import FREE, Load, Motion, Scratch, ShotModel
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled
def bracket(delta: Array, out: Array) -> None:
    """Write ad(delta): ``ad(a) b = [a, b]`` of body twists (translation, rotation)."""
    for i in range(6):
        for j in range(6):
            out[i, j] = 0.0
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        w, v = delta[3 + k], delta[k]
        for base in (0, 3):
            out[base + i, base + j] = -w
            out[base + j, base + i] = w
        out[i, 3 + j] = -v
        out[j, 3 + i] = v


@compiled_inside
def step_tangent(a: Array, square: Array, factor: float, scale: float, out: Array) -> None:
    """Write ``scale`` times how ``exp(x + dx)`` differs from ``exp(x)``, x = factor delta.

    ``a`` is ad(delta), ``square`` its square: the series ``I - ad/2 + ad^2/6`` is cut there, which
    leaves Newton's convergence quadratic as long as a step turns by less than some 0.1 rad.
    """
    for i in range(6):
        for j in range(6):
            value = -0.5 * factor * a[i, j] + factor * factor / 6.0 * square[i, j]
            out[i, j] = scale * (value + 1.0) if i == j else scale * value


@compiled_inside
def place_nodes(old: Motion, new: Motion, work: Scratch, slopes: bool) -> None:
    """Put every node where its increment takes it, half-way and at the end, and write how both
    change with it if `slopes` are asked for."""
    a, square, half = np.empty((6, 6)), np.empty((6, 6)), np.empty(6)
    r, x, rm, xm = new.rotations, new.positions, work.rotations, work.positions
    old_r, old_x, delta = old.rotations, old.positions, work.delta
    for node in range(len(delta)):
        for i in range(3):
            xm[node, i] = x[node, i] = old_x[node, i]
            for j in range(3):
                rm[node, i, j] = r[node, i, j] = old_r[node, i, j]
        for i in range(6):
            half[i] = 0.5 * delta[node, i]
        move(rm[node], xm[node], half)
        move(r[node], x[node], delta[node])
        if not slopes:
            continue
        bracket(delta[node], a)
        multiply(a, a, square)
        step_tangent(a, square, 1.0, 1.0, work.turn[node])
        step_tangent(a, square, 0.5, 0.5, work.half[node])


@compiled_inside
def body_steps(
    model: ShotModel, load: Load, old: Motion, work: Scratch, h: float, slopes: bool
) -> None:
    """Write what the motion of every node takes (n, 6), middle axes, less its weight and load, and
    the derivatives (n, 6, 6) if `slopes` are asked for; a free grip counts at node `lower`, held
    nodes take nothing."""
    force, tangent = work.node_force, work.node_tangent
    delta, speed, mass, place = work.delta, old.speed, model.mass, model.place
    rotations, wrench, half, gravity = work.rotations, load.wrench, work.half, model.gravity
    # an array made in compiled code takes as long as a dozen sums: once for all bodies
    rotation, vectors, matrices = np.empty((3, 3)), np.empty((7, 6)), np.empty((3, 6, 6))
    heavy = gravity[0] != 0.0 or gravity[1] != 0.0 or gravity[2] != 0.0
    for node in range(len(place)):
        grip = model.grip == FREE and node == model.lower
        if place[node] < 0 and not grip:
            for i in range(6):
                force[node, i] = 0.0
                for j in range(6):
                    tangent[node, i, j] = 0.0
            continue
        own = model.grip_mass if grip else mass[node]
        momentum_change(
            own, delta[node], speed[node], h, force[node], tangent[node],
            rotation, vectors, matrices, slopes,
        )  # fmt: skip
        acts = heavy
        for i in range(6):
            acts = acts or wrench[node, i] != 0.0
        if acts:
            add_weight(
                rotations[node], own, gravity, wrench[node], half[node], force[node], tangent[node]
            )


@compiled_inside
def momentum_change(
    mass: Array, delta: Array, speed: Array, h: float, residual: Array, tangent: Array,
    rotation: Array, vectors: Array, matrices: Array, slopes: bool,
) -> None:  # fmt: skip
    """Write a body's change of momentum per time (6,), middle axes, and its derivative (6, 6) if
    `slopes` are asked for.

    `rotation` (3, 3), `vectors` (7, 6) and `matrices` (3, 6, 6) are room to work in.
    """
    half, p, q, before, after = vectors[0], vectors[1], vectors[2], vectors[3], vectors[4]
    place, x = vectors[5, :3], vectors[6, :3]
    for i in range(6):
        half[i] = 0.5 * delta[i]
    for i in range(3):
        place[i] = 0.0
        for j in range(3):
            rotation[i, j] = 1.0 if i == j else 0.0
    move(rotation, place, half)
    for i in range(6):
        p[i] = q[i] = 0.0
        for j in range(6):
            p[i] += mass[i, j] * speed[j]
            q[i] += mass[i, j] * (2.0 * delta[j] / h - speed[j])
    for i in range(3):
        before[i] = before[3 + i] = after[i] = after[3 + i] = 0.0
        for j in range(3):
            before[i] += rotation[j, i] * p[j]
            before[3 + i] += rotation[j, i] * p[3 + j]
            after[i] += rotation[i, j] * q[j]
            after[3 + i] += rotation[i, j] * q[3 + j]
    # places of both ends seen from the middle: the end's, and the start's
    for i in range(3):
        x[i] = -(rotation[0, i] * place[0] + rotation[1, i] * place[1] + rotation[2, i] * place[2])
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        before[3 + k] += x[i] * before[j] - x[j] * before[i]
        after[3 + k] += place[i] * after[j] - place[j] * after[i]
    for i in range(6):
        residual[i] = (after[i] - before[i]) / h
    if not slopes:
        return
    # derivative: Ad* M 2/h, and how both carried momenta turn with the middle
    a, square, t = matrices[0], matrices[1], matrices[2]
    bracket(delta, a)
    multiply(a, a, square)
    for j in range(6):
        for i in range(3):
            low, high = 0.0, 0.0
            for k in range(3):
                low += rotation[i, k] * mass[k, j]
                high += rotation[i, k] * mass[3 + k, j]
            tangent[i, j], tangent[3 + i, j] = low, high
        for k in range(3):
            i, m = (k + 1) % 3, (k + 2) % 3
            tangent[3 + k, j] += place[i] * tangent[m, j] - place[m] * tangent[i, j]
    for i in range(6):
        for j in range(6):
            tangent[i, j] *= 2.0 / (h * h)
    step_tangent(a, square, -0.5, -0.5 / h, t)
    add_turned_momentum(after, t, tangent)
    step_tangent(a, square, 0.5, -0.5 / h, t)
    add_turned_momentum(before, t, tangent)


@compiled_inside
def add_turned_momentum(p: Array, t: Array, out: Array) -> None:
    """Add ``C(p) t``, where ``C(p) z = ad(z)^T p``."""
    for j in range(6):
        for k in range(3):
            i, m = (k + 1) % 3, (k + 2) % 3
            # (l x w, l x v + pi x w)
            out[k, j] += p[i] * t[3 + m, j] - p[m] * t[3 + i, j]
            out[3 + k, j] += p[i] * t[m, j] - p[m] * t[i, j]
            out[3 + k, j] += p[3 + i] * t[3 + m, j] - p[3 + m] * t[3 + i, j]


@compiled_inside
def add_weight(
    rotation: Array, mass: Array, gravity: Array, wrench: Array, half: Array,
    residual: Array, tangent: Array,
) -> None:  # fmt: skip
    """Subtract a body's weight and an outer force and moment (6,), global axes, half-way."""
    f, g, m, c, b = np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.zeros((6, 6))
    # the first moment, mass times centre, stands in the lower left block: its skew matrix
    c[0], c[1], c[2] = mass[5, 1], mass[3, 2], mass[4, 0]
    dot = 0.0
    for i in range(3):
        f[i] = g[i] = m[i] = 0.0
        for j in range(3):
            g[i] += rotation[j, i] * gravity[j]
            f[i] += rotation[j, i] * (gravity[j] * mass[0, 0] + wrench[j])
            m[i] += rotation[j, i] * wrench[3 + j]
        dot += c[i] * g[i]
    # what is fixed outside turns by f x w in the body's axes
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        b[i, 3 + j], b[j, 3 + i] = -f[k], f[k]
        b[3 + i, 3 + j], b[3 + j, 3 + i] = -m[k], m[k]
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        m[k] += c[i] * g[j] - c[j] * g[i]
        b[3 + k, 3 + k] -= dot
        for n in range(3):
            b[3 + k, 3 + n] += g[k] * c[n]
    for i in range(3):
        residual[i] -= f[i]
        residual[3 + i] -= m[i]
    for i in range(6):
        for j in range(6):
            value = 0.0
            for k in range(3, 6):
                value += b[i, k] * half[k, j]
            tangent[i, j] -= value
