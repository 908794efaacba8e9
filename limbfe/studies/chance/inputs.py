"""What varies from one stave of a wood to the next, and what was measured not quite right.

Every sample is a row of independent standard normal numbers; `Inputs` says which columns mean
what, and `factors` turns them into factors on the wood and errors of the measures.  A spread of
zero gives back the bow of the case, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy.special import gammaln, ndtr

from limbfe.analysis.bow.kept import KINSHIP, LAW_SPREAD
from limbfe.analysis.bow.setup import BowSetup
from limbfe.errors import CaseError
from limbfe.failure.probability import (
    JCSS_CORRELATION,
    MODEL_SCATTER,
    TOUGHNESS_SCATTER,
    lognormal_correlation,
)
from limbfe.frames import Array, read_only
from limbfe.stave.stave import Stave
from limbfe.units import both_lengths
from limbfe.wood.weakest_link import SHAPE, weakest_scatter

STRENGTHS = ("modulus", "tension", "crushing", "across", "shear")
"""Order of the correlated factors on the wood."""
COVS = ("E_L", "tension_strength", "compression_strength", "tension_strength_across",
        "shear_strength")  # fmt: skip
CRUSHING_WITH = (KINSHIP, 0.5, 0.2, 0.4)
"""Correlation of crushing with modulus, tension (JCSS, read), tension across and shear (JCSS, from
memory)."""
ALONG = 0.05
"""Scatter of stiffness along one clear stave (a choice: no figure was found)."""
ALONG_LENGTH = 0.48
"""Length (m) over which it forgets itself: JCSS's mean section of a member (read)."""
CONTRAST = 0.10
"""Scatter of the ratio of sapwood to heartwood stiffness (a choice: no figure was found)."""
STRING = 0.10
"""Scatter of a string's stiffness (rough value, from memory: twist and settling)."""
MOISTURE = 0.01
"""Standard deviation of the wood's moisture, fraction (typical value, from memory)."""
KNOT_SIZE, PATCH_SIZE = 0.15, 0.25
"""Scatter of a knot's hidden size and of a patch's true extent over what shows (choices)."""
NODES = 4
"""Points of a limb between which its fields run straight."""
_MOST_MEASURES = 31


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """Standard deviations of what was measured and of what the archer does.

    Attributes
    ----------
    calliper : float, m
        Of one thickness; half as much besides, the same everywhere, is the calliper's own zero.
    tape : float, m
        Of one width.
    archer : float, m
        Of the draw length from shot to shot.
    scatter : float
        Factor on every spread; 0 gives the bow of the case.
    """

    calliper: float = 2e-4
    tape: float = 5e-4
    archer: float = 6e-3
    scatter: float = 1.0

    def __post_init__(self) -> None:
        for name in ("calliper", "tape", "archer", "scatter"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0.0):
                raise CaseError(f"{name} {value:g}: must be zero or above")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inputs:
    """What varies.

    Attributes
    ----------
    groups : mapping of str to tuple of int
        Columns by what they stand for; the groups are independent.
    spread : Errors
    root : ndarray, shape (5, 5)
        Of the correlation of the logarithms of `STRENGTHS`.
    sigma : ndarray, shape (5,)
        Standard deviations of these logarithms, from stave to stave.
    luck : bool
        Whether the weakest link scatters besides.
    moist : ndarray, shape (5,)
        Change of these logarithms per unit of moisture.
    nodes : ndarray, shape (k,), m
        Where the fields along the limbs are given.
    along : ndarray, shape (k, k)
        Root of the covariance of the logarithm of stiffness there.
    measured : ndarray, shape (m,), m
        Where the stave was measured.
    onto : ndarray, shape (k, m)
        From errors at these to the fields at the nodes.
    wide : ndarray, shape (m,), m
        Width there.
    alike : ndarray, shape (z,)
        Scatter of equal knots beyond that of clear wood, by zone.
    sized : ndarray, shape (z,)
        Scatter of each zone's true size over what shows.
    contrast : float
        Scatter of sapwood over heartwood; 0 without sapwood.
    """

    groups: Mapping[str, tuple[int, ...]]
    spread: Errors
    root: Array
    sigma: Array
    luck: bool
    moist: Array
    nodes: Array
    along: Array
    measured: Array
    onto: Array
    wide: Array
    alike: Array
    sized: Array
    contrast: float

    @property
    def count(self) -> int:
        """Columns in all."""
        return sum(map(len, self.groups.values()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factors:
    """Samples as physical quantities; arrays of shape (n,), fields (n, k), zones (n, z).

    Attributes
    ----------
    logs : ndarray, shape (n, 5)
        Logarithms of the factors on `STRENGTHS`, moisture counted.
    law, string, contrast : logarithms of factors on the belly's law, the string's stiffness, and
        sapwood over heartwood
    toughness, model, luck : factors of mean 1
    band : ndarray, shape (n,)
        Place in the bands of the local models, -1 to 1.
    field : ndarray, shape (n, k)
        Logarithm of stiffness along the limbs, the mean apart.
    width : ndarray, shape (n, k)
        Logarithm of the widths' factor.
    thickness : ndarray, shape (n, k), m
    archer : ndarray, shape (n,), m
    alike : ndarray, shape (n, z)
        Factor of mean 1 on the strength beside a zone.
    size : ndarray, shape (n, z)
        Logarithm of a zone's size over what shows.
    """

    logs: Array
    law: Array
    string: Array
    contrast: Array
    toughness: Array
    model: Array
    luck: Array
    band: Array
    field: Array
    width: Array
    thickness: Array
    archer: Array
    alike: Array
    size: Array


def build_inputs(
    setup: BowSetup, spread: Errors, moist: Array, kinds: tuple[str, ...], extra: Array
) -> Inputs:
    """Return what varies of a bow.

    Parameters
    ----------
    setup : BowSetup
    spread : Errors
    moist : ndarray, shape (5,)
        Change of the logarithms of `STRENGTHS` per unit of moisture.
    kinds : tuple of {"knot", "decay"}
        Of the zones.
    extra : ndarray, shape (z,)
        Scatter of zones that look alike.

    Raises
    ------
    CaseError
        If an error of measuring is no error any more beside what was measured.
    MaterialError
        If correlations contradict the coefficients of variation.
    """
    stave = setup.stave
    _check_measures(stave, spread)
    cov = np.array([stave.heartwood.strength.cov[name] for name in COVS])
    within = weakest_scatter(SHAPE)
    luck = bool(cov[1] > within)
    cov[1] = np.sqrt(max(cov[1] ** 2 - within**2, 0.0))
    correlation = np.eye(5)
    others = [0, 1, 3, 4]
    correlation[np.ix_(others, others)] = JCSS_CORRELATION
    correlation[2, others] = correlation[others, 2] = CRUSHING_WITH
    root = _root(lognormal_correlation(correlation, cov))
    nodes = field_nodes(stave)
    measured = _measured(stave)
    grid = np.linspace(stave.x[0], stave.x[-1], 801)
    grid = grid[stave.bends(grid)]
    onto = np.linalg.lstsq(hats(nodes, grid), hats(measured, grid), rcond=None)[0]
    return Inputs(
        groups=MappingProxyType(_groups(stave, kinds, len(nodes), len(measured))),
        spread=spread,
        root=read_only(root),
        sigma=read_only(np.sqrt(np.log1p(cov**2))),
        luck=luck,
        moist=read_only(moist),
        nodes=read_only(nodes),
        along=read_only(ALONG * np.linalg.cholesky(along_correlation(nodes))),
        measured=read_only(measured),
        onto=read_only(onto),
        wide=read_only(np.interp(measured, stave.x, stave.width)),
        alike=read_only(extra),
        sized=read_only([KNOT_SIZE if kind == "knot" else PATCH_SIZE for kind in kinds]),
        contrast=CONTRAST if stave.sapwood_wood is not None else 0.0,
    )


def _check_measures(stave: Stave, spread: Errors) -> None:
    """Refuse errors that are none any more beside what was measured."""
    for name, least in (("calliper", stave.thickness.min()), ("tape", stave.width.min())):
        error = getattr(spread, name)
        if spread.scatter * error > 0.1 * least:
            raise CaseError(
                f"{name} {both_lengths(error)}: is more than a tenth of the least measure of the "
                f"limb ({both_lengths(float(least))}); measure better, or check the unit"
            )


def _groups(
    stave: Stave, kinds: tuple[str, ...], nodes: int, measured: int
) -> dict[str, tuple[int, ...]]:
    """Return the columns of what varies, group after group; zones have two each."""
    zones = len(kinds)
    sizes = {
        "stiffness": 1,
        "tension strength": 1,
        "crushing strength": 2,
        "splitting strength": 3,
        "stiffness along the limb": nodes,
        "sapwood": 0 if stave.sapwood_wood is None else 1,
        "thickness": 1 + measured,
        "width": measured,
        "moisture": 1,
        "string": 1,
        "draw length": 1,
        "knots": 2 * kinds.count("knot"),
        "decay": 2 * kinds.count("decay"),
        "weakest spot": 1,
        "the model": 2 if zones else 1,
    }
    groups, at = {}, 0
    for name, size in sizes.items():
        if size:
            groups[name] = tuple(range(at, at + size))
            at += size
    return groups


def along_correlation(x: Array) -> Array:
    """Return the correlation of stiffness between places x (m), shape (k, k).

    ``exp(-distance / ALONG_LENGTH)``: sections of one stiffness each, of random length with that
    mean, as the JCSS code has a member.
    """
    return np.asarray(np.exp(-np.abs(x[:, None] - x) / ALONG_LENGTH))


def field_nodes(stave: Stave) -> Array:
    """Return where the fields along the limbs are given, lower tip to upper tip, shape (k,), m."""
    inner = max(stave.half_grip, 0.02 * float(stave.x[-1] - stave.x[0]))
    lower = np.linspace(stave.x[0], -inner, NODES)
    return np.concatenate([lower, np.linspace(inner, stave.x[-1], NODES)])


def hats(nodes: Array, x: Array) -> Array:
    """Return what each node gives to places x of what runs straight between, shape (n, k)."""
    return np.stack([np.interp(x, nodes, unit) for unit in np.eye(len(nodes))], axis=1)


def _measured(stave: Stave) -> Array:
    """Return where the limb was measured: the stations of its case, or every few centimetres."""
    there = stave.x[stave.bends(stave.x)]
    if len(there) <= _MOST_MEASURES:
        return there
    return np.linspace(stave.x[0], stave.x[-1], _MOST_MEASURES)


def _root(correlation: Array) -> Array:
    """Return the triangular root of a correlation, also where a variable does not scatter."""
    return np.asarray(np.linalg.cholesky(correlation + 1e-12 * np.eye(len(correlation))))


def node_spread(inputs: Inputs) -> tuple[Array, Array]:
    """Return the standard deviations of amplitude (its logarithm) and thickness (m) at nodes."""
    spread, scale = inputs.spread, inputs.spread.scatter
    wide = inputs.onto / inputs.wide * spread.tape
    amplitude = np.sqrt((inputs.along**2).sum(axis=1) + (wide**2).sum(axis=1))
    own = (inputs.onto**2).sum(axis=1)
    return np.asarray(scale * amplitude), np.asarray(scale * spread.calliper * np.sqrt(own + 0.25))


def crushing_spread(inputs: Inputs) -> float:
    """Return the standard deviation of the logarithm of crushing strength over stiffness."""
    rows = inputs.root * inputs.sigma[:, None]
    apart = rows[2] - rows[0]
    moist = MOISTURE * (inputs.moist[2] - inputs.moist[0])
    return inputs.spread.scatter * float(np.sqrt(apart @ apart + LAW_SPREAD**2 + moist**2))


def factors(inputs: Inputs, u: Array) -> Factors:
    """Return samples as physical quantities.

    Parameters
    ----------
    inputs : Inputs
    u : ndarray, shape (n, inputs.count)
        Standard normal.
    """
    scale, spread, groups = inputs.spread.scatter, inputs.spread, inputs.groups
    zones, nothing = len(inputs.sized), np.zeros(len(u))

    def columns(name: str) -> Array:
        return u[:, list(groups.get(name, ()))]

    crushing, splits = columns("crushing strength"), columns("splitting strength")
    own = [columns("stiffness")[:, 0], columns("tension strength")[:, 0], crushing[:, 0],
           splits[:, 0], splits[:, 1]]  # fmt: skip
    sigma = scale * inputs.sigma
    logs = (np.stack(own, axis=1) @ inputs.root.T) * sigma - 0.5 * sigma**2
    logs = logs + scale * MOISTURE * columns("moisture") * inputs.moist

    def lognormal(cov: float | Array, normal: Array) -> Array:
        wide = scale * np.sqrt(np.log1p(np.square(cov)))
        return np.asarray(np.exp(wide * normal - 0.5 * wide**2))

    thickness = columns("thickness")
    local = spread.calliper * thickness[:, 1:] @ inputs.onto.T
    model = columns("the model")
    size, alike = np.zeros((len(u), zones)), np.zeros((len(u), zones))
    for name, deviation in (("knots", KNOT_SIZE), ("decay", PATCH_SIZE)):
        mine = np.flatnonzero(inputs.sized == deviation)
        values = columns(name)
        size[:, mine], alike[:, mine] = values[:, : len(mine)], values[:, len(mine) :]
    return Factors(
        logs=logs,
        law=scale * LAW_SPREAD * crushing[:, 1],
        string=scale * STRING * columns("string")[:, 0],
        contrast=scale * inputs.contrast * columns("sapwood")[:, 0] if inputs.contrast else nothing,
        toughness=lognormal(TOUGHNESS_SCATTER, splits[:, 2]),
        model=lognormal(MODEL_SCATTER, model[:, 0]),
        luck=_luck(columns("weakest spot")[:, 0], scale) if inputs.luck else nothing + 1.0,
        band=scale * _triangular(model[:, 1]) if zones else nothing,
        field=scale * columns("stiffness along the limb") @ inputs.along.T,
        width=scale * (columns("width") * spread.tape / inputs.wide) @ inputs.onto.T,
        thickness=scale * (local + 0.5 * spread.calliper * thickness[:, :1]),
        archer=scale * spread.archer * columns("draw length")[:, 0],
        alike=lognormal(inputs.alike, alike),
        size=scale * inputs.sized * size,
    )


def _luck(normal: Array, scale: float) -> Array:
    """Return Weibull's distribution of mean 1 from a normal one: the weakest link of a piece."""
    chance = np.clip(ndtr(normal), 1e-300, 1.0 - 1e-16)
    link = (-np.log1p(-chance)) ** (1.0 / SHAPE) / np.exp(gammaln(1.0 + 1.0 / SHAPE))
    return np.asarray(link**scale)


def _triangular(normal: Array) -> Array:
    """Return a triangular distribution on -1 to 1 from a normal one."""
    below = np.sqrt(2.0 * ndtr(-np.abs(normal))) - 1.0
    return np.asarray(np.where(normal < 0.0, below, -below))
