"""The map of where a shaving changes what, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow, drawn_bow
from limbfe.analysis.rates.derivatives import DrawDerivatives, draw_derivatives
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.frames import Array, read_only
from limbfe.rows import Row, rows_of_columns
from limbfe.units import IMPERIAL, Words

LARGEST = 3e-3
"""Larger shavings (m) are no small changes any more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shaving:
    """What one shaving of a size changes at full draw, at each of s stations.

    Attributes
    ----------
    amount : float, m
        Wood taken off the belly, or off the width (half of it on each side).
    draw_weight, energy : ndarray, shape (s,), N, J
        Change of the draw weight, and of the work put in.
    worst : ndarray, shape (s,)
        Strength used at the hardest worked place of both limbs after the shaving.
    worst_at : ndarray, shape (s,), m
        Where that place is, signed.
    tiller_braced, tiller_drawn : ndarray, shape (s,), m
        Change of the tiller: positive when the upper limb comes to stand further off the string.
    """

    amount: float
    draw_weight: Array
    energy: Array
    worst: Array
    worst_at: Array
    tiller_braced: Array
    tiller_drawn: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaveMap:
    """An exercised bow and what shavings of one size change at each of its s stations.

    Attributes
    ----------
    title : str
    x, width, thickness : ndarray, shape (s,), m
    stiff_length : float, m
    draw_length, draw_weight, energy : float, m, N, J
    worst : HotSpot
        The hardest worked place of clear wood as the bow is.
    belly, sides : Shaving
    when_braced : tuple of str or Sentence
        Where the bow breaks or gives way while it is braced; told before everything else.
    warnings : tuple of str
        Why it could not be exercised.
    """

    title: str
    x: Array
    width: Array
    thickness: Array
    stiff_length: float
    draw_length: float
    draw_weight: float
    energy: float
    worst: HotSpot
    belly: Shaving
    sides: Shaving
    when_braced: tuple[Words, ...] = ()
    warnings: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        pound_force, _ = IMPERIAL.scale("force")
        return {
            "case": self.title,
            "when_braced": [str(one) for one in self.when_braced],
            "draw_length_mm": 1e3 * self.draw_length,
            "draw_weight_N": self.draw_weight,
            "draw_weight_lbf": self.draw_weight / pound_force,
            "draw_energy_J": self.energy,
            "strength_used": self.worst.strength_used,
            "off_belly_mm": 1e3 * self.belly.amount,
            "off_width_mm": 1e3 * self.sides.amount,
            "station_mm": _list(self.x, 1e3),
            "width_mm": _list(self.width, 1e3),
            "thickness_mm": _list(self.thickness, 1e3),
            "belly": _shaving(self.belly),
            "sides": _shaving(self.sides),
            "warnings": list(self.warnings),
        }

    def rows(self) -> list[Row]:
        """Return the map, a row a station."""
        return rows_of_columns(self.to_dict())


def _list(values: Array, scale: float = 1.0) -> list[float]:
    return [float(value) for value in values * scale]


def _shaving(shaving: Shaving) -> dict[str, list[float]]:
    return {
        "draw_weight_change_N": _list(shaving.draw_weight),
        "draw_energy_change_J": _list(shaving.energy),
        "strength_used_after": _list(shaving.worst),
        "strength_used_after_at_mm": _list(shaving.worst_at, 1e3),
        "tiller_braced_change_mm": _list(shaving.tiller_braced, 1e3),
        "tiller_drawn_change_mm": _list(shaving.tiller_drawn, 1e3),
    }


def shave_map(solved: SolvedBow, *, off_belly: float, off_width: float) -> ShaveMap:
    """Return what shavings change, by the exact derivatives of the drawn bow.

    Parameters
    ----------
    solved : SolvedBow
        Exercised: what comes out is what a bow made with so much less wood differs by, itself
        exercised.
    off_belly, off_width : float, m
        Sizes of the shavings.

    Notes
    -----
    Changes are proportional to the shaving (first order); strength used after it is the largest
    along both limbs, so a shaving that makes its own place the weakest shows.
    """
    rates = draw_derivatives(solved, spots="stations")
    setup, full = solved.model.setup, solved.full_draw
    worst = max(rates.hot_spots, key=lambda spot: spot.strength_used)
    return ShaveMap(
        title=setup.title,
        x=setup.stave.x,
        width=setup.stave.width,
        thickness=setup.stave.thickness,
        stiff_length=setup.stave.stiff_length,
        draw_length=full.draw_length,
        draw_weight=full.draw_force,
        energy=float(drawn_bow(solved).curve.energy[-1]),
        worst=worst,
        belly=_take_off(rates, "thickness", off_belly),
        sides=_take_off(rates, "width", off_width),
        when_braced=when_braced(solved),
        warnings=solved.warnings,
    )


def _take_off(rates: DrawDerivatives, column: str, amount: float) -> Shaving:
    used = np.array([spot.strength_used for spot in rates.hot_spots])
    sign = [1.0 if spot.limb == "upper" else -1.0 for spot in rates.hot_spots]
    at = np.array([spot.at for spot in rates.hot_spots]) * sign
    after = used - amount * rates.strength_used[column]
    return Shaving(
        amount=amount,
        draw_weight=read_only(-amount * rates.force[column]),
        energy=read_only(-amount * rates.energy[column]),
        worst=read_only(after.max(axis=1)),
        worst_at=read_only(at[after.argmax(axis=1)]),
        tiller_braced=read_only(-amount * rates.tiller_braced[column]),
        tiller_drawn=read_only(-amount * rates.tiller_drawn[column]),
    )
