"""A bow at other draws than full draw, each as if it had been exercised no further."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from limbfe.analysis.bow.exercise import exercised_to
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import LimbLoad, limb_load
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownDraws:
    """The draws of a first pull, from brace to beyond full draw.

    Attributes
    ----------
    first : SolvedBow
    lengths : ndarray, shape (k,), m, increasing
    forces : ndarray, shape (k,), N
    strains : ndarray, shape (k, S, 6)
        Of the beam on that pull: to guess from, since they grow with the draw whatever is crushed.
    full : int
        Which of them is full draw.
    """

    first: SolvedBow
    lengths: Array
    forces: Array
    strains: Array
    full: int
    _loads: dict[int, LimbLoad] = field(default_factory=dict)

    def load(self, number: int) -> LimbLoad:
        """Return the load of the bow exercised to one of the draws after brace.

        Raises
        ------
        ConvergenceError
            If its sections cannot be strained so.
        """
        if number not in self._loads:
            self._loads[number] = limb_load(exercised_to(self.first, number - 1))
        return self._loads[number]


def known_draws(solved: SolvedBow) -> KnownDraws:
    """Return the draws of a bow's first pull."""
    first = solved.first_pull
    states = (first.braced, *first.states, *first.beyond)
    return KnownDraws(
        first=first,
        lengths=np.array([state.draw_length for state in states]),
        forces=np.array([0.0, *(state.draw_force for state in states[1:])]),
        strains=np.stack([state.strains.reshape(-1, 6) for state in states]),
        full=len(first.states),
    )
