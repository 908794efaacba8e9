"""Whether a bow stands whose tangent modulus says it gives way.

The tangent modulus lets every fibre that is being crushed be crushed further whichever way the bow
moves.  A fibre that is let go answers with its full modulus; with that the energy of a small
movement is a square only for one choice of loading fibres, and the bow stands if it is positive for
every movement with the fibres that this movement loads (Hill).  A column of yielding fibres so
bifurcates at the tangent-modulus load and stands up to the reduced-modulus load (von Karman,
Shanley).

References
----------
R. Hill, A general theory of uniqueness and stability in elastic-plastic solids, Journal of the
Mechanics and Physics of Solids 6 (1958), 236-249; F. R. Shanley, Inelastic column theory, Journal
of the Aeronautical Sciences 14 (1947), 261-268; T. von Karman, Untersuchungen ueber Knickfestigkeit
(1910) (all from memory).
"""

from __future__ import annotations

import numpy as np

from limbfe.beam import Bow, BowState
from limbfe.beam.equilibrium.stability import CURE
from limbfe.beam.rates.variation import softest_modes
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import crush, pick_law
from limbfe.section.yielding.inelastic import fibre_response
from limbfe.section.yielding.pressing import PressedSection

LEAST_MARGIN = 0.2
"""Share of the elastic bow's least stiffness below which a bow is not said to stand: a choice, on
the safe side, since the search below follows the softest movements only."""
_ROUNDS, _MODES, _LAST = 40, 2, 8


def check_stands(bow: Bow, state: BowState, pressed: PressedSection, where: str) -> tuple[str, ...]:
    """Return a caution if a state stands by unloading fibres only; `where` says which it is.

    Parameters
    ----------
    bow : Bow
    state : BowState
    pressed : PressedSection
        All Gauss stations in that state.

    Raises
    ------
    ConvergenceError
        If it would not stay.
    """
    if state.gives_way is None:
        return ()
    margin = standing_margin(bow, state, pressed)
    if margin < LEAST_MARGIN:
        less = ", or draw less" if state.draw_force > 0.0 else ""
        raise ConvergenceError(
            f"{where} the bow is not stable: {CURE[state.gives_way]}{less}",
            draw_length=state.draw_length,
            last_state=state,
        )
    return (
        f"{where} the bow stands only because crushed wood that is let go springs back, with "
        f"{margin:.0%} of the stiffness that elastic wood would leave it; were it crushed further "
        f"instead, {CURE[state.gives_way]}: string it with care and watch the limbs",
    )


def standing_margin(bow: Bow, state: BowState, pressed: PressedSection) -> float:
    """Return the least stiffness of a state over that of the same bow of elastic wood.

    Parameters
    ----------
    bow : Bow
    state : BowState
    pressed : PressedSection
        All Gauss stations in that state.

    Returns
    -------
    float
        Over `LEAST_MARGIN` it stands.  From the softest modes of the elastic bow and of the bow all
        of whose fibres load, to both sides, the fibres that a mode loads are found anew until they
        stay the same; the least of all is taken, and of rounds that come to no end.
    """
    section, shape = pressed.section, state.strains.shape[:2]
    strains = np.ascontiguousarray(state.strains.reshape(-1, 6))
    fresh = fibre_response(section, strains, np.zeros_like(pressed.plastic)).plastic
    loaded = (pressed.plastic > 0.0) & (pressed.plastic <= fresh + 1e-9)
    at = np.flatnonzero(loaded)
    station = np.repeat(np.arange(len(strains)), loaded[0].size)[at]
    fibre, K = section.fibre.reshape(-1, 6)[at], section.solution.K
    law = pick_law(section.law, np.unravel_index(at, loaded.shape))
    slope = crush(law, (fibre * strains[station]).sum(axis=1), np.zeros(len(at)))[2]
    lost = (law.modulus - slope) * section.weights.ravel()[at]

    squares = lost[:, None, None] * fibre[:, :, None] * fibre[:, None]
    places, first = np.unique(station, return_index=True)
    known: dict[bytes, tuple[Array, Array]] = {}

    def modes(loading: Array) -> tuple[Array, Array]:
        key = loading.tobytes()
        if key not in known:
            tangent = K.copy()
            if at.size:
                given = np.where(loading[:, None, None], squares, 0.0)
                tangent[places] -= np.add.reduceat(given, first, axis=0)
            found, rates = softest_modes(bow, state, tangent.reshape(*shape, 6, 6), _MODES)
            known[key] = found, rates.reshape(_MODES, -1, 6)
        return known[key]

    def shortened(rates: Array) -> Array:
        return np.asarray((fibre * rates[station]).sum(axis=1) < 0.0)

    elastic, starts = modes(np.zeros(len(at), dtype=bool))
    if not elastic[0] > 0.0:
        return float(np.sign(elastic[0]))
    starts = np.concatenate([starts, modes(np.ones(len(at), dtype=bool))[1]])
    least = []
    for start in np.concatenate([starts, -starts]):
        rates, values, loading = start, [], shortened(start)
        for _ in range(_ROUNDS):
            found, after = modes(loading)
            values.append(float(found[0]))
            rates = after[0] if (after[0] * rates).sum() >= 0.0 else -after[0]
            following = shortened(rates)
            if np.array_equal(following, loading):
                values = values[-1:]
                break
            loading = following
        least.append(min(values[-_LAST:]))
    return min(least) / float(elastic[0])
