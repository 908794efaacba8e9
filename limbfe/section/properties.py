"""Named properties of a section, read off its 6x6 compliance.

All are those of a long prismatic beam: with grain that runs out, bending also twists, and the
"shear centre" below is the point of the section a shear must pass through to leave that section
itself untwisted in energy, not a line along the limb.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array, skew
from limbfe.section.stiffness import SectionStiffness

_UPRIGHT = np.pi / 2 + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrincipalAxes:
    """Principal bending of S sections.

    Attributes
    ----------
    stiffness : ndarray, shape (S, 2), N m2
        The smaller and the larger bending stiffness.
    angle : ndarray, shape (S,), rad
        From +y towards +z to the axis the limb bends about with the smaller stiffness,
        in (-pi/2, pi/2].
    """

    stiffness: Array
    angle: Array


def tension_centre(solution: SectionStiffness) -> Array:
    """Return the point where an axial force bends nothing, shape (S, 2), m."""
    F = solution.compliance
    # N at (y0, z0) brings My = N z0 and Mz = -N y0; both curvatures must vanish.
    bend = np.linalg.solve(F[:, 4:, 4:], -F[:, 4:, :1])[..., 0]
    return np.stack([-bend[:, 1], bend[:, 0]], axis=1)


def shear_centre(solution: SectionStiffness) -> Array:
    """Return the point where a shear does no work on twist, shape (S, 2), m.

    Notes
    -----
    Defined by energy: ``y = -F[T, Vz] / F[T, T]``, ``z = F[T, Vy] / F[T, T]``.  For a semicircle it
    lies 8 r / (5 pi) from the flat whatever the Poisson ratio; the centre of S. P. Timoshenko and
    J. N. Goodier (Theory of Elasticity), where the middle of the flat does not turn, moves with it.
    """
    F = solution.compliance
    return np.stack([-F[:, 3, 2], F[:, 3, 1]], axis=1) / F[:, 3, 3, None]


def torsion_stiffness(solution: SectionStiffness) -> Array:
    """Return torque per twist when bending is free, shape (S,), N m2."""
    return np.asarray(1.0 / solution.compliance[:, 3, 3])


def axial_stiffness(solution: SectionStiffness) -> Array:
    """Return force per stretch when bending and twist are free, shape (S,), N."""
    return np.asarray(1.0 / moved_reference(solution, tension_centre(solution))[1][:, 0, 0])


def bending_stiffness(solution: SectionStiffness) -> Array:
    """Return moments per curvature about y and z with no axial force and free twist.

    Returns
    -------
    ndarray, shape (S, 2, 2), N m2
        Rows My, Mz; columns kappa_y, kappa_z; independent of the reference point.
    """
    return np.asarray(np.linalg.inv(solution.compliance[:, 4:, 4:]))


def principal_axes(solution: SectionStiffness) -> PrincipalAxes:
    """Return the two principal bending stiffnesses and the direction of the weaker axis.

    They are the eigenvalues of `bending_stiffness`, which for wood of one kind are E times the
    principal second moments of area.
    """
    values, vectors = np.linalg.eigh(bending_stiffness(solution))
    weak = vectors[:, :, 0] * np.where(vectors[:, :1, 0] < 0.0, -1.0, 1.0)
    angle = np.arctan2(weak[:, 1], weak[:, 0])
    # an axis has no sign: upright is upright whichever way rounding turns it
    angle = np.where(angle < _UPRIGHT - np.pi, np.pi / 2, angle)
    return PrincipalAxes(stiffness=values, angle=angle)


def neutral_axis(solution: SectionStiffness, resultants: Array) -> tuple[Array, Array]:
    """Return the line on which the plane-section axial strain vanishes.

    Parameters
    ----------
    solution : SectionStiffness
    resultants : ndarray, shape (S, 6) or (6,), N and N m

    Returns
    -------
    point : ndarray, shape (S, 2), m
        The point of the line nearest to the origin; nan without bending.
    direction : ndarray, shape (S, 2)
        Unit vector along the line.
    """
    load = np.broadcast_to(resultants, (len(solution.K), 6))[:, :, None]
    strain = (solution.compliance @ load)[..., 0]
    # axial strain = gamma_x + gradient . (y, z)
    gradient = np.stack([-strain[:, 5], strain[:, 4]], axis=1)
    steepness = np.linalg.norm(gradient, axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        normal = gradient / steepness
        point = -normal * strain[:, :1] / steepness
    return point, np.stack([normal[:, 1], -normal[:, 0]], axis=1)


def moved_reference(solution: SectionStiffness, point: Array) -> tuple[Array, Array]:
    """Return stiffness and compliance about another reference point.

    Parameters
    ----------
    solution : SectionStiffness
    point : ndarray, shape (S, 2) or (2,), m
        The new origin (y, z) in section axes.

    Returns
    -------
    K, compliance : ndarray, shape (S, 6, 6)
    """
    arm = np.zeros((len(solution.K), 3))
    arm[:, 1:] = point
    # Resultants about the origin from those about the point: M = M' + arm x F.
    shift = np.broadcast_to(np.eye(6), (len(arm), 6, 6)).copy()
    shift[:, 3:, :3] = skew(arm)
    back = np.linalg.inv(shift)
    K = back @ solution.K @ back.swapaxes(1, 2)
    return K, shift.swapaxes(1, 2) @ solution.compliance @ shift
