"""What fills a knot: branch wood, a filler or nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array, rotate_stiffness
from limbfe.stave.knot import Filler, Knot
from limbfe.units import Quantity, Sentence
from limbfe.wood.elasticity import Elasticity, isotropic, stiffness
from limbfe.wood.fillers import find_filler
from limbfe.wood.source import Assumption, Flag, Source
from limbfe.wood.strength import HANKINSON_EXPONENTS, hankinson
from limbfe.wood.wood import Wood

KNOT_MODULUS_LOW = 1.0e9
KNOT_MODULUS_TYPICAL = 2.0e9
KNOT_MODULUS_HIGH = 3.0e9
KNOT_POISSON = 0.3
KNOT_DENSITY_RATIO = 1.5
FILLER_POISSON = 0.35
FILLER_DENSITY = 1200.0
_EPOXY = find_filler("epoxy")
EPOXY = Filler(E=_EPOXY.E, tension=_EPOXY.tension, shear=_EPOXY.shear)
KNOTS_ASSUMED = (
    Assumption(
        "knots",
        Sentence(
            "Young's modulus across the branch {} within a band of {} to {}",
            *(
                Quantity("modulus", value, figures=3)
                for value in (KNOT_MODULUS_TYPICAL, KNOT_MODULUS_LOW, KNOT_MODULUS_HIGH)
            ),
        ),
        Source(
            text="radial and tangential moduli of clear wood raised for the knot's higher density",
            flag=Flag.ASSUMED,
        ),
    ),
    Assumption(
        "knots",
        f"{KNOT_DENSITY_RATIO:g} times as dense as the clear wood around",
        Source(
            text=Sentence(
                "softwood knots often exceed {} (Forests 15(1), 174, 2024, introduction, read); "
                "of ratios of 1.5 to 2.5 from memory the low end is kept, because bow woods are "
                "dense already",
                Quantity("density", 1000.0, figures=3),
            ),
            flag=Flag.MEMORY_FAIR,
        ),
    ),
)
_EPOXY_SOURCE = Source(text="an unfilled epoxy", flag=Flag.MEMORY_FAIR)
FILLERS_ASSUMED = Assumption(
    "fillers",
    Sentence(
        "Poisson's ratio {:g} and density {}",
        FILLER_POISSON,
        Quantity("density", FILLER_DENSITY, figures=3),
    ),
    _EPOXY_SOURCE,
)
EPOXY_ASSUMED = Assumption(
    "filling that is tried",
    Sentence(
        "E = {}, its bond {} in tension and {} in shear",
        Quantity("modulus", EPOXY.E, figures=3),
        Quantity("stress", EPOXY.tension, figures=3),
        Quantity("stress", EPOXY.shear, figures=3),
    ),
    _EPOXY.source,
)
VOID_MODULUS = 1.0e6
"""Young's modulus (Pa) that stands for a hole: about 1e-4 of wood along the grain, so that it
carries nothing worth counting and the section's equations stay well posed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnotStrength:
    """Strengths along the limb inside a knot, Pa; infinite where nothing is carried."""

    tension: float
    compression: float
    compression_proportional_limit: float
    compression_plateau: float
    shear: float
    tension_across: float
    compression_across: float


def carries(knot: Knot, z: Array) -> NDArray[np.bool_]:
    """Return where a knot carries load; elsewhere it acts as a hole.

    Live and filled knots carry everywhere, empty holes nowhere.  A dead knot is a peg in a hole:
    it can be pressed but not pulled, so it counts in the half towards the belly (z < 0), which
    drawing compresses, and is a hole in the half towards the back (common practice in models of
    sawn timber: contact in compression, no tension; from memory).
    """
    if knot.hollow:
        return np.zeros(np.shape(z), dtype=bool)
    if knot.state == "dead":
        return np.asarray(z) < 0.0
    return np.ones(np.shape(z), dtype=bool)


def void_stiffness() -> Array:
    """Return the stiffness that stands for a hole, shape (6, 6), Pa."""
    return stiffness(isotropic(VOID_MODULUS, 0.0))


def knot_stiffness(knot: Knot, wood: Wood, modulus: float) -> Array:
    """Return the stiffness of what fills a knot.

    Parameters
    ----------
    knot : Knot
    wood : Wood
        The clear wood it grew in.
    modulus : float, Pa
        Young's modulus of a live or dead knot across its own axis; `KNOT_MODULUS_LOW` to
        `KNOT_MODULUS_HIGH`.

    Returns
    -------
    ndarray, shape (6, 6), Pa, section axes
        A filler is isotropic.  Branch wood has the clear wood's modulus along its own axis (from
        memory) and its shear moduli along the grain, and is isotropic across.
    """
    if knot.hollow:
        return void_stiffness()
    if knot.filler is not None:
        return stiffness(isotropic(knot.filler.E, FILLER_POISSON))
    e = wood.elasticity
    along = max(e.E_L, modulus)
    shear = 0.5 * (e.G_LR + e.G_LT)
    branch = Elasticity(
        E_L=along,
        E_R=modulus,
        E_T=modulus,
        G_LR=shear,
        G_LT=shear,
        G_RT=modulus / (2.0 * (1.0 + KNOT_POISSON)),
        nu_LR=KNOT_POISSON,
        nu_LT=KNOT_POISSON,
        nu_RT=KNOT_POISSON,
    )
    return rotate_stiffness(stiffness(branch), _branch_axes(knot.direction))


def knot_density(knot: Knot, wood: Wood) -> float:
    """Return the density of what fills a knot, kg/m3."""
    if knot.hollow:
        return 0.0
    if knot.filler is not None:
        return FILLER_DENSITY
    return KNOT_DENSITY_RATIO * wood.density


def knot_strength(knot: Knot, wood: Wood) -> KnotStrength:
    """Return the strengths along the limb of what fills a knot.

    A hole has nothing to break, so its strengths are infinite and the share used there is zero.
    Branch wood is clear wood loaded at the angle between the branch and the limb (Hankinson).  A
    filler's compression strength is not asked for and is taken as its tension strength, the
    smaller of the two for resins.
    """
    if knot.hollow:
        return KnotStrength(**dict.fromkeys(KnotStrength.__slots__, float(np.inf)))
    if knot.filler is not None:
        values = dict.fromkeys(KnotStrength.__slots__, knot.filler.tension)
        return KnotStrength(**values | {"shear": knot.filler.shear})
    s = wood.strength
    angle = float(np.arccos(min(abs(float(knot.direction[0])), 1.0)))
    n = HANKINSON_EXPONENTS
    limit, plateau = s.compression_proportional_limit, s.compression_plateau
    across = min(s.compression_across, limit)
    return KnotStrength(
        tension=float(hankinson(s.tension, s.tension_across, angle, n["tension"])),
        compression=float(hankinson(s.compression, s.compression_across, angle, n["compression"])),
        compression_proportional_limit=float(hankinson(limit, across, angle, n["compression"])),
        compression_plateau=float(hankinson(plateau, across, angle, n["compression"])),
        shear=s.shear,
        tension_across=s.tension_across,
        compression_across=s.compression_across,
    )


def _branch_axes(direction: Array) -> Array:
    """Return axes with the first along `direction`; the rest is free, branch wood is round."""
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(direction)))] = 1.0
    second = np.cross(direction, helper)
    second /= np.linalg.norm(second)
    return np.stack([direction, second, np.cross(direction, second)], axis=1)
