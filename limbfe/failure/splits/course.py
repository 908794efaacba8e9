"""How a split beside a knot or hole goes as the bow is drawn: start, length, end.

A plane model in the face of the limb that is pulled hardest, under the stress of the sound limb's
back: of a bent limb it holds while the split is short beside the limb's depth.  A long split
through the whole depth sets free what the mean square of the stress through the depth gives, a
third of what the back alone would; between half the depth and `LONG` of it the share is taken
straight from one to the other.  It stands for the layered plate, which is not split itself.

References
----------
Energy of long splits: energy balance of the strips left (tests/fem/cracks/test_strips.py); reach of
a split near the back, (2/pi) sqrt(E_L/G_LT) of its depth: shear lag (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy import sparse

from limbfe.defect.grain_flow import fibre_angle
from limbfe.defect.plane import knot_stiffness, plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.errors import GeometryError
from limbfe.failure.splits.criterion import GrainStrength, Split, follow
from limbfe.failure.splits.panel import Opening, Panel, mesh_panel, settled
from limbfe.fem.assembly import assemble, element_stiffness, make_pattern, matrix
from limbfe.fem.cracks.closure import Closure, Growth, grow, make_closure
from limbfe.fem.cracks.slit import Slit, jump_operator, release_steps
from limbfe.fem.mesh import Index, quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve
from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity

Course = Literal["none", "stays short", "runs along", "runs out"]
SHORT = 1.0
"""Of the zone's width: a split longer than this on each side has run (the barrier of a hole lies at
0.6 of its width); one of `SHORT_LENGTH` (m) is short beside any."""
SHORT_LENGTH = 6e-3
LONG = 2.4
REACH = 1.25
"""Widths of the limb past the zone's end to which a split is followed."""
BEYOND = 0.5
DEEP_SHARE = 1.0 / 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrainSplit:
    """A split along the grain beside a zone; loads in units of the judged one.

    Attributes
    ----------
    split : Split
        In the wood; of a live knot with its joint open.
    joint : Split or None
        Of the joint between a live knot and the wood.
    short : float, m
        Length up to which it counts as short.
    mix : float, rad
        Share of opening and sliding where it is hardest to drive: 0 opening, pi/2 sliding.
    side : float, m
        Place across the limb of its line.
    """

    split: Split
    joint: Split | None
    short: float
    mix: float
    side: float

    @property
    def start(self) -> float:
        """Load at which a crack is first to be seen: in the wood or at the joint."""
        # the wood at the end of a knot that holds is not yet pulled apart
        return self.split.start if self.joint is None else max(self.joint.start, 0.0)

    @property
    def opens(self) -> float:
        """Load at which the wood itself splits."""
        return self.split.start if self.joint is None else max(self.split.start, self.joint.start)

    @property
    def run(self) -> float:
        """Load at which it is longer than short."""
        lengths = self.split.length
        held = self.split.need[(lengths >= self.split.start_length) & (lengths <= self.short)]
        return float(max(self.opens, held.max(initial=0.0)))

    def length_at(self, load: float) -> float:
        """Return the length in the wood at a load, m."""
        return self.split.length_at(load) if load >= self.opens else 0.0

    def course_at(self, load: float) -> Course:
        """Return in a word how far it has come at a load."""
        length = self.length_at(load)
        if length >= self.split.end * (1.0 - 1e-9):
            return "runs out"
        if length > self.short:
            return "runs along"
        return "stays short" if load >= min(self.start, self.opens) else "none"


def follow_split(
    opening: Opening,
    wood: Elasticity,
    strength: GrainStrength,
    *,
    pull: float,
    depth: float,
    knot: tuple[float, float] | None = None,
    joined: bool = False,
) -> GrainSplit:
    """Follow the split beside a zone.

    Parameters
    ----------
    opening : Opening
    wood : Elasticity
    strength : GrainStrength
        Of the wood, and of the joint of a live knot.
    pull : float, Pa
        Stress of the sound limb's back there, above 0.
    depth : float, m
        Thickness of the limb.
    knot : tuple of float, optional
        Young's modulus (Pa) and Poisson's ratio of what is in the zone.
    joined : bool
        Whether that is grown in or glued; else it presses but holds nothing.

    Raises
    ------
    GeometryError
        If no panel can be made.
    ConvergenceError
        If the contact of the faces does not settle.
    """
    reach = opening.a + REACH * opening.width
    panel = mesh_panel(opening, reach, reach + BEYOND * opening.width)
    model = _model(panel, opening, wood, knot)
    lines = len(panel.lines)
    pulled = pull * opening.width
    free = pulled * model.free
    step = np.concatenate(
        [
            np.zeros(model.rim, dtype=np.intp),
            *(_twice(release_steps(s, panel.tips)) for s in panel.lines),
        ]
    )
    growth = grow(model.closure, free, step, panel.tips, tips=lines)
    growth = _by_depth(growth, depth)
    tied = growth.force[0][model.rim :]
    # of two lines the one nearer to an edge, which is loaded more
    at = int(np.argmax([abs(_level(panel, s)) for s in panel.lines]))
    first = panel.lines[at]
    begin = 2 * sum(len(s.right) for s in panel.lines[:at])
    mine = tied[begin : begin + 2 * len(first.right)].reshape(2, -1).T
    split = follow(growth, mine, first.along, strength)
    joint = None
    if joined and panel.joint is not None:
        joint = _joint(panel, model, free, strength, depth)
    hardest = int(np.argmax(np.where(split.length >= split.start_length, split.need, 0.0)))
    return GrainSplit(
        split=split,
        joint=joint,
        short=max(SHORT * 2.0 * opening.b, SHORT_LENGTH),
        mix=float(
            np.arctan2(
                np.sqrt(max(growth.G_II[hardest], 0.0) / strength.sliding),
                np.sqrt(max(growth.G_I[hardest], 0.0) / strength.opening),
            )
        ),
        side=_level(panel, first),
    )


def _level(panel: Panel, slit: Slit) -> float:
    return float(panel.mesh.nodes[slit.right, 1].mean())


def _twice(steps: Index) -> Index:
    return np.tile(steps, 2)


def _by_depth(growth: Growth, depth: float) -> Growth:
    """Energy release of a split through the depth of a bent limb."""
    share = np.interp(growth.middle, [0.5 * depth, LONG * depth], [1.0, DEEP_SHARE])
    return replace(growth, G_I=share * growth.G_I, G_II=share * growth.G_II)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Model:
    """A panel's pairs, the joint's first: `rim` rows; their free jumps under 1 N/m."""

    closure: Closure
    free: Array
    rim: int


def _model(
    panel: Panel, opening: Opening, wood: Elasticity, knot: tuple[float, float] | None
) -> _Model:
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

    under = motion @ np.linalg.solve(stiffness, np.array([1.0, 0.0]))
    slits = [s for s in (panel.joint, *panel.lines) if s is not None]
    jump = sparse.csr_array(sparse.vstack([jump_operator(s, K.shape[0]) for s in slits]))
    normal = np.concatenate([np.repeat([True, False], len(s.right)) for s in slits])
    rim = 0 if panel.joint is None else 2 * len(panel.joint.right)
    return _Model(closure=make_closure(jump, normal, answer), free=jump @ under, rim=rim)


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


def _joint(
    panel: Panel, model: _Model, free: Array, strength: GrainStrength, depth: float
) -> Split:
    """When the joint of a live knot parts, from its end along the grain round both shoulders."""
    joint = panel.joint
    assert joint is not None
    nodes = panel.mesh.nodes[joint.right]
    start = joint.along[np.argmax(nodes[:, 0])]
    away = np.abs(joint.along - start)
    last = float(min(start - joint.along.min(), joint.along.max() - start))
    tips = np.linspace(0.0, 0.98 * last, max(len(away) // 4, 6) + 1)
    step = np.searchsorted(tips, away, side="left")
    step = np.where(step < 1, 1, step)
    rows = np.concatenate(
        [_twice(step), np.full(len(free) - model.rim, len(tips) + 1, dtype=np.intp)]
    )
    growth = _by_depth(grow(model.closure, free, rows, tips, tips=2), depth)
    upper = joint.along >= start
    tied = growth.force[0][: model.rim].reshape(2, -1).T[upper]
    order = np.argsort(away[upper])
    return follow(growth, tied[order], away[upper][order], strength)
