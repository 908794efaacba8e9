"""Lines done side by side, a part of each in every round, so that the limbs stay in tiller."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import numpy as np

from limbfe.frames import Array
from limbfe.studies.take.results import EYE, TILLER, out_of_tiller

MOST_TURNS = 8
"""Rounds: an eighth of a line is some strokes of a scraper, and less is not told from none."""


def fewest_turns(tiller: float, changes: Sequence[float]) -> int:
    """Return in how many rounds lines are to be done, 1 for one line after the other.

    Parameters
    ----------
    tiller : float, m
        Of the bow as it is.
    changes : sequence of float, m
        What each line changes it by, in the order to do them.

    Returns
    -------
    int
        The fewest that keep the limbs within `EYE` of `TILLER`, or of where they are and their way
        back from there; `MOST_TURNS` where none do.
    """
    for turns in range(1, MOST_TURNS):
        if _beyond(tiller, changes, turns) <= EYE:
            return turns
    return MOST_TURNS


def best_order(tiller: float, changes: Sequence[float]) -> tuple[int, ...]:
    """Return the order of lines that needs the fewest rounds and then strays least in them.

    None that begins by leaving the limbs more uneven, where another does not: even out first
    (common practice).
    """

    def price(order: tuple[int, ...]) -> tuple[bool, int, float]:
        ordered = [changes[k] for k in order]
        turns = fewest_turns(tiller, ordered)
        further = out_of_tiller(tiller + ordered[0] / turns) > max(out_of_tiller(tiller), EYE)
        return further, turns, round(_beyond(tiller, ordered, turns), 4)

    return min(permutations(range(len(changes))), key=price)


def most_out(before: float, changes: Sequence[float], after_turns: Sequence[float]) -> float:
    """Return how far out of `TILLER` the limbs get on the way, m, where they are counted in.

    Parameters
    ----------
    before : float, m
    changes : sequence of float, m
        What each whole line changes.
    after_turns : sequence of float, m
        The tiller after every round.
    """
    starts = np.array([before, *after_turns[:-1]])
    within = np.cumsum(changes) / len(after_turns)
    all_of_it = [*starts, *(starts[:, None] + within[None, :-1]).ravel()]
    return max(out_of_tiller(float(one)) for one in all_of_it)


def _beyond(tiller: float, changes: Sequence[float], turns: int) -> float:
    """Return how far outside `TILLER`, and of where it was, it gets in so many rounds, m.

    Each line is taken to change it in proportion to what is done of it.
    """
    low, high = min(tiller, TILLER[0]), max(tiller, TILLER[1])
    on_way = _on_way(tiller, changes, turns)[:-1]
    return float(np.max([low - on_way, on_way - high], initial=0.0))


def _on_way(tiller: float, changes: Sequence[float], turns: int) -> Array:
    """Return the tiller after every part of a line, shape (turns * lines,), m."""
    on_way: Array = tiller + np.cumsum(np.tile(np.asarray(changes) / turns, turns))
    return on_way
