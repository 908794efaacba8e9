"""What a fit looks for: every wood's modulus, the crushing strength, each station's stiffness.

All of them are logarithms of a ratio to what the case says, so that zero is the case and bounds
are factors.  Before any reading the moduli and the crushing strength scatter independently, as the
wood's coefficients of variation say; the stations scatter as far as the limb was measured wrong,
each on its own, and as its wood is uneven, close places alike.  The crushing strength is sought
because past yield the force depends on it as much as on the modulus, whose bounds would otherwise
claim too much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.linalg import block_diag

from limbfe.analysis.bow.setup import BowSetup
from limbfe.errors import MaterialError
from limbfe.frames import Array, read_only
from limbfe.stave.profile import shape_at
from limbfe.wood.wood import Wood

MEASURED_TO = 0.2e-3
"""Error (one standard deviation) of a thickness and of a width read with a calliper, m; assumed."""
UNEVEN_WOOD = 0.05
UNEVEN_OVER = 0.15
"""Scatter of the modulus along one stave about its mean, a share, and the distance (m) over which
its correlation falls to 1/e.  Choices: no published figure of either is known to us.  A larger
scatter lets the readings find larger differences between stations, and less certain ones; a longer
distance spreads them over neighbours."""

KNOWN_TO = 1e-4
"""Scatter left to what is taken as known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """How far a bow may stray from its case, before any reading.

    Attributes
    ----------
    measured_to : float, m
        Standard deviation of a measured thickness or width.
    uneven : float
        Standard deviation of the modulus along one stave, over its mean.
    uneven_over : float, m
        Distance over which that scatter's correlation falls to 1/e.
    """

    measured_to: float = MEASURED_TO
    uneven: float = UNEVEN_WOOD
    uneven_over: float = UNEVEN_OVER


USUAL = Doubt()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parameters:
    """The p unknowns of a fit: w moduli, crushing strength, stations from lower to upper tip.

    Attributes
    ----------
    woods : tuple of str
        Names of the woods whose modulus is sought.
    E_L : ndarray, shape (w,), Pa
        As the case has them.
    x : ndarray, shape (s,), m
        Stations of the bending limbs.
    thickness : ndarray, shape (s,), m
    prior : ndarray, shape (p, p)
        Covariance of the logarithms before the readings.
    scatter : ndarray, shape (p,)
        Their standard deviations.
    root : ndarray, shape (p, p)
        Lower triangle whose product with its transpose is `prior`.
    """

    woods: tuple[str, ...]
    E_L: Array
    x: Array
    thickness: Array
    prior: Array
    scatter: Array = field(init=False)
    root: Array = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "scatter", read_only(np.sqrt(np.diag(self.prior))))
        object.__setattr__(self, "root", read_only(np.linalg.cholesky(self.prior)))

    def crushing_known(self) -> Parameters:
        """Return the same with the crushing strength as the case has it."""
        prior, k = self.prior.copy(), len(self.woods)
        prior[k, k] = KNOWN_TO**2
        return replace(self, prior=read_only(prior))

    @property
    def stations_from(self) -> int:
        """Position of the first station among the p unknowns."""
        return len(self.woods) + 1

    def wood_at(self, logs: Array) -> Array:
        """Return the moduli (Pa) and the factor of the crushing strength, shape (w + 1,)."""
        wood: Array = np.append(self.E_L, 1.0) * np.exp(logs[: self.stations_from])
        return wood

    def hats(self, x: Array) -> Array:
        """Return each station's share, shape (s, S), in the stiffness at `x`, shape (S,).

        Linear between the stations of one limb, constant beyond the first and the last.
        """
        out = np.zeros((len(self.x), len(x)))
        unit = np.eye(len(self.x))
        for limb, at in ((self.x <= 0.0, x < 0.0), (self.x >= 0.0, x >= 0.0)):
            for k in np.flatnonzero(limb):
                out[k, at] = np.interp(x[at], self.x[limb], unit[k, limb])
        return out


def find_parameters(setup: BowSetup, *, one_wood: bool = False, doubt: Doubt = USUAL) -> Parameters:
    """Return the unknowns of a bow and how far they scatter.

    Parameters
    ----------
    setup : BowSetup
    one_wood : bool
        The sapwood is the same wood as the heartwood: one modulus serves both.
    doubt : Doubt

    Raises
    ------
    MaterialError
        If a wood has no coefficient of variation of its modulus or its crushing strength.
    """
    stave = setup.stave
    woods = [stave.heartwood]
    if stave.sapwood_wood is not None and not one_wood:
        woods.append(stave.sapwood_wood)
    edge = stave.half_grip
    x = stave.x[np.abs(stave.x) > edge] if edge > 0.0 else stave.x
    shapes = shape_at(stave, x)
    wood = [_scatter(one, "E_L") for one in woods]
    wood.append(_scatter(stave.heartwood, "compression_strength"))
    error = doubt.measured_to
    measured = np.hypot(3.0 * error / shapes.thickness, error / shapes.width)
    apart = np.abs(x[:, None] - x)
    stations = np.diag(measured**2) + doubt.uneven**2 * np.exp(-apart / doubt.uneven_over)
    return Parameters(
        woods=tuple(one.name for one in woods),
        E_L=read_only([one.elasticity.E_L for one in woods]),
        x=read_only(x),
        thickness=read_only(shapes.thickness),
        prior=read_only(block_diag(np.diag(np.square(wood)), stations)),
    )


def with_wood(setup: BowSetup, wood: Array) -> BowSetup:
    """Return the bow with other wood: moduli along the grain (Pa), then a strength factor.

    Shape (w + 1,).  One modulus is that of heartwood and sapwood, two are theirs in this order; the
    factor is that of compression strength, proportional limit and plateau in both.  All else stays.

    Raises
    ------
    MaterialError
        If such a wood is not possible with the rest of its properties.
    """
    stave, factor = setup.stave, float(wood[-1])
    heart = _changed(stave.heartwood, float(wood[0]), factor)
    sap = stave.sapwood_wood
    if sap is not None:
        sap = _changed(sap, float(wood[-2]), factor)
    return replace(setup, stave=replace(stave, heartwood=heart, sapwood_wood=sap))


def _changed(wood: Wood, E_L: float, factor: float) -> Wood:
    strength = wood.strength
    return replace(
        wood,
        elasticity=replace(wood.elasticity, E_L=E_L),
        strength=replace(
            strength,
            compression=factor * strength.compression,
            compression_proportional_limit=factor * strength.compression_proportional_limit,
            compression_plateau=factor * strength.compression_plateau,
        ),
    )


def _scatter(wood: Wood, name: str) -> float:
    """Return the standard deviation of a property's logarithm."""
    cov = wood.strength.cov.get(name)
    if not cov:
        raise MaterialError(
            f"wood.{wood.name}: no coefficient of variation of {name}, so nothing says how far it "
            f"may lie from the case; give cov = {{ {name} = 0.2 }}"
        )
    return math.sqrt(math.log1p(cov**2))
