"""How far a strung, reflexed bow is from giving way, beside a second variation written apart.

The bow in its plane as rigid links on springs, two limbs and a grip free to turn, the string of one
length.  With the links' angles, the string's energy is tension times chord, so that the second
variation is the bending's plus tension times that of the chord; the string's length holds one
movement, and turning as a whole costs nothing, exactly.  Written here from statics alone.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh, null_space
from scipy.optimize import brentq, root

from limbfe.beam import Bow, BowString, Chain, Hold, brace, gauss_positions
from limbfe.beam.rates.variation import softest_modes

GRIP, LIMB, BRACE = 0.06, 0.84, 0.15
"""Half the grip, a limb and the string's distance from the grip, m: a longbow of yew."""
LINKS = 80


def bending(s):
    return 130.0 * (1.0 - 0.82 * np.clip(s / LIMB, 0.0, 1.0)) ** 2


def ahead(s, reflex):
    """How far the unstrung limb lies towards the target, and its slope."""
    share = np.clip(s / LIMB, 0.0, None)
    return reflex * share**2, 2.0 * reflex * share / LIMB


def reflexed(reflex: float, kind: str) -> Bow:
    s = np.linspace(0.0, LIMB, 33)
    z = np.concatenate([-(GRIP + s)[::-1], GRIP + s])
    far, slope = ahead(np.abs(z) - GRIP, reflex)
    slope = slope * np.sign(z)
    along = np.stack([-slope, 0.0 * z, np.ones_like(z)], axis=1) / np.hypot(1.0, slope)[:, None]
    across = np.broadcast_to([0.0, 1.0, 0.0], along.shape)
    stiffness = np.zeros((len(z) - 1, 2, 6, 6))
    EI = bending(np.abs(gauss_positions(z)) - GRIP)
    for i, factor in enumerate([1e7, 1e7, 1e7, 1e3, 1.0, 1e3]):
        stiffness[..., i, i] = factor * EI
    return Bow(
        chain=Chain(
            positions=np.stack([-far, 0.0 * z, z], axis=1),
            rotations=np.stack([along, across, np.cross(along, across)], axis=2),
            stiffness=stiffness,
            mass=np.broadcast_to(np.eye(6), stiffness.shape),
        ),
        clamped=(len(s) - 1, len(s)),
        string=BowString(stiffness=1e8, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3)),
        hold=Hold(kind=kind, point=np.zeros(3)),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )


def braced_links(reflex: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Return the links' lengths, joints' springs, angles from the string, and the tension."""
    s = np.linspace(0.0, LIMB, LINKS + 1)
    far = ahead(s, reflex)[0]
    lengths, rest = np.hypot(np.diff(far), np.diff(s)), np.arctan2(-np.diff(far), np.diff(s))
    # the first joint's spring bends half a link of limb: the grip is rigid
    springs = bending(s[:-1]) / np.diff(s, prepend=-0.5 * s[1])[:-1]
    springs[0] = bending(0.25 * s[1]) / (0.5 * s[1])

    def gaps(unknown):
        angles, tension = unknown[:-1], unknown[-1]
        moments = springs * np.diff(angles - rest, prepend=0.0)
        arm = np.cumsum((lengths * np.sin(angles))[::-1])[::-1]  # of the tip's force, to the string
        return np.append(moments - tension * arm, (lengths * np.sin(angles)).sum() - BRACE)

    start = np.append(rest + 0.4 * s[1:] / LIMB, 200.0)
    found = root(gaps, start, tol=1e-12)
    assert found.success
    return lengths, springs, found.x[:-1], float(found.x[-1])


def least_share(reflex: float) -> tuple[float, float, float]:
    """Return the least share of the bending's stiffness, what turning costs, and the tension."""
    lengths, springs, angles, tension = braced_links(reflex)
    lengths = np.concatenate([lengths[::-1], [2.0 * GRIP], lengths])
    angles = np.concatenate([-angles[::-1], [0.0], angles])
    turns = np.diff(np.eye(len(angles)), axis=0)
    bends = turns.T @ (np.concatenate([springs[::-1], springs])[:, None] * turns)
    drop = lengths * np.cos(angles)
    chord = np.outer(drop, drop) / drop.sum() - np.diag(drop)
    whole = bends + tension * chord
    turning = np.ones(len(angles))
    free = null_space(np.stack([lengths * np.sin(angles), turning]))
    share = eigh(free.T @ whole @ free, free.T @ bends @ free, eigvals_only=True)[0]
    return float(share), float(turning @ whole @ turning), tension


@pytest.mark.parametrize(("reflex", "kind"), [(0.0, "hand"), (0.048, "hand"), (0.048, "clamp")])
def test_share_of_the_stiffness_that_the_string_leaves(reflex, kind):
    """Our bow gives way when its sections keep one less that share of their stiffness."""
    share, turning, tension = least_share(reflex)
    bow = reflexed(reflex, kind)
    state = brace(bow, height=BRACE)
    assert state.gives_way is None
    assert abs(turning) < 1e-9 * tension  # the zero of free turning, exactly
    assert state.string_tension[0] == pytest.approx(tension, rel=5e-3)

    def least(kept: float) -> float:
        return float(softest_modes(bow, state, kept * bow.chain.stiffness, 1)[0][0])

    assert least(1.0) > 0.0
    kept = brentq(least, 0.02, 1.0, xtol=1e-3)
    if kind == "hand":
        assert 1.0 - kept == pytest.approx(share, rel=1e-2)
    else:
        assert 1.0 - kept >= share * (1.0 - 1e-2)  # a held grip only helps
