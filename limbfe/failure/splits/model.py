"""The plane model of a panel: what its lines and its fibres answer to load and to splitting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from limbfe.defect.grain_flow import fibre_angle
from limbfe.defect.plane import knot_stiffness, plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.errors import GeometryError
from limbfe.failure.splits.panel import Opening, Panel, settled
from limbfe.fem.assembly import assemble, element_stiffness, make_pattern, matrix
from limbfe.fem.cracks.closure import Answer, Closure, Growth, make_closure
from limbfe.fem.cracks.slit import jump_operator
from limbfe.fem.element import triangle6
from limbfe.fem.mesh import Index, quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.raster import Grid, rasterise
from limbfe.fem.solve import factorise, solve
from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity

ALONG, SAMPLE = 1e-3, 0.125e-3
"""Length (m) of wood over which a fibre's stress is averaged, and the distance of the places at
which it is taken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """A solved panel.

    Attributes
    ----------
    closure : Closure
        Of its pairs: the joint's first, `rim` rows, then line by line, opening and sliding.
    answer : Answer
    under : ndarray, shape (n,), m
        Displacements under the load with every line open.
    free : ndarray, shape (r,), m
        Jumps under that.
    rim : int
    """

    closure: Closure
    answer: Answer
    under: Array
    free: Array
    rim: int


def solve_panel(
    panel: Panel,
    opening: Opening,
    wood: Elasticity,
    knot: tuple[float, float] | None,
    load: tuple[float, float],
) -> Model:
    """Factorise a panel that is pulled and bent at a plane end, which may turn.

    Parameters
    ----------
    panel : Panel
    opening : Opening
    wood : Elasticity
    knot : tuple of float, optional
        Young's modulus (Pa) and Poisson's ratio of what is in the zone.
    load : tuple of float
        Force (N) and moment (N m) per metre of thickness; the moment stretches the right edge.

    Raises
    ------
    GeometryError
        If no wood lies at the flank of a knot.
    ConvergenceError
        If part of the panel hangs on nothing.
    """
    mesh = panel.mesh
    at = quadrature(mesh, *triangle_rule(4))
    y, low, high = settled(opening)
    flow = (Ellipse(x=0.0, y=y, a=opening.a, b=opening.b),) if opening.swerves else ()
    angle = np.broadcast_to(fibre_angle(at.points, flow, 0.0), at.points.shape[:-1])
    Q = plane_stiffness(wood, angle, np.zeros(angle.shape))
    if knot is not None:
        Q[mesh.region == 1] = knot_stiffness(*knot)
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    K = matrix(pattern, assemble(pattern, element_stiffness(at, Q)))
    nodes, in_knot = mesh.nodes, np.zeros(len(mesh.nodes), dtype=bool)
    in_knot[mesh.elements[mesh.region == 1]] = True
    middle = np.flatnonzero(np.abs(nodes[:, 0]) < 1e-9)
    pinned = _held(nodes, middle[~in_knot[middle]], middle[in_knot[middle]])
    far = np.flatnonzero(np.abs(nodes[:, 0] - panel.end) < 1e-9)
    fixed = np.concatenate([2 * middle, 2 * np.array(pinned) + 1, 2 * far])
    motions = np.zeros((len(fixed), 2))
    motions[-len(far) :] = np.stack([np.ones(len(far)), 0.5 * (low + high) - nodes[far, 1]], axis=1)
    factor = factorise(K, fixed)
    motion = solve(factor, np.zeros((K.shape[0], 2)), motions)
    stiffness = motions.T @ (factor.coupling.T @ motion)

    def answer(force: Array) -> Array:
        u = solve(factor, force, np.zeros((len(fixed), force.shape[1])))
        reaction = motions.T @ (factor.coupling.T @ u - force[fixed])
        return u - motion @ np.linalg.solve(stiffness, reaction)

    under = motion @ np.linalg.solve(stiffness, np.array(load))
    slits = [s for s in (panel.joint, *panel.lines) if s is not None]
    jump = sparse.csr_array(sparse.vstack([jump_operator(s, K.shape[0]) for s in slits]))
    normal = np.concatenate([np.repeat([True, False], len(s.right)) for s in slits])
    return Model(
        closure=make_closure(jump, normal, answer),
        answer=answer,
        under=under,
        free=jump @ under,
        rim=0 if panel.joint is None else 2 * len(panel.joint.right),
    )


def _held(nodes: Array, wood: Index, knot: Index) -> list[int]:
    """Return the nodes of the middle that are kept from moving across the strip.

    Of a hole any one, which takes no force.  A knot is held to the wood where that presses on it,
    at its flank on the side of the strip's middle: a force between the two there is contact.
    """
    if not knot.size:
        return [int(wood[0])]
    apart = np.abs(nodes[wood, 1][:, None] - nodes[knot, 1])
    at, of = np.nonzero(apart < 1e-9)
    if not at.size:
        raise GeometryError("split: no wood lies at the knot's flanks to hold it")
    inner = int(np.abs(nodes[wood[at], 1]).argmin())
    return [int(wood[at[inner]]), int(knot[of[inner]])]


def fibre_windows(
    panel: Panel, opening: Opening, wood: Elasticity, window: float
) -> sparse.csr_array:
    """Return what takes displacements to the mean stress of straight fibres beside the lines.

    Parameters
    ----------
    panel : Panel
    opening : Opening
        Whose fibres are cut: outside it they run straight.
    wood : Elasticity
    window : float, m
        Width of the wood over which it is averaged, from the line or the rim outwards.

    Notes
    -----
    Windows lie beside the zone and all along the lines, on the side of the wood that carries on:
    the core behind a tip is slack.
    """
    y = settled(opening)[0]
    found = []
    for slit in panel.lines:
        line, start = panel.mesh.nodes[slit.right, 1].mean(), panel.mesh.nodes[slit.right, 0].min()
        side = float(np.sign(line - y))
        beside = _windows(panel, wood, y + side * opening.b, side, window)
        along = _windows(panel, wood, float(line), side, window)
        found += [beside, along[int(np.ceil((start + 0.5 * ALONG) / SAMPLE)) :]]
    return sparse.csr_array(sparse.vstack(found))


def fibre_stress(windows: sparse.csr_array, model: Model, growth: Growth) -> Array:
    """Return the greatest stress of the fibres at every length of a split.

    Parameters
    ----------
    windows : sparse array
        Of `fibre_windows`.
    model : Model
    growth : Growth

    Returns
    -------
    ndarray, shape (k + 1,), Pa
    """
    closing = model.answer(np.asarray(model.closure.jump.T @ growth.force.T))
    out: Array = (windows @ (model.under[:, None] - closing)).max(axis=0)
    return out


def _windows(
    panel: Panel, wood: Elasticity, level: float, side: float, window: float
) -> sparse.csr_array:
    """From displacements to the mean stress in windows along a line, every `SAMPLE` of it."""
    mesh = panel.mesh
    across, half = max(round(window / SAMPLE), 1), max(round(0.5 * ALONG / SAMPLE), 1)
    low = level + 0.5 * SAMPLE if side > 0.0 else level - (across - 0.5) * SAMPLE
    reach = mesh.nodes[np.concatenate([s.right for s in panel.lines]), 0].max() + 2.0 * ALONG
    grid = Grid(
        origin=np.array([0.5 * SAMPLE, low]), step=SAMPLE, shape=(int(reach / SAMPLE), across)
    )
    element, reference = rasterise(mesh, grid)
    there = np.flatnonzero(element >= 0)
    nodes = mesh.elements[element[there]]
    _, slope = triangle6(reference[there])
    turn = np.linalg.inv(np.einsum("pki,pkd->pid", slope, mesh.nodes[nodes]))
    gradient = np.einsum("pki,pdi->pkd", slope, turn)
    Q = plane_stiffness(wood, np.array(0.0), np.array(0.0))[0]
    dx, dy = gradient[..., 0], gradient[..., 1]
    row = there // across
    share = (1.0 / np.bincount(row)[row])[:, None]
    entries = np.concatenate([(Q[0] * dx + Q[2] * dy) * share, (Q[1] * dy + Q[2] * dx) * share])
    columns = np.concatenate([2 * nodes, 2 * nodes + 1])
    rows = np.broadcast_to(np.tile(row, 2)[:, None], columns.shape)
    size = (grid.shape[0], 2 * len(mesh.nodes))
    columnwise = sparse.csr_array((entries.ravel(), (rows.ravel(), columns.ravel())), shape=size)
    # the other half of the strip is the mirror image
    first = np.arange(grid.shape[0] - half)[:, None] + np.arange(-half, half)
    first = np.where(first < 0, -first - 1, first)
    weights = np.full(first.size, 0.5 / half)
    where = (np.repeat(np.arange(len(first)), 2 * half), first.ravel())
    along = sparse.csr_array((weights, where), shape=(len(first), grid.shape[0]))
    return sparse.csr_array(along @ columnwise)
