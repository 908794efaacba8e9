"""Slices of the limb around one zone, as the plane models want them."""

from __future__ import annotations

from typing import Literal

import numpy as np

from limbfe.analysis.model import LimbModel
from limbfe.analysis.stress import WoodStress
from limbfe.analysis.surroundings import Surroundings
from limbfe.analysis.yielding import CRUSHING_STRAIN, SOFTER
from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.mesh import spans
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.errors import GeometryError
from limbfe.failure.probability import Scatter
from limbfe.failure.problem import DepthSlice
from limbfe.failure.windows import PlaneStrength
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot, radius_at
from limbfe.stave.knot_wood import FILLER_POISSON, KNOT_POISSON
from limbfe.stave.outline import back_z, belly_z, edge_z, side_y
from limbfe.stave.profile import shape_at
from limbfe.stave.zones import zone_at
from limbfe.wood.elasticity import swap_RT
from limbfe.wood.wood import Wood

DEPTHS, FEWEST = 5, 3
"""Slices through a zone that reaches from face to face, and through the shallowest."""
BELLY_SKIN = 0.08
"""The slice nearest to the belly lies this share of the thickness inside it."""
STRIP_SAMPLES = 25
DECAY_GRADING = 0.5
"""Loss of a decayed patch grows over this part of its radius (a choice: colour fades outward)."""
BULGE = 0.2
"""Height of the rings' bulge over a knot as a share of its radius: the low end of 0.2 to 0.5
(from memory), reached over one radius."""
FIBRE_SPECIMEN = 2.9e-6
SPLIT_SPECIMEN = 3.2e-5
"""Stressed volumes (m3) behind the tabulated strengths: necked part of the tension specimen along
the grain and the throat of the one across it, ASTM D143 (from memory)."""
MODEL_SCATTER = 0.1
WITHIN_PIECE = 0.6
"""Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006): model
uncertainty 0.05 to 0.10; 0.6 of the variance of log strength lies within a piece."""

Plane = Literal["flat", "side"]


def zone_slices(
    model: LimbModel, inside: WoodStress, around: Surroundings, zone: Knot | Decay
) -> tuple[DepthSlice, ...]:
    """Return the slices through a zone, from back to belly (side zones: from side to side).

    Parameters
    ----------
    model : LimbModel
    inside : WoodStress
        Stress in the sections at full draw, for the mean shear.
    around : Surroundings
    zone : Knot or Decay

    Raises
    ------
    GeometryError
        If a knot leaves no wood beside it at any depth.  Depths at which it does, such as the
        narrow ones of a round belly, carry nothing and are left out.
    """
    plane = plane_of(zone)
    centre = zone.x if isinstance(zone, Knot) else float(zone.center[0])
    half_width = float(shape_at(model.setup.stave, [centre]).width[0]) / 2.0
    slices: list[DepthSlice] = []
    cut_through: list[float] = []
    for depth, layer, strained_at in _depths(model, zone, centre, plane):
        traces = [_knot_trace(knot, depth, plane) for knot in model.setup.stave.knots]
        knots = tuple(t for t in traces if t and abs(t.ellipse.x - centre) < 4.0 * half_width)
        rot = [_decay_trace(patch, depth, plane) for patch in model.setup.stave.decays]
        decays = tuple(t for t in rot if t and abs(t.ellipse.x - centre) < 3.0 * half_width)
        own = _own_trace(knots, decays, zone_label(zone))
        if own is None:
            continue
        strip = _strip(model, own.ellipse, depth, plane)
        if isinstance(own, KnotTrace) and spans(strip, own.ellipse):
            cut_through.append(depth)
            continue
        wood, run_out, angle = _wood(model, centre, own.ellipse.y, depth, plane)
        slices.append(
            DepthSlice(
                z=depth,
                layer=layer,
                strip=strip,
                wood=wood.elasticity if plane == "flat" else swap_RT(wood.elasticity),
                strength=plane_strength(wood),
                grain=Grain(angle=angle, run_out=run_out),
                knots=knots,
                decays=decays,
                strain=_strain(around, inside, centre, strained_at, plane),
                strained_at=strained_at,
                scatter=wood_scatter(wood),
            )
        )
    if cut_through and not slices:
        raise GeometryError(
            f"{zone_label(zone)}: as wide as the limb at every depth; no wood is left beside it: "
            "correct its size or leave more width"
        )
    return tuple(slices)


def _own_trace(
    knots: tuple[KnotTrace, ...], decays: tuple[DecayTrace, ...], name: str
) -> KnotTrace | DecayTrace | None:
    traces: tuple[KnotTrace | DecayTrace, ...] = (*knots, *decays)
    return next((trace for trace in traces if trace.name == name), None)


def zone_label(zone: Knot | Decay) -> str:
    """Return the words that name a zone."""
    return f'{"knot" if isinstance(zone, Knot) else "decay"} "{zone.name}"'


def plane_of(zone: Knot | Decay) -> Plane:
    """A knot is cut square to its axis, a patch parallel to the face it shows on."""
    if isinstance(zone, Knot):
        return "flat" if abs(zone.direction[2]) >= abs(zone.direction[1]) else "side"
    return "flat" if zone.face in ("back", "belly") else "side"


def _depths(
    model: LimbModel, zone: Knot | Decay, x: float, plane: Plane
) -> list[tuple[float, float, float]]:
    """Return where the slices lie, how thick a layer each stands for, and where it is strained.

    A slice kept clear of the belly's skin stands for the skin, so it is strained as the skin is.
    """
    shapes = shape_at(model.setup.stave, np.array([x]))
    thickness, width = float(shapes.thickness[0]), float(shapes.width[0])
    axis, across = (2, 1) if plane == "flat" else (1, 2)
    if isinstance(zone, Knot):
        ends = np.stack([zone.entry, zone.entry + zone.length * zone.direction])
    else:
        inside = 0.9 * float(zone.semi_axes[axis])
        ends = np.tile(zone.center, (2, 1))
        ends[:, axis] += [-inside, inside]
    ends = ends[ends[:, axis].argsort()]
    if plane == "flat":
        y = np.clip(ends[:, across], -0.49 * width, 0.49 * width)
        skin = float(belly_z(shapes, y)[0])
        low = skin + BELLY_SKIN * thickness
        high = float(back_z(shapes, y)[1])
    else:
        low, high = -0.46 * width, 0.46 * width
        skin = low
    bottom, top = max(low, float(ends[0, axis])), min(high, float(ends[1, axis]))
    if top <= bottom:
        # Shallower than the skin that is left out: its inner end.
        top = bottom = float(ends[np.abs(ends[:, axis]).argmin(), axis])
    whole = thickness if plane == "flat" else width
    count = int(np.clip(np.ceil(DEPTHS * (top - bottom) / whole), FEWEST, DEPTHS))
    depths = np.unique(np.linspace(top, bottom, count))[::-1]
    layer = max((top - bottom) / max(len(depths) - 1, 1), 1e-4)
    strained_at = np.where(depths == low, skin, depths)
    return [(float(z), layer, float(at)) for z, at in zip(depths, strained_at, strict=True)]


def _knot_trace(knot: Knot, depth: float, plane: Plane) -> KnotTrace | None:
    axis, across = (2, 1) if plane == "flat" else (1, 2)
    steepness = float(knot.direction[axis])
    if abs(steepness) < 0.3:
        return None
    s = (depth - float(knot.entry[axis])) / steepness
    radius = float(radius_at(knot, s))
    if radius <= 1e-4:
        return None
    filler = knot.filler
    return KnotTrace(
        name=zone_label(knot),
        ellipse=Ellipse(
            x=float(knot.entry[0] + s * knot.direction[0]),
            y=float(knot.entry[across] + s * knot.direction[across]),
            a=radius,
            b=radius / abs(steepness),
        ),
        state=knot.state,
        modulus=None if filler is None else filler.E,
        poisson=KNOT_POISSON if filler is None else FILLER_POISSON,
        bulge_height=BULGE * radius,
        bulge_reach=radius,
        bond_tension=None if filler is None else filler.tension,
        bond_shear=None if filler is None else filler.shear,
    )


def _decay_trace(decay: Decay, depth: float, plane: Plane) -> DecayTrace | None:
    axis, across = (2, 1) if plane == "flat" else (1, 2)
    inward = (depth - float(decay.center[axis])) / float(decay.semi_axes[axis])
    if abs(inward) >= 0.995:
        return None
    scale = float(np.sqrt(1.0 - inward**2))
    effect = decay.effect
    return DecayTrace(
        name=zone_label(decay),
        ellipse=Ellipse(
            x=float(decay.center[0]),
            y=float(decay.center[across]),
            a=scale * float(decay.semi_axes[0]),
            b=scale * float(decay.semi_axes[across]),
        ),
        grading=DECAY_GRADING,
        E=effect.E,
        G=effect.G,
        tension=effect.tension,
        compression=effect.compression,
        shear=effect.shear,
        across=effect.across,
        toughness=effect.toughness,
    )


def _strip(model: LimbModel, ellipse: Ellipse, depth: float, plane: Plane) -> Strip:
    """Return the limb's outline at a depth, long enough for the zone's stress to die out."""
    stave = model.setup.stave
    width = float(shape_at(stave, [ellipse.x]).width[0])
    reach = max(ellipse.a, ellipse.b) + 1.5 * width
    # The strip may reach into the grip: a zone at its edge needs wood on both sides.
    low = max(ellipse.x - reach, float(stave.x[0]))
    high = min(ellipse.x + reach, float(stave.x[-1]))
    x = np.linspace(low, high, STRIP_SAMPLES)
    shapes = shape_at(stave, x)
    if plane == "flat":
        # Above the edges of an arched back the slice follows the back across the whole width; where
        # the limb is thinner than at the zone the slice stays inside the belly.
        skin = belly_z(shapes, np.zeros_like(x)) + 0.5 * BELLY_SKIN * shapes.thickness
        half = side_y(shapes, np.clip(depth, skin, edge_z(shapes)))
        return Strip(x=x, right=-half, left=half)
    y = np.clip(np.full_like(x, depth), -0.46 * shapes.width, 0.46 * shapes.width)
    return Strip(x=x, right=belly_z(shapes, y), left=back_z(shapes, y))


def _wood(
    model: LimbModel, x: float, across: float, depth: float, plane: Plane
) -> tuple[Wood, float, float]:
    """Return the clear wood at a place and its grain out of and in the plane of the slice."""
    stave = model.setup.stave
    half = 0.49 * float(shape_at(stave, [x]).width[0])
    y, z = (across, depth) if plane == "flat" else (depth, across)
    index = int(zone_at(stave, x, float(np.clip(y, -half, half)), z - 1e-6).wood)
    wood = (stave.heartwood, stave.sapwood_wood, stave.backing_wood)[index] or stave.heartwood
    sideways = stave.sideways_grain + stave.spiral
    if plane == "flat":
        return wood, stave.run_out, sideways
    return wood, sideways, stave.run_out


def plane_strength(wood: Wood) -> PlaneStrength:
    """Return the strengths; that of crushing as the stress an elastic slice has at that strain.

    The plane models are elastic and driven by the limb's strain, so a strain limit is what their
    compression can be compared with.
    """
    s, E_L = wood.strength, wood.elasticity.E_L
    return PlaneStrength(
        tension=s.tension,
        compression=max(E_L * CRUSHING_STRAIN, SOFTER * s.compression),
        shear=s.shear,
        tension_across=s.tension_across,
        toughness_fibre=s.toughness_fibre,
        toughness_opening=s.toughness_opening,
        toughness_sliding=s.toughness_sliding,
    )


def wood_scatter(wood: Wood) -> Scatter:
    """Return how the stiffness and the strengths of a wood scatter, with the models' own share.

    A measured E_L keeps its scatter here: strength goes with stiffness from stave to stave, and
    without it the strengths would scatter as if nothing were known of the stave.
    """
    cov = wood.strength.cov
    return Scatter(
        modulus=cov["E_L"],
        tension=cov["tension_strength"],
        tension_across=cov["tension_strength_across"],
        shear=cov["shear_strength"],
        model=MODEL_SCATTER,
        volume_fibre=FIBRE_SPECIMEN,
        volume_split=SPLIT_SPECIMEN,
        within=WITHIN_PIECE,
    )


def _strain(
    around: Surroundings, inside: WoodStress, x: float, depth: float, plane: Plane
) -> LimbStrain:
    (x1, x2), (first, second) = around.x, around.strains
    share = (x - x1) / (x2 - x1)
    here, slope = first + share * (second - first), (second - first) / (x2 - x1)
    sign, out, in_plane = (1.0, 4, 5) if plane == "flat" else (-1.0, 5, 4)
    shear = [_mean_shear(inside, int(k), depth, plane) for k in around.index]
    return LimbStrain(
        x0=x,
        axial=float(here[0] + sign * depth * here[out]),
        axial_slope=float(slope[0] + sign * depth * slope[out]),
        bending=float(sign * here[in_plane]),
        bending_slope=float(sign * slope[in_plane]),
        shear=float(np.mean(shear)),
    )


def _mean_shear(inside: WoodStress, station: int, depth: float, plane: Plane) -> float:
    """Return the section's own shear strain in the plane of the slice, near its depth."""
    axis, component = (1, 5) if plane == "flat" else (0, 4)
    distance = np.abs(inside.points[station, :, axis] - depth)
    near = distance <= np.sort(distance)[len(distance) // 12]
    return float(inside.strain[station, near, component].mean())
