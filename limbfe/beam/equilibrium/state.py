"""Equilibrium states of a bow in the world frame, made from what the compiled solver leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.stability import Motion, softest_motion, stable_states
from limbfe.beam.limbs.chain import energy_given
from limbfe.beam.model import BRACED, POINT, PULL, TENSION, Equilibrium, Path
from limbfe.beam.string.course import run_of
from limbfe.beam.string.hold import length_along_pull, line_of_pull
from limbfe.frames import Array, read_only

AHEAD = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BowState:
    """One equilibrium of a bow.  World frame: X along the pull (a braced bow: its own frame).

    Attributes
    ----------
    positions, rotations : ndarray, shapes (n, 3), (n, 3, 3), m, world frame
        Nodes and their section axes (columns).
    strains, resultants : ndarray, shape (n - 1, 2, 6), section axes
        At the Gauss points of each element (1, 1/m; N, N m).
    nocking_point : ndarray, shape (3,), m, world frame
    string_points : ndarray, shape (3, 3), m, world frame
        Lower nock, nocking point, upper nock.
    free_string : ndarray, shape (3, 3), m, world frame
        The same of the string that touches nothing: where it leaves the limbs, the nocks where it
        lies on neither.  What its pull and the limbs' push do to the rest of a limb, its free part
        does alone.
    string_lies : ndarray, shape (2,), m
        How much of it lies on the lower and the upper limb.
    string_lengths : ndarray, shape (2,), m
        Unstretched lengths of the lower and the upper part.
    string_tension : ndarray, shape (2,), N
        Of the lower and the upper part; zero in a slack string.
    force : ndarray, shape (3,), N, world frame
        The archer's pull on the nocking point.
    draw_length : float
        From the back at the middle of the grip to the nocking point along the pull, m; of a braced
        bow along the line on which it will be pulled, so that its draw begins there.
    brace_height : float
        From the belly at the middle of the grip to the string when braced, m; not a number for
        a bow that was never braced.
    travel : float
        Distance the pull does work over (see `beam.string.hold`), m: ``dW = force * d travel``.
    strain_energy, string_energy : float
        J.
    stable : bool
        Every neighbouring shape with the same travel has more energy.
    gives_way : {"sideways", "in the plane"} or None
        The motion in which a bow that is not stable gives way; None for a stable one.
    iterations : int
    residuals : tuple of float
        Newton's residuals on the last step, shares as in `equilibrium.newton.TOLERANCE`.
    frame : ndarray, shape (3, 3)
        Turns vectors of the bow's own frame into the world frame.
    grip_belly, grip_back : ndarray, shape (3,), m, world frame
    """

    positions: Array
    rotations: Array
    strains: Array
    resultants: Array
    nocking_point: Array
    string_points: Array
    free_string: Array
    string_lies: Array
    string_lengths: Array
    string_tension: Array
    force: Array
    draw_length: float
    brace_height: float
    travel: float
    strain_energy: float
    string_energy: float
    stable: bool
    gives_way: Motion | None
    iterations: int
    residuals: tuple[float, ...]
    frame: Array
    grip_belly: Array
    grip_back: Array

    @property
    def draw_force(self) -> float:
        """Magnitude of the pull, N."""
        return float(self.force[0])

    @property
    def slack(self) -> bool:
        """Whether the string carries nothing."""
        return not np.any(self.string_tension > 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawHistory:
    """The states of a draw, in the order asked for.

    Attributes
    ----------
    braced : BowState
        Where the draw began.
    states : tuple of BowState, length k
    draw_length, force, energy : ndarray, shape (k,), m, N, J
        `energy` is that of limbs and string together.
    string_tension : ndarray, shape (k, 2), N
    stable : ndarray of bool, shape (k,)
    unstable_at : float or None
        Draw length at which sideways (or any other) stability was first lost, m.
    """

    braced: BowState
    states: tuple[BowState, ...]
    draw_length: Array
    force: Array
    energy: Array
    string_tension: Array
    stable: Any
    unstable_at: float | None

    def __len__(self) -> int:
        return len(self.states)

    def __getitem__(self, index: int) -> BowState:
        return self.states[index]


def make_states(
    bow: Bow, points: Sequence[Equilibrium], *, control: int, brace_height: float
) -> tuple[BowState, ...]:
    """Return equilibria in the world frame, with strains, energies and stability.

    Parameters
    ----------
    control : int
        What they prescribe (`limbfe.beam.model`); braced states keep the bow's own frame.
    """
    if not points:
        return ()
    model = bow.model
    k, n = len(points), len(bow.chain.positions)
    strains, forces, energy = _recover(bow, points)
    stable = stable_states(model, points, control)
    positions, turned, borders, string = (
        np.stack(arrays) for arrays in zip(*(_shape(point) for point in points), strict=True)
    )
    point, tension = borders[:, POINT:TENSION], borders[:, TENSION:PULL]
    pulls = [line_of_pull(model, place) for place in point]
    direction = np.array([gradient for _, gradient, _ in pulls])
    # a slack string may lie in the hand, and is pulled nowhere
    direction[~(tension > 0.0).any(axis=1)] = AHEAD
    length = ((point - model.back) * direction).sum(axis=1)
    frame = _turn_to_x(np.broadcast_to(AHEAD, (k, 3)) if control in BRACED else direction)
    pivot = np.array([_pivot(bow, place) for place in point])
    force = np.zeros((k, 3))
    force[:, 0] = borders[:, PULL]
    ends = [0, n - 1]
    nocks = positions[:, ends] + np.einsum("knij,nj->kni", turned[:, ends], model.nocks)
    grip = np.broadcast_to(np.stack([bow.grip_belly, bow.grip_back]), (k, 2, 3))
    runs = [run_of(model, equilibrium.path) for equilibrium in points]
    leaves = np.stack([run.leaves for run in runs])
    middle = point[:, None]
    strings = [nocks[:, :1], middle, nocks[:, 1:], leaves[:, :1], middle, leaves[:, 1:]]
    own = np.concatenate([positions, *strings, grip], axis=1)
    world = pivot[:, None] + np.einsum("kij,knj->kni", frame, own - pivot[:, None])
    string_energy = 0.5 * np.sum(tension**2 * string, axis=1) / model.string_stiffness
    columns: dict[str, Any] = {
        "positions": world[:, :n],
        "rotations": np.einsum("kij,knjl->knil", frame, turned),
        "strains": strains,
        "resultants": forces,
        "nocking_point": world[:, n + 1],
        "string_points": world[:, n : n + 3],
        "free_string": world[:, n + 3 : n + 6],
        "string_lies": np.stack([run.touching for run in runs]),
        "string_tension": tension.copy(),
        "force": force,
        "frame": frame,
        "grip_belly": world[:, n + 6],
        "grip_back": world[:, n + 7],
        "string_lengths": string,
    }
    for array in columns.values():
        array.setflags(write=False)
    return tuple(
        BowState(
            draw_length=float(length[i]),
            brace_height=brace_height,
            travel=float(pulls[i][0]),
            strain_energy=float(energy[i]),
            string_energy=float(string_energy[i]),
            stable=bool(stable[i]),
            gives_way=None if stable[i] else softest_motion(model, points[i], control),
            iterations=len(points[i].residuals),
            residuals=points[i].residuals,
            **{name: array[i] for name, array in columns.items()},
        )
        for i in range(k)
    )


def _shape(point: Equilibrium) -> tuple[Array, Array, Array, Array]:
    path = point.path
    return path.positions, path.rotations, path.border, path.string


def _recover(bow: Bow, points: Sequence[Equilibrium]) -> tuple[Array, Array, Array]:
    """Return strains and resultants (k, m, 2, 6) and the limbs' elastic energies (k,)."""
    chain, model = bow.chain, bow.model
    if points[0].resultants is None:
        unit = np.stack([point.twist for point in points]) / chain.length[:, None]
        mean = (model.stiffness @ unit[..., None])[..., 0] + model.offset
        forces = (chain.transport @ mean[..., None, :, None])[..., 0]
    else:
        forces = np.stack([point.resultants for point in points if point.resultants is not None])
    bent = (chain.compliance @ forces[..., None])[..., 0]
    per_length = 0.25 * (forces * bent).sum(axis=(2, 3)) + energy_given(chain, forces)
    energy = per_length @ chain.length
    answered = [point.strains for point in points if point.strains is not None]
    return np.stack(answered) if answered else bent, forces, energy


def path_of(bow: Bow, state: BowState) -> tuple[Path, float]:
    """Return the solver's path at a state (braced or drawn) and its draw length along the pull."""
    point = own_frame(bow, state, state.nocking_point)
    path = Path(
        np.ascontiguousarray(np.swapaxes(state.frame, 0, 1) @ state.rotations),
        own_frame(bow, state, state.positions),
        np.array([*point, *state.string_tension, state.draw_force]),
        np.array(state.string_lengths, order="C"),
        np.array(state.string_tension <= 0.0, dtype=np.int64),
    )
    return path, length_along_pull(bow.model, path.border)


def own_frame(bow: Bow, state: BowState, points: Array) -> Array:
    """Return points of a state in the bow's own frame, in which its grip has not moved.

    Parameters
    ----------
    bow : Bow
    state : BowState
    points : ndarray, shape (..., 3), m
        World frame: X along the pull.

    Returns
    -------
    ndarray, shape (..., 3), m
    """
    moved = points - state.grip_back
    out: Array = np.ascontiguousarray(moved @ state.frame + bow.grip_back)
    return out


def _turn_to_x(direction: Array) -> Array:
    """Return the smallest rotations (k, 3, 3) that take unit vectors (k, 3) to X."""
    across = np.zeros((len(direction), 3, 3))
    across[:, 0, 1:] = direction[:, 1:]
    across[:, 1:, 0] = -direction[:, 1:]
    along = (1.0 + direction[:, 0])[:, None, None]
    turn: Array = np.eye(3) + across + across @ across / along
    return turn


def _pivot(bow: Bow, point: Array) -> Array:
    pivot = np.array(bow.hold.point)
    if bow.hold.kind == "tiller":
        beyond = point[2] - pivot[2]
        if abs(beyond) > bow.hold.half_length:
            pivot[2] += np.copysign(bow.hold.half_length, beyond)
    return pivot


def history(
    braced: BowState, states: tuple[BowState, ...], unstable_at: float | None
) -> DrawHistory:
    """Gather the states of a draw."""
    return DrawHistory(
        braced=braced,
        states=states,
        draw_length=read_only([state.draw_length for state in states]),
        force=read_only([state.draw_force for state in states]),
        energy=read_only([state.strain_energy + state.string_energy for state in states]),
        string_tension=read_only([state.string_tension for state in states]),
        stable=np.array([state.stable for state in states], dtype=bool),
        unstable_at=unstable_at,
    )
