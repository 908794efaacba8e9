"""Plane-stress finite-element model of a strip with its zones.

The unknown is the departure from the limb's own strain, so a strip without a zone gives back
the limb's own stress exactly, and the shear that neighbouring slices exchange is kept without
being modelled.  With s_b, e_b the limb's own stress and strain, C the local stiffness and u the
departure,

    int de : C (e_b + e(u)) dA = int de : s_b dA - int_free du . (s_b n) ds,

the last integral over the rims on which nothing presses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import sparse

from limbfe.defect.contact import Joint, contact_forces, opening_operator, part_rims
from limbfe.defect.limb_state import LimbStrain, limb_strain, limb_stress
from limbfe.defect.mesh import StripMesh, strip_mesh
from limbfe.defect.plane import PlaneWood, plane_stiffness
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip, elliptic_radius, rim
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace, fibre_at, remaining
from limbfe.fem.assembly import (
    Pattern,
    assemble,
    assemble_load,
    element_stiffness,
    make_pattern,
    matrix,
    strains,
)
from limbfe.fem.mesh import Index, Quadrature, quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import Factor, factorise, solve
from limbfe.frames import Array

Ends = Literal["force", "strain"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripModel:
    """A meshed strip with its wood, ready for any knot stiffness and limb strain.

    Attributes
    ----------
    strip : Strip
    wood : PlaneWood
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
    wood: PlaneWood
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
    wood: PlaneWood,
    grain: Grain,
    knots: tuple[KnotTrace, ...],
    decays: tuple[DecayTrace, ...] = (),
    fineness: Fineness,
    unglued: bool = False,
) -> StripModel:
    """Mesh a strip and assemble its wood.

    Parameters
    ----------
    unglued : bool
        Take filled knots as loose, as after failure of their bond.

    Raises
    ------
    GeometryError
        If knots overlap, a zone spans the strip or reaches past its end.
    """
    fitted, loose = _fit_decays(knots, decays)
    mesh = strip_mesh(
        strip,
        tuple(k.ellipse for k in knots) + tuple(d.ellipse for d in fitted),
        fineness,
        hollow=tuple(k.state == "missing" for k in knots) + (False,) * len(fitted),
        refine=tuple(d.ellipse for d in loose),
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
    knots: tuple[KnotTrace, ...], decays: tuple[DecayTrace, ...]
) -> tuple[tuple[DecayTrace, ...], tuple[DecayTrace, ...]]:
    """Split patches into those whose rim can be meshed and those that cross another zone."""
    t = np.linspace(0.0, 2.0 * np.pi, 361)
    fitted: list[DecayTrace] = []
    loose: list[DecayTrace] = []
    for decay in decays:
        others: list[Ellipse] = [k.ellipse for k in knots] + [d.ellipse for d in fitted]
        free = decay.grading == 0.0 and all(_apart(decay.ellipse, o, t) for o in others)
        (fitted if free else loose).append(decay)
    return tuple(fitted), tuple(loose)


def _apart(first: Ellipse, second: Ellipse, t: Array) -> bool:
    one = elliptic_radius(second, rim(first, t))
    two = elliptic_radius(first, rim(second, t))
    clear = one.min() > 1.1 and two.min() > 1.1
    return bool(clear or one.max() < 0.9 or two.max() < 0.9)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripSolution:
    """Equilibrium of a strip.

    Attributes
    ----------
    model : StripModel
    departure : ndarray, shape (n, 2), m
        Displacement on top of the limb's own.
    strain : ndarray, shape (m, q, 3)
        Total strain at the quadrature points.
    stress : ndarray, shape (m, q, 3), Pa
        Total stress there, strip axes.
    stiffness : ndarray, shape (m, q, 3, 3), Pa
    pressing : ndarray, shape (c,), N per metre of thickness
        Contact forces of the model's joint.
    end_resultants : ndarray, shape (2,), N/m and N
        Axial force and in-plane moment, per metre of thickness, on top of the limb's own.
    """

    model: StripModel
    departure: Array
    strain: Array
    stress: Array
    stiffness: Array
    pressing: Array
    end_resultants: Array


def solve_strip(
    model: StripModel,
    strain: LimbStrain,
    *,
    moduli: tuple[float, ...],
    ends: Ends,
    contact: bool = True,
) -> StripSolution:
    """Solve a strip under the limb's strain.

    Parameters
    ----------
    strain : LimbStrain
    moduli : tuple of float, Pa
        In-plane modulus of each knot; not used for missing ones.
    ends : {"force", "strain"}
        Whether the ends stay plane and carry the limb's own axial force and in-plane moment, or
        stay where the limb's own strain puts them.
    contact : bool
        Whether loose knots press; without it they are as good as holes.

    Raises
    ------
    ConvergenceError
        If the strip is not held together, or contact does not settle.
    """
    own = limb_stress(model.strip, model.wood, model.grain, strain, model.at.points)
    own_strain = limb_strain(model.wood, model.grain, own)
    stiffness = _with_knots(model, moduli)
    load = _load(model, strain, own, own_strain, stiffness)
    system = _factor_ends(model, stiffness, ends)
    base, resultants = _answer(system, load[:, None])
    departure, pressing = base[:, 0], np.zeros(len(model.joint.wood))
    if contact and len(model.joint.wood):
        normal = opening_operator(model.joint, len(load))
        answer, answer_ends = _answer(system, normal)
        pressing = contact_forces(normal.T @ answer, normal.T @ departure)
        departure = departure + answer @ pressing
        resultants = resultants + answer_ends @ pressing[:, None]
    total = own_strain + strains(model.at, model.mesh.mesh.elements, departure)
    return StripSolution(
        model=model,
        departure=departure.reshape(-1, 2),
        strain=total,
        stress=np.einsum("mqij,mqj->mqi", stiffness, total),
        stiffness=stiffness,
        pressing=pressing,
        end_resultants=resultants[:, 0],
    )


def _with_knots(model: StripModel, moduli: tuple[float, ...]) -> Array:
    stiffness = model.stiffness.copy()
    for number, (knot, modulus) in enumerate(zip(model.knots, moduli, strict=True)):
        stiffness[model.inside == number] = knot_stiffness(modulus, knot.poisson)
    return stiffness


def _load(
    model: StripModel, strain: LimbStrain, own: Array, own_strain: Array, stiffness: Array
) -> Array:
    """Nodal forces of the departure problem."""
    loose = np.zeros(len(model.knots), dtype=bool)
    for number in np.unique(model.inside[model.inside >= 0]):
        inner = model.mesh.mesh.elements[model.inside == number]
        loose[number] = bool(np.isin(model.joint.knot, inner).any())
    carried = own - np.einsum("mqij,mqj->mqi", stiffness, own_strain)
    # No slice pushes a loose knot along: it is held by the wood around it alone.
    free_knot = (model.inside >= 0) & loose[model.inside]
    carried[free_knot] -= own[free_knot]
    n_nodes = len(model.mesh.mesh.nodes)
    load = assemble_load(model.at, model.mesh.mesh.elements, carried, n_nodes)
    for number, knot in enumerate(model.knots):
        if knot.state == "missing" or loose[number]:
            load -= _rim_pull(model, strain, number)
    return load


def _rim_pull(model: StripModel, strain: LimbStrain, number: int) -> Array:
    """Nodal forces of the limb's own stress on the wood at the rim of a hole."""
    sides = model.mesh.rims[number]
    nodes = model.mesh.mesh.nodes
    out = np.zeros(2 * len(nodes))
    if len(sides) == 0:
        return out
    xi, weight = np.polynomial.legendre.leggauss(4)
    shape = np.stack([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)], axis=1)
    slope = np.stack([xi - 0.5, -2.0 * xi, xi + 0.5], axis=1)
    corner = nodes[sides]
    points = np.einsum("gk,skd->sgd", shape, corner)
    tangent = np.einsum("gk,skd->sgd", slope, corner)
    # Anticlockwise round the hole the outside of the wood is on the left.
    normal = np.stack([-tangent[..., 1], tangent[..., 0]], axis=-1)
    s = limb_stress(model.strip, model.wood, model.grain, strain, points)
    pull = np.stack(
        [
            s[..., 0] * normal[..., 0] + s[..., 2] * normal[..., 1],
            s[..., 2] * normal[..., 0] + s[..., 1] * normal[..., 1],
        ],
        axis=-1,
    )
    forces = np.einsum("g,gk,sgd->skd", weight, shape, pull)
    for d in range(2):
        out[d::2] = np.bincount(sides.ravel(), weights=forces[..., d].ravel(), minlength=len(nodes))
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _System:
    """Factorised strip with its two end motions."""

    factor: Factor
    modes: Array
    motion: Array
    end_stiffness: Array
    ends: Ends


def _factor_ends(model: StripModel, stiffness: Array, ends: Ends) -> _System:
    """Factorise with plane ends; motions are the answers to stretching and bending them."""
    mesh = model.mesh
    nodes = mesh.mesh.nodes
    data = model.wood_data
    knots = model.inside >= 0
    if knots.any():
        own = np.where(knots[:, None, None, None], stiffness, 0.0)
        data = data + assemble(model.pattern, element_stiffness(model.at, own))
    K = matrix(model.pattern, data)
    if len(model.joint.knot):
        K = K + _anchor(model, data)
    middle = mesh.low_end[np.argmin(np.abs(nodes[mesh.low_end, 1] - nodes[mesh.low_end, 1].mean()))]
    fixed = np.concatenate([2 * mesh.low_end, 2 * mesh.high_end, [2 * middle + 1]])
    modes = np.zeros((len(fixed), 2))
    high = slice(len(mesh.low_end), len(mesh.low_end) + len(mesh.high_end))
    modes[high, 0] = 1.0
    modes[high, 1] = -nodes[mesh.high_end, 1]
    factor = factorise(K, fixed)
    motion = solve(factor, np.zeros((K.shape[0], 2)), modes)
    end_stiffness = modes.T @ (factor.coupling.T @ motion)
    return _System(
        factor=factor, modes=modes, motion=motion, end_stiffness=end_stiffness, ends=ends
    )


def _anchor(model: StripModel, data: Array) -> sparse.dia_array:
    """Very weak springs that hold loose knots where nothing presses on them."""
    weak = np.zeros(2 * len(model.mesh.mesh.nodes))
    weak[2 * model.joint.knot] = weak[2 * model.joint.knot + 1] = 1e-7 * np.abs(data).max()
    return sparse.dia_array((weak[None, :], [0]), shape=(len(weak), len(weak)))


def _answer(system: _System, load: Array) -> tuple[Array, Array]:
    """Displacements and end resultants under nodal loads, the ends held as asked."""
    fixed = system.factor.fixed
    held = solve(system.factor, load, np.zeros((len(fixed), load.shape[1])))
    reaction = system.modes.T @ (system.factor.coupling.T @ held - load[fixed])
    if system.ends == "strain":
        return held, reaction
    amount = np.linalg.solve(system.end_stiffness, -reaction)
    return held + system.motion @ amount, np.zeros_like(reaction)


def knot_stiffness(modulus: float, poisson: float) -> Array:
    """Return the plane-stress stiffness of an isotropic knot, shape (3, 3), Pa."""
    c = modulus / (1.0 - poisson**2)
    return c * np.array(
        [[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - poisson)]]
    )
