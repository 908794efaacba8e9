"""Plane-stress finite-element model of a strip with its zones: mesh and wood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.contact import Joint, part_rims
from limbfe.defect.mesh import StripMesh, spans, straddles_end, strip_mesh
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip, elliptic_radius, rim
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace, fibre_at, remaining
from limbfe.fem.assembly import (
    Pattern,
    assemble,
    element_stiffness,
    make_pattern,
)
from limbfe.fem.mesh import Index, Quadrature, quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripModel:
    """A meshed strip with its wood, ready for any knot stiffness and limb strain.

    Attributes
    ----------
    strip : Strip
    wood : Elasticity
    grain : Grain
    knots : tuple of KnotTrace
    decays : tuple of DecayTrace
    mesh : StripMesh
        Knots first, then decays, in the numbering of its regions.
    at : Quadrature
    stiffness : ndarray, shape (m, q, 3, 3), Pa
        Of the wood; zero in knots.
    inside : ndarray of int, shape (m,)
        Knot number of each element, -1 for wood.
    pattern : Pattern
    wood_data : ndarray
        Data array of the wood's stiffness matrix.
    joint : Joint
        Node pairs of the knots that are not tied to the wood.
    """

    strip: Strip
    wood: Elasticity
    grain: Grain
    knots: tuple[KnotTrace, ...]
    decays: tuple[DecayTrace, ...]
    mesh: StripMesh
    at: Quadrature
    stiffness: Array
    inside: Index
    pattern: Pattern
    wood_data: Array
    joint: Joint


def build_model(
    *,
    strip: Strip,
    wood: Elasticity,
    grain: Grain,
    knots: tuple[KnotTrace, ...],
    decays: tuple[DecayTrace, ...] = (),
    fineness: Fineness,
    unglued: bool = False,
    judged: str | None = None,
) -> StripModel:
    """Mesh a strip and assemble its wood.

    Parameters
    ----------
    unglued : bool
        Take filled knots as loose, as after failure of their bond.
    judged : str, optional
        Name of the zone that must be meshed whole.  Of other knots that lie across an end of the
        strip only the fibre flow is kept.

    Raises
    ------
    GeometryError
        If knots overlap, a zone spans the strip or reaches past its end.
    """
    fitted, loose = _fit_decays(strip, knots, decays)
    unmeshed = tuple(k.name != judged and straddles_end(strip, k.ellipse) for k in knots)
    mesh = strip_mesh(
        strip,
        tuple(k.ellipse for k in knots) + tuple(d.ellipse for d in fitted),
        fineness,
        hollow=tuple(k.state == "missing" for k in knots) + (False,) * len(fitted),
        unmeshed=unmeshed + (False,) * len(fitted),
        refine=tuple((d.ellipse, _side(d, fineness)) for d in loose),
        names=tuple(k.name for k in knots) + tuple(d.name for d in fitted),
    )
    loose_states = ("dead", "filled") if unglued else ("dead",)
    mesh, joint = part_rims(mesh, tuple(n for n, k in enumerate(knots) if k.state in loose_states))
    at = quadrature(mesh.mesh, *triangle_rule(4))
    region = mesh.mesh.region
    inside = np.where((region > 0) & (region <= len(knots)), region - 1, -1)
    angle, dive = fibre_at(at.points, knots, grain)
    stiffness = plane_stiffness(
        wood, angle, dive, remaining(decays, at.points, "E"), remaining(decays, at.points, "G")
    )
    stiffness[inside >= 0] = 0.0
    pattern = make_pattern(mesh.mesh.elements, len(mesh.mesh.nodes))
    return StripModel(
        strip=strip,
        wood=wood,
        grain=grain,
        knots=knots,
        decays=decays,
        mesh=mesh,
        at=at,
        stiffness=stiffness,
        inside=inside,
        pattern=pattern,
        wood_data=assemble(pattern, element_stiffness(at, stiffness)),
        joint=joint,
    )


def _fit_decays(
    strip: Strip, knots: tuple[KnotTrace, ...], decays: tuple[DecayTrace, ...]
) -> tuple[tuple[DecayTrace, ...], tuple[DecayTrace, ...]]:
    """Split patches into sharp ones whose rim can be meshed and all others.

    The others are graded, cross another zone or an end, or reach from edge to edge; they are
    felt at the quadrature points alone.
    """
    t = np.linspace(0.0, 2.0 * np.pi, 361)
    fitted: list[DecayTrace] = []
    loose: list[DecayTrace] = []
    for decay in decays:
        others: list[Ellipse] = [k.ellipse for k in knots] + [d.ellipse for d in fitted]
        free = (
            decay.grading == 0.0
            and not spans(strip, decay.ellipse)
            and not straddles_end(strip, decay.ellipse)
            and all(_apart(decay.ellipse, o, t) for o in others)
        )
        (fitted if free else loose).append(decay)
    return tuple(fitted), tuple(loose)


def _side(decay: DecayTrace, fineness: Fineness) -> float:
    """Side length of elements at a patch that is not fitted, m.

    Three sides over the distance in which the loss fades keep the governing stress to 0.02 per
    cent.
    """
    fade = decay.grading * min(decay.ellipse.a, decay.ellipse.b)
    return float(np.clip(0.3 * fade, fineness.near, 4.0 * fineness.near))


def _apart(first: Ellipse, second: Ellipse, t: Array) -> bool:
    one = elliptic_radius(second, rim(first, t))
    two = elliptic_radius(first, rim(second, t))
    clear = one.min() > 1.1 and two.min() > 1.1
    return bool(clear or one.max() < 0.9 or two.max() < 0.9)
