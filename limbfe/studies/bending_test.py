"""The standard bending test of a small clear specimen, simulated with the sections' own law.

A bar of 50 x 50 mm on supports 710 mm apart is loaded at mid-span until the wood breaks.  Moments
are statically determinate, so one section at every curvature gives the whole test, and the belly's
crushing is seen apart from everything else that goes into a bow.

References
----------
ASTM D143, Standard Test Methods for Small Clear Specimens of Timber, static bending, primary method
(from memory: 50 by 50 by 760 mm, span 710 mm, centre loading).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.curves import trapezoid
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only, rotate_stiffness
from limbfe.section import (
    FibreSection,
    fibre_response,
    fibre_section,
    fresh_state,
    law_through,
    mapped_mesh,
    section_stiffness,
)
from limbfe.wood.belly import BellyLaw, yield_points
from limbfe.wood.elasticity import stiffness
from limbfe.wood.lookup import find_species, species_names
from limbfe.wood.species import make_wood
from limbfe.wood.wood import Wood

DEPTH, SPAN = 0.050, 0.710
_RINGS_FLAT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
_GRAIN = np.array([1.0, 0.0, 0.0])
_ROWS = 30
_CURVATURES = 160
_FURTHEST = 30.0
"""Curvatures reach this many times that at which the crushing strength would be met elastically;
the bars of the built-in woods break before half of it."""
_NEWTON_LIMIT = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BendingTest:
    """One bar bent to its largest load.

    Attributes
    ----------
    load, deflection : ndarray, shape (k,), N and m
        From nothing to the largest load; deflection of the middle, shear included.
    rupture : float, Pa
        Modulus of rupture: ``3 P L / (2 b h^2)`` at the largest load.
    work : float, J/m3
        Work to the largest load over the volume between the supports.
    breaks : bool
        Whether the tension face broke; otherwise the belly could carry no more.
    """

    load: Array
    deflection: Array
    rupture: float
    work: float
    breaks: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BendingCheck:
    """A species' published bending strength beside simulated ones, Pa.

    Attributes
    ----------
    species : str
    compression, tension : float
        `tension` as the package computes it from bending and compression strength.
    published : float
        Modulus of rupture.
    simulated : float
        From `compression` and `tension`.
    published_tension, from_published_tension : float or None
        A tension strength measured by others, and the modulus of rupture simulated with it: the
        independent check.
    """

    species: str
    compression: float
    tension: float
    published: float
    simulated: float
    published_tension: float | None
    from_published_tension: float | None


def bend_specimen(
    wood: Wood, *, tension: float, depth: float = DEPTH, span: float = SPAN
) -> BendingTest:
    """Bend a square bar, the standard one, until its tension face breaks or it carries no more.

    Parameters
    ----------
    wood : Wood
    tension : float, Pa
        Tension strength along the grain.
    depth, span : float, m

    Raises
    ------
    ConvergenceError
        If the neutral axis is not found.
    """
    section = specimen_section(wood, depth)
    E = float(section.law.modulus[0, 0, 0])
    first = 2.0 * wood.strength.compression / (E * depth)
    way = _FURTHEST * first * np.linspace(0.0, 1.0, _CURVATURES) ** 2
    curvature = way[:, None] * (np.arange(6) == 4)
    moment, face = np.zeros(_CURVATURES), np.zeros(_CURVATURES)
    for k in range(1, _CURVATURES):
        curvature[k, 0] = curvature[k - 1, 0]
        moment[k] = _moment_without_force(section, curvature[k])
        face[k] = E * (curvature[k, 0] + 0.5 * depth * curvature[k, 4])
    # the last stretch ends where the tension face reaches its strength
    kappa = curvature[:, 4]
    torn = float(np.interp(tension, face, kappa))
    before = kappa < torn
    kappa = np.append(kappa[before], torn)
    moment = np.append(moment[before], np.interp(torn, curvature[:, 4], moment))
    last = int(moment.argmax())
    load, deflection = _load_deflection(section, kappa[: last + 1], moment[: last + 1], span)
    return BendingTest(
        load=read_only(load),
        deflection=read_only(deflection),
        rupture=float(6.0 * moment[last] / depth**3),
        work=float(trapezoid(load, deflection) / (depth**2 * span)),
        breaks=last == len(moment) - 1,
    )


def bending_checks(species: str | None = None) -> tuple[BendingCheck, ...]:
    """Return the check of every built-in wood with published bending and compression strength.

    Parameters
    ----------
    species : str, optional
        Only this one.

    Raises
    ------
    MaterialError
        If there is no such species.
    """
    checks = []
    for name in species_names() if species is None else (species,):
        row = find_species(name)
        if not {"bending_strength", "compression_strength"} <= row.dry.keys():
            continue
        wood = make_wood(name="specimen", species=name, moisture=row.moisture, given={}, cov={})
        other = row.published_tension
        computed = wood.strength.tension
        checks.append(
            BendingCheck(
                species=row.name,
                compression=wood.strength.compression,
                tension=computed,
                published=wood.strength.bending,
                simulated=bend_specimen(wood, tension=computed).rupture,
                published_tension=None if other is None else other.value,
                from_published_tension=None
                if other is None
                else bend_specimen(wood, tension=other.value).rupture,
            )
        )
    return tuple(checks)


def specimen_section(wood: Wood, depth: float = DEPTH) -> FibreSection:
    """Return the square section of a bar, ready to be strained past its elastic range."""
    edges = np.linspace(-0.5, 0.5, _ROWS + 1)
    mesh = mapped_mesh(lambda y, z: (y, z), depth * np.linspace(-0.5, 0.5, 3), depth * edges)
    C = rotate_stiffness(stiffness(wood.elasticity), _RINGS_FLAT)
    strength = wood.strength
    rule = law_through(
        np.array(wood.elasticity.E_L),
        *yield_points(
            BellyLaw(
                modulus=wood.elasticity.E_L,
                crushing=strength.compression,
                limit=strength.compression_proportional_limit,
                plateau=strength.compression_plateau,
            )
        ),
    )
    return fibre_section(section_stiffness(mesh, C, np.ones(1)), _GRAIN, rule)


def _moment_without_force(section: FibreSection, strains: Array) -> float:
    """Shift the neutral axis (``strains[0]``, changed) until no axial force is left."""
    state, enough = fresh_state(section), 1e-9 * section.solution.K[0, 0, 0] * 1e-3
    for _ in range(_NEWTON_LIMIT):
        response = fibre_response(section, strains[None], state)
        force = response.resultants[0, 0]
        if abs(force) < enough:
            return float(response.resultants[0, 4])
        strains[0] -= force / response.tangent[0, 0, 0]
    raise ConvergenceError("bending test: the neutral axis was not found")


def _load_deflection(
    section: FibreSection, kappa: Array, moment: Array, span: float
) -> tuple[Array, Array]:
    """Return load and mid-span deflection while the moment at mid-span grows, by virtual work."""
    # curvature runs straight between the points, its product with the moment as a parabola
    middle = (kappa[1:] + kappa[:-1]) * (moment[1:] + moment[:-1])
    inner = kappa[1:] * moment[1:] + middle + kappa[:-1] * moment[:-1]
    bent = np.concatenate([[0.0], np.cumsum(np.diff(moment) * inner / 6.0)])
    load = 4.0 * moment / span
    with np.errstate(invalid="ignore"):
        bending = np.where(load > 0.0, 4.0 * bent / load**2, 0.0)
    shear = load * span / 4.0 * section.solution.compliance[0, 2, 2]
    return load, bending + shear
