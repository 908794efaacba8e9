"""How near a bar of clear wood is to breaking when its belly is shortened so far.

Past the crushing strength the stress of the belly says nothing any more, and its strain alone does
not say how near the wood is to what it can bear.  A bar bent in a test does: with its belly
shortened by so much it has reached a share of its bending strength.  The bar is that of
`limbfe.wood.belly`: rectangular, plane sections, elastic in tension.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.wood.belly import BellyLaw, crushed_strain, yield_points
from limbfe.wood.wood import Wood

HOLDS = 3.0
"""The plateau of a crushed belly holds to about this many times the shortening at which it was
reached (Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006))."""
WRINKLES = 0.85
"""Share of its bending strength from which a bar's belly may show compression wrinkles: in tests
they are seen before the greatest load (from memory, fair confidence); the share was chosen on the
careful side: a shortening of 1.2 to 1.35 per cent for ash, hickory, Osage orange and yew, 0.9 for
cherry and juniper, which are known for frets (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BentBar:
    """A bar of the wood at every point of one shape (...), bent until it breaks.

    Attributes
    ----------
    corner : ndarray, shape (7, ...)
        Shortenings between which the stress of the belly runs straight; the first is 0, and beyond
        the last the stress stays.
    stress : ndarray, shape (7, ...), Pa
        At the corners.
    modulus : ndarray, Pa
    broken : ndarray
        Shortening of the belly at which the back breaks, or the belly gives way for good.
    strength : ndarray, Pa
        Nominal stress there: the modulus of rupture.
    """

    corner: Array
    stress: Array
    modulus: Array
    broken: Array
    strength: Array

    def pick(self, index: Any) -> BentBar:
        """Return the bars at some of the points, chosen along the first axis of their shape."""
        return BentBar(
            corner=self.corner[:, index],
            stress=self.stress[:, index],
            **{f.name: getattr(self, f.name)[index] for f in fields(self)[2:]},
        )


def bent_bar(law: BellyLaw, tension: Any) -> BentBar:
    """Return the bar of a wood.

    Parameters
    ----------
    law : BellyLaw
        Finite arrays of shape (...).
    tension : array_like, shape (...), Pa
        Strength along the grain.
    """
    modulus = np.asarray(law.modulus, dtype=np.float64)
    rising, plastic = yield_points(law)
    start = np.zeros((1, *rising.shape[1:]))
    stress = np.concatenate([start, rising])
    corner = np.concatenate([start, rising / modulus + plastic])
    last = HOLDS * crushed_strain(modulus, law.plateau)
    torn = _shortening(corner, stress, 0.5 * np.asarray(tension) ** 2 / modulus)
    broken = np.minimum(torn, last)
    return BentBar(
        corner=corner,
        stress=stress,
        modulus=modulus,
        broken=broken,
        strength=_nominal(corner, stress, modulus, broken),
    )


def bar_of(wood: Wood) -> BentBar:
    """Return the bar of a wood along its grain, arrays of shape ()."""
    return bent_bar(belly_law(wood), wood.strength.tension)


def belly_law(wood: Wood) -> BellyLaw:
    """Return the law of a wood's belly along its grain, arrays of shape ()."""
    s = wood.strength
    numbers = (
        wood.elasticity.E_L, s.compression, s.compression_proportional_limit, s.compression_plateau
    )  # fmt: skip
    modulus, crushing, limit, plateau = (np.asarray(number) for number in numbers)
    return BellyLaw(modulus=modulus, crushing=crushing, limit=limit, plateau=plateau)


def torn_at(bar: BentBar, tension: Any) -> Array:
    """Return the shortening of the belly at which the back bears a stress (Pa), shape (...)."""
    return _shortening(bar.corner, bar.stress, 0.5 * np.asarray(tension) ** 2 / bar.modulus)


def strength_reached(bar: BentBar, shortening: Array) -> Array:
    """Return the share of its bending strength that the bar has reached, shape (...).

    Parameters
    ----------
    bar : BentBar
    shortening : ndarray, shape (...)
        Of the belly, at least 0.

    Returns
    -------
    ndarray
        Nominal stress over the modulus of rupture; from where the bar is broken on, the shortening
        over that at which it broke, so that it goes on rising past 1.
    """
    low = np.clip(shortening, 1e-12, bar.broken)
    share = _nominal(bar.corner, bar.stress, bar.modulus, low) / bar.strength
    past = shortening / bar.broken
    return np.where(past >= 1.0, past, np.where(shortening > 0.0, share, 0.0))


def wrinkled_at(bar: BentBar) -> Array:
    """Return the shortening of the belly from which compression wrinkles may show, shape (...)."""
    low, high = np.zeros(bar.broken.shape), np.array(bar.broken)
    for _ in range(40):
        middle = 0.5 * (low + high)
        past = strength_reached(bar, middle) >= WRINKLES
        low, high = np.where(past, low, middle), np.where(past, middle, high)
    return high


def bent_to(bar: BentBar, shortening: Array) -> tuple[Array, Array, Array]:
    """Return how a bar is bent when its belly is shortened so far.

    Parameters
    ----------
    bar : BentBar, arrays of shape ()
    shortening : ndarray, shape (n,), above 0

    Returns
    -------
    nominal, back : ndarray, shape (n,), Pa
        Nominal stress, and stress of the back.
    depth : ndarray, shape (n,)
        Of the neutral plane below the back, over the thickness.
    """
    return _bent_to(bar.corner, bar.stress, bar.modulus, shortening)


def _nominal(corner: Array, stress: Array, modulus: Array, shortening: Array) -> Array:
    """Return the nominal stress of the bar, 6 M / (b h^2), at a shortening of its belly above 0."""
    return _bent_to(corner, stress, modulus, shortening)[0]


def _bent_to(
    corner: Array, stress: Array, modulus: Array, shortening: Array
) -> tuple[Array, Array, Array]:
    force, moment = np.zeros(shortening.shape), np.zeros(shortening.shape)
    for low, start, slope, width in _pieces(corner, stress):
        d = np.clip(shortening - low, 0.0, width)
        force += d * (start + 0.5 * slope * d)
        moment += d * (start * low + d * (0.5 * (start + slope * low) + slope * d / 3.0))
    back = np.sqrt(2.0 * force / modulus)
    nominal = 6.0 * (moment + modulus * back**3 / 3.0) / (shortening + back) ** 2
    return nominal, modulus * back, back / (shortening + back)


def _shortening(corner: Array, stress: Array, force: Array) -> Array:
    """Return the shortening up to which the stress integrates to a force."""
    left, out = np.array(force, dtype=np.float64), np.zeros(np.shape(force))
    for _, start, slope, width in _pieces(corner, stress):
        whole = np.where(np.isinf(width), np.inf, 0.0)
        finite = np.where(np.isinf(width), 0.0, width)
        part = np.clip(left, 0.0, finite * (start + 0.5 * slope * finite) + whole)
        root = np.sqrt(np.maximum(start**2 + 2.0 * slope * part, 0.0))
        out += np.divide(2.0 * part, start + root, out=np.zeros(part.shape), where=part > 0.0)
        left -= part
    return out


def _pieces(corner: Array, stress: Array) -> Any:
    """Yield lower end, stress there, slope and width of every straight piece; the last is endless.

    With the width of a piece 0 its slope is of no account.
    """
    for low, high, start, end in zip(corner, corner[1:], stress, stress[1:], strict=False):
        width = high - low
        slope = np.divide(end - start, width, out=np.zeros(width.shape), where=width > 0.0)
        yield low, start, slope, width
    yield corner[-1], stress[-1], np.zeros(corner.shape[1:]), np.full(corner.shape[1:], np.inf)
