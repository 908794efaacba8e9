"""Natural frequencies and modes of limbs and string about a shape at rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.beam.shot.parts import LIES, Load, Motion, Scratch, ShotModel, new_scratch
from limbfe.beam.shot.step import step_equations
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only

_LONG, _SHORT = 1e9, 1e-9
"""Steps (s) so long that the masses, and so short that the stiffness, leave no trace."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """Small vibrations, slowest first.

    Attributes
    ----------
    frequency : ndarray, shape (k,), Hz
    nodes : ndarray, shape (k, n, 6)
        How the nodes move, section axes; the largest translation of all is 1 m.
    points : ndarray, shape (k, s - 1, 3)
        How the string's points move.
    string : ndarray, shape (s + 1, 3), m
        The string at rest: where it leaves the lower limb, its points, where it leaves the upper.
        Empty, as `ends`, where there is none.
    ends : ndarray, shape (k, 2, 3)
        How it moves there.
    """

    frequency: Array
    nodes: Array
    points: Array
    string: Array
    ends: Array


def natural_modes(model: ShotModel, motion: Motion, count: int, extra: float = 0.0) -> Modes:
    """Return the slowest vibrations about an equilibrium, the grip held fast, undamped.

    Parameters
    ----------
    model : ShotModel
    motion : Motion
        At rest, in balance.
    count : int
    extra : float, kg
        Mass on the nocking point beside the string's.

    Raises
    ------
    ConvergenceError
        If the shape is not stable.

    Notes
    -----
    The equations of a step are those of stiffness and masses, ``2 M/h^2 + K/2`` where nothing
    moves: a very long and a very short step give either.
    """
    factor, matrix = _inverse(model, motion, extra)
    squares, shapes = np.linalg.eigh(matrix)
    squares, shapes = squares[: -count - 1 : -1], shapes[:, : -count - 1 : -1]
    shapes = np.linalg.solve(factor.T, shapes).T
    nodes, points = _spread(model, shapes)
    largest = np.maximum(
        np.linalg.norm(nodes[..., :3], axis=2).max(axis=1),
        np.linalg.norm(points, axis=2).max(axis=1, initial=0.0),
    )
    frequency = 1.0 / (2.0 * np.pi * np.sqrt(squares))
    nodes, points = nodes / largest[:, None, None], points / largest[:, None, None]
    string, ends = np.zeros((0, 3)), np.zeros((len(nodes), 0, 3))
    if len(model.rest):
        leaves = motion.leaves if model.lies == LIES else motion.nocks
        string = np.concatenate([leaves[:1], motion.points, leaves[1:]])
        ends = np.stack(
            [_string_end(model, motion, nodes, points, side) for side in range(2)], axis=1
        )
    return Modes(
        frequency=read_only(frequency),
        nodes=read_only(nodes),
        points=read_only(points),
        string=read_only(string),
        ends=read_only(ends),
    )


def slowest_frequency(model: ShotModel, motion: Motion, extra: float = 0.0) -> float:
    """Return the first frequency (Hz) of `natural_modes` alone, in a quarter of the time."""
    squares = np.linalg.eigvalsh(_inverse(model, motion, extra)[1])
    return float(1.0 / (2.0 * np.pi * np.sqrt(squares[-1])))


def _inverse(model: ShotModel, motion: Motion, extra: float) -> tuple[Array, Array]:
    """Return the stiffness' Cholesky factor L and ``L^-1 M L^-T``.

    Of that the slowest vibrations are the largest eigenvalues, which rounding does not touch.  That
    the factor is a triangle is made no use of: SciPy's solver for those takes longer to load.
    """
    free = model._replace(grip=0, shares=np.zeros(0), delays=np.zeros(0), string_lag=0.0)
    work = new_scratch(free)
    load = Load(np.zeros((len(model.mass), 6)), np.zeros(6))
    stiffness = 2.0 * _equations(free, extra, load, motion, work, _LONG)
    mass = 0.5 * _SHORT**2 * _equations(free, extra, load, motion, work, _SHORT)
    try:
        factor = np.linalg.cholesky(0.5 * (stiffness + stiffness.T))
    except np.linalg.LinAlgError:
        raise ConvergenceError("vibrations: the shape at rest is not stable") from None
    half = np.linalg.solve(factor, 0.5 * (mass + mass.T))
    return np.asarray(factor, dtype=np.float64), np.linalg.solve(factor, half.T)


def _string_end(model: ShotModel, motion: Motion, nodes: Array, points: Array, side: int) -> Array:
    """Return how the string moves where it leaves a limb, shape (k, 3).

    With the limb, but along the belly's rulings, over which it slides, as what is straight between
    nock and point; that the place itself runs along the limb is left out.
    """
    inwards = 1 if side == 0 else -1
    tip, k = (0, 0) if side == 0 else (-1, -1)
    nock = _carried(motion, nodes, tip, motion.nocks[side])
    if model.lies != LIES or motion.along[side, 1] == 0.0:
        return nock
    leaves, (length, elements) = motion.leaves[side], motion.along[side]
    inner, share = int(elements), float(elements) % 1.0
    near, far = tip + inwards * inner, tip + inwards * (inner + 1)
    with_limb = (1.0 - share) * _carried(motion, nodes, near, leaves)
    with_limb += share * _carried(motion, nodes, far, leaves)
    free = float(np.linalg.norm(motion.points[k] - leaves)) / float(length)
    straight = free * nock + (1.0 - free) * points[:, k]
    ruling = motion.rotations[tip][:, 1]
    return np.asarray(with_limb + np.outer((straight - with_limb) @ ruling, ruling))


def _carried(motion: Motion, nodes: Array, node: int, place: Array) -> Array:
    """Return how a place that is fixed to a node moves, shape (k, 3)."""
    turn = motion.rotations[node]
    arm = turn.T @ (place - motion.positions[node])
    return np.asarray((nodes[:, node, :3] + np.cross(nodes[:, node, 3:], arm)) @ turn.T)


def _equations(
    model: ShotModel, extra: float, load: Load, motion: Motion, work: Scratch, h: float
) -> Array:
    work.delta[:] = 0.0
    step_equations(model, extra, load, motion, motion.copy(), work, h, True)
    out = np.zeros((model.size, model.size))
    for shift in range(-model.band, model.band + 1):
        rows = np.arange(max(0, -shift), min(model.size, model.size - shift))
        out[rows, rows + shift] = work.band[rows, model.band + shift]
    return out


def _spread(model: ShotModel, shapes: Array) -> tuple[Array, Array]:
    """Return modes as movements of nodes and of the string's points."""
    nodes = np.zeros((len(shapes), len(model.mass), 6))
    points = np.zeros((len(shapes), len(model.point), 3))
    for node, at in enumerate(model.place):
        if at >= 0:
            nodes[:, node] = shapes[:, at : at + 6]
    for k, at in enumerate(model.point):
        points[:, k] = shapes[:, at : at + 3]
    return nodes, points
