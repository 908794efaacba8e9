"""Branches in the finished limb: against conic sections and a sampled solid."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.log.branch import branch_in_section, mark_on_back, place_in_section
from limbfe.log.fate import Stage, fate_in, knot_fate, size_and_edge
from limbfe.log.laid import with_stave_back
from limbfe.log.turn import Turn
from limbfe.stave.knot import SWIRL_REACH, inside_knot
from limbfe.stave.marked import make_knot
from limbfe.stave.marks import Mark as CaseMark
from limbfe.stave.outline import inside_outline
from limbfe.stave.profile import shape_at

from .logs import half_log, knot, line_at, turned


@pytest.mark.parametrize("depth", [0.0, 0.006, 0.015])
def test_a_cone_is_cut_in_the_ellipse_of_the_conic_sections(depth, wanted):
    """A circular cone of half angle a about an axis that leans by t against the normal of a plane
    at distance h from its apex: along the lean the cut runs from h tan(t - a) to h tan(t + a)
    (closed form); half way, the points of the cone's surface in that plane lie its half width
    aside (Pythagoras)."""
    log, mark = half_log(), knot(across=0.0, diameter=0.012, lean=np.deg2rad(35.0))
    shapes = shape_at(wanted, np.array([-0.25]))
    branch = branch_in_section(log, mark, 0.0, Turn("top"), shapes)
    pith = 0.11
    lean, angle = np.deg2rad(35.0), np.arctan(0.006 * np.cos(np.deg2rad(35.0)) / pith)
    h = pith - depth
    low, high = h * np.tan(lean - angle), h * np.tan(lean + angle)
    a, centre = 0.5 * (high - low), 0.5 * (high + low)
    # the ellipse's half width from its centre: where the plane is cut at x = centre
    along = np.array([centre, h]) @ np.array([np.sin(lean), np.cos(lean)])
    b = np.sqrt((along / np.cos(angle)) ** 2 - centre**2 - h**2)
    z = 0.5 * float(shapes.thickness[0]) - depth
    across, width = mark_on_back(branch, z)
    assert across == pytest.approx(0.0, abs=1e-12)
    assert width == pytest.approx(2.0 * b, rel=1e-9)
    from limbfe.stave.knot import knot_ellipse_at_depth

    cut = knot_ellipse_at_depth(branch, z)
    assert cut.a == pytest.approx(a, rel=1e-9)
    assert cut.x == pytest.approx(centre - pith * np.tan(lean), abs=1e-9)


MARKS = [
    knot(across=0.004),
    knot(across=0.016, diameter=0.008),
    knot(across=-0.021, diameter=0.012),
    knot(across=0.03, diameter=0.02),
    knot(across=0.0, diameter=0.004, lean=0.0),
    knot(face="left", across=0.03, diameter=0.016),
    knot(face="right", across=0.008, diameter=0.02, lean=0.1),
    knot(face="belly", across=-0.005, diameter=0.012),
]


@pytest.mark.parametrize("end", ["top", "butt"])
@pytest.mark.parametrize("mark", MARKS, ids=lambda m: f"{m.face} {m.across:g}")
def test_a_fate_is_that_of_a_sampled_solid(mark, end, wanted):
    """Monte Carlo: points in the limb's section over the length of the cone; what lies in the cone
    within a twentieth of a millimetre of a face shows there."""
    log, line = half_log(), line_at(0.0, end)
    s = float(line.along(mark.x))
    shapes = shape_at(wanted, np.array([s]))
    branch = branch_in_section(log, mark, 0.0, Turn(end), shapes)
    rng = np.random.default_rng(7)
    half, thick = 0.5 * float(shapes.width[0]), float(shapes.thickness[0])
    n, skin = 400_000, 5e-5
    x = rng.uniform(-0.05, 0.05, n)

    def shows(y, z):
        within = inside_outline(shapes, y[None], z[None])[0]
        return bool(np.any(inside_knot(branch, x, y, z) & within))

    across, up = rng.uniform(-half, half, n), rng.uniform(-0.5 * thick, 0.5 * thick, n)
    near = rng.uniform(0.0, skin, n)
    back = shows(across, 0.5 * thick - near)
    belly = shows(across, near - 0.5 * thick)
    edge = shows(half - near, up) or shows(near - half, up)
    anywhere = shows(across, up)
    if edge:
        wanted_fate = "edge"
    elif back and belly:
        wanted_fate = "through"
    elif back or belly:
        wanted_fate = "back" if back else "belly"
    else:
        wanted_fate = "gone"
    assert anywhere == (wanted_fate != "gone")
    assert fate_in(branch, shapes) == wanted_fate


def test_size_and_edge_are_those_measured_on_the_sampled_back(wanted):
    log, mark = half_log(), knot(across=0.006, diameter=0.009)
    shapes = shape_at(wanted, np.array([-0.25]))
    branch = branch_in_section(log, mark, 0.0, Turn("butt"), shapes)
    half, top = 0.5 * float(shapes.width[0]), 0.5 * float(shapes.thickness[0])
    y = np.linspace(-half, half, 20001)
    x = np.linspace(-0.02, 0.02, 401)[:, None]
    seen = y[np.any(inside_knot(branch, x, y, top), axis=0)]
    size, edge = size_and_edge(branch, shapes)
    assert size == pytest.approx(seen[-1] - seen[0], abs=2e-5)
    assert edge == pytest.approx(half - max(seen[-1], -seen[0]), abs=2e-5)


def test_what_is_gone_names_the_first_cut_that_takes_it(wanted):
    log, line = half_log(), line_at(0.0)
    stages = (Stage(name="rough", side=0.008, belly=0.006), Stage(name="fine", side=0.004, belly=0))
    far = knot_fate(log, knot(across=0.037, diameter=0.004), line, wanted, stages)
    assert (far.fate, far.gone_at) == ("gone", "rough")
    nearer = knot_fate(log, knot(across=0.028, diameter=0.004), line, wanted, stages)
    assert (nearer.fate, nearer.gone_at) == ("gone", "fine")
    last = knot_fate(log, knot(across=0.024, diameter=0.003), line, wanted, stages)
    assert (last.fate, last.gone_at) == ("gone", "the finished limb")
    sawn = knot_fate(log, knot(x=0.1, across=0.0), line, wanted, stages)
    assert (sawn.fate, sawn.gone_at) == ("gone", "sawn off at the butt")
    kept = knot_fate(log, knot(across=0.004, diameter=0.008), line, wanted, stages)
    assert kept.fate == "through"
    assert kept.words.face == "back"


@pytest.mark.parametrize("face", ["back", "left", "right", "belly"])
def test_a_turned_stave_gives_the_same_knot_in_the_same_limb(face, wanted):
    log = half_log(marks=(knot(face=face, across=0.011, x=0.66, lean=0.3),))
    other = turned(log)
    one = knot_fate(log, log.marks[0], line_at(0.003, "top", 0.95), wanted)
    two = knot_fate(other, other.marks[0], line_at(-0.003, "butt", 1.05), wanted)
    assert one.fate == two.fate
    assert (one.words is None) == (two.words is None)
    if one.words is not None:
        for name in ("s", "across", "diameter", "lean"):
            assert getattr(one.words, name) == pytest.approx(getattr(two.words, name), abs=1e-9)


def test_with_the_top_up_right_on_the_bench_is_the_archers_left(wanted):
    """The archer looks at the belly, the bench at the back: seen from the butt the sides swap."""
    mark = knot(across=0.008, x=0.66)
    up = knot_fate(half_log(), mark, line_at(0.0, "top"), wanted)
    down = knot_fate(half_log(), mark, line_at(0.0, "butt"), wanted)
    assert up.words.across < 0.0 < down.words.across
    assert up.words.s < 0.0 < down.words.s


def test_a_branch_lies_under_the_angle_round_the_pith():
    """Polar coordinates about the pith: a mark 10 mm round a back of 110 mm radius, seen from a
    line 4 mm the other way, lies 14/110 rad round it."""
    log, mark = half_log(), knot(across=0.010)
    point, pith, _ = place_in_section(log, mark, -0.004)
    angle = 0.014 / 0.11
    assert point == pytest.approx([0.11 * np.sin(angle), 0.11 * (1.0 - np.cos(angle))])
    assert pith == pytest.approx([0.0, 0.11])


@pytest.mark.parametrize("across", [-0.013, 0.004])
def test_a_knot_on_a_round_back_is_the_one_that_was_measured(across, wanted):
    """On the back that stays nothing was cut: as wide as measured, at the sine of its angle round
    the pith (polar coordinates), and read from its words it grows from the pith again."""
    log, mark, line = half_log(), knot(across=across, diameter=0.007, lean=0.0), line_at(0.002)
    bow = with_stave_back(log, line, wanted)
    words = knot_fate(log, mark, line, bow).words
    angle = (across - 0.002) / 0.11
    assert words.face == "back"
    assert abs(words.across) == pytest.approx(0.11 * abs(np.sin(angle)), rel=1e-6)
    assert words.diameter == pytest.approx(0.007, rel=1e-6)
    bow = replace(bow, grain=replace(bow.grain, ring_radius=bow.outline.crown))
    limb = "upper" if words.s > 0.0 else "lower"
    there = CaseMark(name="k", limb=limb, at=abs(words.s), face="back", across=words.across)
    read = make_knot(bow, there, diameter=words.diameter, state="live")
    shapes = shape_at(bow, np.array([words.s]))
    branch = branch_in_section(log, mark, 0.002, Turn("top"), shapes)
    assert read.direction == pytest.approx(branch.direction, abs=1e-6)
    off = read.entry[1:] - branch.entry[1:]
    assert float(np.cross([*off, 0.0], [*branch.direction[1:], 0.0])[2]) == pytest.approx(
        0, abs=1e-7
    )


@pytest.mark.parametrize("face", ["back", "belly"])
def test_a_knot_measured_on_both_faces_narrows_evenly_between_them(face, wanted):
    """Without a pith, 12 mm on one face and 4 mm on the other of a stave 60 mm deep: at a depth d
    below the back it is 12 - 8 d / 60 mm wide, or 4 + 8 d / 60 (similar triangles)."""
    seen, far = 0.012, 0.004
    mark = replace(knot(x=0.7, across=0.0, face=face, diameter=seen, lean=0.0), far_diameter=far)
    log = half_log(pith=np.full(9, np.inf), marks=(mark,))
    words = knot_fate(log, mark, line_at(0.0), wanted).words
    shapes = shape_at(wanted, np.array([words.s]))
    share = float(shapes.thickness[0]) / 0.06
    back, under = (seen, far) if face == "back" else (far, seen)
    assert words.diameter == pytest.approx(back, rel=1e-6)
    assert words.far_diameter == pytest.approx(back + (under - back) * share, rel=1e-6)


def test_a_knot_that_does_not_come_out_below_ends_where_its_cone_does(wanted):
    """14 mm to nothing over 60 mm: at the belly of a thin limb most of it is left (as above)."""
    mark = replace(knot(x=0.7, across=0.0, diameter=0.014, lean=0.0), far_diameter=0.0)
    log = half_log(marks=(mark,))
    fate = knot_fate(log, mark, line_at(0.0), wanted)
    thick = float(shape_at(wanted, np.array([fate.words.s])).thickness[0])
    assert fate.fate == "through"
    assert fate.words.far_diameter == pytest.approx(0.014 * (1.0 - thick / 0.06), rel=1e-6)


@pytest.mark.parametrize(
    ("mark", "offset", "left"),
    [
        (knot(face="left", across=0.024, diameter=0.016), -0.02, True),
        (knot(face="right", across=-0.010, diameter=0.016), 0.012, True),
        (knot(face="left", across=0.024, diameter=0.004), -0.02, False),
        (knot(across=-0.036, diameter=0.016), 0.0, True),
        (knot(across=-0.036, diameter=0.004), 0.0, False),
    ],
)
def test_a_swirl_is_left_within_three_radii_of_the_edge(mark, offset, left, wanted):
    """Of a knot that is gone, wherever it was measured: of one on a side where it met the back."""
    found = knot_fate(half_log(), mark, line_at(offset), wanted)
    assert (found.fate, found.swirl) == ("gone", left)
    assert (found.words is not None) == left
    if found.words is not None:
        half = 0.5 * float(shape_at(wanted, np.array([found.words.s])).width[0])
        beyond = abs(found.words.across) - half
        assert found.words.face == "back"
        assert 0.0 < beyond <= SWIRL_REACH * 0.5 * found.words.diameter
