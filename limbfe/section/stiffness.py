"""The 6x6 stiffness and mass of generally anisotropic, heterogeneous sections, many at once.

The warping of a long prismatic beam under constant axial force, torque and shear and linearly
varying moments is found exactly but for the finite elements: two solves with one matrix.

1. Uniform stretch, twist and bending ``psi`` (four strains): ``E G1 = -R``.
2. Shear makes moments that change along the limb, so ``psi' = S^-1 (moment slope)`` and the
   warping changes with them: ``E G2 = (D' - D) G1 psi' + L psi'``.

Here ``E, R, D, L`` are the integrals of ``B'CB, B'CP, B'CSN, N'S'CP``.  Superposing both to
six unit resultants gives a stress field for each, and their mutual energies are the 6x6
compliance.  The matrix ``E`` lets the section translate and spin freely; four weak springs
that carry no force, because the loads are in balance, take that freedom away and keep ``E``
positive definite and banded.

References
----------
V. Giavotto et al., Anisotropic beam theory and applications, Computers & Structures 16 (1983),
403-413 (from memory: the matrices and the central solution).
J. P. Blasques, User's Manual for BECAS, Riso-R-1785, DTU (2012) (from memory: the compliance as
the energy of the central solution).
D. H. Hodges, Nonlinear Composite Beam Theory, AIAA (2006) (from memory).
The two-step form is derived here: BECAS solves one bordered system with six constraints; since
``u_x = y`` and ``u_x = z`` are warpings too, the two shear strains need no columns of their own
and four constraints suffice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from limbfe.errors import GeometryError, MaterialError
from limbfe.fem.banded import (
    BandPattern,
    assemble_band,
    band_pattern,
    factor_band,
    solve_band,
)
from limbfe.frames import Array
from limbfe.section.integrals import (
    SectionGeometry,
    element_matrices,
    field_resultants,
    gradient_load,
    gradient_strain,
    section_geometry,
    section_mass,
    slope_strain,
    traction_load,
)
from limbfe.section.kinematics import CLASSICAL, reference_rule
from limbfe.section.mesh import SectionMesh

# Slopes of N, T, My, Mz along x per unit Vy, Vz: My' = Vz and Mz' = -Vy.
_MOMENT_SLOPE = np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionStiffness:
    """Stiffness, mass and warping of S sections, about the origin of the section axes.

    Attributes
    ----------
    K : ndarray, shape (S, 6, 6), N, N m, N m2
        Resultants ``[N, Vy, Vz, T, My, Mz]`` per strain
        ``[gamma_x, gamma_y, gamma_z, kappa_x, kappa_y, kappa_z]``.
    compliance : ndarray, shape (S, 6, 6)
        Inverse of `K`.
    mass : ndarray, shape (S, 6, 6), kg/m, kg, kg m
        Momenta per velocity ``[v_x, v_y, v_z, w_x, w_y, w_z]``.
    mesh : SectionMesh
    C : ndarray, shape broadcast to (S, m, q, 6, 6), Pa, section axes
    warping : ndarray, shape (S, n, 3, 6), m/N or 1/N
        Displacements u_x, u_y, u_z of the nodes per unit resultant, up to a rigid motion and,
        for the shears, a shear angle.
    warping_slope : ndarray, shape (S, n, 3, 6)
        Their change along x; only Vy and Vz have any.
    plane_strain : ndarray, shape (S, 6, 6)
        Generalised strains that go with `warping` (rows strains, columns resultants).  The rows
        gamma_y and gamma_z are zero: shear is held in the warping.
    """

    K: Array
    compliance: Array
    mass: Array
    mesh: SectionMesh
    C: Array
    warping: Array
    warping_slope: Array
    plane_strain: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Station:
    """What `SectionStiffness` holds of one station."""

    compliance: Array
    warping: Array
    warping_slope: Array
    plane_strain: Array


def section_stiffness(mesh: SectionMesh, C: Array, density: Array) -> SectionStiffness:
    """Return the 6x6 stiffness and mass of every station of `mesh`.

    Parameters
    ----------
    mesh : SectionMesh
        S stations, m elements, q integration points each.
    C : ndarray, shape broadcastable to (S, m, q, 6, 6), Pa, section axes, Voigt order
        Symmetric and positive definite.
    density : ndarray, shape broadcastable to (S, m, q), kg/m3

    Raises
    ------
    MaterialError
        If `C` or `density` is not finite, `C` not symmetric or not positive definite somewhere.
    GeometryError
        If a section's elements do not hold together as one piece.
    """
    stations, m = mesh.nodes.shape[0], len(mesh.elements)
    rule = reference_rule(mesh.elements.shape[1], mesh.order)
    q = len(rule[0])
    C = np.broadcast_to(np.asarray(C, dtype=np.float64), (stations, m, q, 6, 6))
    density = np.broadcast_to(np.asarray(density, dtype=np.float64), (stations, m, q))
    _check_material(mesh, C, density)
    pattern = band_pattern(mesh.elements, mesh.nodes.shape[1], 3)
    mass, solved = [], []
    # Bands are too narrow to share: on a busy machine BLAS threads wait for each other.
    with threadpool_limits(limits=1, user_api="blas"):
        for s in range(stations):
            geometry = section_geometry(mesh, s, rule)
            mass.append(section_mass(geometry, density[s]))
            solved.append(_solve_station(mesh, s, geometry, C[s], pattern))
    compliance = np.stack([one.compliance for one in solved])
    K = np.linalg.inv(compliance)
    return SectionStiffness(
        K=_frozen(0.5 * (K + K.swapaxes(1, 2))),
        compliance=_frozen(compliance),
        mass=_frozen(np.stack(mass)),
        mesh=mesh,
        C=_frozen(C),
        warping=_frozen(np.stack([one.warping for one in solved])),
        warping_slope=_frozen(np.stack([one.warping_slope for one in solved])),
        plane_strain=_frozen(np.stack([one.plane_strain for one in solved])),
    )


def _frozen(array: Array) -> Array:
    array.setflags(write=False)
    return array


def _check_material(mesh: SectionMesh, C: Array, density: Array) -> None:
    for name, value in (("stiffness", C), ("density", density)):
        bad = ~np.isfinite(value).reshape(len(mesh.x), -1).all(axis=1)
        if bad.any():
            raise MaterialError(
                f"{mesh.where(int(bad.argmax()))}: {name} is not a finite number at some point "
                "of the section; every point needs a wood"
            )
    asymmetry = np.abs(C - C.swapaxes(-1, -2)).reshape(len(mesh.x), -1).max(axis=1)
    bad = asymmetry > 1e-9 * np.abs(C).reshape(len(mesh.x), -1).max(axis=1)
    if bad.any():
        raise MaterialError(f"{mesh.where(int(bad.argmax()))}: stiffness matrix is not symmetric")


def _solve_station(
    mesh: SectionMesh,
    s: int,
    geometry: SectionGeometry,
    C: Array,
    pattern: BandPattern,
) -> _Station:
    factor = _factor(mesh, s, geometry, C, pattern)
    P = geometry.P[..., CLASSICAL]
    uniform = solve_band(factor, -gradient_load(geometry, C @ P, pattern))
    strain1 = P + gradient_strain(geometry, uniform[pattern.dofs])
    stress1 = C @ strain1
    classical = field_resultants(geometry, stress1)[CLASSICAL]
    slope = np.linalg.solve(classical, _MOMENT_SLOPE)

    varying = uniform @ slope
    rate_strain = slope_strain(geometry, varying[pattern.dofs])
    right = traction_load(geometry, stress1 @ slope, pattern)
    right -= gradient_load(geometry, C @ rate_strain, pattern)
    shear = solve_band(factor, right)
    strain2 = rate_strain + gradient_strain(geometry, shear[pattern.dofs])
    stress2 = C @ strain2
    moments = field_resultants(geometry, stress2)

    # Shares of the four uniform and the two shear fields in each unit resultant.
    shares = np.zeros((6, 6))
    shares[4, 1] = shares[5, 2] = 1.0
    shares[:4, CLASSICAL] = np.linalg.inv(classical)
    shares[:4, 1:3] = -np.linalg.solve(classical, moments[CLASSICAL])
    strain = np.concatenate([strain1, strain2], axis=-1).reshape(-1, 6)
    stress = np.concatenate([stress1, stress2], axis=-1) * geometry.weights[..., None, None]
    compliance = shares.T @ (strain.T @ stress.reshape(-1, 6)) @ shares
    _check_solution(mesh, s, moments, compliance)

    rank = pattern.dofs_of_nodes
    warping_slope = np.zeros((*rank.shape, 6))
    warping_slope[..., 1:3] = varying[rank]
    plane_strain = np.zeros((6, 6))
    plane_strain[CLASSICAL] = shares[:4]
    return _Station(
        compliance=0.5 * (compliance + compliance.T),
        warping=(np.concatenate([uniform, shear], axis=1) @ shares)[rank],
        warping_slope=warping_slope,
        plane_strain=plane_strain,
    )


def _factor(
    mesh: SectionMesh, s: int, geometry: SectionGeometry, C: Array, pattern: BandPattern
) -> Array:
    band = assemble_band(pattern, element_matrices(geometry, C, pattern))
    _add_springs(band, mesh.nodes[s], pattern)
    factor = factor_band(band)
    if factor is None:
        lowest = float(np.linalg.eigvalsh(C).min())
        raise MaterialError(
            f"{mesh.where(s)}: the section's matrix is not positive definite (lowest eigenvalue "
            f"of a point's stiffness {lowest:.3g} Pa); every wood needs a positive definite "
            "stiffness, also inside knots and decay"
        )
    return factor


def _add_springs(band: Array, nodes: Array, pattern: BandPattern) -> None:
    """Hold one node and the spin of another about it; a balanced load puts no force on them."""
    first = int(nodes[:, 0].argmin())
    reach = nodes - nodes[first]
    second = int((reach**2).sum(axis=1).argmax())
    direction = reach[second] / np.hypot(*reach[second])
    stiff = band[0].mean()
    band[0, pattern.dofs_of_nodes[first]] += stiff
    across = np.array([-direction[1], direction[0]])
    v, w = pattern.dofs_of_nodes[second][1:]
    band[0, v] += stiff * across[0] ** 2
    band[0, w] += stiff * across[1] ** 2
    band[1, v] += stiff * across[0] * across[1]


def _check_solution(mesh: SectionMesh, s: int, moments: Array, compliance: Array) -> None:
    """Refuse a section whose parts can move apart: its shear stress does not add up."""
    finite = np.isfinite(compliance).all() and np.isfinite(moments).all()
    if not finite or np.abs(moments[1:3] - np.eye(2)).max() > 1e-6:
        raise GeometryError(
            f"{mesh.where(s)}: the section's elements do not hold together; neighbouring "
            "elements must share their nodes, and no part may be cut off by a void"
        )
