"""Belly that yields: the limb's axial fibres past their proportional limit in compression.

Clear wood is elastic in tension until it breaks.  In compression it leaves the straight line at
the proportional limit, goes on more softly to the crushing strength, and then carries that
strength while it shortens further.  A bow is drawn once, in one direction, so the law is followed
by its secant: every fibre's stress over strain.  A section's secant stiffness is its elastic 6x6
with the change of the axial fibres added; it stays positive definite because stress and strain
always have the same sign.  The beam is solved again with it until nothing changes.

References
----------
B. H. Bechtel, C. B. Norris, Strength of wood beams and columns, Forest Products Laboratory (1952):
elastic-plastic compression in bending (from memory).
Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006): strain at the
crushing strength 0.8 to 1.2 per cent, plateau to about three times that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.model import LimbModel
from limbfe.beam import Bow, BowState, Chain, brace, draw
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.section.mesh import integration_points
from limbfe.stave.field import grain_axes, stiffness_at, strength_at
from limbfe.wood.strength import HANKINSON_EXPONENTS, hankinson

CRUSHING_STRAIN = 0.010
"""Strain at which compression reaches the crushing strength: the middle of the 0.8 to 1.2 per cent
of the JCSS code."""
SOFTER = 1.3
"""The crushing strain is at least this many times crushing strength over modulus."""
TOLERANCE = 1e-7
MAX_ITERATIONS = 80
MEMORY = 5
_AXIAL = np.array([0, 4, 5])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreLaw:
    """Uniaxial law of fibres, arrays of one shape.

    Attributes
    ----------
    modulus : Pa, along the limb
    limit : Pa, proportional limit in compression
    crushing : Pa, crushing strength
    crushing_strain : strain (positive) at which it is reached
    """

    modulus: Array
    limit: Array
    crushing: Array
    crushing_strain: Array


def fibre_law(model: LimbModel, points: Array) -> FibreLaw:
    """Return the law of the wood at section points, shape (S, p, 2); knots stay elastic."""
    stave = model.setup.stave
    place = (model.x[:, None], points[..., 0], points[..., 1])
    compliance: Array = np.linalg.inv(stiffness_at(stave, *place))
    modulus = np.asarray(1.0 / compliance[..., 0, 0], dtype=np.float64)
    strengths = strength_at(stave, *place)
    angle = np.arccos(np.clip(np.abs(grain_axes(stave, *place)[..., 0, 0]), 0.0, 1.0))
    n = HANKINSON_EXPONENTS["compression"]
    across = np.where(strengths.in_knot, 1.0, strengths.compression_across)
    along = np.where(strengths.in_knot, 1.0, strengths.compression)
    crushing = np.where(strengths.in_knot, np.inf, hankinson(along, across, angle, n))
    at_limit = np.where(strengths.in_knot, 1.0, strengths.compression_proportional_limit)
    share = at_limit / along
    least = np.where(strengths.in_knot, 1.0, SOFTER * crushing / modulus)
    return FibreLaw(
        modulus=modulus,
        limit=share * crushing,
        crushing=crushing,
        crushing_strain=np.maximum(CRUSHING_STRAIN, least),
    )


def fibre_stress(law: FibreLaw, strain: Array) -> Array:
    """Return the stress of fibres strained for the first time, Pa; tension positive."""
    elastic = law.modulus * strain
    at_limit = law.limit / law.modulus
    with np.errstate(invalid="ignore"):
        softer = (law.crushing - law.limit) / (law.crushing_strain - at_limit)
        pressed = np.minimum(law.limit + softer * (-strain - at_limit), law.crushing)
    yielded = -elastic > law.limit
    stress: Array = np.where(yielded, -pressed, elastic)
    return stress


def axial_basis(points: Array) -> Array:
    """Return what stretch and bending do to a fibre: ``[1, z, -y]``, shape (..., 3)."""
    y, z = points[..., 0], points[..., 1]
    return np.stack([np.ones_like(y), z, -y], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fibres:
    """The axial fibres of every section: law, areas, and lever arms (S, p, 3)."""

    law: FibreLaw
    area: Array
    basis: Array
    elastic: Array


def section_fibres(model: LimbModel) -> Fibres:
    """Return the fibres at the integration points of every section."""
    stations = len(model.x)
    points, weights = integration_points(model.mesh)
    points = points.reshape(stations, -1, 2)
    return Fibres(
        law=fibre_law(model, points),
        area=weights.reshape(stations, -1),
        basis=axial_basis(points),
        elastic=model.sections.K,
    )


def secant_stiffness(fibres: Fibres, strains: Array) -> Array:
    """Return the 6x6 that gives the yielded resultants, shape (S, 6, 6).

    Parameters
    ----------
    fibres : Fibres
    strains : ndarray, shape (S, 3)
        Stretch and the two curvatures ``[gamma_x, kappa_y, kappa_z]``.
    """
    axial = (fibres.basis @ strains[..., None])[..., 0]
    stress = fibre_stress(fibres.law, axial)
    missing = np.where(
        stress > fibres.law.modulus * axial, stress - fibres.law.modulus * axial, 0.0
    )
    safe = np.where(axial < 0.0, axial, -1.0)
    change = fibres.area * np.where(missing > 0.0, missing / safe, 0.0)
    softening = (fibres.basis * change[..., None]).swapaxes(1, 2) @ fibres.basis
    out = np.array(fibres.elastic)
    out[:, _AXIAL[:, None], _AXIAL] += softening
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YieldedDraw:
    """A first draw with a belly that yields.

    Attributes
    ----------
    braced : BowState
    states : tuple of BowState
        One for every draw length that was reached.
    residual : ndarray, shape (S, 6)
        Strain each section keeps once the last state of `states` up to full draw is let go,
        for elastic unloading.
    """

    braced: BowState
    states: tuple[BowState, ...]
    residual: Array


def draw_with_yield(model: LimbModel, lengths: Iterable[float], required: int) -> YieldedDraw:
    """Brace a bow for the first time and draw it to a growing sequence of draw lengths.

    Parameters
    ----------
    model : LimbModel
    lengths : iterable of float, m
        Increasing.
    required : int
        How many of the lengths must be reached; beyond these a length that has no equilibrium
        ends the draw.

    Raises
    ------
    ConvergenceError
        If a required state is not found.
    """
    fibres = section_fibres(model)
    setup = model.setup
    height, length = setup.brace_height, setup.string_length

    def braced_with(stiffness: Array) -> BowState:
        bow = _softened(model, stiffness)
        return brace(bow, height=height) if height is not None else brace(bow, length=length)

    braced, stiffness = _settle(fibres, fibres.elastic, braced_with, "bracing", None)
    string = float(braced.string_lengths.sum())
    states: list[BowState] = []
    residual = np.zeros((len(model.x), 6))
    for count, target in enumerate(lengths):

        def drawn_with(secant: Array, target: float = target) -> BowState:
            bow = _softened(model, secant)
            return draw(bow, brace(bow, length=string), [target]).states[0]

        reached = states[-1].draw_length if states else braced.draw_length
        try:
            state, stiffness = _settle(fibres, stiffness, drawn_with, "drawing", reached)
        except ConvergenceError:
            if count < required:
                raise
            break
        states.append(state)
        if count == required - 1:
            residual = _residual(fibres, state)
    return YieldedDraw(braced=braced, states=tuple(states), residual=read_only(residual))


def _softened(model: LimbModel, stiffness: Array) -> Bow:
    chain = model.bow.chain
    softened = Chain(
        positions=chain.positions,
        rotations=chain.rotations,
        stiffness=read_only(stiffness.reshape(chain.stiffness.shape)),
        mass=chain.mass,
    )
    return replace(model.bow, chain=softened)


def _settle(
    fibres: Fibres,
    stiffness: Array,
    solve: Callable[[Array], BowState],
    what: str,
    reached: float | None,
) -> tuple[BowState, Array]:
    """Solve with the secant stiffness until the strains it was taken at come back.

    The strains are mixed over the last rounds (D. G. Anderson, Iterative procedures for nonlinear
    integral equations, Journal of the ACM 12 (1965), 547-560), which saves two rounds in three.
    """
    changes: list[float] = []
    taken: list[Array] = []
    found: list[Array] = []
    for _ in range(MAX_ITERATIONS):
        state = solve(stiffness)
        strains = state.strains.reshape(-1, 6)[:, _AXIAL]
        if taken:
            change = np.abs(strains - taken[-1])[:, 1].max() / np.abs(strains[:, 1]).max()
            changes.append(float(change))
            if change < TOLERANCE:
                return state, stiffness
            found.append(strains)
            taken.append(_mixed(taken[-MEMORY:], found[-MEMORY:]))
        else:
            taken.append(strains)
        stiffness = secant_stiffness(fibres, taken[-1])
    raise ConvergenceError(
        f"{what}: the yielding belly did not settle after {MAX_ITERATIONS} rounds "
        f"(last change {changes[-1]:.1e}); the limb may be crushed right through there",
        draw_length=reached,
        iteration=MAX_ITERATIONS,
        residuals=tuple(changes),
    )


def _mixed(taken: list[Array], found: list[Array]) -> Array:
    """Return the strains to take next from those taken and those found in answer to them."""
    miss = np.stack([f - t for t, f in zip(taken, found, strict=True)])
    if len(miss) == 1:
        return found[-1]
    steps = np.diff(miss, axis=0).reshape(len(miss) - 1, -1)
    weights = np.linalg.lstsq(steps.T, miss[-1].ravel(), rcond=1e-10)[0]
    moves = np.diff(np.stack(found), axis=0)
    mixed: Array = found[-1] - np.tensordot(weights, moves, axes=1)
    return mixed


def _residual(fibres: Fibres, state: BowState) -> Array:
    strains = state.strains.reshape(-1, 6)
    resultants = state.resultants.reshape(-1, 6)
    kept: Array = strains - np.linalg.solve(fibres.elastic, resultants[..., None])[..., 0]
    return kept
