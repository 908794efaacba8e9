"""The shot: one bow let go, beside OpenSeesPy's transient of its half, and many in a row.

Run with ``python -m pytest benchmarks/bench_shot.py`` from the root of the checkout.
"""

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.shot.shot import shoot_bow
from limbfe.analysis.shot.speed import arrow_speed, bare_gear, with_losses
from limbfe.api import read_case
from limbfe.beam.shot.setup import Gear
from limbfe.beam.shot.shoot import shoot_from
from limbfe.case.build import build_setup
from limbfe.forks import copies_at_once, share_out
from tests.beam.shot.peer import ARROW, SEGMENTS, opensees, peer_shot, stiff_in_shear

ELEMENTS = (12, 24, 48)
STEP = 50e-6


def ours(bow, full):
    return shoot_from(bow, full, ARROW, Gear(segments=SEGMENTS), step=STEP, after=0.0)


@pytest.mark.parametrize("elements", ELEMENTS)
@pytest.mark.benchmark(group="shot until the arrow leaves, no losses")
def test_shot(benchmark, elements):
    shot = benchmark(ours, *stiff_in_shear(elements))
    benchmark.extra_info["speed_m_per_s"] = round(shot.speed, 3)


@pytest.mark.parametrize("elements", ELEMENTS)
@pytest.mark.benchmark(group="shot until the arrow leaves, no losses")
def test_peer_shot(benchmark, elements):
    """The peer finds the drawn state too, in 51 steps beside some 340 of the shot."""
    ops = opensees()
    if ops is None:
        pytest.skip("the peer does not import")
    bow, full = stiff_in_shear(elements)
    shot = ours(bow, full)
    longest = float(shot.time[shot.left])
    peer = benchmark.pedantic(peer_shot, (ops, bow, full, STEP, longest), rounds=5)
    benchmark.extra_info["speed_m_per_s"] = round(peer.speed, 3)
    assert peer.speed == pytest.approx(shot.speed, rel=2e-3)


@pytest.fixture(scope="module")
def elm():
    return exercised_bow(build_setup(read_case("cases/elm_longbow.toml")), beyond=False)


@pytest.mark.benchmark(group="elm: one arrow, with losses and 25 ms after, what a gram costs")
def test_elm_shot(benchmark, elm):
    benchmark.pedantic(shoot_bow, (elm, [0.029]), rounds=3, warmup_rounds=1)


@pytest.mark.benchmark(group="elm: the arrow's speed alone, as a study asks for it")
def test_elm_speed(benchmark, elm):
    benchmark.pedantic(arrow_speed, (elm, 0.029), rounds=5, warmup_rounds=1)


@pytest.mark.benchmark(group="elm: a thousand arrows, with losses and 25 ms after, on all cores")
def test_a_thousand_shots(benchmark, elm):
    """12 elements a limb, eight points of the string a half."""
    bow, full = elm.model.bow, elm.full_draw
    bare, modes = bare_gear(elm)
    gear = with_losses(elm, bare, float(modes.frequency[0]))
    parts = np.array_split(np.linspace(0.02, 0.04, 1000), copies_at_once())

    def shots(k):
        return [shoot_from(bow, full, float(mass), gear).speed for mass in parts[k]]

    def thousand():
        return [speed for one in share_out(shots, [1e8] * len(parts), 1e9) for speed in one]

    speeds = benchmark.pedantic(thousand, rounds=1)
    assert speeds == sorted(speeds, reverse=True)
    benchmark.extra_info["cores"] = len(parts)
