"""Whether a string slides off the side of a limb, against the shortest way over a curved belly.

The string is a chain of points on a cylinder of the belly's radius that may slide along and across
it, from the nock to the free nocking point; SciPy finds the shortest of all.  Written apart.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from limbfe.analysis.bow.string_lies import slip_angle

RADIUS, TURN, FREE = 0.24, 0.5, 0.6


def shortest(aside: float, points: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """Places along and across the belly of the shortest string to a point `aside` (m) of it."""
    # on the tangent that leaves the belly at TURN: where the straight string goes
    leaves = RADIUS * np.array([np.sin(TURN), np.cos(TURN)])
    goal = leaves + FREE * np.array([np.cos(TURN), -np.sin(TURN)])

    def line(unknown: np.ndarray) -> np.ndarray:
        angle = np.concatenate([[0.0], np.cumsum(unknown[:points])])
        across = np.concatenate([[0.0], unknown[points:]])
        on = np.stack([RADIUS * np.sin(angle), RADIUS * np.cos(angle), across], axis=1)
        return np.concatenate([on, [[*goal, aside]]])

    def length(unknown: np.ndarray) -> float:
        return float(np.linalg.norm(np.diff(line(unknown), axis=0), axis=1).sum())

    start = np.concatenate([np.full(points, TURN / points), np.zeros(points)])
    # chords of the belly lie in it: points apart alike keep them from gathering at the end
    bounds = [(TURN / points, TURN / points)] * points + [(None, None)] * points
    found = minimize(length, start, bounds=bounds, method="L-BFGS-B", options={"ftol": 1e-15})
    along = RADIUS * np.cumsum(found.x[:points])
    return along, found.x[points:]


@pytest.mark.parametrize("widths", [(0.020, 0.020), (0.010, 0.034)], ids=["even", "tapered"])
def test_at_the_angle_of_slip_the_shortest_string_meets_the_edge(widths: tuple[float, float]):
    along = np.linspace(0.0, RADIUS * TURN, 25)
    half = 0.5 * np.interp(along, [0.0, along[-1]], widths)
    angle = slip_angle(along, half, FREE)
    for share in (0.5, 1.0, 1.2):
        places, across = shortest(share * FREE * np.tan(angle))
        over = across / np.interp(places, along, half)
        assert over.max() == pytest.approx(share, rel=5e-3)


def test_a_wider_belly_and_a_shorter_stretch_keep_the_string():
    along, half = np.linspace(0.0, 0.12, 25), np.full(25, 0.008)
    angle = slip_angle(along, half, FREE)
    assert slip_angle(along, 2.0 * half, FREE) > 1.9 * angle
    assert slip_angle(0.5 * along, half, FREE) > 1.7 * angle
