"""How a stave's sizes and moduli change its sections and its unstrung shape.

A column of the case (thickness, width) has one parameter a station.  Between the stations the
column is one smooth curve, so a shaving at a station fades out towards its neighbours, and the
change of any section is the change by its own thickness or width times the curve's.  Two section
solves a quantity, one each side, serve every station.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.model import LimbModel, grip_points, knot_lines
from limbfe.analysis.yielding import yielding_sections
from limbfe.beam.rates import RestRates
from limbfe.curves import monotone_cubic
from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw
from limbfe.section.inelastic import FibreSection
from limbfe.section.mesh import integration_points, section_mesh
from limbfe.section.stiffness import section_stiffness
from limbfe.stave.field import wood_at, zone_at
from limbfe.stave.profile import axis_at, shape_at
from limbfe.stave.resize import reshaped
from limbfe.stave.stave import Stave

COLUMNS = ("thickness", "width")
_WOODS = {
    "heartwood_E_L": "heartwood",
    "sapwood_E_L": "sapwood_wood",
    "backing_E_L": "backing_wood",
}
STEP = 2e-5
"""Step of the difference quotients of sections, as a share of the quantity.  A section's stiffness
is nearly a cubic of the thickness, so the truncation error is about ``STEP**2 / 3``; the rounding
error of the section solves, 1e-12, comes to 5e-8.  Larger steps (5e-4) let fibres pass the edge of
the yielded zone between both sides, which was measured to cost 1e-4."""
_CURVE_STEP = 1e-7
"""Step (m) of the difference quotients of the curves through the stations and of the axis."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StaveRates:
    """Derivatives by p parameters of everything the beam knows of a stave.

    Attributes
    ----------
    quantity : tuple of str, length p
    station : tuple of int or None, length p
        Station whose column the parameter is; None for a modulus.
    stiffness : ndarray, shape (p, n - 1, 2, 6, 6)
        Of the elastic section stiffness at the Gauss stations, per m (columns) or per Pa.
    rest : RestRates
    """

    quantity: tuple[str, ...]
    station: tuple[int | None, ...]
    stiffness: Array
    rest: RestRates


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionPair:
    """The model's sections with one quantity a step larger and a step smaller everywhere.

    `step` is in m or Pa; `larger` and `smaller` are models whose setup, shapes, mesh, points and
    sections are the changed ones, and whose beam is not.
    """

    quantity: str
    step: float
    larger: LimbModel
    smaller: LimbModel

    def slope(self, larger: Array, smaller: Array) -> Array:
        """Return the difference quotient of what was found on both sides."""
        return np.asarray((larger - smaller) / (2.0 * self.step))


def stave_rates(
    model: LimbModel, quantities: tuple[str, ...] = ("thickness", "width")
) -> StaveRates:
    """Return the derivatives of the section stiffnesses and of the rest shape.

    Parameters
    ----------
    model : LimbModel
    quantities : tuple of {"thickness", "width", "heartwood_E_L", "sapwood_E_L", "backing_E_L"}
        Columns give a parameter for every station of the stave, moduli one each.  A modulus
        changes alone: Poisson's ratios and all other constants keep their values.

    Raises
    ------
    GeometryError, MaterialError
        For an unknown quantity or a wood the stave does not have.
    """
    m = len(model.bow.chain.length)
    names: list[str] = []
    stations: list[int | None] = []
    stiffness = []
    for quantity in quantities:
        pair = section_pair(model, quantity)
        slope = pair.slope(pair.larger.sections.K, pair.smaller.sections.K)
        share = shares(model, quantity)
        stiffness.append((share[:, :, None, None] * slope).reshape(-1, m, 2, 6, 6))
        names += [quantity] * len(share)
        stations += list(range(len(share))) if quantity in COLUMNS else [None]
    return StaveRates(
        quantity=tuple(names),
        station=tuple(stations),
        stiffness=read_only(np.concatenate(stiffness)),
        rest=shape_rates(model, quantities),
    )


def shares(model: LimbModel, quantity: str) -> Array:
    """Return how much of a change of each parameter arrives at the Gauss stations, shape (p, S).

    At a station where the column's curve has a corner as a function of its own values (equal
    neighbours), the mean of both sides is taken.
    """
    stave = model.setup.stave
    if quantity not in COLUMNS:
        return np.ones((1, len(model.x)))
    change = _CURVE_STEP * np.eye(len(stave.x))
    column = getattr(stave, quantity)[:, None]
    curves = monotone_cubic(stave.x, np.concatenate([column + change, column - change], axis=1))
    high, low = np.split(curves(model.x).T, 2)
    return np.asarray((high - low) / (2.0 * _CURVE_STEP))


def shape_rates(model: LimbModel, quantities: tuple[str, ...]) -> RestRates:
    """Return how every parameter moves the unstrung bow: thickness alone moves its middle axis."""
    moved = [_axis_rates(model, quantity) for quantity in quantities]
    nodes, points = (np.concatenate(parts) for parts in zip(*moved, strict=True))
    return RestRates(
        nodes=read_only(nodes),
        hold_point=read_only(points[:, 0]),
        grip_belly=read_only(points[:, 1]),
        grip_back=read_only(points[:, 2]),
    )


def _axis_rates(model: LimbModel, quantity: str) -> tuple[Array, Array]:
    stave, n = model.setup.stave, len(model.node_x)
    count = len(stave.x) if quantity in COLUMNS else 1
    nodes, points = np.zeros((count, n, 6)), np.zeros((count, 3, 3))
    if quantity != "thickness":
        return nodes, points
    rest = model.bow.chain.rotations
    for k in range(count):
        sides = []
        for sign in (1.0, -1.0):
            thickness = np.array(stave.thickness)
            thickness[k] += sign * _CURVE_STEP
            other = replace(stave, thickness=thickness)
            setup = replace(model.setup, stave=other)
            sides.append((*axis_at(other, model.node_x), grip_points(setup)))
        place, turn, grip = ((a - b) / (2.0 * _CURVE_STEP) for a, b in zip(*sides, strict=True))
        nodes[k, :, :3] = np.einsum("nji,nj->ni", rest, place)
        spin = np.einsum("nji,njk->nik", rest, turn)
        nodes[k, :, 3:] = np.stack([spin[:, 2, 1], spin[:, 0, 2], spin[:, 1, 0]], axis=1)
        points[k] = grip
    return nodes, points


def section_pair(model: LimbModel, quantity: str) -> SectionPair:
    """Solve the model's sections with a quantity a little larger and a little smaller.

    The mesh keeps its topology and its columns beside knots, and a point keeps its wood, knot or
    patch.

    Raises
    ------
    GeometryError, MaterialError
        For an unknown quantity or a wood the stave does not have.
    """
    stave = model.setup.stave
    if quantity in COLUMNS:
        step = STEP * float(getattr(stave, quantity).mean())
    elif quantity in _WOODS:
        step = STEP * _wood(stave, quantity).elasticity.E_L
    else:
        raise GeometryError(
            f"derivatives by {quantity!r}: use one of {', '.join((*COLUMNS, *_WOODS))}"
        )
    larger, smaller = (_changed(model, quantity, sign * step) for sign in (1.0, -1.0))
    return SectionPair(quantity=quantity, step=step, larger=larger, smaller=smaller)


def _wood(stave: Stave, quantity: str) -> Any:
    wood = getattr(stave, _WOODS[quantity])
    if wood is None:
        raise MaterialError(f"derivatives by {quantity}: the stave has no such wood")
    return wood


def _changed(model: LimbModel, quantity: str, step: float) -> LimbModel:
    stave = model.setup.stave
    if quantity in COLUMNS:
        other = reshaped(stave, **{quantity: getattr(stave, quantity) + step})
    else:
        wood = _wood(stave, quantity)
        elasticity = replace(wood.elasticity, E_L=wood.elasticity.E_L + step)
        other = replace(stave, **{_WOODS[quantity]: replace(wood, elasticity=elasticity)})
    setup = replace(model.setup, stave=other)
    shapes = shape_at(other, model.x)
    lines = knot_lines(stave, model.shapes)
    mesh = section_mesh(shapes, fineness=setup.fineness, y_breaks=lines)
    points, _ = integration_points(mesh)
    place = (model.x[:, None, None], points[..., 0], points[..., 1])
    C, density = wood_at(other, *place)
    moved = moved_zones(model, other, points)
    C[moved] = model.sections.C[moved]
    sections = section_stiffness(mesh, C, density)
    return replace(model, setup=setup, shapes=shapes, mesh=mesh, points=points, sections=sections)


def changed_fibres(
    model: LimbModel, section: FibreSection, pair: SectionPair
) -> tuple[FibreSection, FibreSection]:
    """Return the yielding sections of both sides of a pair, larger first.

    Every point keeps the law it has in `section` where it has come into another zone.
    """
    larger, smaller = (_fibres(model, section, side) for side in (pair.larger, pair.smaller))
    return larger, smaller


def _fibres(model: LimbModel, section: FibreSection, other: LimbModel) -> FibreSection:
    changed = yielding_sections(other)
    moved = moved_zones(model, other.setup.stave, other.points)
    if not moved.any():
        return changed
    law = FibreLaw(
        modulus=np.where(moved, section.law.modulus, changed.law.modulus),
        start=np.where(moved, section.law.start, changed.law.start),
        slope=np.where(moved, section.law.slope, changed.law.slope),
    )
    return replace(changed, law=law)


def moved_zones(model: LimbModel, other: Stave, points: Array) -> NDArray[np.bool_]:
    """Return which integration points have come into another zone, shape (S, m, q)."""
    before, after = (
        zone_at(stave, model.x[:, None, None], place[..., 0], place[..., 1])
        for stave, place in ((model.setup.stave, model.points), (other, points))
    )
    moved: NDArray[np.bool_] = before.wood != after.wood
    moved |= (before.knot != after.knot) | (before.decay != after.decay)
    return moved
