"""How much of its strength a knot would use, by its size and place: a table for one bow.

A knot is worked by the limb's strain where it lies.  So the table holds what a trial knot uses of
its strength over the strain of the limb at its station: over that of the back for what breaks, over
that of the belly for what is crushed.  It comes from local models of this bow
(`limbfe.studies.trial_knots`), or, for a first answer, from the width that is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.frames import Array, read_only

Column = Literal["breaking", "unsound", "crushing"]
CRUSHED = 0.6
"""What a crushed belly counts for in a search: wrinkles are a blemish and no break."""
SWIRL = 3.0
"""Radii of a knot at which its swirl ends, see `limbfe.stave.knot`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StateTable:
    """What knots of one state use.

    Attributes
    ----------
    sizes : ndarray, shape (a,)
        Diameter over width, growing from 0.
    places : ndarray, shape (a, b)
        Distance of its middle from the limb's middle over half the width, growing from 0; of every
        size its own, so that a knot's rim meets the edge at one column.  The last is where its
        swirl ends.
    breaking, unsound, crushing : ndarray, shape (a, b)
        Strength used by what breaks it; load over that up to which it is sound, but for crushing;
        both over the strain of the back.  Strength used by crushing over that of the belly.
        `unsound` is None in a table made for a search, which does not ask for it.
    """

    sizes: Array
    places: Array
    breaking: Array
    unsound: Array | None
    crushing: Array

    def __post_init__(self) -> None:
        for name in ("sizes", "places", "breaking", "unsound", "crushing"):
            values = getattr(self, name)
            object.__setattr__(self, name, None if values is None else read_only(values))

    def at(self, size: Array, place: Array, *columns: Column) -> list[Array]:
        """Return columns at sizes and places of one shape.

        Straight between the table's sizes and columns, its outermost sizes going on outside.
        """
        i = self.sizes.searchsorted(size, side="right") - 1
        i = np.minimum(np.maximum(i, 0), len(self.sizes) - 2)
        low, high = self.sizes[i], self.sizes[i + 1]
        u = np.maximum((size - low) / (high - low), 0.0)[..., None]
        # past the largest size places do not move on: they would cross
        v = np.minimum(u, 1.0)
        places = (1.0 - v) * self.places[i] + v * self.places[i + 1]
        j = np.sum(places <= place[..., None], axis=-1) - 1
        j = np.minimum(np.maximum(j, 0), places.shape[-1] - 2)[..., None]
        a, b = np.take_along_axis(places, j, -1), np.take_along_axis(places, j + 1, -1)
        t = np.clip((place[..., None] - a) / np.maximum(b - a, 1e-12), 0.0, 1.0)[..., 0]
        u, j = u[..., 0], j[..., 0]
        out = []
        for column in columns:
            values = getattr(self, column)
            before, after = (
                np.maximum((1.0 - u) * values[i, k] + u * values[i + 1, k], 0.0) for k in (j, j + 1)
            )
            out.append((1.0 - t) * before + t * after)
        return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneStrength:
    """Strength used by a knot on this bow.

    Attributes
    ----------
    s, back, belly : ndarray, shape (n,)
        Stations of the bow (m from the grip, up positive), and the strain of its back and the
        shortening of its belly there, both positive.
    tables : mapping of state to StateTable
    tabulated : bool
        Whether local models stand behind it.
    notes : tuple of str
        What its reader is to be told.
    """

    s: Array
    back: Array
    belly: Array
    tables: dict[str, StateTable]
    tabulated: bool
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("s", "back", "belly"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def strained(self, s: float) -> float:
        """Return the strain of the back at a station over the largest of the bow."""
        return float(np.interp(s, self.s, self.back) / max(float(self.back.max()), 1e-12))

    def share(self, column: Column, state: str, s: Any, size: Any, place: Any) -> Array:
        """Return a column of the table times the strain at a station; see `shares`."""
        return self.shares(state, s, size, place, column)[0]

    def shares(self, state: str, s: Any, size: Any, place: Any, *columns: Column) -> list[Array]:
        """Return columns of the table times the strain at a station; arguments broadcast.

        Parameters
        ----------
        state : str
            One without a table of its own counts as dead, or as what there is.
        s : array_like, m
            Station on the bow.
        size : array_like
            Diameter over width.
        place : array_like
            Distance of its middle from the limb's middle over half the width.
        columns : {"breaking", "unsound", "crushing"}
        """
        s, size, place = np.broadcast_arrays(np.asarray(s, float), size, np.abs(place))
        table = (
            self.tables.get(state) or self.tables.get("dead") or next(iter(self.tables.values()))
        )
        strains = [self.belly if column == "crushing" else self.back for column in columns]
        return [
            np.interp(s, self.s, strain) * one
            for strain, one in zip(strains, table.at(size, place, *columns), strict=True)
        ]

    def used(self, state: str, s: Any, size: Any, place: Any) -> Array:
        """Return the strength used, a crushed belly counted less; arguments as of `share`.

        Past the edge it falls to that of clear wood where a knot's swirl ends, and is 0 beyond.
        Nothing is judged in the stiff grip, where clear wood strains nothing.
        """
        breaking, crushing = self.shares(state, s, size, place, "breaking", "crushing")
        reached = np.abs(place) < 1.0 + SWIRL * np.asarray(size)
        used: Array = np.where(reached, np.maximum(breaking, CRUSHED * crushing), 0.0)
        return used


def width_left(sizes: Array, places: Array) -> Array:
    """Return factors from the width that is left, shape (a, b), for a first look.

    Notes
    -----
    Clear wood bears 1 over the share of the width that is left in the middle of the limb, and
    that squared at its edge: the shape of the allowances for knots in the middle and at the edge of
    a wide face in timber grading (ASTM D245, from memory), not their numbers.
    """
    share = np.minimum(sizes, 0.9)[:, None]
    power = 1.0 + np.clip(places, 0.0, 1.0)[None, :] ** 2
    factors: Array = (1.0 - share) ** -power
    return factors


def width_table(sizes: Array, places: Array) -> StateTable:
    """Return the table of a first look, over the strength that clear wood uses.

    Parameters
    ----------
    sizes : ndarray, shape (a,)
    places : ndarray, shape (b,)
        From 0 to 1.
    """
    clear = np.ones((len(sizes), 1))
    factors = np.concatenate([width_left(sizes, places), clear], axis=1)
    ends = 1.0 + SWIRL * np.maximum(sizes, 1e-6)[:, None]
    return StateTable(
        sizes=sizes,
        places=np.concatenate([np.tile(places, (len(sizes), 1)), ends], axis=1),
        breaking=factors,
        unsound=factors,
        crushing=np.zeros(factors.shape),
    )
