"""From the stave to a bow that can be drawn: sections at every Gauss station, chain, string."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from limbfe.analysis.bow.given import ZoneGive, no_give
from limbfe.analysis.bow.nodes import node_positions
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import Stations, solve_stations
from limbfe.analysis.bow.string_bed import string_bed
from limbfe.beam import Bow, BowString, Chain, Hold, gauss_positions
from limbfe.frames import Array, read_only
from limbfe.stave.named_zones import zones_of
from limbfe.stave.profile import axis_at, shape_at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbModel:
    """The finite-element model of one bow at rest.

    Attributes
    ----------
    node_x : ndarray, shape (n,), m
        Beam nodes along the bow, lower nock to upper nock.
    stations : Stations
        The Gauss stations of the beam, two in each of its elements.
    zones : ZoneGive
        What knots and patches give besides what these sections count of them.
    bow : Bow
        Strung up from these, never given.
    """

    node_x: Array
    stations: Stations
    zones: ZoneGive
    bow: Bow = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "bow", _string_up(self.stations, self.node_x, self.zones))

    @property
    def setup(self) -> BowSetup:
        """The bow and what is done to it."""
        return self.stations.setup


def build_model(setup: BowSetup) -> LimbModel:
    """Mesh and solve every section, then assemble the beam chain and its string.

    Raises
    ------
    GeometryError
        If an outline collapses at a station.
    MaterialError
        If the wood at a point has no positive-definite stiffness.
    """
    node_x = node_positions(setup)
    stations = solve_stations(setup, gauss_positions(node_x).ravel())
    return LimbModel(node_x=node_x, stations=stations, zones=_zones(setup, node_x, stations))


def _zones(setup: BowSetup, node_x: Array, stations: Stations) -> ZoneGive:
    if not zones_of(setup.stave):
        return no_give(len(node_x) - 1)
    # Only now: plates and what meshes them take a third of a second to load.
    from limbfe.analysis.bow.zone_give import zone_give

    return zone_give(setup, node_x, stations)


def grip_points(setup: BowSetup) -> Array:
    """Return where the bow is held and its belly and back at mid-grip, shape (3, 3), m."""
    at = np.array([setup.holding.at, 0.0])
    places, frames = axis_at(setup.stave, at)
    half = 0.5 * shape_at(setup.stave, at).thickness
    belly, back = places - half[:, None] * frames[..., 2], places + half[:, None] * frames[..., 2]
    return np.stack([belly[0], belly[1], back[1]])


def _string_up(stations: Stations, node_x: Array, zones: ZoneGive) -> Bow:
    setup, sections = stations.setup, stations.sections
    positions, rotations = axis_at(setup.stave, node_x)
    chain = Chain(
        positions=positions,
        rotations=rotations,
        stiffness=read_only(sections.K.reshape(-1, 2, 6, 6)),
        mass=read_only(sections.mass.reshape(-1, 2, 6, 6)),
        give=zones.give,
    )
    half_grip = setup.stave.half_grip
    bed = string_bed(setup, node_x)
    if half_grip > 0.0:
        clamped = np.flatnonzero(np.abs(node_x) <= half_grip + 1e-12)
    else:
        clamped = np.array([int(np.argmin(np.abs(node_x - setup.holding.at)))])
    held, grip_belly, grip_back = (read_only(point) for point in grip_points(setup))
    return Bow(
        chain=chain,
        clamped=clamped,
        string=BowString(
            stiffness=setup.stringing.stiffness,
            mass=setup.stringing.mass,
            nock_lower=bed.arm[0],
            nock_upper=bed.arm[-1],
        ),
        hold=Hold(kind=setup.holding.kind, point=held, half_length=half_grip),
        grip_belly=grip_belly,
        grip_back=grip_back,
        arrow_z=setup.holding.arrow_at,
        bed=bed,
    )
