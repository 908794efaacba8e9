"""A shot by another library: OpenSeesPy's transient of the same limb, string and arrow."""

from __future__ import annotations

import pytest

from limbfe.beam.shot.setup import Gear
from limbfe.beam.shot.shoot import shoot_from

from .peer import ARROW, SEGMENTS, opensees, peer_shot, stiff_in_shear

STEP = 25e-6


@pytest.mark.slow
def test_peer_shoots_as_fast():
    ops = opensees()
    if ops is None:
        pytest.skip("OpenSeesPy does not import here")
    bow, full = stiff_in_shear(48)
    shot = shoot_from(bow, full, ARROW, Gear(segments=SEGMENTS), step=STEP, after=0.0)
    time = float(shot.time[shot.left])
    peer = peer_shot(ops, bow, full, STEP, 1.1 * time)
    assert peer.force == pytest.approx(full.draw_force, rel=2e-4)
    # at 12, 24, 48 elements the peer is 1.2e-3, 2.8e-4, 5e-5 off: straight elements, second order
    assert peer.speed == pytest.approx(shot.speed, rel=2e-4)
    assert peer.time == pytest.approx(time, abs=3e-5)
