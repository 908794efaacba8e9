"""Integrals through the depth of a plate, at every point of its plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.plate.profiles import Profiles, values
from limbfe.frames import Array

_ENTRY = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""Rows and columns of the six entries of a symmetric plane stiffness, in the order kept here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Integration points through the depth.

    Attributes
    ----------
    z : ndarray, shape (p, n), m
    weight : ndarray, shape (p, n), m
    """

    z: Array
    weight: Array


def gauss_columns(breaks: Array, order: int) -> Columns:
    """Return Gauss points between the breaks of every column.

    Parameters
    ----------
    breaks : ndarray, shape (p, b), m
        Increasing along each row; two may coincide.
    order : int
        Points in each interval.
    """
    at, weight = np.polynomial.legendre.leggauss(order)
    half = 0.5 * np.diff(breaks, axis=1)
    middle = 0.5 * (breaks[:, 1:] + breaks[:, :-1])
    z = middle[..., None] + half[..., None] * at
    w = half[..., None] * weight
    return Columns(z=z.reshape(len(breaks), -1), weight=w.reshape(len(breaks), -1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Integrals:
    """Stiffness integrated through the depth at points of the plane, shape (p, ...).

    Attributes
    ----------
    D : ndarray, shape (p, K, K, 6), N/m
        ``int F_k F_l Q dz``, entries 11, 22, 33, 12, 13, 23.
    H : ndarray, shape (p, K, K, 3), N/m3
        ``int F_k' F_l' C_s dz``, entries xx, yy, xy.
    h : ndarray, shape (p, K, 3), N/m2
        ``int F_k' C_s dz``.
    S : ndarray, shape (p, 3), N/m
        ``int C_s dz``.
    """

    D: Array
    H: Array
    h: Array
    S: Array


def integrate(profiles: Profiles, columns: Columns, Q: Array, C_s: Array) -> Integrals:
    """Integrate the stiffness through the depth.

    Parameters
    ----------
    Q : ndarray, shape (p, n, 3, 3), Pa
        Plane-stress stiffness at the points of the columns.
    C_s : ndarray, shape (p, n, 3), Pa
        Stiffness against transverse shear: xx, yy, xy.
    """
    F, slope = values(profiles, columns.z)
    p = len(columns.z)
    K = profiles.count
    first, second = np.triu_indices(K)
    plane = np.stack([Q[..., i, j] for i, j in _ENTRY], axis=-1)

    def pairs(f: Array, field: Array) -> Array:
        weighted = (f[first] * f[second] * columns.weight).transpose(1, 0, 2)
        half = np.matmul(weighted, field)
        full = np.empty((p, K, K, field.shape[-1]))
        full[:, first, second] = half
        full[:, second, first] = half
        return full

    factor = profiles.shear_factor
    return Integrals(
        D=pairs(F, plane),
        H=factor * pairs(slope, C_s),
        h=factor * np.matmul((slope * columns.weight).transpose(1, 0, 2), C_s),
        S=factor * np.matmul(columns.weight[:, None, :], C_s)[:, 0],
    )


def transverse_shear(G_LR: Array | float, G_RT: Array | float, angle: Array) -> Array:
    """Return the stiffness against transverse shear where fibres run at an angle, shape (..., 3).

    Parameters
    ----------
    G_LR, G_RT : float or ndarray, Pa
        Along the fibre and across it, in planes that hold the depth.
    angle : ndarray, shape (...), rad
        Of the fibre from x towards y.
    """
    c, s = np.cos(angle), np.sin(angle)
    return np.stack(
        [G_LR * c * c + G_RT * s * s, G_LR * s * s + G_RT * c * c, (G_LR - G_RT) * s * c], axis=-1
    )
