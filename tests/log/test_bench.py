"""Branches and sections on the bench against circles and cones worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.log.bench import back_at, branch_on_bench, lifted, limb_outline, stave_outline
from limbfe.log.branch import place_in_section
from limbfe.log.laid import lay_limb, with_stave_back
from limbfe.log.line import Line

from .logs import clear_log, half_log, knot, line_at


def off_pith():
    """A log whose pith lies 12 mm right of the snapped line and 90 mm deep."""
    return half_log(pith=np.full(9, 0.09), pith_across=np.full(9, 0.012))


def test_the_back_is_the_ring_round_the_pith():
    log = off_pith()
    outline = stave_outline(log, 0.7)
    back = outline[82:]
    reach = np.hypot(0.09, 0.012)
    assert np.hypot(back[:, 0] - 0.012, back[:, 1] + 0.09) == pytest.approx(reach, rel=1e-12)
    assert back_at(log, 0.7).height(np.array(0.0)) == pytest.approx(0.0, abs=1e-15)
    # the split faces end at the depth that was measured
    assert outline[:, 1].min() == pytest.approx(-0.06, abs=1e-12)


@pytest.mark.parametrize(
    ("face", "across"), [("back", -0.02), ("left", 0.025), ("right", 0.018), ("belly", 0.005)]
)
def test_a_branch_runs_from_the_pith_through_its_mark(face, across):
    log = off_pith()
    branch = branch_on_bench(log, knot(face=face, across=across, lean=0.5))
    tip = branch.entry + branch.length * branch.direction
    assert tip[1:] == pytest.approx([0.012, -0.09], abs=1e-12)
    assert branch.far_radius == pytest.approx(0.0, abs=1e-12)
    # it leans up the stave going out: along by tan of the lean for every metre outwards
    flat = np.hypot(*(branch.entry - tip)[1:])
    assert (branch.entry - tip)[0] == pytest.approx(flat * np.tan(0.5), rel=1e-12)
    # its axis passes the mark, where it is as thick as was measured across the grain
    mark_x = (0.7 - branch.entry[0]) / branch.direction[0]
    at_mark = branch.entry + mark_x * branch.direction
    seen = {"left": -0.04, "right": 0.04}.get(face, across)
    assert at_mark[1] == pytest.approx(seen, abs=1e-12)
    slope = (branch.far_radius - branch.radius) / branch.length
    wanted = place_in_section(log, knot(face=face, across=across), 0.0)[2]
    assert branch.radius + slope * mark_x == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("offset", [0.0, 0.014])
def test_the_back_of_the_limb_is_the_back_of_the_stave(wanted, offset):
    """All of it lies on the circle round the pith: no fibre of the outermost ring is cut, and no
    wood is counted beyond it."""
    log, line = off_pith(), line_at(offset)
    bow = with_stave_back(log, line, wanted)
    for x in (0.4, 0.7, 1.3):
        back = limb_outline(log, line, bow, x)[:121]
        reach = np.hypot(0.09, 0.012)
        assert np.hypot(back[:, 0] - 0.012, back[:, 1] + 0.09) == pytest.approx(reach, rel=2e-3)
    glued = replace(wanted, backing=np.full(len(wanted.x), 1e-3), backing_wood=wanted.heartwood)
    assert with_stave_back(log, line, glued) is glued
    assert not lay_limb(log, line, glued).round_back


def test_without_a_pith_a_branch_goes_straight_to_the_far_face():
    x = np.linspace(0.0, 2.0, 3)
    log = clear_log(x=x, left=np.full(3, 0.03), right=np.full(3, 0.05), depth=np.full(3, 0.06))
    for face, across, start, end in (
        ("back", 0.01, (0.01, 0.0), (0.01, -0.06)),
        ("belly", 0.01, (0.01, -0.06), (0.01, 0.0)),
        ("left", 0.02, (-0.03, -0.02), (0.05, -0.02)),
    ):
        branch = branch_on_bench(log, knot(face=face, across=across, lean=0.3, diameter=0.008))
        tip = branch.entry + branch.length * branch.direction
        assert branch.entry[1:] == pytest.approx(start, abs=1e-12)
        assert tip[1:] == pytest.approx(end, abs=1e-12)
        assert branch.radius == branch.far_radius == pytest.approx(0.004)


def test_the_back_leans_right_by_its_twist_and_lies_over_the_straight_edge():
    log = half_log(twist=np.full(9, 0.2), rise=np.full(9, 0.005))
    point = lifted(log, np.array(0.4), np.array([0.0, 0.01]))
    # bench axes to the left: leaning right is towards the negative
    assert point == pytest.approx([0.4, -0.01 * np.sin(0.2), 0.005 + 0.01 * np.cos(0.2)])


def test_the_finished_limb_lies_within_the_stave(wanted):
    log = off_pith()
    x = np.linspace(0.2, 1.85, 12)
    line = Line(
        grip=1.0,
        upper_end="butt",
        lower=0.8,
        upper=0.85,
        x=x,
        offset=np.linspace(-0.004, 0.006, 12),
    )
    for at in (0.4, 1.0, 1.5):
        limb, stave = limb_outline(log, line, wanted, at), stave_outline(log, at)
        assert limb[:, 0].min() > stave[:, 0].min()
        assert limb[:, 0].max() < stave[:, 0].max()
        reach = np.hypot(limb[:, 0] - 0.012, limb[:, 1] + 0.09)
        # a flat back touches the ring at its line and lies outside of it by a sagitta at the edges
        half = 0.5 * np.ptp(limb[:, 0])
        assert reach.max() < np.hypot(np.hypot(0.09, 0.012), half) + 1e-9
