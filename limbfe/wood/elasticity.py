"""The nine elastic constants of wood and their six-by-six matrices."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Elasticity:
    """Orthotropic elastic constants in the wood axes L, R, T.

    Attributes
    ----------
    E_L, E_R, E_T : float, Pa
        Young's moduli.
    G_LR, G_LT, G_RT : float, Pa
        Shear moduli.
    nu_LR, nu_LT, nu_RT : float
        Poisson's ratios; ``nu_ij`` is the contraction along j under load along i.  The three
        others follow from the symmetry ``nu_ij / E_i = nu_ji / E_j``.

    Raises
    ------
    MaterialError
        If a modulus is not positive or the compliance is not positive definite.
    """

    E_L: float
    E_R: float
    E_T: float
    G_LR: float
    G_LT: float
    G_RT: float
    nu_LR: float
    nu_LT: float
    nu_RT: float

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not np.isfinite(value):
                raise MaterialError(f"{field.name} = {value}: must be a finite number")
            if not field.name.startswith("nu") and value <= 0.0:
                raise MaterialError(
                    f"{field.name} = {value:g} Pa: a modulus must be above zero; give it in Pa"
                )
        _check_poisson(self)


def _check_poisson(e: Elasticity) -> None:
    """Refuse Poisson's ratios for which some stress state would release energy."""
    pairs = (("nu_LR", e.E_L, e.E_R), ("nu_LT", e.E_L, e.E_T), ("nu_RT", e.E_R, e.E_T))
    for name, first, second in pairs:
        value, limit = getattr(e, name), float(np.sqrt(first / second))
        if abs(value) >= limit:
            raise MaterialError(
                f"{name} = {value:g}: the compliance is not positive definite; with these moduli "
                f"|{name}| must stay below {limit:.3f}"
            )
    if np.linalg.det(_normal_compliance(e) * e.E_L) <= 0.0:
        raise MaterialError(
            f"nu_LR = {e.nu_LR:g}, nu_LT = {e.nu_LT:g}, nu_RT = {e.nu_RT:g}: together they make "
            "the compliance indefinite with these moduli; lower the largest of them"
        )


def _normal_compliance(e: Elasticity) -> Array:
    out = np.diag([1.0 / e.E_L, 1.0 / e.E_R, 1.0 / e.E_T])
    out[0, 1] = out[1, 0] = -e.nu_LR / e.E_L
    out[0, 2] = out[2, 0] = -e.nu_LT / e.E_L
    out[1, 2] = out[2, 1] = -e.nu_RT / e.E_R
    return out


def compliance(e: Elasticity) -> Array:
    """Return the compliance matrix.

    Parameters
    ----------
    e : Elasticity

    Returns
    -------
    ndarray, shape (6, 6), 1/Pa, wood axes L, R, T = 1, 2, 3, Voigt order of `limbfe.frames`

    Examples
    --------
    >>> S = 1e12 * compliance(isotropic(10e9, 0.25))
    >>> [f"{S[0, 0]:.0f}", f"{S[0, 1]:.0f}", f"{S[3, 3]:.0f}"]
    ['100', '-25', '250']
    """
    out = np.zeros((6, 6))
    out[:3, :3] = _normal_compliance(e)
    out[3, 3], out[4, 4], out[5, 5] = 1.0 / e.G_RT, 1.0 / e.G_LT, 1.0 / e.G_LR
    return out


def stiffness(e: Elasticity) -> Array:
    """Return the stiffness matrix, the inverse of `compliance`.

    Parameters
    ----------
    e : Elasticity

    Returns
    -------
    ndarray, shape (6, 6), Pa, wood axes L, R, T = 1, 2, 3, Voigt order of `limbfe.frames`
    """
    out = np.zeros((6, 6))
    out[:3, :3] = np.linalg.inv(_normal_compliance(e) * e.E_L) * e.E_L
    out[:3, :3] = 0.5 * (out[:3, :3] + out[:3, :3].T)
    out[3, 3], out[4, 4], out[5, 5] = e.G_RT, e.G_LT, e.G_LR
    return out


def scale_elasticity(e: Elasticity, *, E: float, G: float) -> Elasticity:
    """Return the constants with Young's moduli times `E` and shear moduli times `G`.

    Poisson's ratios stay.  This is how decay acts on the stiffness.

    Raises
    ------
    MaterialError
        If a factor is not above zero.
    """
    return replace(
        e,
        E_L=e.E_L * E,
        E_R=e.E_R * E,
        E_T=e.E_T * E,
        G_LR=e.G_LR * G,
        G_LT=e.G_LT * G,
        G_RT=e.G_RT * G,
    )


def swap_RT(e: Elasticity) -> Elasticity:
    """Return the same wood with its axes R and T exchanged."""
    return Elasticity(
        E_L=e.E_L,
        E_R=e.E_T,
        E_T=e.E_R,
        G_LR=e.G_LT,
        G_LT=e.G_LR,
        G_RT=e.G_RT,
        nu_LR=e.nu_LT,
        nu_LT=e.nu_LR,
        nu_RT=e.nu_RT * e.E_T / e.E_R,
    )


def isotropic(E: float, nu: float) -> Elasticity:
    """Return the nine constants of an isotropic material (a filler, a hole's stand-in).

    Parameters
    ----------
    E : float, Pa
    nu : float
        Poisson's ratio; the shear modulus is E / (2 (1 + nu)).

    Raises
    ------
    MaterialError
        If E is not above zero, or the ratio not between -1 and 1/2.
    """
    if not -1.0 < nu < 0.5:
        raise MaterialError(f"nu = {nu:g}: must lie between -1 and 1/2")
    G = E / (2.0 * (1.0 + nu))
    return Elasticity(E_L=E, E_R=E, E_T=E, G_LR=G, G_LT=G, G_RT=G, nu_LR=nu, nu_LT=nu, nu_RT=nu)


def modulus_along(e: Elasticity, direction: Any) -> Array:
    """Return Young's modulus for a load along any direction.

    Parameters
    ----------
    e : Elasticity
    direction : array_like, shape (..., 3)
        Direction of the load in wood axes L, R, T; need not be of unit length.

    Returns
    -------
    ndarray, shape (...), Pa

    References
    ----------
    S. G. Lekhnitskii, Theory of Elasticity of an Anisotropic Body (1963), sec. 4 (transformation
    of the elastic constants; from memory): ``1/E = s : S : s`` with ``s`` the unit uniaxial stress.
    """
    n = np.asarray(direction, dtype=np.float64)
    n = n / np.linalg.norm(n, axis=-1, keepdims=True)
    x, y, z = n[..., 0], n[..., 1], n[..., 2]
    stress = np.stack([x * x, y * y, z * z, y * z, x * z, x * y], axis=-1)
    result: Array = 1.0 / np.einsum("...i,ij,...j->...", stress, compliance(e), stress)
    return result
