"""Equilibrium of a chain under nodal loads with any of its dofs held, and its vibrations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.beam.bow import rest_offset
from limbfe.beam.equilibrium.newton import MAX_ITERATIONS, TOLERANCE
from limbfe.beam.limbs.chain import GAUSS, GAUSS_POINTS, Chain, force_scale
from limbfe.beam.limbs.element import assemble, resultants
from limbfe.beam.limbs.motion import move, tangent_operators, twist_between
from limbfe.beam.limbs.placing import rebuild
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array, read_only, skew

_SMALLEST_STEP = 1e-4
_BAND = 11


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """Nodal loads at load factor 1.

    Parameters
    ----------
    dead : array_like, shape (n, 6), N and N m, global axes
        Forces and moments that keep their direction.
    follower : array_like, shape (n, 6), N and N m, section axes
        Forces and moments that turn with their node.
    """

    dead: Array
    follower: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChainState:
    """One equilibrium of a chain.

    Attributes
    ----------
    positions, rotations : ndarray, shapes (n, 3), (n, 3, 3), global axes
    resultants : ndarray, shape (n - 1, 2, 6), section axes, N and N m
    reactions : ndarray, shape (n, 6), global axes
        Internal nodal force less load; zero where nothing is held.
    factor : float
        Load factor.
    residuals : tuple of float
        Newton's residuals over the force scale.
    tangent : ndarray, shape (6 n, 6 n)
        Derivative of the nodal residual by global translations and rotations; symmetric at an
        equilibrium under dead forces.
    """

    positions: Array
    rotations: Array
    resultants: Array
    reactions: Array
    factor: float
    residuals: tuple[float, ...]
    tangent: Array


def follow_load(
    chain: Chain,
    fixed: Any,
    loads: Loads,
    factors: Any,
    *,
    controlled: tuple[int, int] | None = None,
) -> tuple[ChainState, ...]:
    """Return the equilibria along a load path that starts at rest.

    Parameters
    ----------
    chain : Chain
    fixed : array_like of bool, shape (n, 6)
        Held translations and rotations, global axes.
    loads : Loads
    factors : array_like, shape (k,)
        Load factors, or with `controlled` the displacements of that dof, m or rad.
    controlled : (node, dof), optional
        The dof whose displacement is prescribed while the load factor follows from it, so that
        the path can pass a limit load.  A translation.

    Raises
    ------
    ConvergenceError
        If a step cannot be made however small.
    """
    n = len(chain.positions)
    held = np.asarray(fixed, dtype=bool).reshape(n, 6)
    if controlled is not None and (controlled[1] > 2 or held[controlled]):
        raise GeometryError(f"controlled dof {controlled}: must be a translation that is free")
    system = _System(chain, held, loads, controlled)
    states: list[ChainState] = []
    rotations, positions, factor = np.array(chain.rotations), np.array(chain.positions), 0.0
    value = 0.0
    for target in np.atleast_1d(np.asarray(factors, dtype=np.float64)):
        done, step = 0.0, 1.0
        while done < 1.0:
            at = min(1.0, done + step)
            trial = rotations.copy(), positions.copy()
            state = system.newton(*trial, factor, value + at * (target - value))
            if state.residuals[-1] < TOLERANCE:
                rotations, positions = trial
                done, step, factor = at, 2.0 * step, state.factor
                continue
            step *= 0.25
            if step < _SMALLEST_STEP:
                raise ConvergenceError(
                    f"chain: no equilibrium found at {value + at * (target - value):.6g} "
                    f"(last reached {value + done * (target - value):.6g}); control a "
                    "displacement if the load has a limit there",
                    iteration=len(state.residuals),
                    residuals=state.residuals,
                    last_state=states[-1] if states else None,
                )
        value = float(target)
        states.append(state)
    return tuple(states)


class _System:
    """The equations of one load path; only `newton` is used from outside."""

    def __init__(
        self, chain: Chain, held: Array, loads: Loads, controlled: tuple[int, int] | None
    ) -> None:
        n = len(chain.positions)
        self.chain, self.held, self.controlled = chain, held, controlled
        self.dead = np.asarray(loads.dead, dtype=np.float64).reshape(n, 6)
        self.follower = np.asarray(loads.follower, dtype=np.float64).reshape(n, 6)
        self.offset = rest_offset(chain, chain.element_stiffness)
        self.size = float(np.sum(chain.length))
        self.force = force_scale(chain)

    def newton(self, rotations: Array, positions: Array, factor: float, value: float) -> ChainState:
        """Iterate in place; the state returned may not have converged (see its residuals)."""
        residuals: list[float] = []
        free = np.logical_not(self.held.ravel())
        for _ in range(MAX_ITERATIONS):
            if self.controlled is None:
                factor = value
            tangent, internal, load, load_tangent = self._equations(rotations, positions)
            tangent = tangent - factor * load_tangent
            residual = (internal - factor * load).ravel()
            prescribed = self._held_increment(rotations, positions).ravel()
            norm = self._norm(residual, load, factor, free, prescribed)
            gap = 0.0
            if self.controlled is not None:
                node, dof = self.controlled
                gap = value - (positions - self.chain.positions)[node, dof]
                norm = max(norm, abs(gap) / self.size)
            residuals.append(norm)
            if not norm < 1e12 or norm < TOLERANCE:
                break
            try:
                columns = _solve(tangent, free, prescribed, np.stack([-residual, load.ravel()], 1))
            except np.linalg.LinAlgError:
                residuals.append(np.inf)
                break
            step = columns[:, 0]
            if self.controlled is not None:
                at = 6 * self.controlled[0] + self.controlled[1]
                change = (gap - step[at]) / columns[at, 1]
                factor += change
                step = step + change * columns[:, 1]
            self._update(rotations, positions, step.reshape(-1, 6))
        return ChainState(
            positions=read_only(positions),
            rotations=read_only(rotations),
            resultants=read_only(self._resultants(rotations, positions)),
            reactions=read_only(residual.reshape(-1, 6)),
            factor=float(factor),
            residuals=tuple(residuals),
            tangent=read_only(tangent),
        )

    def _norm(
        self, residual: Array, load: Array, factor: float, free: Array, prescribed: Array
    ) -> float:
        weight = np.tile([1.0] * 3 + [1.0 / self.size] * 3, len(load))
        scale = max(self.force, float(np.abs(factor * load.ravel() * weight).max()))
        norm = np.abs(residual * weight * free).max() / scale
        return float(max(norm, np.abs(prescribed / (weight * self.size)).max()))

    def _equations(self, rotations: Array, positions: Array) -> tuple[Array, Array, Array, Array]:
        """Return tangent (6n, 6n), internal force, load and the load's tangent, global axes."""
        n = len(positions)
        diag, off, body = np.zeros((n, 6, 6)), np.zeros((n - 1, 6, 6)), np.zeros((n, 6))
        assemble(
            rotations, positions, np.array(self.chain.element_stiffness), self.offset,
            np.array(self.chain.length), 0, n - 1, diag, off, body,
        )  # fmt: skip
        turn = np.zeros((n, 6, 6))
        turn[:, :3, :3] = turn[:, 3:, 3:] = rotations
        back = np.swapaxes(turn, 1, 2)
        internal = np.einsum("nij,nj->ni", turn, body)
        follower = np.einsum("nij,nj->ni", turn, self.follower)
        blocks = turn @ diag @ back
        upper = turn[:-1] @ off @ back[1:]
        tangent, load_tangent = np.zeros((n, 6, n, 6)), np.zeros((n, 6, n, 6))
        at = np.arange(n)
        for rows in (slice(0, 3), slice(3, 6)):
            blocks[:, rows, 3:] -= skew(internal[:, rows])
            turned = np.zeros((n, 6, 6))
            turned[:, rows, 3:] = -skew(follower[:, rows])
            load_tangent[at, :, at, :] += turned
        tangent[at, :, at, :] = blocks
        tangent[at[:-1], :, at[1:], :] = upper
        tangent[at[1:], :, at[:-1], :] = np.swapaxes(upper, 1, 2)
        load = self.dead + follower
        return tangent.reshape(6 * n, 6 * n), internal, load, load_tangent.reshape(6 * n, 6 * n)

    def _held_increment(self, rotations: Array, positions: Array) -> Array:
        """Return what brings the held dofs back to rest, zero elsewhere, shape (n, 6)."""
        relative = self.chain.rotations @ np.swapaxes(rotations, 1, 2)
        turn = 0.5 * np.stack(
            [relative[:, 2, 1] - relative[:, 1, 2], relative[:, 0, 2] - relative[:, 2, 0],
             relative[:, 1, 0] - relative[:, 0, 1]], axis=1,
        )  # fmt: skip
        back: Array = np.where(
            self.held, np.concatenate([self.chain.positions - positions, turn], axis=1), 0.0
        )
        return back

    def _update(self, rotations: Array, positions: Array, step: Array) -> None:
        turn = np.abs(step[:, 3:]).max()
        factor = min(1.0, 0.5 / turn) if turn > 0.0 else 1.0
        body = np.concatenate(
            [np.einsum("nji,nj->ni", rotations, step[:, k : k + 3]) for k in (0, 3)], axis=1
        )
        first, old = rotations[0].copy(), positions[0].copy()
        place = old.copy()
        rebuild(rotations, positions, body, factor, 0, len(positions) - 1)
        move(first, place, factor * body[0])
        # the rebuilt chain starts at the unmoved first node: carry it along rigidly, by an exact
        # rotation (a product with an inverse would triple the rounding at every step)
        carry, unused = np.eye(3), np.zeros(3)
        move(carry, unused, np.concatenate([np.zeros(3), factor * step[0, 3:]]))
        positions[:] = place + (positions - old) @ carry.T
        rotations[:] = carry @ rotations

    def _resultants(self, rotations: Array, positions: Array) -> Array:
        m = len(self.chain.length)
        twist, mean = np.empty((m, 6)), np.empty((m, 6))
        resultants(
            rotations, positions, np.array(self.chain.element_stiffness), self.offset,
            np.array(self.chain.length), twist, mean,
        )  # fmt: skip
        out: Array = np.einsum("mgij,mj->mgi", self.chain.transport, mean)
        return out


def _solve(tangent: Array, free: Array, prescribed: Array, columns: Array) -> Array:
    """Solve the banded system; held rows give the first column its prescribed increments."""
    size = len(tangent)
    matrix = np.where(free[:, None], tangent, np.eye(size))
    right = np.where(free[:, None], columns, 0.0)
    right[:, 0] += np.where(free, 0.0, prescribed)
    band = np.zeros((2 * _BAND + 1, size))
    for shift in range(-_BAND, _BAND + 1):
        diagonal = np.diagonal(matrix, shift)
        start = max(shift, 0)
        band[_BAND - shift, start : start + len(diagonal)] = diagonal
    from scipy.linalg import solve_banded  # not loaded by the commands that only draw

    solution: Array = solve_banded((_BAND, _BAND), band, right)
    return solution


def mass_matrix(chain: Chain, rotations: Any, positions: Any) -> Array:
    """Return the consistent mass (6n, 6n) for global translations and rotations, kg, kg m, kg m2.

    Velocities inside an element are those of the helicoid between its moving nodes.
    """
    n = len(chain.positions)
    mass = np.zeros((n, 6, n, 6))
    p, q, part, unused = (np.empty((6, 6)) for _ in range(4))
    turn = np.zeros((n, 6, 6))
    turn[:, :3, :3] = turn[:, 3:, 3:] = rotations
    for e in range(n - 1):
        d = _twist(rotations, positions, e)
        tangent_operators(d, p, q)
        nodes = slice(e, e + 2)
        for g in range(GAUSS_POINTS):
            share = 0.5 + GAUSS[g]
            tangent_operators(share * d, part, unused)
            rate = share * np.linalg.solve(part, np.hstack([-q, p]))
            rate[:, :6] += _adjoint(-share * d)
            shape = rate @ np.block(
                [[turn[e].T, np.zeros((6, 6))], [np.zeros((6, 6)), turn[e + 1].T]]
            )
            local = 0.5 * chain.length[e] * shape.T @ chain.mass[e, g] @ shape
            mass[nodes, :, nodes, :] += local.reshape(2, 6, 2, 6)
    out: Array = mass.reshape(6 * n, 6 * n)
    return out


def _twist(rotations: Array, positions: Array, e: int) -> Array:
    d = np.empty(6)
    frames, places = np.array(rotations[e : e + 2]), np.array(positions[e : e + 2])
    twist_between(frames[0], places[0], frames[1], places[1], d)
    return d


def _adjoint(twist: Array) -> Array:
    frame, place = np.eye(3), np.zeros(3)
    move(frame, place, twist)
    out = np.zeros((6, 6))
    out[:3, :3] = out[3:, 3:] = frame
    out[:3, 3:] = skew(place) @ frame
    return out


def natural_frequencies(chain: Chain, state: ChainState, fixed: Any, count: int) -> Array:
    """Return the lowest angular frequencies of small vibrations about an equilibrium, rad/s.

    Parameters
    ----------
    state : ChainState
        Under dead forces or none; `follow_load` with factor 0 gives the chain at rest.
    fixed : array_like of bool, shape (n, 6)
    count : int

    Returns
    -------
    ndarray, shape (count,)
        Increasing; rigid motions are (nearly) zero, an unstable shape gives nan.
    """
    free = np.flatnonzero(~np.asarray(fixed, dtype=bool).ravel())
    mass = mass_matrix(chain, state.rotations, state.positions)[np.ix_(free, free)]
    tangent = state.tangent[np.ix_(free, free)]
    square = lowest_squares(tangent, mass, count, _frequency_scale(chain))
    with np.errstate(invalid="ignore"):
        frequencies: Array = np.sqrt(square)
    return frequencies


def lowest_squares(tangent: Array, mass: Array, count: int, scale: float) -> Array:
    """Return the lowest `count` eigenvalues of (tangent, mass), increasing.

    Solved for the reciprocals of shifted eigenvalues: the low ones would drown in the rounding
    of the highest, which are larger by 1e12.
    """
    from scipy.linalg import eigh  # not loaded by the commands that only draw

    symmetric, shift, size = 0.5 * (tangent + tangent.T), scale, len(mass)
    for _ in range(12):
        try:
            inverse = eigh(
                mass, symmetric + shift * mass, eigvals_only=True,
                subset_by_index=[size - count, size - 1],
            )  # fmt: skip
        except np.linalg.LinAlgError:
            shift *= 10.0
            continue
        square: Array = 1.0 / inverse[::-1] - shift
        return np.where(np.abs(square) < 1e-6 * shift, 0.0, square)
    raise ConvergenceError("vibration: the tangent is far from positive; the shape is unstable")


def _frequency_scale(chain: Chain) -> float:
    """Return the square of a frequency typical of bending, (rad/s)^2."""
    bending = np.mean(chain.stiffness[:, :, 4, 4]) / np.mean(chain.mass[:, :, 0, 0])
    return float(bending / np.sum(chain.length) ** 4)
