"""Equilibrium states of a bow in the world frame, made from what the compiled solver leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.element import resultants
from limbfe.beam.hold import line_of_pull
from limbfe.beam.model import LENGTH, Record
from limbfe.beam.stability import Motion, softest_motion, stable_states
from limbfe.frames import Array, read_only


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
        Distance the pull does work over (see `limbfe.beam.hold`), m: ``dW = force * d travel``.
    strain_energy, string_energy : float
        J.
    stable : bool
        Every neighbouring shape with the same travel has more energy.
    gives_way : {"sideways", "in the plane"} or None
        The motion in which a bow that is not stable gives way; None for a stable one.
    iterations : int
    residuals : tuple of float
        Newton's residuals on the last step, shares as in `limbfe.beam.newton.TOLERANCE`.
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
    bow: Bow, record: Record, string: Array, *, control: int, brace_height: float
) -> tuple[BowState, ...]:
    """Return the states of `record` in the world frame, with strains, energies and stability.

    Parameters
    ----------
    string : ndarray, shape (2,), m
        Unstretched lengths of the string's parts.
    control : int
        What the states prescribe (`limbfe.beam.model`); braced states keep the bow's own frame.
    """
    model = bow.model
    k, n = record.positions.shape[:2]
    strains, forces, energy = _recover(bow, record)
    stable = stable_states(model, record, string, control)
    point, tension = record.borders[:, :3], record.borders[:, 3:5]
    force, frame = np.zeros((k, 3)), np.empty((k, 3, 3))
    pivot, travel, length = np.zeros((k, 3)), np.empty(k), np.empty(k)
    for i in range(k):
        travel[i], direction, _ = line_of_pull(model, point[i])
        if not np.any(tension[i] > 0.0):
            # a slack string may lie in the hand, and is pulled nowhere
            direction[:] = 1.0, 0.0, 0.0
        length[i] = direction @ (point[i] - model.back)
        if control <= LENGTH:
            direction[:] = 1.0, 0.0, 0.0
        frame[i] = _turn_to_x(direction)
        pivot[i] = _pivot(bow, point[i])
        force[i, 0] = record.borders[i, 5]
    nodes = [0, n - 1]
    nocks = record.positions[:, nodes] + np.einsum(
        "knij,nj->kni", record.rotations[:, nodes], model.nocks
    )
    own = np.concatenate(
        [
            record.positions,
            nocks[:, :1],
            point[:, None],
            nocks[:, 1:],
            np.broadcast_to(np.stack([bow.grip_belly, bow.grip_back]), (k, 2, 3)),
        ],
        axis=1,
    )
    world = pivot[:, None] + np.einsum("kij,knj->kni", frame, own - pivot[:, None])
    rotations = np.einsum("kij,knjl->knil", frame, record.rotations)
    string_energy = 0.5 * np.sum(tension**2 * string, axis=1) / model.string_stiffness
    columns: dict[str, Any] = {
        "positions": world[:, :n],
        "rotations": rotations,
        "strains": strains,
        "resultants": forces,
        "nocking_point": world[:, n + 1],
        "string_points": world[:, n : n + 3],
        "string_tension": tension.copy(),
        "force": force,
        "frame": frame,
        "grip_belly": world[:, n + 3],
        "grip_back": world[:, n + 4],
        "string_lengths": np.broadcast_to(string, (k, 2)),
    }
    for array in columns.values():
        array.setflags(write=False)
    return tuple(
        BowState(
            draw_length=float(length[i]),
            brace_height=brace_height,
            travel=float(travel[i]),
            strain_energy=float(energy[i]),
            string_energy=float(string_energy[i]),
            stable=bool(stable[i]),
            gives_way=None if stable[i] else softest_motion(model, record, control, i),
            iterations=int(record.counts[i, 0]),
            residuals=tuple(record.residuals[i, : record.counts[i, 0]].tolist()),
            **{name: array[i] for name, array in columns.items()},
        )
        for i in range(k)
    )


def _recover(bow: Bow, record: Record) -> tuple[Array, Array, Array]:
    chain, model = bow.chain, bow.model
    k, m = len(record.positions), len(chain.length)
    twist, mean = np.empty((k, m, 6)), np.empty((k, m, 6))
    for i in range(k):
        resultants(
            record.rotations[i], record.positions[i], model.stiffness, model.offset,
            model.length, twist[i], mean[i],
        )  # fmt: skip
    forces = np.einsum("mgij,kmj->kmgi", chain.transport, mean)
    strains = np.einsum("mgij,kmgj->kmgi", chain.compliance, forces)
    energy = 0.5 * np.einsum("kmi,kmi->k", mean, twist - chain.twist)
    return strains, forces, energy


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
    """Return the smallest rotation that takes the unit vector `direction` to X."""
    x, y, z = direction
    across = np.array([[0.0, y, z], [-y, 0.0, 0.0], [-z, 0.0, 0.0]])
    turn: Array = np.eye(3) + across + across @ across / (1.0 + x)
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
