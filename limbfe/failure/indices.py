"""Variance-based indices: how much of a result's scatter each input brings, alone and in all.

References
----------
I. M. Sobol, Sensitivity estimates for nonlinear mathematical models (1993); M. J. W. Jansen,
Analysis of variance designs for model output, Computer Physics Communications 117 (1999) 35-43;
A. Saltelli and others, Variance based sensitivity analysis of model output, Computer Physics
Communications 181 (2010) 259-270, table 2 (all from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from limbfe.failure.reliability import SURE
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """Shares of the variance of one result that one input brings.

    Attributes
    ----------
    first : float
        By itself: what knowing it would take away on average.
    total : float
        With all in which it takes part.
    first_off, total_off : float
        Half the width of their 95 % bands.
    """

    first: float
    total: float
    first_off: float
    total_off: float

    def to_dict(self) -> dict[str, float]:
        """Return the shares with their bands."""
        return {
            "first": self.first,
            "first_low": self.first - self.first_off,
            "first_high": self.first + self.first_off,
            "total": self.total,
            "total_low": self.total - self.total_off,
            "total_high": self.total + self.total_off,
        }


Exchange = Callable[[Array, Array, Sequence[int]], tuple[Array, Array]]
"""From two sets of samples, shape (n, d), and columns to the first set with these of the second and
the rest as it goes with them, and to the first set with these anew as they go with the rest."""


def exchanged(first: Array, second: Array, columns: Sequence[int]) -> tuple[Array, Array]:
    """Return both for independent columns, of which they are the same."""
    mixed = first.copy()
    mixed[:, list(columns)] = second[:, list(columns)]
    return mixed, mixed


def variance_indices(
    model: Callable[[Array], Mapping[str, Array]],
    groups: Mapping[str, Sequence[int]],
    first: Array,
    second: Array,
    exchange: Exchange = exchanged,
) -> dict[str, dict[str, Index]]:
    """Return the indices of every result by every group of inputs.

    The total by Jansen's estimator, the first by that of Saltelli and others.

    Parameters
    ----------
    model : callable
        From samples (n, d) of inputs to results of shape (n,) by name.
    groups : mapping of str to sequence of int
        Columns that are exchanged together.
    first, second : ndarray, shape (n, d)
        Two independent sets of samples.
    exchange : Exchange
        Of independent inputs, unless given.

    Returns
    -------
    dict
        Result by input to `Index`; all zero for a result that does not scatter.
    """
    one, two = model(first), model(second)
    found: dict[str, dict[str, Index]] = {name: {} for name in one}
    for group, columns in groups.items():
        alone, anew = exchange(first, second, columns)
        by_itself = model(alone)
        in_all = by_itself if anew is alone else model(anew)
        for name, values in one.items():
            found[name][group] = _index(values, two[name], by_itself[name], in_all[name])
    return found


def _index(a: Array, b: Array, alone: Array, anew: Array) -> Index:
    both = np.concatenate([a, b])
    variance = float(both.var())
    if variance <= 1e-24 * max(float((both**2).mean()), 1e-300):
        return Index(first=0.0, total=0.0, first_off=0.0, total_off=0.0)
    # an input without effect leaves the sample as it is, and its index is zero exactly
    known = (b - both.mean()) * (alone - a) / variance
    lost = 0.5 * (a - anew) ** 2 / variance
    root = SURE / np.sqrt(len(a))
    return Index(
        first=float(known.mean()),
        total=float(lost.mean()),
        first_off=float(root * known.std()),
        total_off=float(root * lost.std()),
    )
