"""Layers of the limb around one zone, as the plane models want them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from limbfe.analysis.wood.stress import WoodStress
from limbfe.analysis.zones.surroundings import Surroundings
from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.mesh import spans
from limbfe.defect.strip import Ellipse, Strip, elliptic_radius, rim
from limbfe.defect.zone import DecayTrace, KnotTrace
from limbfe.failure.probability import MODEL_SCATTER, Scatter
from limbfe.failure.windows import PlaneStrength
from limbfe.frames import Array
from limbfe.stave.knot import Plane
from limbfe.stave.profile import grain_at, shape_at
from limbfe.stave.stave import Stave
from limbfe.stave.zones import zone_at
from limbfe.wood.bar import belly_law, bent_bar, wrinkled_at
from limbfe.wood.belly import BellyLaw
from limbfe.wood.weakest_link import bar_volume
from limbfe.wood.wood import Wood

DEPTHS = 5
"""Layers at which a plate is judged."""
KNOTS_WITHIN = 4.0
"""Half widths from a zone within which other knots lie in its plate (a choice): those further off
are outside the strip or at its ends."""
NEAR_EDGE = 0.49
"""Of the width, from its middle: where wood is looked up for a zone that shows beyond the edge."""
SPLIT_SPECIMEN = 3.2e-5
"""Stressed volume (m3) behind the strengths across the grain and in shear: the throat of the
specimen pulled across, ASTM D143 (from memory)."""
WITHIN_PIECE = 0.6
"""Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006): 0.6 of the
variance of log strength lies within a piece."""


def near_knots(
    traces: list[KnotTrace | None],
    strip: Strip,
    own: KnotTrace | DecayTrace | Ellipse,
    reach: float,
) -> tuple[KnotTrace, ...]:
    """Return a zone's own knot and those within `reach` of it that a plane model can hold.

    A branch that runs along the plane from edge to edge, or whose stand-in overlaps another knot,
    is left to the plane that cuts it squarely.
    """
    t = np.linspace(0.0, 2.0 * np.pi, 361)
    middle = own.x if isinstance(own, Ellipse) else own.ellipse.x
    near: list[KnotTrace] = []
    for trace in traces:
        if trace is None or (trace is not own and abs(trace.ellipse.x - middle) >= reach):
            continue
        lying = trace is not own and trace.lying
        others = [*near, own] if isinstance(own, KnotTrace) else near
        if lying and spans(strip, trace.ellipse):
            continue
        if lying and not all(_apart(trace.ellipse, one.ellipse, t) for one in others):
            continue
        near.append(trace)
    return tuple(near)


def wood_there(
    stave: Stave, x: float, across: float, depth: float, plane: Plane
) -> tuple[Wood, float, float]:
    """Return the clear wood at a place and its grain out of and in the plane of the layer."""
    half = NEAR_EDGE * float(shape_at(stave, [x]).width[0])
    y, z = (across, depth) if plane == "flat" else (depth, across)
    index = int(zone_at(stave, x, float(np.clip(y, -half, half)), z - 1e-6).wood)
    wood = (stave.heartwood, stave.sapwood_wood, stave.backing_wood)[index] or stave.heartwood
    grain = grain_at(stave, x)
    run_out, sideways = float(grain.run_out), float(grain.sideways_grain + grain.spiral)
    if plane == "flat":
        return wood, run_out, sideways
    return wood, sideways, run_out


def plane_strength(wood: Wood) -> PlaneStrength:
    """Return the strengths; that of compression is an elastic layer's stress at the first wrinkles.

    The plane models are elastic and driven by the limb's strain, so a strain limit is what their
    compression can be compared with.
    """
    s, E_L = wood.strength, wood.elasticity.E_L
    return PlaneStrength(
        tension=s.tension,
        compression=E_L * _wrinkled(*_bar_numbers(wood)),
        shear=s.shear,
        tension_across=s.tension_across,
        toughness_fibre=s.toughness_fibre,
        toughness_opening=s.toughness_opening,
        toughness_sliding=s.toughness_sliding,
        volume=bar_volume(wood),
        across_grain=s.compression_across,
    )


def _bar_numbers(wood: Wood) -> tuple[float, ...]:
    """Return what the bar of a wood is made of: tension strength and the law of its belly, Pa."""
    law = belly_law(wood)
    numbers = (wood.strength.tension, law.modulus, law.crushing, law.limit, law.plateau)
    return tuple(float(number) for number in numbers)


@lru_cache(maxsize=64)
def _wrinkled(tension: float, *law: float) -> float:
    """Return the shortening at which a bar may wrinkle: the layers of a limb share their woods."""
    modulus, crushing, limit, plateau = law
    belly = BellyLaw(modulus=modulus, crushing=crushing, limit=limit, plateau=plateau)
    return float(wrinkled_at(bent_bar(belly, tension)))


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
        volume_split=SPLIT_SPECIMEN,
        within=WITHIN_PIECE,
    )


def layer_strain(
    around: Surroundings, inside: WoodStress, x: float, depth: float, plane: Plane
) -> LimbStrain:
    """Return the sound limb's strain at a depth, straight along the zone at x."""
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
    """Return the section's own shear strain in the plane of the layer, near its depth."""
    axis, component = (1, 5) if plane == "flat" else (0, 4)
    distance = np.abs(inside.points[station, :, axis] - depth)
    near = distance <= np.sort(distance)[len(distance) // 12]
    return float(inside.strain[station, near, component].mean())


def _apart(first: Ellipse, second: Ellipse, t: Array) -> bool:
    """Return whether two ellipses lie clear of each other or one inside the other, by rim at t."""
    one = elliptic_radius(second, rim(first, t))
    two = elliptic_radius(first, rim(second, t))
    clear = one.min() > 1.1 and two.min() > 1.1
    return bool(clear or one.max() < 0.9 or two.max() < 0.9)
