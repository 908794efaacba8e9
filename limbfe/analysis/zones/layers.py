"""The plate round one zone, and the layers of its depth at which it is judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.piece.piece import depth_faces, piece_strip, piece_wood, zone_trace
from limbfe.analysis.piece.traces import decay_trace, knot_trace, plane_of
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.wood.stress import WoodStress
from limbfe.analysis.zones.crushed_belly import CrushedBelly
from limbfe.analysis.zones.layer_wood import (
    DEPTHS,
    KNOTS_WITHIN,
    NEAR_EDGE,
    layer_strain,
    near_knots,
    plane_strength,
    wood_scatter,
    wood_there,
)
from limbfe.analysis.zones.surroundings import Surroundings
from limbfe.defect.mesh import spans
from limbfe.defect.plate.body import PlateBody, from_the_side
from limbfe.defect.strip import Ellipse, Strip, edge
from limbfe.defect.zone import DecayTrace, Grain
from limbfe.errors import GeometryError
from limbfe.failure.problem import DepthLayer
from limbfe.frames import Array
from limbfe.stave.knot import Plane
from limbfe.stave.named_zones import Zone
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.wood.elasticity import swap_RT

WINDOW_DEPTH = 2e-3
"""Depth (m) over which a window's stress is averaged: as along and across it a window is no point
(own solids: 1.4 per cent from the plate's mean over it, 8 per cent at the face itself)."""
DEEPEST = 0.25
"""Of the thickness: no layer is deeper than this."""


def zone_plate(
    model: LimbModel, load: LimbLoad, around: Surroundings, zone: Zone, stave: Stave
) -> tuple[PlateBody | None, tuple[DepthLayer, ...]]:
    """Return the plate round a zone, and its layers from the back or from the archer's right.

    A zone that shows on a side is looked at from there: its plate has belly and back for edges.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    around : Surroundings
    zone : Knot or Decay
    stave : Stave
        With the zone in it.

    Returns
    -------
    body : PlateBody or None
        None where nothing of the zone is left in the limb.
    layers : tuple of DepthLayer

    Raises
    ------
    GeometryError
        If a knot leaves no wood beside it at any depth.
    """
    x, plane = zone.extent[0], plane_of(zone)
    low, high = depth_faces(stave, x, 0.0, plane)
    focus = zone_trace(zone, low, high, plane)
    if focus is None:
        return None, ()
    strip = piece_strip(stave, focus, plane)
    layers, cut_through = [], False
    glued = 0.0
    if stave.backing_wood is not None and plane == "flat":
        glued = float(shape_at(stave, np.array([x])).backing[0])
    for span in _spans(high - low, glued):
        piece = _layer(stave, (load.inside, around), zone, strip, focus, span)
        own = next((k for k in piece.knots if k.name == zone.label), None)
        if own is not None and spans(strip, own.ellipse):
            cut_through = True
            continue
        layers.append(piece)
    if cut_through and not layers:
        raise GeometryError(
            f"{zone.label}: as wide as the limb at every depth; no wood is left beside it: "
            "correct its size or leave more width"
        )
    names = {str(knot.name) for piece in layers for knot in piece.knots}
    wood = piece_wood(stave, names, strip, (low, high), layers[0].grain, plane)
    wood = replace(
        wood,
        softening=CrushedBelly(
            stations=model.stations.x, strains=load.strains, stave=stave, plane=plane
        ),
    )
    loads = _resultants(around, strip)
    body = PlateBody(
        strip=strip, wood=wood, resultants=loads if plane == "flat" else from_the_side(loads)
    )
    return body, tuple(layers)


def _spans(thickness: float, backing: float) -> list[tuple[float, float]]:
    """Return the layers from the back, as shares of the way from belly to back."""
    core = 1.0 - backing / thickness
    deep = min(WINDOW_DEPTH / thickness, DEEPEST)
    centres = np.linspace(core - 0.5 * deep, 0.5 * deep, DEPTHS)
    layers = [(float(c - 0.5 * deep), float(c + 0.5 * deep)) for c in centres]
    return [(core, 1.0), *layers] if backing > 0.0 else layers


def _layer(
    stave: Stave,
    loads: tuple[WoodStress, Surroundings],
    zone: Zone,
    strip: Strip,
    focus: Ellipse,
    span: tuple[float, float],
) -> DepthLayer:
    (inside, around), plane = loads, plane_of(zone)
    x = zone.extent[0]
    half_width = 0.5 * float(shape_at(stave, np.array([focus.x])).width[0])
    right, left = (float(edge(strip, side, np.array([focus.x]))[0]) for side in ("right", "left"))
    middle, half = 0.5 * (right + left), 2.0 * NEAR_EDGE * 0.5 * (left - right)
    across = float(np.clip(focus.y, middle - half, middle + half))
    low, high = depth_faces(stave, focus.x, across, plane)
    depth = low + 0.5 * (span[0] + span[1]) * (high - low)
    traces = [knot_trace(knot, depth, plane) for knot in stave.knots]
    own = next((trace for trace in traces if trace and trace.name == zone.label), None)
    wood, run_out, angle = wood_there(stave, focus.x, across, depth, plane)
    near = (low + share * (high - low) for share in span)
    return DepthLayer(
        z=depth,
        layer=(high - low) / DEPTHS,
        strip=strip,
        wood=wood.elasticity if plane == "flat" else swap_RT(wood.elasticity),
        strength=plane_strength(wood),
        grain=Grain(angle=angle, run_out=run_out),
        knots=near_knots(traces, strip, own or focus, KNOTS_WITHIN * half_width),
        decays=_patches(stave, strip, plane, *near),
        strain=layer_strain(around, inside, x, depth, plane),
        scatter=wood_scatter(wood),
        focus=focus,
        span=span,
    )


def _patches(
    stave: Stave, strip: Strip, plane: Plane, low: float, high: float
) -> tuple[DecayTrace, ...]:
    """Return the patches of a layer, where each is widest in it."""
    found, deep = [], 2 if plane == "flat" else 1
    for decay in stave.decays:
        reach = float(decay.semi_axes[0])
        if strip.x[0] - reach < decay.center[0] < strip.x[-1] + reach:
            trace = decay_trace(decay, float(np.clip(decay.center[deep], low, high)), plane)
            found += [] if trace is None else [trace]
    return tuple(found)


def _resultants(around: Surroundings, strip: Strip) -> Array:
    """Return the bow's resultants in the middle of a strip.

    The moments run straight along the zone and the shear forces are their slopes, so that the plate
    is in equilibrium; the axial force is the mean.
    """
    (x1, x2), (first, last) = around.x, around.resultants
    slope = (last - first) / (x2 - x1)
    middle = 0.5 * (strip.x[0] + strip.x[-1])
    out: Array = 0.5 * (first + last)
    out[4:] = first[4:] + slope[4:] * (middle - x1)
    out[1], out[2] = -slope[5], slope[4]
    return out
