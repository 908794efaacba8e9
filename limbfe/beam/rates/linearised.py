"""The linearised equations of a converged bow, on all nodes and the string."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState, path_of
from limbfe.beam.limbs.chain import GAUSS
from limbfe.beam.limbs.element import assemble, resultants
from limbfe.beam.limbs.motion import move, tangent_operators
from limbfe.beam.model import (
    BORDER,
    DRAW,
    HEIGHT,
    POINT,
    PULL,
    TENSION,
    Bed,
    Model,
    Task,
    Work,
    new_work,
)
from limbfe.beam.rates.changes import RestRates, SectionRates
from limbfe.beam.string.course import deepened, part_lengths, run_of, string_height
from limbfe.beam.string.equations import string_equations
from limbfe.beam.string.hold import line_of_pull
from limbfe.frames import Array, skew

_BED_STEP = 1e-6
"""Movement (m) of the line a string lies on, either way, in the difference quotient by it."""


class RestShape:
    """How rest twists, lengths and resultant transports change with the rest places of nodes."""

    def __init__(self, bow: Bow, rates: RestRates) -> None:
        chain, nodes = bow.chain, rates.nodes
        p, q = operators(chain.twist)
        self.nodes = nodes
        self.twist = _between(p, q, nodes)
        unit = chain.twist[:, :3] / chain.length[:, None]
        self.length = np.einsum("mi,pmi->pm", unit, self.twist[..., :3])
        # a Gauss point's transport B = Ad(exp(s d))^T turns with the rest twist
        self.transport = np.empty((*self.twist.shape[:2], 2, 6, 6))
        for g, share in enumerate(GAUSS):
            part, _ = operators(share * chain.twist)
            moved = share * np.linalg.solve(part, np.moveaxis(self.twist, 0, -1))
            v, w = moved[:, :3], moved[:, 3:]
            turn = np.zeros((*self.twist.shape, 6))
            turn[..., :3, :3] = turn[..., 3:, 3:] = skew(np.moveaxis(w, -1, 0))
            turn[..., :3, 3:] = skew(np.moveaxis(v, -1, 0))
            self.transport[:, :, g] = np.swapaxes(turn, -1, -2) @ chain.transport[:, g]

    def strain(self, bow: Bow, twist: Array) -> Array:
        """Return the rate (p, m, 6) of ``twist/L - twist_0/L_0`` at fixed nodes."""
        length = bow.chain.length[:, None]
        moved = (bow.chain.twist - twist) / length**2
        rate: Array = self.length[..., None] * moved - self.twist / length
        return rate


class Linearised:
    """One converged state with the factored exact tangent of all its equations.

    Parameters
    ----------
    bow : Bow
    state : BowState
    tangent : ndarray, shape (n - 1, 2, 6, 6)
        Of the sections, at the state.
    control : int
        What the state prescribes, see `limbfe.beam.model`.
    target : float
        Its value.

    Notes
    -----
    An element's mean resultant S loads its Gauss points with ``B S``, and their strains make up
    its own: ``mean(B^T strain) + give S = twist/L - twist_0/L_0``.  Differentiated with the
    sections' tangent C^-1 this gives the element's tangent and, at fixed nodes, the rate of S.
    """

    def __init__(
        self, bow: Bow, state: BowState, tangent: Array, control: int, target: float
    ) -> None:
        self.bow, self.state, self.control = bow, state, control
        chain = bow.chain
        self.path, _ = path_of(bow, state)
        n, m = len(chain.positions), len(chain.length)
        self.compliance = np.linalg.inv(tangent)
        bent = self.compliance @ chain.transport
        mean = 0.5 * np.einsum("mgij,mgik->mjk", chain.transport, bent)
        self.element = np.linalg.inv(mean + chain.extra)
        self.twist, self.mean = np.empty((m, 6)), np.empty((m, 6))
        rest = 0.5 * np.einsum(
            "mgij,mgi->mj",
            chain.transport,
            state.strains - np.einsum("mgij,mgj->mgi", self.compliance, state.resultants),
        )
        rest += chain.twist / chain.length[:, None]
        self.model = deepened(bow.model, self.path)._replace(
            stiffness=np.ascontiguousarray(self.element),
            offset=-np.einsum("mij,mj->mi", self.element, rest),
        )
        law = (self.model.stiffness, self.model.offset, self.model.length)
        resultants(self.path.rotations, self.path.positions, *law, self.twist, self.mean)
        self.p, self.q = operators(self.twist)
        self.held = np.zeros(6 * n + BORDER, dtype=bool)
        self.held[6 * bow.model.lower : 6 * (bow.model.upper + 1)] = True
        self.target = target
        from scipy.linalg import lu_factor  # not loaded by the commands that only draw

        matrix = self._matrix()
        self.columns = matrix[np.ix_(~self.held, self.held)]
        self.factor = lu_factor(matrix[np.ix_(~self.held, ~self.held)])

    def _matrix(self) -> Array:
        model, path = self.model, self.path
        n = len(path.positions)
        diag, off, force = np.zeros((n, 6, 6)), np.zeros((n - 1, 6, 6)), np.zeros((n, 6))
        law = (model.stiffness, model.offset, model.length)
        assemble(path.rotations, path.positions, *law, 0, model.lower, diag, off, force)
        assemble(path.rotations, path.positions, *law, model.upper, n - 1, diag, off, force)
        work = self._string(model, self.control, self.target)
        self.length_rows = work.symmetric[TENSION:PULL].copy()
        matrix = np.zeros((6 * n + BORDER, 6 * n + BORDER))
        blocks = matrix[: 6 * n, : 6 * n].reshape(n, 6, n, 6)
        nodes = np.arange(n)
        blocks[nodes, :, nodes, :] = 0.5 * (diag + np.swapaxes(diag, 1, 2))
        blocks[nodes[:-1], :, nodes[1:], :] = off
        blocks[nodes[1:], :, nodes[:-1], :] = np.swapaxes(off, 1, 2)
        self.at = reduced_unknowns(model)
        self.symmetric = matrix.copy()
        self.symmetric[np.ix_(self.at, self.at)] += work.symmetric
        work.symmetric[TENSION:BORDER] = work.rows
        matrix[np.ix_(self.at, self.at)] += work.symmetric
        return matrix

    def _string(self, model: Model, control: int, target: float) -> Work:
        """Return the string's share of the equations."""
        work = new_work(model)
        met = string_equations(model, self.path, Task(control, target, 1.0), work)
        assert met <= model.kept, "a string that acts on more nodes than are kept"
        return work

    def source(self, shape: RestShape, rates: SectionRates) -> Array:
        """Return the rate (p, m, 6) of the mean resultants at fixed nodes."""
        chain, turned = self.bow.chain, shape.transport
        loaded = np.einsum("pmgij,mj->pmgi", turned, self.mean) - rates.resultants
        bent = np.einsum("mgij,pmgj->pmgi", self.compliance, loaded)
        strain = shape.strain(self.bow, self.twist)
        strain -= 0.5 * np.einsum("pmgij,mgi->pmj", turned, self.state.strains)
        strain -= 0.5 * np.einsum("mgij,pmgi->pmj", chain.transport, bent)
        if rates.give is not None:
            strain -= np.einsum("pmij,mj->pmi", rates.give, self.mean)
        source: Array = np.einsum("mij,pmj->pmi", self.element, strain)
        return source

    def solve(
        self, shape: RestShape, source: Array, rest: RestRates, lengths: Array, target: Array
    ) -> Array:
        """Return the rates (p, 6 n + BORDER) of node increments (body axes) and of the border.

        Parameters
        ----------
        shape : RestShape
        source : ndarray, shape (p, m, 6)
            From `source`.
        rest : RestRates
        lengths : ndarray, shape (p, 2)
            Rates of the unstretched lengths of the string's parts; not used where the string is
            made to fit.
        target : ndarray, shape (p,)
            Rates of the brace height or the draw length that is prescribed.
        """
        model = self.model
        count, n = len(source), len(model.length) + 1
        right = np.zeros((count, 6 * n + BORDER))
        nodes = right[:, : 6 * n].reshape(count, n, 6)
        live = np.ones(n - 1, dtype=bool)
        live[model.lower : model.upper] = False
        nodes[:, :-1] -= np.einsum("mji,pmj->pmi", self.q, source) * live[:, None]
        nodes[:, 1:] += np.einsum("mji,pmj->pmi", self.p, source) * live[:, None]
        right[:, 6 * n :] = self._border(rest, lengths, target)
        if rest.bed is not None and run_of(model, self.path).met > 1:
            right[:, self.at] += self._by_bed(rest.bed, self._residual)
        step = np.zeros_like(right)
        given = shape.nodes[:, model.lower : model.upper + 1].reshape(count, -1)
        step[:, self.held] = given
        right = right[:, ~self.held] + given @ self.columns.T
        from scipy.linalg import lu_solve

        step[:, ~self.held] = -lu_solve(self.factor, right.T).T
        return step

    def _border(self, rest: RestRates, lengths: Array, target: Array) -> Array:
        """Return the rates (p, 6) of the string's equations at fixed unknowns."""
        model, border = self.model, self.path.border
        right = np.zeros((len(lengths), BORDER))
        if self.control == HEIGHT:
            right[:, TENSION + 1] = self._belly_rates(rest) - target
        if self.control != DRAW:
            return right
        _, direction, hessian = line_of_pull(model, border)
        right[:, POINT:TENSION] = border[PULL] * rest.hold_point @ hessian
        right[:, TENSION:PULL] = -lengths * (1.0 + border[TENSION:PULL] / model.string_stiffness)
        turned = -rest.hold_point @ hessian
        right[:, PULL] = turned @ (border[POINT:TENSION] - model.back) - rest.grip_back @ direction
        right[:, PULL] -= target
        return right

    def _residual(self, model: Model) -> Array:
        return self._string(model, self.control, self.target).residual

    def _by_bed(self, bed: Bed, found: Callable[[Model], Array]) -> Array:
        """Return the rates (p, ...) of what is found with a model, shape kept, as its bed changes.

        Central differences: how a line changes a string's way has no rounding to speak of.
        """
        rates, own = [], self.model.bed
        for k in range(len(bed.arm)):
            step = _BED_STEP / max(float(np.abs(bed.arm[k]).max()), 1e-3)
            sides = []
            for h in (step, -step):
                other = _moved(own, bed, k, h)
                sides.append(np.array(found(self.model._replace(bed=other))))
            rates.append((sides[0] - sides[1]) / (2.0 * step))
        return np.array(rates)

    def _belly_rates(self, rest: RestRates) -> Array:
        """Return the rates (p,) of the brace height as the belly of the grip moves."""
        ends = run_of(self.model, self.path).leaves
        slope = (ends[1, 0] - ends[0, 0]) / (ends[1, 2] - ends[0, 2])
        return np.asarray(slope * rest.grip_belly[:, 2] - rest.grip_belly[:, 0])

    def draw_length_rates(self, step: Array, rest: RestRates) -> Array:
        """Return the rates (p,) of a bow's draw length where the state leaves it free."""
        n, border = len(self.path.positions), self.path.border
        _, direction, hessian = line_of_pull(self.model, border)
        moved = step[:, 6 * n :][:, POINT:TENSION]
        arm = hessian @ (border[POINT:TENSION] - self.model.back)
        return np.asarray((moved - rest.grip_back) @ direction + (moved - rest.hold_point) @ arm)

    def height_rates(self, step: Array, rest: RestRates) -> Array:
        """Return the rates (p,) of a braced bow's brace height."""
        row = self._string(self.model, HEIGHT, self.state.brace_height).rows[1]
        rates = step[:, self.at] @ row + self._belly_rates(rest)
        if rest.bed is not None and run_of(self.model, self.path).met > 1:
            rates += self._by_bed(rest.bed, lambda model: np.array(string_height(model, self.path)))
        return np.asarray(rates)

    def string_lengths(self, step: Array, rest: RestRates) -> Array:
        """Return the rates (p, 2) of the unstretched lengths of a string made to fit."""
        parts = step[:, self.at] @ self.length_rows.T
        if rest.bed is not None and run_of(self.model, self.path).met > 1:
            parts += self._by_bed(rest.bed, lambda model: part_lengths(model, self.path))
        stretch = self.state.string_tension / self.bow.string.stiffness
        return np.asarray(parts / (1.0 + stretch))

    def free_string(self, step: Array, rest: RestRates, string: Array) -> Array:
        """Return the rates (p, 3, 3) of the string that touches nothing, `string` those of all.

        Where it leaves a limb is followed by central differences of its way.
        """
        if run_of(self.model, self.path).met == 1:
            return string
        rates, n = np.array(string), len(self.path.positions)
        nodes = step[:, : 6 * n].reshape(-1, n, 6)
        for k in range(len(step)):
            size = max(float(np.abs(step[k]).max()), 1.0)
            h, sides = _BED_STEP / size, []
            for sign in (h, -h):
                path, model = self.path.copy(), self.model
                for node in range(n):
                    move(path.rotations[node], path.positions[node], sign * nodes[k, node])
                path.border[:] += sign * step[k, 6 * n :]
                if rest.bed is not None:
                    model = model._replace(bed=_moved(model.bed, rest.bed, k, sign))
                sides.append(run_of(model, path).leaves)
            rates[k, ::2] = (sides[0] - sides[1]) / (2.0 * h)
        return rates

    def twist_rate(self, step: Array) -> Array:
        """Return the rates (p, m, 6) of the elements' twists by the nodes' movement."""
        n = len(self.path.positions)
        return _between(self.p, self.q, step[:, : 6 * n].reshape(-1, n, 6))


def _moved(bed: Bed, rates: Bed, k: int, step: float) -> Bed:
    """Return a bed moved along one of its rates."""
    arm, slope = bed.arm + step * rates.arm[k], bed.slope + step * rates.slope[k]
    return bed._replace(nock=bed.nock + step * rates.nock[k], arm=arm, slope=slope)


def reduced_unknowns(model: Model) -> NDArray[np.int64]:
    """Return where the reduced system's unknowns stand behind one another: nodes, then string."""
    n = len(model.length) + 1
    border = range(6 * n, 6 * n + BORDER)
    kept = [*range(model.kept), *range(n - 1, n - 1 - model.kept, -1)]
    return np.array([*border, *(6 * node + i for node in kept for i in range(6))])


def operators(twist: Array) -> tuple[Array, Array]:
    """Return P and Q (m, 6, 6) of `limbfe.beam.limbs.motion` for every twist (m, 6)."""
    p, q = np.empty((len(twist), 6, 6)), np.empty((len(twist), 6, 6))
    for e in range(len(twist)):
        tangent_operators(np.array(twist[e]), p[e], q[e])
    return p, q


def _between(p: Array, q: Array, nodes: Array) -> Array:
    moved: Array = np.einsum("mij,pmj->pmi", p, nodes[:, 1:])
    moved -= np.einsum("mij,pmj->pmi", q, nodes[:, :-1])
    return moved
