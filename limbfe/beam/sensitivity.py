"""Exact derivatives of a drawn bow by anything that changes its stiffness or its rest shape.

Direct differentiation: the equations of the braced bow give the change of the string's lengths
(when the brace height is kept), those of the drawn bow everything else, each with the exact
tangent of the converged state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.linalg import lu_factor, lu_solve

from limbfe.beam.bow import Bow
from limbfe.beam.draw import start_of_draw
from limbfe.beam.element import assemble, resultants
from limbfe.beam.model import DRAW, HEIGHT, Path
from limbfe.beam.motion import tangent_operators
from limbfe.beam.state import BowState
from limbfe.beam.string import string_equations
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only, skew


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """Derivatives by p parameters, all in the units of the quantity per unit of parameter.

    Attributes
    ----------
    force : ndarray, shape (p,)
        Of the draw force at the given draw length.
    energy : ndarray, shape (p,)
        Of the energy in limbs and string.
    tips : ndarray, shape (p, 2, 3), bow's own frame
    strains, resultants : ndarray, shape (p, n - 1, 2, 6), section axes
    string_tension, string_lengths : ndarray, shape (p, 2)
    nodes : ndarray, shape (p, n, 6)
        Translation and rotation of every node, in its own section axes.
    nocking_point : ndarray, shape (p, 3), bow's own frame
    """

    force: Array
    energy: Array
    tips: Array
    strains: Array
    resultants: Array
    string_tension: Array
    string_lengths: Array
    nodes: Array
    nocking_point: Array


def draw_sensitivity(
    bow: Bow,
    braced: BowState,
    drawn: BowState,
    stiffness_rates: Any,
    rest_rates: Any = None,
    *,
    keep: str = "height",
) -> Sensitivity:
    """Return exact derivatives at a drawn state.

    Parameters
    ----------
    bow : Bow
    braced, drawn : BowState
        Of the same bow; `drawn` at a prescribed draw length.
    stiffness_rates : array_like, shape (p, n - 1, 2, 6, 6)
        Derivative of every section stiffness by each parameter (thickness, width, modulus...).
    rest_rates : array_like, shape (p, n, 6), optional
        Derivative of the rest place of every node: translation and rotation, in the node's own
        section axes; none means the rest shape does not change.  Grip, hold and nock offsets
        stay.
    keep : {"height", "length"}
        What stays while the parameter changes: the brace height or the string's length.

    Raises
    ------
    GeometryError
        For wrong shapes.
    """
    return draw_sensitivities(bow, braced, [drawn], stiffness_rates, rest_rates, keep=keep)[0]


def draw_sensitivities(
    bow: Bow,
    braced: BowState,
    states: Sequence[BowState],
    stiffness_rates: Any,
    rest_rates: Any = None,
    *,
    keep: str = "height",
) -> tuple[Sensitivity, ...]:
    """Return `draw_sensitivity` at many drawn states; the braced one is looked at once."""
    rates = np.asarray(stiffness_rates, dtype=np.float64)
    count, n = len(rates), len(bow.chain.positions)
    if rates.shape[1:] != bow.chain.stiffness.shape or keep not in ("height", "length"):
        raise GeometryError(
            f"sensitivity: stiffness_rates of shape {rates.shape}, wanted "
            f"(p, *{bow.chain.stiffness.shape}), and keep = {keep!r}, wanted height or length"
        )
    rest = np.zeros((count, n, 6)) if rest_rates is None else np.asarray(rest_rates, float)
    if rest.shape != (count, n, 6):
        raise GeometryError(f"sensitivity: rest_rates of shape {rest.shape}, wanted (p, n, 6)")
    law = _LawRates(bow, rates, rest)
    lengths = np.zeros((count, 2))
    if keep == "height":
        at_brace = _Linear(bow, start_of_draw(bow, braced)[0], HEIGHT, braced.brace_height)
        step = at_brace.solve(law, lengths)
        parts = np.einsum("ij,pj->pi", at_brace.length_rows, at_brace.reduced(step))
        lengths = parts / (1.0 + braced.string_tension / bow.string.stiffness)
    found = []
    for drawn in states:
        path = start_of_draw(bow, drawn)[0]
        system = _Linear(bow, path, DRAW, drawn.draw_length)
        step = system.solve(law, lengths)
        found.append(_collect(bow, path, law, system, step, lengths))
    return tuple(found)


class _LawRates:
    """Rates of the element law ``S = K (twist/L - strain_0)`` at fixed node positions."""

    def __init__(self, bow: Bow, rates: Array, rest: Array) -> None:
        chain = bow.chain
        m = len(chain.length)
        p, q = _operators(chain.twist)
        self.rest = rest
        twist = np.einsum("mij,pmj->pmi", p, rest[:, 1:]) - np.einsum(
            "mij,pmj->pmi", q, rest[:, :-1]
        )
        self.twist = twist
        unit = chain.twist[:, :3] / chain.length[:, None]
        self.length = np.einsum("mi,pmi->pm", unit, twist[..., :3])
        # a Gauss point's transport B = Ad(exp(s d))^T turns with the rest twist
        gauss = np.array([-0.5, 0.5]) / np.sqrt(3.0)
        self.transport = np.empty((len(rates), m, 2, 6, 6))
        for g in range(2):
            part, _ = _operators(gauss[g] * chain.twist)
            moved = gauss[g] * np.linalg.solve(part, np.moveaxis(twist, 0, -1))
            turn = np.zeros((*twist.shape, 6))
            v, w = np.moveaxis(moved, -1, 0)[..., :3], np.moveaxis(moved, -1, 0)[..., 3:]
            turn[..., :3, :3] = turn[..., 3:, 3:] = skew(w)
            turn[..., :3, 3:] = skew(v)
            self.transport[:, :, g] = np.swapaxes(turn, -1, -2) @ chain.transport[:, g]
        b, c = chain.transport, chain.compliance
        bent = np.einsum("mgij,mgjk->mgik", c, b)
        self.compliance = -np.einsum("mgij,pmgjk,mgkl->pmgil", c, rates, c, optimize=True)
        flexibility = 0.5 * np.einsum("mgij,pmgik,mgkl->pmjl", bent, -rates, bent, optimize=True)
        cross = 0.5 * np.einsum("pmgij,mgik->pmjk", self.transport, bent, optimize=True)
        flexibility += cross + np.swapaxes(cross, -1, -2)
        k = chain.element_stiffness
        self.stiffness = -np.einsum("mij,pmjk,mkl->pmil", k, flexibility, k, optimize=True)

    def strain(self, bow: Bow, twist: Array) -> Array:
        """Return the rate (p, m, 6) of ``twist/L - twist_0/L_0`` at fixed nodes."""
        length = bow.chain.length[:, None]
        moved = (bow.chain.twist - twist) / length**2
        rate: Array = self.length[..., None] * moved - self.twist / length
        return rate


class _Linear:
    """The linearised equations of one converged state, on all nodes and the border."""

    def __init__(self, bow: Bow, path: Path, control: int, target: float) -> None:
        model, n = bow.model, len(path.positions)
        self.bow, self.tension = bow, path.border[3:5].copy()
        m = n - 1
        self.twist, self.mean = np.empty((m, 6)), np.empty((m, 6))
        law = (model.stiffness, model.offset, model.length)
        resultants(path.rotations, path.positions, *law, self.twist, self.mean)
        self.p, self.q = _operators(self.twist)
        diag, off, force = np.zeros((n, 6, 6)), np.zeros((m, 6, 6)), np.zeros((n, 6))
        assemble(path.rotations, path.positions, *law, 0, model.lower, diag, off, force)
        assemble(path.rotations, path.positions, *law, model.upper, m, diag, off, force)
        self.tips = np.concatenate([np.arange(6), 6 * (n - 1) + np.arange(6)])
        self.at = np.concatenate([self.tips, 6 * n + np.arange(6)])
        a, r, rows = np.zeros((18, 18)), np.zeros(18), np.zeros((3, 18))
        string_equations(model, path, control, target, 1.0, a, r, rows)
        self.length_rows = a[15:17].copy()
        self.control = control
        matrix = np.zeros((6 * n + 6, 6 * n + 6))
        blocks = matrix[: 6 * n, : 6 * n].reshape(n, 6, n, 6)
        nodes = np.arange(n)
        blocks[nodes, :, nodes, :] = 0.5 * (diag + np.swapaxes(diag, 1, 2))
        blocks[nodes[:-1], :, nodes[1:], :] = off
        blocks[nodes[1:], :, nodes[:-1], :] = np.swapaxes(off, 1, 2)
        a[15:] = rows
        matrix[np.ix_(self.at, self.at)] += a
        held = np.zeros(6 * n + 6, dtype=bool)
        held[6 * model.lower : 6 * (model.upper + 1)] = True
        self.held = held
        self.columns = matrix[np.ix_(~held, held)]
        self.factor = lu_factor(matrix[np.ix_(~held, ~held)])

    def reduced(self, step: Array) -> Array:
        """Return the tips' and the border's part (p, 18) of a solution."""
        part: Array = step[:, self.at]
        return part

    def solve(self, law: _LawRates, lengths: Array) -> Array:
        """Return the rates (p, 6 n + 6) of node increments and border."""
        model = self.bow.model
        count, n = len(law.length), len(model.length) + 1
        rate = self.resultant_rate(law)
        right = np.zeros((count, 6 * n + 6))
        nodes = right[:, : 6 * n].reshape(count, n, 6)
        live = np.ones(n - 1, dtype=bool)
        live[model.lower : model.upper] = False
        nodes[:, :-1] -= np.einsum("mji,pmj->pmi", self.q, rate) * live[:, None]
        nodes[:, 1:] += np.einsum("mji,pmj->pmi", self.p, rate) * live[:, None]
        if self.control == DRAW:
            stretch = self.tension / model.string_stiffness
            right[:, 6 * n + 3 : 6 * n + 5] -= lengths * (1.0 + stretch)
        step = np.zeros_like(right)
        given = law.rest[:, model.lower : model.upper + 1].reshape(count, -1)
        right = right[:, ~self.held] + given @ self.columns.T
        step[:, self.held] = given
        step[:, ~self.held] = -lu_solve(self.factor, right.T).T
        return step

    def resultant_rate(self, law: _LawRates) -> Array:
        """Return the rate (p, m, 6) of the mean resultants at fixed nodes."""
        chain = self.bow.chain
        strain = (self.twist - chain.twist) / chain.length[:, None]
        rate = np.einsum("pmij,mj->pmi", law.stiffness, strain)
        moved = law.strain(self.bow, self.twist)
        total: Array = rate + np.einsum("mij,pmj->pmi", chain.element_stiffness, moved)
        return total


def _operators(twist: Array) -> tuple[Array, Array]:
    p, q = np.empty((len(twist), 6, 6)), np.empty((len(twist), 6, 6))
    for e in range(len(twist)):
        tangent_operators(np.ascontiguousarray(twist[e]), p[e], q[e])
    return p, q


def _collect(
    bow: Bow, path: Path, law: _LawRates, system: _Linear, step: Array, lengths: Array
) -> Sensitivity:
    chain, model = bow.chain, bow.model
    n = len(chain.positions)
    nodes, border = step[:, : 6 * n].reshape(-1, n, 6), step[:, 6 * n :]
    twist = np.einsum("mij,pmj->pmi", system.p, nodes[:, 1:])
    twist -= np.einsum("mij,pmj->pmi", system.q, nodes[:, :-1])
    strain = twist / chain.length[:, None] + law.strain(bow, system.twist)
    now = (system.twist - chain.twist) / chain.length[:, None]
    mean = np.einsum("mij,pmj->pmi", chain.element_stiffness, strain)
    mean += np.einsum("pmij,mj->pmi", law.stiffness, now)
    force = np.einsum("mgij,pmj->pmgi", chain.transport, mean)
    force += np.einsum("pmgij,mj->pmgi", law.transport, system.mean)
    at_points = np.einsum("mgij,mj->mgi", chain.transport, system.mean)
    strains = np.einsum("mgij,pmgj->pmgi", chain.compliance, force)
    strains += np.einsum("pmgij,mgj->pmgi", law.compliance, at_points)
    energy = np.einsum("m,mi,pmi->p", chain.length, system.mean, strain)
    energy += 0.5 * np.einsum("m,mi,pmij,mj->p", chain.length, now, law.stiffness, now)
    energy += 0.5 * np.einsum("pm,mi,mi->p", law.length, system.mean, now)
    tension = path.border[3:5]
    energy += (border[:, 3:5] * path.string + 0.5 * tension * lengths) @ (
        tension / model.string_stiffness
    )
    tips = np.einsum("tij,ptj->pti", path.rotations[[0, -1]], nodes[:, [0, -1], :3])
    return Sensitivity(
        force=read_only(border[:, 5]),
        energy=read_only(energy),
        tips=read_only(tips),
        strains=read_only(strains),
        resultants=read_only(force),
        string_tension=read_only(border[:, 3:5]),
        string_lengths=read_only(lengths),
        nodes=read_only(nodes),
        nocking_point=read_only(border[:, :3]),
    )
