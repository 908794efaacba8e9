"""Bows of rectangular section for the tests of the beam floor."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from limbfe.beam import Bow, BowString, Chain, Hold, gauss_positions
from limbfe.frames import SECTION_IN_GLOBAL, Array


def rectangle(width: Any, thickness: Any, E: float, G: float, *, shear: bool = True) -> Array:
    """Section stiffness of rectangles; ``shear=False`` makes the shear stiffness very large."""
    b, h = np.broadcast_arrays(np.asarray(width, float), np.asarray(thickness, float))
    stiffness = np.zeros((*b.shape, 6, 6))
    long, short = np.maximum(b, h), np.minimum(b, h)
    stiffness[..., 0, 0] = E * b * h
    stiffness[..., 1, 1] = stiffness[..., 2, 2] = G * b * h / 1.2 if shear else 1e3 * E * b * h
    stiffness[..., 3, 3] = G * long * short**3 / 3.0 * (1.0 - 0.63 * short / long)
    stiffness[..., 4, 4] = E * b * h**3 / 12.0
    stiffness[..., 5, 5] = E * h * b**3 / 12.0
    return stiffness


def rectangle_mass(width: Any, thickness: Any, density: float) -> Array:
    b, h = np.broadcast_arrays(np.asarray(width, float), np.asarray(thickness, float))
    mass = np.zeros((*b.shape, 6, 6))
    for i in range(3):
        mass[..., i, i] = density * b * h
    mass[..., 4, 4] = density * b * h**3 / 12.0
    mass[..., 5, 5] = density * h * b**3 / 12.0
    mass[..., 3, 3] = mass[..., 4, 4] + mass[..., 5, 5]
    return mass


def straight_chain(x: Array, stiffness: Array, mass: Array | None = None) -> Chain:
    """Upright straight chain with nodes at heights x."""
    n = len(x)
    return Chain(
        positions=np.column_stack([np.zeros(n), np.zeros(n), x]),
        rotations=np.broadcast_to(SECTION_IN_GLOBAL, (n, 3, 3)),
        stiffness=stiffness,
        mass=np.broadcast_to(np.eye(6), stiffness.shape) if mass is None else mass,
    )


def bow_1800(
    elements: int = 20,
    *,
    shear: bool = False,
    EA: float = 100e3,
    kind: Literal["clamp", "hand", "tiller"] = "clamp",
) -> Bow:
    """The 1.8 m bow: rigid grip 0.1 m, width 30 to 10 mm, thickness 24 to 12 mm, E 10 GPa."""
    x = np.linspace(0.05, 0.9, elements + 1)
    x = np.concatenate([-x[::-1], x])
    share = np.clip((np.abs(gauss_positions(x)) - 0.05) / 0.85, 0.0, 1.0)
    width, thickness = 0.030 - 0.020 * share, 0.024 - 0.012 * share
    return Bow(
        chain=straight_chain(
            x,
            rectangle(width, thickness, 10e9, 0.7e9, shear=shear),
            rectangle_mass(width, thickness, 650.0),
        ),
        clamped=(elements, elements + 1),
        string=BowString(stiffness=EA, mass=7e-3, nock_lower=np.zeros(3), nock_upper=np.zeros(3)),
        hold=Hold(kind=kind, point=np.zeros(3), half_length=0.05),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )
