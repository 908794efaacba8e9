"""A string that lies on recurved limbs, against closed forms and a minimum of energy found apart.

Closed forms, no source beyond statics: rigid levers that end in a circular arc turn on hinges of
stiffness k.  With theta the turn and psi the angle of the free string from the bow's line, beta =
theta + psi is the angle along the arc of the last touching point, the belly's radius there is rho =
R + e, and the string's pull has the arm ``h(beta) = a sin beta + rho - R cos beta`` about the
hinge, so ``T = k theta/h`` and ``F = 2 T sin psi``.  The length of the string gives theta.
Pressure T/rho; a string pushes and never pulls on the belly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import acos, atan2, cos, sin, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq, minimize

from limbfe.beam import Bow, BowState, StringBed, brace, draw, string_of
from limbfe.frames import Array

from ..beam.make import bow_1800
from ..beam.strung.recurved import lever, recurve

G, A, TURN, K, BRACE = 0.05, 0.65, 0.8, 100.0, 0.15


@dataclass(frozen=True)
class Lever:
    """The closed form of a lever whose inextensible string lies on an arc of radius R."""

    R: float = 0.25
    e: float = 0.0

    @property
    def rho(self) -> float:
        return self.R + self.e

    def arm(self, beta: float) -> float:
        return A * sin(beta) + self.rho - self.R * cos(beta)

    @property
    def braced(self) -> float:
        return brentq(lambda theta: self.arm(theta) - BRACE, 1e-6, TURN, xtol=1e-15)

    @property
    def half_string(self) -> float:
        theta = self.braced
        return G + self.R * sin(theta) + A * cos(theta) + self.rho * (TURN - theta)

    def touching(self, beta: float) -> tuple[float, float, float, float]:
        """Draw length, force, tension and turn where the string leaves the arc at beta."""
        free = self.half_string - self.rho * (TURN - beta)
        a = A + self.rho * sin(beta) - free * cos(beta)
        b = self.R - self.rho * cos(beta) - free * sin(beta)
        middle, half = atan2(b, a), acos(-G / sqrt(a * a + b * b))
        roots = (np.array([middle - half, middle + half]) + np.pi) % (2.0 * np.pi) - np.pi
        theta = float(roots[np.abs(roots - beta).argmin()])
        psi = beta - theta
        tension = K * theta / self.arm(beta)
        draw_length = (self.arm(beta) + G * sin(psi)) / cos(psi)
        return draw_length, 2.0 * tension * sin(psi), tension, theta

    def lifted(self, theta: float) -> tuple[float, float, float]:
        """Draw length, force and tension once the string touches the nock alone."""
        X, Y = -self.R + self.rho * cos(TURN), A + self.rho * sin(TURN)
        x, y = X * cos(theta) + Y * sin(theta), G - X * sin(theta) + Y * cos(theta)
        away = sqrt(self.half_string**2 - y * y)
        psi = atan2(away, y)
        tension = K * theta / ((y - G) * sin(psi) + x * cos(psi))
        return x + away, 2.0 * tension * sin(psi), tension


def drawn(bow: Bow, *lengths: float) -> tuple[BowState, ...]:
    states = draw(bow, brace(bow, height=BRACE), lengths).states
    assert all(state.stable for state in states)
    return states


@pytest.mark.parametrize("e", [0.0, 0.006])
def test_a_rigid_lever_with_an_arc(e: float):
    """The hinge is an element of 1e-6 m and the lever's stiffness finite: 1e-6 is left."""
    exact, bow = Lever(e=e), lever(off=e)
    braced = brace(bow, height=BRACE)
    assert braced.string_tension == pytest.approx([K * exact.braced / BRACE] * 2, rel=2e-6)
    assert braced.string_lengths == pytest.approx([exact.half_string] * 2, rel=1e-6)
    lying = exact.rho * (TURN - exact.braced)
    assert braced.string_lies == pytest.approx([lying] * 2, rel=2e-6)
    betas = np.linspace(exact.braced + 0.1, TURN - 1e-3, 3)
    wanted = [exact.touching(beta) for beta in betas]
    for state, (_, force, tension, _), beta in zip(
        drawn(bow, *(one[0] for one in wanted)), wanted, betas, strict=True
    ):
        assert state.draw_force == pytest.approx(force, rel=2e-6)
        assert state.string_tension == pytest.approx([tension] * 2, rel=2e-6)
        assert state.string_lies == pytest.approx([exact.rho * (TURN - beta)] * 2, abs=2e-6)
    length, force, _ = exact.lifted(exact.touching(TURN)[3] + 0.05)
    (state,) = drawn(bow, length)
    assert state.draw_force == pytest.approx(force, rel=2e-6)
    assert not state.string_lies.any()
    # all the work of the draw is in the hinges: the contact takes none
    x, w = np.polynomial.legendre.leggauss(12)
    low, high = braced.draw_length, state.draw_length
    work = 0.0
    for part in ((low, exact.touching(TURN)[0]), (exact.touching(TURN)[0], high)):
        half = 0.5 * (part[1] - part[0])
        work += half * w @ [one.draw_force for one in drawn(bow, *(part[0] + half * (x + 1.0)))]
    assert work == pytest.approx(state.strain_energy - braced.strain_energy, rel=1e-8)


def test_a_small_arc_is_a_kink():
    """The limit of an arc that shrinks: a lever bent at a point, h(beta) = a sin beta there."""
    bow = lever(radius=1e-3, elements=3)
    braced = brace(bow, height=BRACE)
    kink = Lever(R=0.0)
    assert braced.string_tension[0] == pytest.approx(K * kink.braced / BRACE, rel=5e-3)
    assert braced.string_tension[0] == pytest.approx(K * Lever(R=1e-3).braced / BRACE, rel=2e-6)


def test_the_line_is_tangent_and_the_energy_the_least():
    """Total energy of a chain of stiff links, minimised by SciPy with a hull round its corners.

    Written apart: torsion springs at the joints of a polygon in the plane, the string the taut path
    round the belly's corners, which errs by the square of its 24 links.
    """
    bow = recurve()
    braced = brace(bow, height=BRACE)
    (state,) = drawn(bow, 0.28)
    line = string_of(bow, state)
    leaf, nocking = state.free_string[2], state.nocking_point
    where = int(np.linalg.norm(line - leaf, axis=1).argmin())
    before, after = line[where + 1] - leaf, nocking - leaf
    bend = np.cross(before, after)[1] / np.linalg.norm(before) / np.linalg.norm(after)
    assert abs(bend) < 0.03  # a chord of the arc beside its tangent
    force, tension = energy_minimum(0.28, float(braced.string_lengths[0]))
    assert state.draw_force == pytest.approx(force, rel=1e-2)
    assert state.string_tension[0] == pytest.approx(tension, rel=1e-2)


def energy_minimum(draw_length: float, half: float) -> tuple[float, float]:
    """Draw force and tension of `recurve` at one draw length, inextensible axis, no shear."""
    off, EA, n = 0.005, 60e3, 12
    s = np.concatenate([np.full(n, 0.6 / n), np.full(n, 0.2 / n)])
    rest = np.concatenate([np.zeros(n), np.full(n, 0.9 / n)])
    # EI of element k of 18, along the limb
    ends = np.concatenate([np.linspace(0.0, 0.6, 13), 0.6 + np.linspace(0.0, 0.2, 7)[1:]])
    middle = np.cumsum(s) - 0.5 * s
    spring = np.linspace(60.0, 12.0, 18)[np.searchsorted(ends, middle) - 1] / s

    def hull(bent: Array) -> Array:
        """Corners of the taut path from the nock round the belly's corners to the string's end."""
        turn = np.cumsum(rest - bent)
        angle = turn - 0.5 * (rest - bent)
        x, z = np.cumsum(-s * np.sin(angle)), 0.08 + np.cumsum(s * np.cos(angle))
        corners = np.column_stack([x + off * np.cos(turn), z + off * np.sin(turn)])[::-1]
        path = [corners[0]]
        for new in (*corners[1:], np.array([draw_length, 0.0])):
            while len(path) > 1:
                (ax, az), (bx, bz), (cx, cz) = path[-2], path[-1], new
                # kept while it stands out towards +x of the line from a to c (z falls)
                if (bx - ax) * (az - cz) - (cx - ax) * (az - bz) > 0.0:
                    break
                path.pop()
            path.append(new)
        return np.array(path)

    def stretch(bent: Array) -> float:
        length = np.linalg.norm(np.diff(hull(bent), axis=0), axis=1).sum()
        return float(max(length / half - 1.0, 0.0))

    def energy(bent: Array) -> float:
        return 0.5 * float(spring @ bent**2) + 0.5 * EA * half * stretch(bent) ** 2

    found = minimize(energy, np.full(2 * n, 0.012), method="BFGS", options={"gtol": 1e-5}).x
    tension, last = EA * stretch(found), np.diff(hull(found)[-2:], axis=0)[0]
    return 2.0 * tension * float(last[0] / np.hypot(*last)), tension


def test_force_is_the_slope_of_the_energy_through_lift_off():
    """dV/dD = F, and the force has one slope on both sides of the last contact."""
    bow, exact = lever(), Lever()
    lift, force, _, _ = exact.touching(TURN)
    h = 1e-4
    at = [lift - 2 * h, lift - h, lift, lift + h, lift + 2 * h]
    states = drawn(bow, *at)
    forces = np.array([one.draw_force for one in states])
    energies = np.array([one.strain_energy for one in states])
    assert forces[2] == pytest.approx(force, rel=2e-6)
    assert (energies[3] - energies[1]) / (2 * h) == pytest.approx(forces[2], rel=1e-6)
    assert (forces[1] - forces[0]) == pytest.approx(forces[4] - forces[3], rel=5e-3)


def test_a_string_that_meets_nothing_changes_nothing():
    bare = bow_1800(10)
    n = len(bare.chain.positions)
    bed = StringBed(arm=np.zeros((n, 3)), slope=np.zeros((n, 2)))
    bow = replace(bare, bed=bed)
    one, other = (drawn(each, 0.4, 0.7) for each in (bare, bow))
    for a, b in zip(one, other, strict=True):
        assert b.draw_force == pytest.approx(a.draw_force, rel=1e-9)
        assert b.positions == pytest.approx(a.positions, abs=1e-11)


def test_both_limbs_are_each_other_in_a_mirror():
    bow = recurve()
    state = drawn(bow, 0.4)[0]
    assert state.string_lies[0] == pytest.approx(state.string_lies[1], rel=1e-9)
    assert state.positions[::-1] == pytest.approx(state.positions * [1.0, 1.0, -1.0], abs=1e-10)
