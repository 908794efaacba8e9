"""Equilibrium of a meshed strip under the limb's strain.

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

from limbfe.defect.contact import contact_forces, opening_operator
from limbfe.defect.limb_state import LimbStrain, limb_strain, limb_stress
from limbfe.defect.submodel import StripModel
from limbfe.fem.assembly import assemble, assemble_load, element_stiffness, matrix, strains
from limbfe.fem.mesh import part_of
from limbfe.fem.solve import COLUMNS, Factor, factorise, solve
from limbfe.frames import Array

Ends = Literal["force", "strain"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripSolution:
    """Equilibrium of a strip.

    Attributes
    ----------
    model : StripModel
    departure : ndarray, shape (n, 2), m
        Displacement on top of the limb's own.
    departure_strain : ndarray, shape (m, q, 3)
        Strain on top of the limb's own at the quadrature points.
    stress : ndarray, shape (m, q, 3), Pa
        Total stress there, strip axes.
    knot_stiffness : ndarray, shape (k, 3, 3), Pa
    pressing : ndarray, shape (c,), N per metre of thickness
        Contact forces of the model's joint.
    end_resultants : ndarray, shape (2,), N/m and N
        Axial force and in-plane moment, per metre of thickness, on top of the limb's own.
    end_motion : ndarray, shape (2,), m and rad
        Extension of the strip and turn of its ends on top of the limb's own: what the zone adds
        to the limb's give.
    """

    model: StripModel
    departure: Array
    departure_strain: Array
    stress: Array
    knot_stiffness: Array
    pressing: Array
    end_resultants: Array
    end_motion: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripSystem:
    """A strip with given knot stiffness, factorised for any strain of the limb.

    Attributes
    ----------
    model : StripModel
    knot_stiffness : ndarray, shape (k, 3, 3), Pa
    stiffness : ndarray, shape (m, q, 3, 3), Pa
        At the quadrature points, knots included.
    factor : Factor
    modes : ndarray, shape (fixed, 2)
        Stretching and bending of the plane ends.
    motion : ndarray, shape (2 n, 2)
        Displacements they cause.
    end_stiffness : ndarray, shape (2, 2)
        Axial force and in-plane moment they need, per metre of thickness.
    ends : {"force", "strain"}
    """

    model: StripModel
    knot_stiffness: Array
    stiffness: Array
    factor: Factor
    modes: Array
    motion: Array
    end_stiffness: Array
    ends: Ends


def factor_strip(model: StripModel, *, moduli: tuple[float, ...], ends: Ends) -> StripSystem:
    """Factorise a strip.

    Parameters
    ----------
    moduli : tuple of float, Pa
        In-plane modulus of each knot; not used for missing ones.
    ends : {"force", "strain"}
        Whether the ends stay plane and carry the limb's own axial force and in-plane moment, or
        stay where the limb's own strain puts them.

    Raises
    ------
    ConvergenceError
        If the strip is not held together.
    """
    mesh, nodes = model.mesh, model.mesh.mesh.nodes
    own = np.array([knot_stiffness(E, k.poisson) for k, E in zip(model.knots, moduli, strict=True)])
    stiffness = model.stiffness.copy()
    in_knot = model.inside >= 0
    data = model.wood_data
    if in_knot.any():
        stiffness[in_knot] = own[model.inside[in_knot], None]
        blocks = element_stiffness(part_of(model.at, in_knot), stiffness[in_knot])
        data = data + assemble(model.pattern, blocks, in_knot)
    K = matrix(model.pattern, data)
    if len(model.joint.knot):
        K = K + _anchor(model, data)
    level = nodes[mesh.low_end, 1]
    middle = mesh.low_end[np.argmin(np.abs(level - level.mean()))]
    fixed = np.concatenate([2 * mesh.low_end, 2 * mesh.high_end, [2 * middle + 1]])
    modes = np.zeros((len(fixed), 2))
    high = slice(len(mesh.low_end), len(mesh.low_end) + len(mesh.high_end))
    modes[high, 0] = 1.0
    modes[high, 1] = -nodes[mesh.high_end, 1]
    factor = factorise(K, fixed)
    motion = solve(factor, np.zeros((K.shape[0], 2)), modes)
    return StripSystem(
        model=model,
        knot_stiffness=own.reshape(-1, 3, 3),
        stiffness=stiffness,
        factor=factor,
        modes=modes,
        motion=motion,
        end_stiffness=modes.T @ (factor.coupling.T @ motion),
        ends=ends,
    )


def solve_strip(system: StripSystem, strain: LimbStrain, *, contact: bool = True) -> StripSolution:
    """Solve a strip under the limb's strain.

    Parameters
    ----------
    system : StripSystem
    strain : LimbStrain
    contact : bool
        Whether loose knots press; without it they are as good as holes.

    Raises
    ------
    ConvergenceError
        If contact does not settle.
    """
    model = system.model
    own = limb_stress(model.strip, model.wood, model.grain, strain, model.at.points)
    own_strain = limb_strain(model.wood, model.grain, own)
    load = _load(model, strain, own, own_strain, system.stiffness)
    departure, resultants, motion = _answer(system, load[:, None])
    pressing = np.zeros(len(model.joint.wood))
    if contact and len(model.joint.wood):
        normal = opening_operator(model.joint, len(load))
        flexibility = _flexibility(system, normal)
        pressing = contact_forces(flexibility, (normal.T @ departure)[:, 0])
        departure, resultants, motion = _answer(system, (load + normal @ pressing)[:, None])
    extra = strains(model.at, model.mesh.mesh.elements, departure[:, 0])
    return StripSolution(
        model=model,
        departure=departure.reshape(-1, 2),
        departure_strain=extra,
        stress=np.einsum("mqij,mqj->mqi", system.stiffness, own_strain + extra),
        knot_stiffness=system.knot_stiffness,
        pressing=pressing,
        end_resultants=resultants[:, 0],
        end_motion=motion[:, 0],
    )


def _flexibility(system: StripSystem, normal: sparse.csc_array) -> Array:
    """Opening of every pair of a joint under unit contact forces on each, shape (c, c).

    A few columns at a time: only their openings are kept, not the displacements of all nodes.
    """
    out = np.empty((normal.shape[1], normal.shape[1]))
    for start in range(0, len(out), COLUMNS):
        some = slice(start, start + COLUMNS)
        out[:, some] = normal.T @ _answer(system, normal[:, some].toarray())[0]
    return out


def _load(
    model: StripModel, strain: LimbStrain, own: Array, own_strain: Array, stiffness: Array
) -> Array:
    """Nodal forces of the departure problem."""
    # One more entry than knots: elements of no knot carry the number -1.
    loose = np.zeros(len(model.knots) + 1, dtype=bool)
    for number in np.unique(model.inside[model.inside >= 0]):
        inner = model.mesh.mesh.elements[model.inside == number]
        loose[number] = bool(np.isin(model.joint.knot, inner).any())
    carried = own - np.einsum("mqij,mqj->mqi", stiffness, own_strain)
    # No slice pushes a loose knot along: it is held by the wood around it alone.
    free_knot = loose[model.inside]
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


def _anchor(model: StripModel, data: Array) -> sparse.dia_array:
    """Very weak springs that hold loose knots where nothing presses on them."""
    weak = np.zeros(2 * len(model.mesh.mesh.nodes))
    weak[2 * model.joint.knot] = weak[2 * model.joint.knot + 1] = 1e-7 * np.abs(data).max()
    return sparse.dia_array((weak[None, :], [0]), shape=(len(weak), len(weak)))


def _answer(system: StripSystem, load: Array) -> tuple[Array, Array, Array]:
    """Displacements, end resultants and end motion under nodal loads, the ends held as asked."""
    fixed = system.factor.fixed
    held = solve(system.factor, load, np.zeros((len(fixed), load.shape[1])))
    reaction = system.modes.T @ (system.factor.coupling.T @ held - load[fixed])
    if system.ends == "strain":
        return held, reaction, np.zeros_like(reaction)
    amount = np.linalg.solve(system.end_stiffness, -reaction)
    return held + system.motion @ amount, np.zeros_like(reaction), amount


def knot_stiffness(modulus: float, poisson: float) -> Array:
    """Return the plane-stress stiffness of an isotropic knot, shape (3, 3), Pa."""
    c = modulus / (1.0 - poisson**2)
    return c * np.array(
        [[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - poisson)]]
    )
