"""Thousands of quick bows at once: what they draw, keep, and where on the way each first fails."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from limbfe.curves import monotone_cubic
from limbfe.failure.indices import exchanged
from limbfe.frames import Array
from limbfe.studies.chance.bows import FULL
from limbfe.studies.chance.design import QuickBow, changes_of
from limbfe.studies.chance.inputs import Factors, Inputs, factors, hats
from limbfe.studies.chance.known import Known
from limbfe.studies.chance.zones import ZoneTable, rupture_used, splits_used
from limbfe.wood.weakest_link import SHAPE

CLEAR = ("tension", "belly gives way", "shear", "across")
"""Ways in which clear wood ends the limb, as `limbfe.analysis.wood.limit_search.BREAKING`."""
FURTHER = 0.03
"""Length (m) past the last draw over which strength used is taken to grow on as it did: as far as
an archer may overdraw."""
NEVER = 10.0
"""Draw length (m) of what does not come about as far as bows were drawn."""
NOISE = ("force", "links", "set", "crush", "shear", "across")
"""Results of which the quick bow's error counts as scatter, a column each; wrinkles have that of
crushing."""
LEAST = 1e-17
"""Strength used, or share of it, that counts as none."""
_LOG_LEAST = float(np.log(LEAST))
_BETWEEN = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chances:
    """All that quick bows are found from.

    Attributes
    ----------
    inputs : Inputs
    bow : QuickBow
    lengths : ndarray, shape (J,), m
        Draw lengths at which the bows were drawn in full, brace first.
    force : ndarray, shape (J,), N
        Of the bow of the case, 0 at brace.
    kept : float, m
        Its set.
    speed : float or None, m/s
        Of its arrow.
    used : mapping of str to ndarray, shape (J, S)
        Logarithm of the strength used of its clear wood by station: `BY_STATION`.
    x : ndarray, shape (S,), m
    sites : ndarray, shape (J, z)
        Logarithm of strain at its zones over that at full draw.
    zones : tuple of ZoneTable
    known : Known, optional
        What readings of the bow say of the inputs.
    """

    inputs: Inputs
    bow: QuickBow
    lengths: Array
    force: Array
    kept: float
    speed: float | None
    used: Mapping[str, Array]
    x: Array
    sites: Array
    zones: tuple[ZoneTable, ...]
    known: Known | None = None

    def inputs_of(self, u: Array) -> Array:
        """Return what varies, shape (n, inputs.count), of samples of all `columns`."""
        own = u[:, : self.inputs.count]
        return own if self.known is None else self.known.inputs_of(own)

    def exchanged(self, first: Array, second: Array, columns: Sequence[int]) -> tuple[Array, Array]:
        """Exchange columns of samples; see `limbfe.failure.indices.Exchange`."""
        if self.known is None or columns[0] >= self.inputs.count:
            return exchanged(first, second, columns)
        alone, anew = first.copy(), first.copy()
        own = slice(self.inputs.count)
        alone[:, own], anew[:, own] = self.known.exchanged(first[:, own], second[:, own], columns)
        return alone, anew

    @property
    def columns(self) -> int:
        """Standard normal numbers a bow takes: the inputs', the quick bow's errors, a place."""
        return self.inputs.count + len(NOISE) + 1

    @property
    def groups(self) -> dict[str, tuple[int, ...]]:
        """Columns by what they stand for, the quick bow's error among them."""
        first = self.inputs.count
        return {**self.inputs.groups, "the quick bow": tuple(range(first, first + len(NOISE)))}

    @property
    def full(self) -> float:
        """Draw length of the case, m."""
        return float(self.lengths[FULL])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bows:
    """n quick bows.

    Attributes
    ----------
    force : ndarray, shape (n, J), N
    kept : ndarray, shape (n,), m
        Set.
    speed : ndarray, shape (n,), m/s
        Of an arrow at full draw; not a number where the bow of the case cannot be followed.
    limb, zone, split : ndarray, shapes (n, 4), (n, z), (n, z), m
        Draw length at which each way of failing comes about first: in clear wood by `CLEAR`, by
        rupture at a zone, by a split there; `NEVER` beyond the way.
    where : ndarray of int, shape (n,)
        Station at which clear wood would part.
    frets : ndarray, shape (n,), m
        Draw length from which wrinkles may show on the belly.
    used : ndarray, shape (n,)
        Logarithm of the highest strength used by anything at the draw the archer gives.
    archer : ndarray, shape (n,), m
        How much further than asked the archer draws.
    """

    force: Array
    kept: Array
    speed: Array
    limb: Array
    zone: Array
    split: Array
    where: Array
    frets: Array
    used: Array
    archer: Array

    @property
    def first(self) -> Array:
        """Draw length of the first failure of any kind, shape (n,), m."""
        return np.asarray(np.concatenate([self.limb, self.zone, self.split], axis=1).min(axis=1))

    @property
    def parted(self) -> Array:
        """Draw length at which the limb first breaks, splits apart, shape (n,), m."""
        return np.asarray(np.concatenate([self.limb, self.zone], axis=1).min(axis=1))


def quick_bows(chances: Chances, u: Array) -> Bows:
    """Return the bows of samples, shape (n, chances.columns), standard normal."""
    inputs, bow = chances.inputs, chances.bow
    found = factors(inputs, chances.inputs_of(u))
    off, place = u[:, inputs.count : -1], ndtr(u[:, -1])
    changes = changes_of(found)
    ratio = bow.at(changes, ("force", "sites", "set"))
    certain = 0.0 if inputs.spread.scatter == 0.0 else 1.0
    noise = {
        name: certain * bow.off(changes, name) * off[:, k : k + 1] for k, name in enumerate(NOISE)
    }
    modulus = found.logs[:, :1]
    force = chances.force * np.exp(ratio["force"] + noise["force"] + modulus)
    kept = np.maximum(chances.kept + ratio["set"][:, 0] + noise["set"][:, 0], 0.0)
    speed = np.full(len(u), np.nan)
    if chances.speed is not None:
        # drawn harder than the quick bow has it, it shoots faster: the errors are taken for one
        rough = certain * bow.off(changes, "speed") * off[:, :1]
        ratio_of_speed = bow.at(changes, ("speed",))["speed"] + rough + 0.5 * modulus
        speed = chances.speed * np.exp(ratio_of_speed[:, 0])
    clear, wrinkle, parting = _clear_used(chances, found, changes, noise)
    fibres, shares = _fibres(chances, found, ratio, clear[0])
    splits = [
        np.log(np.maximum(splits_used(table, found, k), LEAST))[:, None]
        + strained(chances, found, ratio, k)
        for k, table in enumerate(chances.zones)
    ]
    broken = changes[:, 0] < bow.least
    lengths = finer(chances.lengths)

    def reached(used: Array) -> Array:
        return first_reached(lengths, followed(chances.lengths, used), broken)

    parted = reached(fibres)
    # of all links the one that parts is drawn by lot, each with its share of the sum
    lot = (place[:, None] > np.cumsum(shares, axis=1)[:, :-1]).sum(axis=1)
    zone = np.full((len(u), len(chances.zones)), NEVER)
    for k in range(len(chances.zones)):
        mine = lot == k
        zone[mine, k] = parted[mine]
    others = [reached(one) for one in clear[1:]]
    tension = np.where(lot == len(chances.zones), parted, NEVER)
    split = [reached(one) for one in splits]
    most = np.maximum.reduce([fibres, *clear[1:], *splits])
    return Bows(
        force=force,
        kept=kept,
        speed=speed,
        limb=np.stack([tension, *others], axis=1),
        zone=zone,
        split=np.stack(split, axis=1) if split else np.full((len(u), 0), NEVER),
        where=_where(parting, place, shares),
        frets=reached(wrinkle),
        used=used_at(lengths, followed(chances.lengths, most), chances.full + found.archer, broken),
        archer=found.archer,
    )


def _along(chances: Chances, found: Factors) -> Array:
    """Return the logarithm of stiffness along the limb at the stations, shape (n, S)."""
    return np.asarray(found.field @ hats(chances.inputs.nodes, chances.x).T)


def _clear_used(
    chances: Chances, found: Factors, changes: Array, noise: Mapping[str, Array]
) -> tuple[list[Array], Array, Array]:
    """Return logarithms of strength used by clear wood: (n, J) by `CLEAR`, (n, J) of wrinkles, and
    the links (n, S) of the stations at full draw.
    """
    log_e, log_t, _, log_a, log_s = (column[:, None] for column in found.logs.T)
    model, count = np.log(found.model)[:, None], len(chances.lengths)
    along = _along(chances, found)[:, None, :]

    def table(name: str) -> Array:
        ratio = chances.bow.at(changes, (name,))[name]
        return np.asarray(ratio.reshape(len(changes), count, -1) + chances.used[name])

    # stiffer wood at the same strain is stressed more; its own strength is that of the piece
    links = SHAPE * (table("links") + along)
    top = links.max(axis=2)
    parting = np.exp(links - top[:, :, None])
    tension = (top + np.log(parting.sum(axis=2))) / SHAPE + noise["links"]
    luck = np.log(found.luck)[:, None]
    used = [
        tension + log_e - log_t - luck - model,
        table("crush").max(axis=2) + noise["crush"] - model,
        (table("shear") + along).max(axis=2) + noise["shear"] + log_e - log_s - model,
        (table("across") + along).max(axis=2) + noise["across"] + log_e - log_a - model,
    ]
    wrinkle = table("wrinkle").max(axis=2) + noise["crush"] - model
    return used, wrinkle, parting[:, FULL]


def strained(chances: Chances, found: Factors, ratio: dict[str, Array], k: int) -> Array:
    """Return the logarithm (n, J) of stress at a zone over that at full draw, the model counted."""
    sites = ratio["sites"].reshape(len(found.model), len(chances.lengths), -1)[:, :, k]
    here = found.field @ hats(chances.inputs.nodes, np.array([chances.zones[k].at]))[0]
    more = found.logs[:, 0] + here - np.log(found.model)
    return np.asarray(np.maximum(chances.sites[:, k] + sites, _LOG_LEAST) + more[:, None])


def _fibres(
    chances: Chances, found: Factors, ratio: dict[str, Array], clear: Array
) -> tuple[Array, Array]:
    """Return the logarithm (n, J) of tension used by all links, and each one's share (n, z + 1).

    Weakest links of the zones and of the limb add up; the last share is that of clear wood.  A
    zone's own are what the limb with it has more of than without.  No bow is taken for stronger
    with a zone than its verdict has it.
    """
    strength = (found.logs[:, 1] + np.log(found.luck))[:, None]
    parts = []
    for k, table in enumerate(chances.zones):
        used = np.log(np.maximum(rupture_used(table, found, k), LEAST))[:, None]
        whole = used + strained(chances, found, ratio, k) - strength
        share = -np.expm1(SHAPE * np.minimum(clear - whole, 0.0))
        own = whole + np.log(np.maximum(share, LEAST)) / SHAPE
        parts.append(np.where(share > 0.0, own, _LOG_LEAST))
    links = SHAPE * np.stack([*parts, clear], axis=1)
    whole = np.logaddexp.reduce(links, axis=1)
    return whole / SHAPE, np.exp(links[:, :, FULL] - whole[:, None, FULL])


def _where(parting: Array, place: Array, shares: Array) -> Array:
    """Return at which station clear wood would part: by lot, each with its share of the links."""
    share = np.cumsum(parting, axis=1)
    # what is left of the lot once it has fallen on clear wood
    before = shares[:, :-1].sum(axis=1)
    left = np.clip((place - before) / np.maximum(1.0 - before, 1e-12), 0.0, 1.0 - 1e-12)
    return np.asarray((share < left[:, None] * share[:, -1:]).sum(axis=1))


def finer(lengths: Array) -> Array:
    """Return draw lengths with `_BETWEEN` more between each two, so that curves are round."""
    steps = np.arange((len(lengths) - 1) * (_BETWEEN + 1) + 1) / (_BETWEEN + 1)
    return np.interp(steps, np.arange(len(lengths)), lengths)


def followed(lengths: Array, used: Array) -> Array:
    """Return the logarithm (n, f) of strength used at `finer` draws, monotone between two."""
    used = np.maximum.accumulate(used, axis=1)
    return np.asarray(monotone_cubic(lengths, used.T)(finer(lengths)).T)


def used_at(lengths: Array, used: Array, at: Array, broken: NDArray[np.bool_]) -> Array:
    """Return the logarithm of strength used at each bow's own draw length `at`, shape (n,), m."""
    used, rows = np.maximum.accumulate(used, axis=1), np.arange(len(used))
    after = np.clip(np.searchsorted(lengths, at), 1, len(lengths) - 1)
    share = (at - lengths[after - 1]) / (lengths[after] - lengths[after - 1])
    low, high = used[rows, after - 1], used[rows, after]
    return np.asarray(np.where(broken, np.maximum(high, 0.0), low + share * (high - low)))


def first_reached(lengths: Array, used: Array, broken: NDArray[np.bool_]) -> Array:
    """Return the draw length at which strength used first comes to 1, shape (n,), m.

    Parameters
    ----------
    lengths : ndarray, shape (J,), m
    used : ndarray, shape (n, J)
        Its logarithm; between two draws it runs straight, and on for `FURTHER`.
    broken : ndarray of bool, shape (n,)
        Those that fail as soon as they are braced.
    """
    used = np.maximum.accumulate(used, axis=1)
    over = used >= 0.0
    last, rows = len(lengths) - 1, np.arange(len(used))
    at = np.where(over.any(axis=1), np.maximum(over.argmax(axis=1), 1), last)
    low, high = used[rows, at - 1], used[rows, at]
    share = np.divide(-low, high - low, out=np.full(len(used), np.inf), where=high > low)
    found = lengths[at - 1] + np.maximum(share, 0.0) * (lengths[at] - lengths[at - 1])
    found = np.where(over[:, 0] | broken, lengths[0], found)
    return np.asarray(np.where(found <= lengths[last] + FURTHER, found, NEVER))
