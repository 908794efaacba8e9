"""What knots and patches give besides what their sections count: the bow bends at a weak place.

A section knows the wood it cuts and nothing of how stress flows round a zone: beside a hole a
shadow of idle wood lies on both sides along the grain.  The plate round a zone knows it.  How much
more it gives than the same piece of sound limb, less what the beam's own sections count of the zone
there, stands in series with the sections, so that the beam bends by the plate and nothing is
counted twice.  The sections keep their own strains, and crush by their own law.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from threadpoolctl import threadpool_limits

from limbfe.analysis.bow.given import ZoneGive
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import Stations, solve_stations
from limbfe.analysis.piece.piece import (
    depth_faces,
    outline_between,
    piece_strip,
    piece_wood,
    zone_trace,
)
from limbfe.analysis.piece.traces import plane_of
from limbfe.beam import gauss_positions
from limbfe.defect.plate.body import PlateBody, body_plate, from_the_side, mesh_body, typical_moduli
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.wood import wood_at
from limbfe.defect.sizes import Fineness
from limbfe.defect.zone import Grain
from limbfe.errors import GeometryError
from limbfe.fem.mesh import Index
from limbfe.frames import Array, read_only
from limbfe.stave.knot import Knot, Plane
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.stave.profile import grain_at, shape_at
from limbfe.stave.stave import Stave
from limbfe.units import Sentence, Words

CLEAR = 0.75
"""Widths of limb between two zones from which they are plates of their own."""
FINENESS = Fineness(near=3e-3, growth=0.6, across=3.0, around=18.0, smoothing=3)
"""Of a plate that is asked for its give alone: 0.6 per cent short of one three times as fine."""
RATE_STEP = 0.025
"""Step of the difference quotients of the give, as a share of thickness or width."""
PLANES: tuple[Plane, ...] = ("flat", "side")
_LOADS = np.array([0, 4, 5])
"""Axial force and the two moments among the six resultants."""


def zone_give(setup: BowSetup, node_x: Array, stations: Stations | None = None) -> ZoneGive:
    """Return what the zones of a bow give besides what its sections count of them.

    Parameters
    ----------
    setup : BowSetup
    node_x : ndarray, shape (n,), m
    stations : Stations, optional
        Its Gauss stations, if they are solved; those near zones are solved anew without.
    """
    give, words = np.zeros((len(node_x) - 1, 6, 6)), list[Words]()
    stave = setup.stave
    for plane, group in _groups(stave):
        elements = _elements(stave, node_x, group)
        if not elements.size:
            continue
        try:
            # The fronts of a coarse plate are small: more threads only wait for each other.
            with threadpool_limits(limits=1, user_api="blas"):
                extra = _bending_share(stave, group) * _plate_extra(stave, group, plane)
        except GeometryError as error:
            words.append(
                Sentence(
                    "{}: bends as its sections count it, no plate can be laid round it: {}",
                    group[0].name,
                    str(error),
                )
            )
            continue
        own = _counted(setup, node_x, group, stations)
        _spread(give, np.diff(node_x), elements, extra, own)
    return ZoneGive(give=read_only(give), words=tuple(words))


def _groups(stave: Stave) -> list[tuple[Plane, tuple[Zone, ...]]]:
    """Return the zones with the plane they are seen in, those near each other together."""
    groups: list[tuple[Plane, list[Zone]]] = []
    ordered = sorted(zones_of(stave), key=lambda one: one.extent[0] - one.extent[1])
    for plane in PLANES:
        end = -np.inf
        for zone in (one for one in ordered if plane_of(one) == plane):
            centre, reach = zone.extent
            if centre - reach < end + CLEAR * float(shape_at(stave, [centre]).width[0]):
                groups[-1][1].append(zone)
            else:
                groups.append((plane, [zone]))
            end = max(end, centre + reach)
    return [(plane, tuple(group)) for plane, group in groups]


def _elements(stave: Stave, node_x: Array, group: tuple[Zone, ...]) -> Index:
    """Return the bending elements within a group's zones, the nearest where none is."""
    middle = 0.5 * (node_x[1:] + node_x[:-1])
    within = np.zeros(len(middle), dtype=bool)
    for zone in group:
        centre, reach = zone.extent
        apart = np.abs(middle - centre)
        within |= apart <= max(reach, apart.min())
    return np.flatnonzero(within & stave.bends(middle))


def _bending_share(stave: Stave, group: tuple[Zone, ...]) -> float:
    """Return how much of a group lies outside the stiff grip."""
    x = np.concatenate([np.linspace(c - r, c + r, 41) for c, r in (z.extent for z in group)])
    on_limb = x[(x >= stave.x[0]) & (x <= stave.x[-1])]
    return float(stave.bends(on_limb).mean())


def _plate_extra(stave: Stave, group: tuple[Zone, ...], plane: Plane) -> Array:
    """Return how much more a piece of limb gives with a group of zones than sound, shape (3, 3).

    Under the axial force and the moments about the section's y and z.
    """
    pieces = []
    for zone in group:
        faces = depth_faces(stave, zone.extent[0], 0.0, plane)
        focus = zone_trace(zone, *faces, plane)
        if focus is not None:
            pieces.append((piece_strip(stave, focus, plane), faces))
    if not pieces:
        return np.zeros((3, 3))
    strip = pieces[0][0]
    if len(pieces) > 1:
        ends = np.array([one.x[[0, -1]] for one, _ in pieces])
        strip = outline_between(stave, ends[:, 0].min(), ends[:, 1].max(), plane)
    names = {str(zone.label) for zone in group if isinstance(zone, Knot)}
    grain = grain_at(stave, 0.5 * (strip.x[0] + strip.x[-1]))
    aside, out = float(grain.sideways_grain + grain.spiral), float(grain.run_out)
    far = Grain(angle=aside, run_out=out) if plane == "flat" else Grain(angle=out, run_out=aside)
    own = {str(zone.label) for zone in group}
    alone = replace(stave, decays=tuple(d for d in stave.decays if str(d.label) in own))
    wood = piece_wood(alone, names, strip, pieces[0][1], far, plane)
    body = PlateBody(strip=strip, wood=wood, resultants=np.zeros(6))
    meshed = mesh_body(body, FINENESS, hollow=False)
    moduli = typical_moduli(meshed.body.wood.knots)
    sound = replace(wood, knots=(), decays=())
    here = wood_at(sound, meshed.points, meshed.faces, meshed.columns.z)
    bare = replace(meshed, body=replace(body, wood=sound), here=here)
    with_zones, without = (
        solve_plate(body_plate(one, E, "quick")).give for one, E in ((meshed, moduli), (bare, ()))
    )
    extra: Array = with_zones - without
    if plane == "side":
        turned = np.stack([from_the_side(unit)[_LOADS] for unit in np.eye(6)[_LOADS]], axis=1)
        extra = turned.T @ extra @ turned
    return extra


def _counted(
    setup: BowSetup, node_x: Array, group: tuple[Zone, ...], stations: Stations | None
) -> Array:
    """Return what the sections of every element count of a group of zones, shape (n - 1, 3, 3).

    In metres per newton and so on: with the element's length in it.
    """
    x, stave = gauss_positions(node_x), setup.stave
    width = float(shape_at(stave, [group[0].extent[0]]).width[0])
    low = min(zone.extent[0] - zone.extent[1] for zone in group) - width
    high = max(zone.extent[0] + zone.extent[1] for zone in group) + width
    near = np.flatnonzero(((x > low) & (x < high)).any(axis=1) & stave.bends(x.mean(axis=1)))
    at = x[near].ravel()
    own = {str(zone.label) for zone in group}
    sound = replace(
        stave,
        knots=tuple(k for k in stave.knots if str(k.label) not in own),
        decays=tuple(d for d in stave.decays if str(d.label) not in own),
    )
    without = solve_stations(replace(setup, stave=sound), at).sections.compliance
    if stations is None:
        there = solve_stations(setup, at).sections.compliance
    else:
        there = stations.sections.compliance.reshape(-1, 2, 6, 6)[near].reshape(-1, 6, 6)
    more = (there - without)[:, _LOADS[:, None], _LOADS].reshape(-1, 2, 3, 3).mean(axis=1)
    out = np.zeros((len(x), 3, 3))
    out[near] = more * np.diff(node_x)[near, None, None]
    return out


def _spread(give: Array, length: Array, elements: Index, extra: Array, own: Array) -> None:
    """Add what the plate gives beyond the sections' count to the elements of the zone.

    As the sections' own loss is spread along it, where they see any.
    """
    missing = extra - own.sum(axis=0)
    share = np.maximum(own[elements, 1, 1], 0.0)
    if share.sum() <= 1e-3 * abs(extra[1, 1]):  # of nothing, too
        share = length[elements]
    share = share / share.sum()
    rows, columns = _LOADS[:, None], _LOADS
    for element, part in zip(elements, share, strict=True):
        give[element, rows, columns] += part / length[element] * missing
