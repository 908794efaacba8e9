"""The second variation of a bow: its least stiffness with any tangents of its sections.

Stretch of the string's parts adds its stiffness; its shortening by the pull of the hand is held.
"""

from __future__ import annotations

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.stability import multipliers_of
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.model import BORDER, DRAW, HEIGHT, POINT, TENSION
from limbfe.beam.rates.linearised import Linearised
from limbfe.frames import Array


def softest_modes(bow: Bow, state: BowState, tangent: Array, count: int) -> tuple[Array, Array]:
    """Return the least stiffnesses of a state and how the sections are strained in their modes.

    Parameters
    ----------
    bow : Bow
    state : BowState
        Braced or drawn.
    tangent : ndarray, shape (n - 1, 2, 6, 6)
        Of the sections.
    count : int

    Returns
    -------
    stiffness : ndarray, shape (count,), N/m
        Of modes of unit size, rotations counted as movements at the bow's length, the lowest first;
        below zero the bow gives way.
    strains : ndarray, shape (count, n - 1, 2, 6)
        Of the sections in these modes.
    """
    drawn = state.draw_force > 0.0
    control = DRAW if drawn else HEIGHT
    target = state.draw_length if drawn else state.brace_height
    system = Linearised(bow, state, tangent, control, target)
    whole, n = system.symmetric, len(system.path.positions)
    stretch = -system.path.string / bow.string.stiffness
    tension = [6 * n + TENSION, 6 * n + TENSION + 1]
    whole[tension, tension] = np.where(system.path.border[TENSION : TENSION + 2] > 0, stretch, -1.0)
    moving = np.flatnonzero(~system.held[: 6 * n])
    moving = np.concatenate([moving, 6 * n + np.arange(POINT, TENSION)])
    scale = np.ones(6 * n + BORDER)
    scale[: 6 * n].reshape(n, 6)[:, 3:] = 1.0 / bow.model.size
    scale = scale[moving]
    energy = whole[np.ix_(moving, moving)]
    for one in tension:
        energy = energy - np.outer(whole[one, moving], whole[one, moving]) / whole[one, one]
    energy = energy * scale[:, None] * scale
    held = [6 * n + one for one in multipliers_of(control) if 6 * n + one not in tension]
    if held:
        rows = whole[np.array(held)][:, moving] * scale
        free = np.linalg.svd(rows)[2][len(held) :].T
    else:
        free = np.eye(len(moving))
    from scipy.linalg import eigh  # not loaded by the commands that only draw

    values, vectors = eigh(free.T @ energy @ free, subset_by_index=[0, count - 1])
    step = np.zeros((count, 6 * n + BORDER))
    step[:, moving] = (free @ vectors).T * scale
    chain = bow.chain
    moved = system.twist_rate(step) / chain.length[:, None]
    mean = np.einsum("mij,pmj->pmi", system.element, moved)
    forces = np.einsum("mgij,pmj->pmgi", chain.transport, mean)
    return values, np.einsum("mgij,pmgj->pmgi", system.compliance, forces)
