"""Bows drawn in full at designed samples, and polynomials through them.

Ten thousand bows are not drawn; about a hundred are, spread evenly over what the wood may be, and
every result becomes a polynomial in what is changed, exact for the bow of the case.  How far a bow
drawn in full lies off a polynomial that was found without it (leave one out) is the quick bow's
error; it is handed on and counted as scatter, apart for weak bellies, which give way in hinges that
no polynomial follows, and for all others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.studies.chance.bows import BY_STATION, FULL, WAY, Change
from limbfe.studies.chance.inputs import (
    STRING,
    Factors,
    Inputs,
    crushing_spread,
    node_spread,
)
from limbfe.wood.weakest_link import SHAPE

WIDE = 1.3
"""How much wider than the wood's the design scatters crushing strength over stiffness, on which
yielding hangs."""
FARTHEST = 3.0
"""Standard deviations of anything that the design reaches."""
WEAK = (-1.5, -0.5)
"""Standard deviations of crushing strength over stiffness: a belly below the first counts as weak,
above the second as sound, between them in part."""
ONE = ("set", "speed")
"""Results that are one number of a bow."""
_FEW = 3.0
_HINGES = (-1.0, -2.0)
"""Standard deviations of crushing strength over stiffness at which the polynomials bend."""
_SEED = 20261129
_RIDGE = 1e-8


def design(inputs: Inputs, count: int) -> tuple[Array, Array]:
    """Return the design: rows of what is changed, and what one standard deviation of each is.

    Parameters
    ----------
    inputs : Inputs
    count : int

    Returns
    -------
    points : ndarray, shape (count, m)
        Latin hypercube of the normal distributions themselves, so that errors found on it are
        those that a sample has; the same for every seed, so that a study that was stopped goes
        on.  The columns are those of `as_change`.
    spread : ndarray, shape (m,)
        Zero where nothing varies.
    """
    amplitude, thickness = node_spread(inputs)
    modulus = float(np.linalg.norm(inputs.root[0])) * inputs.sigma[0]
    scale = inputs.spread.scatter
    spread = np.concatenate(
        [
            [
                crushing_spread(inputs),
                scale * float(np.hypot(STRING, modulus)),
                scale * inputs.contrast,
            ],
            amplitude,
            thickness,
        ]
    )
    rng = np.random.default_rng(_SEED)
    rows = np.stack([rng.permutation(count) for _ in spread], axis=1)
    normal = np.clip(ndtri((rows + rng.random(rows.shape)) / count), -FARTHEST, FARTHEST)
    normal[:, 0] = np.clip(WIDE * normal[:, 0], -FARTHEST, FARTHEST)
    return normal * spread, spread


def as_change(row: Array) -> Change:
    """Return one row of the design as what is changed."""
    k = (len(row) - 3) // 2
    return Change(
        crushing=float(row[0]),
        string=float(row[1]),
        contrast=float(row[2]),
        amplitude=row[3 : 3 + k].copy(),
        thickness=row[3 + k :].copy(),
    )


def changes_of(found: Factors) -> Array:
    """Return samples as rows of the design, shape (n, m)."""
    modulus, _, crushing, _, _ = found.logs.T
    columns = [
        crushing + found.law - modulus,
        found.string - modulus,
        found.contrast,
    ]
    return np.concatenate(
        [np.stack(columns, axis=1), found.field + found.width, found.thickness], axis=1
    )


def _features(x: Array, many: bool) -> Array:
    """Return the terms of the polynomial, shape (n, f), none of them constant.

    All that is changed; the square and cube of crushing strength over stiffness, on which yielding
    hangs, and how far it is below what lets limbs give way in hinges; where there are rows enough,
    products of these with the rest and the squares of the rest.
    """
    r, rest = x[:, :1], x[:, 1:]
    parts = [x, r**2, r**3, *(np.maximum(at - r, 0.0) for at in _HINGES)]
    if many:
        parts += [r * rest, rest**2, np.maximum(_HINGES[0] - r, 0.0) * rest]
    return np.concatenate(parts, axis=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuickBow:
    """Polynomials of all results of a drawn bow.

    Attributes
    ----------
    spread : ndarray, shape (m,)
    many : bool
        Whether products and squares are in them.
    reached : int
        How many shares of `WAY` there are.
    terms : mapping of str to ndarray
        Coefficients (f, columns) of every result's difference from the bow of the case; without
        ``speed`` where shots of it or of most bows cannot be followed.
    error : mapping of str to ndarray, shape (columns,)
        Root mean square of what bows left out lie off; of what is found by station that of the
        whole limb, shape (reached,).
    by_belly : mapping of str to ndarray, shape (2, columns)
        The same of bows with weak bellies, and of the others.
    drawn, failed : int
        Bows of the design that could be drawn, and that could not.
    least : float
        Crushing strength over stiffness (logarithm) below which bows could not be drawn; they are
        counted as broken.
    reason : str
        Why the first of them failed.
    """

    spread: Array
    many: bool
    reached: int
    terms: Mapping[str, Array]
    error: Mapping[str, Array]
    by_belly: Mapping[str, Array]
    drawn: int
    failed: int
    least: float
    reason: str

    def at(self, changes: Array, names: tuple[str, ...]) -> dict[str, Array]:
        """Return results (n, columns) less those of the bow of the case, by name.

        Parameters
        ----------
        changes : ndarray, shape (n, m)
            Beyond the design's reach its edge is taken.
        names : tuple of str
        """
        x = np.clip(_scaled(changes, self.spread), -FARTHEST, FARTHEST)
        features = _features(x, self.many)
        return {name: features @ self.terms[name] for name in names}

    def off(self, changes: Array, name: str) -> Array:
        """Return how far the bow of each row, shape (n, m), may be off, one sd, (n, columns)."""
        weak = _weak(_scaled(changes[:, :1], self.spread[:1]))
        return np.asarray(np.sqrt(weak @ self.by_belly[name] ** 2))


def _weak(crushing: Array) -> Array:
    """Return how much of a weak belly and of a sound one each bow has, shape (n, 2).

    `crushing` over stiffness, shape (n, 1), in standard deviations.
    """
    weak = np.interp(crushing, WEAK, (1.0, 0.0))
    return np.concatenate([weak, 1.0 - weak], axis=1)


def _scaled(changes: Array, spread: Array) -> Array:
    return np.divide(changes, spread, out=np.zeros(changes.shape), where=spread > 0.0)


def _by_belly(crushing: Array, off: Array) -> Array:
    """Return the root mean square of `off`, shape (n, c), by kind of belly, shape (2, c).

    Where there are hardly any of a kind, that of all.
    """
    share = _weak(crushing)
    bows = share.sum(axis=0)[:, None]
    squares = share.T @ off**2 / np.maximum(bows, _FEW)
    return np.asarray(np.sqrt(np.where(bows >= _FEW, squares, (off**2).mean(axis=0))))


def quick_bow(
    points: Array,
    spread: Array,
    own: Mapping[str, Array],
    results: list[Mapping[str, Array] | None],
    reason: str,
) -> QuickBow:
    """Return the polynomials through the bows that were drawn.

    Parameters
    ----------
    points : ndarray, shape (count, m)
    spread : ndarray, shape (m,)
    own : mapping
        Results of the bow of the case, as `limbfe.studies.chance.bows.drawn_in_full`.
    results : list
        Of every row; None where a bow could not be drawn.
    reason : str
        Why the first of those failed.

    Raises
    ------
    ConvergenceError
        If fewer than half the bows can be drawn.
    """
    drawn = np.array([one is not None for one in results], dtype=bool)
    if drawn.sum() < 0.5 * len(results):
        raise ConvergenceError(
            f"chance: of {len(results)} bows that the wood may make only {int(drawn.sum())} can be "
            f"drawn to full draw: {reason}; draw less, or make the limbs thicker"
        )
    reached = int(own["reached"])
    there = np.array([0 if one is None else int(one["reached"]) for one in results])
    # a share of the way counts where nearly all bows get there; the rest is left out
    while reached > FULL + 1 and (there >= reached).sum() < 0.9 * drawn.sum():
        reached -= 1
    x = _scaled(points, spread)
    many = int(drawn.sum()) > 1.4 * _features(x, True).shape[1]
    columns = _features(x, many)
    terms, error, by_belly = {}, {}, {}
    for name in ("force", "sites", "set", "speed", *BY_STATION):
        if own[name] is None:
            continue
        if not results:
            # nothing varies: the bow of the case is all there is
            size = _table(own[name], name, reached).size
            terms[name] = np.zeros((columns.shape[1], size))
            error[name] = np.zeros(1 if name in ONE else reached)
            by_belly[name] = np.zeros((2, len(error[name])))
            continue
        base = _table(own[name], name, reached)
        rows = drawn if name in ONE else there >= reached
        rows = rows & np.array([one is not None and one[name] is not None for one in results])
        if rows.sum() < 0.5 * drawn.sum():
            continue
        values = np.array(
            [_table(one[name], name, reached) - base
             for one, taken in zip(results, rows, strict=True) if taken and one is not None]
        )  # fmt: skip
        terms[name], off = _fitted(columns[rows], values)
        if name in BY_STATION:
            off = worst_of(name, base + values, reached) - worst_of(
                name, base + values - off, reached
            )
        error[name] = np.asarray(np.sqrt((off**2).mean(axis=0)))
        by_belly[name] = _by_belly(x[rows, :1], off)
    bad = points[~drawn, 0]
    good = points[drawn, 0]
    return QuickBow(
        spread=spread,
        many=many,
        reached=reached,
        terms=terms,
        error=error,
        by_belly=by_belly,
        drawn=int(drawn.sum()),
        failed=int((~drawn).sum()),
        least=float(good.min()) if len(bad) and bad.min() < good.min() else -np.inf,
        reason=reason,
    )


def _table(values: object, name: str, reached: int) -> Array:
    """Return one result as a row: of `reached` shares, or a single number."""
    table = np.atleast_1d(np.asarray(values, dtype=np.float64))
    return table if name in ONE else table[:reached].ravel()


def worst_of(name: str, logs: Array, reached: int) -> Array:
    """Return the logarithm of strength used by a limb, shape (n, reached), from its stations'.

    Parameters
    ----------
    name : str
        Of `BY_STATION`: links add up to their whole, of others the worst place counts.
    logs : ndarray, shape (n, reached * S)
    reached : int
    """
    by_station = logs.reshape(len(logs), reached, -1)
    if name == "links":
        return np.asarray(np.logaddexp.reduce(SHAPE * by_station, axis=2) / SHAPE)
    return np.asarray(by_station.max(axis=2))


def _fitted(columns: Array, values: Array) -> tuple[Array, Array]:
    """Return coefficients (f, c) by least squares and how far rows left out lie off, (n, c)."""
    scale = columns.std(axis=0)
    used = scale > 0.0
    x = columns[:, used] / scale[used]
    normal = x.T @ x + _RIDGE * len(x) * np.eye(x.shape[1])
    inverse = np.linalg.inv(normal)
    coefficients = inverse @ (x.T @ values)
    leverage = np.einsum("ij,jk,ik->i", x, inverse, x)
    off = (values - x @ coefficients) / np.maximum(1.0 - leverage, 0.05)[:, None]
    out = np.zeros((columns.shape[1], values.shape[1]))
    out[used] = coefficients / scale[used][:, None]
    return out, off


def way_lengths(start: float, full: float, reached: int) -> Array:
    """Return the draw lengths (m) of the shares of the way."""
    return start + np.array(WAY[:reached]) * (full - start)
