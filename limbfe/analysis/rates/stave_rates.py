"""How a stave's sizes change its sections and its unstrung shape.

A column of the case (thickness, width) has one parameter a station.  Between the stations the
column is one smooth curve, so a shaving at a station fades out towards its neighbours, and the
change of any section is the change by its own thickness or width times the curve's.  Two section
solves a quantity, one each side, serve every station.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.model import LimbModel, grip_points
from limbfe.analysis.bow.stations import Stations, knot_lines
from limbfe.analysis.bow.string_bed import string_bed
from limbfe.analysis.bow.yielding import yielding_sections
from limbfe.analysis.bow.zone_give import RATE_STEP, zone_give
from limbfe.beam.model import Bed
from limbfe.beam.rates.changes import RestRates
from limbfe.frames import Array, read_only
from limbfe.section.meshing.mesh import integration_points, section_mesh
from limbfe.section.stiffness import section_stiffness
from limbfe.section.yielding.fibre_law import FibreLaw
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.stave.columns import column_curve
from limbfe.stave.field import wood_at, zone_at
from limbfe.stave.profile import axis_at, shape_at
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import Stave

COLUMNS = ("thickness", "width")
STEP = 2e-5
"""Step of the difference quotients of sections, as a share of the quantity.  A section's stiffness
is nearly a cubic of the thickness, so the truncation error is about ``STEP**2 / 3``; the rounding
error of the section solves, 1e-12, comes to 5e-8.  Larger steps (5e-4) let fibres pass the edge of
the yielded zone between both sides, which was measured to cost 1e-4."""
_CURVE_STEP = 1e-7
"""Step (m) of the difference quotients of the curves through the stations and of the axis."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionPair:
    """The model's sections with one quantity a step larger and a step smaller everywhere.

    `step` is in m.
    """

    quantity: str
    step: float
    larger: Stations
    smaller: Stations

    def slope(self, larger: Array, smaller: Array) -> Array:
        """Return the difference quotient of what was found on both sides."""
        return np.asarray((larger - smaller) / (2.0 * self.step))


def shares(stations: Stations, quantity: str) -> Array:
    """Return how much of a change of each parameter arrives at the Gauss stations, shape (p, S).

    At a station where the column's curve has a corner as a function of its own values (equal
    neighbours), the mean of both sides is taken.
    """
    stave = stations.setup.stave
    change = _CURVE_STEP * np.eye(len(stave.x))
    column = getattr(stave, quantity)[:, None]
    both = np.concatenate([column + change, column - change], axis=1)
    curves = column_curve(stave.x, both, size=True)
    high, low = np.split(curves(stations.x).T, 2)
    return np.asarray((high - low) / (2.0 * _CURVE_STEP))


def give_rates(model: LimbModel, quantity: str) -> Array | None:
    """Return how a change everywhere changes what the elements give besides their sections.

    Returns
    -------
    ndarray, shape (n - 1, 6, 6), or None
        None where no zone gives anything.

    Notes
    -----
    A zone's plate reaches little further than the zone, so that of a change along the limb it sees
    what arrives at its elements.  Its mesh is made anew for another width; the step is wide enough
    for that.
    """
    if not model.zones.give.any():
        return None
    stave = model.setup.stave
    step = RATE_STEP * float(getattr(stave, quantity).mean())
    larger, smaller = (
        zone_give(
            replace(
                model.setup,
                stave=reshaped(stave, **{quantity: getattr(stave, quantity) + sign * step}),
            ),
            model.node_x,
        ).give
        for sign in (1.0, -1.0)
    )
    return read_only((larger - smaller) / (2.0 * step))


def shape_rates(model: LimbModel, quantities: tuple[str, ...]) -> RestRates:
    """Return how every parameter moves the unstrung bow: thickness alone moves its middle axis."""
    moved = [_axis_rates(model, quantity) for quantity in quantities]
    nodes, points, arm, slope = (np.concatenate(parts) for parts in zip(*moved, strict=True))
    return RestRates(
        nodes=read_only(nodes),
        hold_point=read_only(points[:, 0]),
        grip_belly=read_only(points[:, 1]),
        grip_back=read_only(points[:, 2]),
        bed=Bed(nock=arm[:, [0, -1]], arm=arm, slope=slope, lies=1),
    )


def _axis_rates(model: LimbModel, quantity: str) -> tuple[Array, Array, Array, Array]:
    """Return rates of the nodes, of the grip's points and of the string's bed, arms and slopes."""
    stave, n = model.setup.stave, len(model.node_x)
    count = len(stave.x)
    nodes, points = np.zeros((count, n, 6)), np.zeros((count, 3, 3))
    arm, slope = np.zeros((count, n, 3)), np.zeros((count, n, 2))
    if quantity != "thickness":
        return nodes, points, arm, slope
    rest = model.bow.chain.rotations
    for k in range(count):
        sides = []
        for sign in (1.0, -1.0):
            thickness = np.array(stave.thickness)
            thickness[k] += sign * _CURVE_STEP
            other = replace(stave, thickness=thickness)
            setup = replace(model.setup, stave=other)
            bed = string_bed(setup, model.node_x)
            line = (bed.arm, bed.slope)
            sides.append((*axis_at(other, model.node_x), grip_points(setup), *line))
        place, turn, grip, arm[k], slope[k] = (
            (a - b) / (2.0 * _CURVE_STEP) for a, b in zip(*sides, strict=True)
        )
        nodes[k, :, :3] = np.einsum("nji,nj->ni", rest, place)
        spin = np.einsum("nji,njk->nik", rest, turn)
        nodes[k, :, 3:] = np.stack([spin[:, 2, 1], spin[:, 0, 2], spin[:, 1, 0]], axis=1)
        points[k] = grip
    return nodes, points, arm, slope


def section_pair(stations: Stations, quantity: str) -> SectionPair:
    """Solve the sections with a quantity a little larger and a little smaller.

    The mesh keeps its topology and its columns beside knots, and a point keeps its wood, knot or
    patch.
    """
    stave = stations.setup.stave
    step = STEP * float(getattr(stave, quantity).mean())
    larger, smaller = (_changed(stations, quantity, sign * step) for sign in (1.0, -1.0))
    return SectionPair(quantity=quantity, step=step, larger=larger, smaller=smaller)


def _changed(stations: Stations, quantity: str, step: float) -> Stations:
    stave = stations.setup.stave
    other = reshaped(stave, **{quantity: getattr(stave, quantity) + step})
    setup = replace(stations.setup, stave=other)
    shapes = shape_at(other, stations.x)
    lines = knot_lines(stave, stations.shapes)
    mesh = section_mesh(shapes, fineness=setup.analysis.fineness, y_breaks=lines)
    points, _ = integration_points(mesh)
    place = (stations.x[:, None, None], points[..., 0], points[..., 1])
    C, density = wood_at(other, *place)
    moved = moved_zones(stations, other, points)
    C[moved] = stations.sections.C[moved]
    sections = section_stiffness(mesh, C, density)
    return replace(
        stations, setup=setup, shapes=shapes, mesh=mesh, points=points, sections=sections
    )


def changed_fibres(
    stations: Stations, section: FibreSection, pair: SectionPair
) -> tuple[FibreSection, FibreSection]:
    """Return the yielding sections of both sides of a pair, larger first.

    Every point keeps the law it has in `section` where it has come into another zone.
    """
    larger, smaller = (_fibres(stations, section, side) for side in (pair.larger, pair.smaller))
    return larger, smaller


def _fibres(stations: Stations, section: FibreSection, other: Stations) -> FibreSection:
    changed = yielding_sections(other)
    moved = moved_zones(stations, other.setup.stave, other.points)
    if not moved.any():
        return changed
    law = FibreLaw(
        modulus=np.where(moved, section.law.modulus, changed.law.modulus),
        start=np.where(moved, section.law.start, changed.law.start),
        slope=np.where(moved, section.law.slope, changed.law.slope),
        level=np.where(moved, section.law.level, changed.law.level),
    )
    return replace(changed, law=law)


def moved_zones(stations: Stations, other: Stave, points: Array) -> NDArray[np.bool_]:
    """Return which integration points have come into another zone, shape (S, m, q)."""
    before, after = (
        zone_at(stave, stations.x[:, None, None], place[..., 0], place[..., 1])
        for stave, place in ((stations.setup.stave, stations.points), (other, points))
    )
    moved: NDArray[np.bool_] = before.wood != after.wood
    moved |= (before.knot != after.knot) | (before.decay != after.decay)
    return moved
