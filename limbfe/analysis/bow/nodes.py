"""Where the beam nodes lie along the bow."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.frames import Array, read_only

ELEMENTS_ACROSS_ZONE = 3
"""Elements over the length of a knot or patch, so that its weakening is not smeared."""


def node_positions(setup: BowSetup) -> Array:
    """Return node coordinates along the bow, lower nock to upper nock.

    Nodes lie at the nocks, at the middle of the grip, at the edges of the stiff grip, at the
    hand's pressure point when the grip bends, and at the ends of every knot and patch; the
    limbs between are divided evenly.

    Returns
    -------
    ndarray, shape (n,), m, increasing
    """
    stave = setup.stave
    half_grip = stave.half_grip
    fixed = {float(stave.x[0]), 0.0, float(stave.x[-1])}
    fixed |= {-half_grip, half_grip}
    if half_grip == 0.0 and setup.holding.kind == "hand":
        fixed.add(setup.holding.at)
    even_step = max(-stave.x[0], stave.x[-1]) - half_grip
    even_step /= setup.analysis.elements_per_limb
    zones = _zone_spans(setup, half_grip)
    marks = sorted(fixed | {end for span in zones for end in span})
    nodes = [marks[0]]
    for start, end in pairwise(marks):
        in_zone = any(low - 1e-12 <= start and end <= high + 1e-12 for low, high in zones)
        step = even_step
        if in_zone:
            length = max(high - low for low, high in zones if low <= start + 1e-12 <= high)
            step = min(step, length / ELEMENTS_ACROSS_ZONE)
        in_grip = start >= -half_grip - 1e-12 and end <= half_grip + 1e-12
        count = 1 if in_grip and half_grip > 0.0 else max(1, round((end - start) / step))
        nodes.extend(np.linspace(start, end, count + 1)[1:])
    return read_only(nodes)


def _zone_spans(setup: BowSetup, half_grip: float) -> list[tuple[float, float]]:
    """Return merged spans of the zones on the bending limb, ends clear of the marks."""
    stave = setup.stave
    low, high = float(stave.x[0]), float(stave.x[-1])
    ends = [(knot.x, knot.x + knot.length * float(knot.direction[0])) for knot in stave.knots]
    raw = [
        (min(pair) - knot.radius, max(pair) + knot.radius)
        for pair, knot in zip(ends, stave.knots, strict=True)
    ]
    raw += [
        (float(decay.center[0] - decay.semi_axes[0]), float(decay.center[0] + decay.semi_axes[0]))
        for decay in stave.decays
    ]
    clipped = []
    for start, end in raw:
        limb_low, limb_high = (half_grip, high) if start + end > 0 else (low, -half_grip)
        start, end = max(start, limb_low), min(end, limb_high)
        if end - start > 1e-4:
            clipped.append((start, end))
    merged: list[tuple[float, float]] = []
    for start, end in sorted(clipped):
        if merged and start <= merged[-1][1] + 2e-3:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged
