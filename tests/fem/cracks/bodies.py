"""Plane bodies of wood with a line along the grain that may split, meshed for the tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.assembly import assemble, element_stiffness, make_pattern, matrix, strains
from limbfe.fem.cracks.closure import Closure, Growth, grow, make_closure
from limbfe.fem.cracks.slit import Slit, cut_slit, jump_operator, line_nodes, release_steps
from limbfe.fem.delaunay import missing_segments, parts, triangulate
from limbfe.fem.mesh import PlaneMesh, Quadrature, quadrature, second_order
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve
from limbfe.frames import Array

E_L, E_T, G_LT, NU_LT = 13e9, 1e9, 0.9e9, 0.45
COMPLIANCE = np.array(
    [[1 / E_L, -NU_LT / E_L, 0.0], [-NU_LT / E_L, 1 / E_T, 0.0], [0.0, 0.0, 1 / G_LT]]
)
Index = NDArray[np.int64]
Path = Callable[[Array], Array]


@dataclass(frozen=True, kw_only=True)
class Body:
    """A body with an open line, its factorised stiffness under given end forces."""

    mesh: PlaneMesh
    at: Quadrature
    slit: Slit
    lengths: Array
    closure: Closure
    under: Array

    def growth(self, load: float, *, contact: bool = True) -> Growth:
        """The crack at every length under `load` times the unit load."""
        steps = release_steps(self.slit, self.lengths)
        free = load * (self.closure.jump @ self.under)
        return grow(self.closure, free, np.tile(steps, 2), self.lengths, contact=contact)


def split_body(
    mesh: PlaneMesh,
    line: Index,
    held: Callable[[Array], Index],
    load: Callable[[Array, Slit], Array] | None = None,
    moved: Callable[[Array], tuple[Index, Array]] | None = None,
) -> Body:
    """A body whose line starts at a free boundary.

    `held` picks unknowns that do not move, `load` gives nodal forces.  `moved` gives unknowns of
    a rigid end and its motions, shape (m, r), of which the first bears the unit load and all are
    free otherwise.
    """
    corners = mesh.nodes[line]
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))])
    mesh, slit = cut_slit(mesh, line_nodes(mesh, line), open_start=True)
    at = quadrature(mesh, *triangle_rule(4))
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    stiffness = np.broadcast_to(np.linalg.inv(COMPLIANCE), (*at.weights.shape, 3, 3))
    K = matrix(pattern, assemble(pattern, element_stiffness(at, stiffness)))
    fixed, modes = held(mesh.nodes), np.zeros((0, 0))
    if moved is not None:
        more, motions = moved(mesh.nodes)
        modes = np.vstack([np.zeros((len(fixed), motions.shape[1])), motions])
        fixed = np.concatenate([fixed, more])
    factor = factorise(K, fixed)
    motion = solve(factor, np.zeros((K.shape[0], modes.shape[1])), modes) if moved else modes
    end_stiffness = modes.T @ (factor.coupling.T @ motion) if moved else modes

    def answer(force: Array) -> Array:
        u = solve(factor, force, np.zeros((len(fixed), force.shape[1])))
        if moved is None:
            return u
        reaction = modes.T @ (factor.coupling.T @ u - force[fixed])
        return u - motion @ np.linalg.solve(end_stiffness, reaction)

    if load is not None:
        under = answer(load(mesh.nodes, slit)[:, None])[:, 0]
    else:
        unit = np.zeros(modes.shape[1])
        unit[0] = 1.0
        under = motion @ np.linalg.solve(end_stiffness, unit)
    pairs = len(slit.right)
    jump = jump_operator(slit, K.shape[0])
    closure = make_closure(jump, np.arange(2 * pairs) < pairs, answer)
    return Body(mesh=mesh, at=at, slit=slit, lengths=lengths, closure=closure, under=under)


def lattice(x: Array, y: Array) -> tuple[PlaneMesh, Index]:
    """A rectangle of triangles, and the number of every lattice point, shape (x, y)."""
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    n = np.arange(len(points)).reshape(len(x), len(y))
    a, b, c, d = (k.ravel() for k in (n[:-1, :-1], n[1:, :-1], n[1:, 1:], n[:-1, 1:]))
    triangles = np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return second_order(points, triangles, np.zeros(len(triangles), int)), n


def straight(start: tuple[float, float], stop: tuple[float, float]) -> Path:
    """A straight piece of boundary for s from 0 to 1."""
    p, q = np.array(start), np.array(stop)
    return lambda s: p + s[:, None] * (q - p)


def arc(radius: float, middle: tuple[float, float], start: float, stop: float) -> Path:
    """A piece of a circle from one angle to another."""

    def at(s: Array) -> Array:
        t = start + s * (stop - start)
        return np.array(middle) + radius * np.stack([np.cos(t), np.sin(t)], axis=1)

    return at


def meshed(
    pieces: list[Path],
    size: Callable[[Array], Array],
    inside: Callable[[Array], NDArray[np.bool_]],
    line: int,
) -> tuple[PlaneMesh, Index]:
    """Triangles between pieces of boundary, one of them a line inside; its corner nodes."""
    sampled = [_sampled(piece, size) for piece in pieces]
    every = np.vstack(sampled)
    key = np.round(every / 1e-9).astype(np.int64)
    _, first, number = np.unique(key, axis=0, return_index=True, return_inverse=True)
    chains = np.split(number.ravel(), np.cumsum([len(one) for one in sampled])[:-1])
    segments = np.vstack([np.stack([one[:-1], one[1:]], axis=1) for one in chains])
    points, triangles = triangulate(every[first], segments, size, inside, 5)
    assert not missing_segments(points, triangles, segments).any()
    count, part = parts(triangles, segments, len(points))
    centre = points[triangles].mean(axis=1)
    keep = np.array([inside(centre[part == k]).mean() > 0.5 for k in range(count)])[part]
    used = np.unique(triangles[keep])
    new = np.full(len(points), -1)
    new[used] = np.arange(len(used))
    mesh = second_order(points[used], new[triangles[keep]], np.zeros(int(keep.sum()), int))
    return mesh, new[chains[line]]


def _sampled(piece: Path, size: Callable[[Array], Array]) -> Array:
    s = np.linspace(0.0, 1.0, 4000)
    points = piece(s)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    total = np.concatenate([[0.0], np.cumsum(step / size(0.5 * (points[1:] + points[:-1])))])
    count = max(int(np.ceil(total[-1])), 1)
    return piece(np.interp(np.linspace(0.0, total[-1], count + 1), total, s))


def stress_at_nodes(body: Body, displacement: Array) -> Array:
    """Stress at every element's quadrature points, shape (m, q, 3), Pa."""
    strain = strains(body.at, body.mesh.elements, displacement)
    out: Array = strain @ np.linalg.inv(COMPLIANCE)
    return out
