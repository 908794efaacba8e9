"""Where the bow lies: clear, turned and mirrored staves, grain, volumes, trade facts."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.curves import monotone_cubic
from limbfe.errors import GeometryError
from limbfe.log.laid import lay_limb, limb_volume, spare_wood, stave_between
from limbfe.log.layout.search import search, worst_zone
from limbfe.log.line import Line
from limbfe.stave.stave import Grain

from .logs import half_log, knot, mirrored, task_for, turned

GRAIN = {"fibre": np.array([0, 1, 1, 3, 5, 6, 8, 9, 10]) * 1e-3}
UNEVEN = {
    "left": np.array([44, 42, 38, 34, 36, 40, 42, 40, 38]) * 1e-3,
    "right": np.array([36, 38, 42, 44, 42, 38, 34, 34, 36]) * 1e-3,
    "rise": np.array([0, 2, 5, 7, 6, 5, 3, 1, 0]) * 1e-3,
    "twist": np.deg2rad([0, 0, 1, 2, 3, 3, 4, 5, 5]),
    **GRAIN,
    "marks": (knot("a", 0.55, 0.012), knot("b", 1.35, -0.010, diameter=0.008)),
}


def test_a_clear_straight_stave_gives_its_middle_and_equal_waste(wanted, strength):
    found = search(task_for(half_log(), wanted, strength))[0]
    line = found.line
    assert np.abs(line.offset).max() < 1e-4
    butt, top = line.nocks[0], 2.0 - line.nocks[1]
    assert butt == pytest.approx(top, abs=2e-3)
    assert abs(line.grip_off) < 1e-9


@pytest.mark.slow
def test_a_mirrored_stave_gives_the_mirrored_line(wanted, strength):
    log = half_log(**UNEVEN)
    one = search(task_for(log, wanted, strength, upper_end="top", straightness=0.01))[0]
    two = search(task_for(mirrored(log), wanted, strength, upper_end="top", straightness=0.01))[0]
    assert two.cost == pytest.approx(one.cost, rel=1e-9)
    assert np.allclose(two.line.offset, -one.line.offset, atol=1e-9)


@pytest.mark.slow
def test_a_turned_stave_gives_the_turned_line_and_the_same_bow(wanted, strength):
    log = half_log(**UNEVEN)
    other = turned(log)
    one = search(task_for(log, wanted, strength, upper_end="top"))[0]
    two = search(task_for(other, wanted, strength, upper_end="butt"))[0]
    assert two.cost == pytest.approx(one.cost, rel=1e-6)
    assert two.line.grip == pytest.approx(2.0 - one.line.grip, abs=1e-9)
    here, there = lay_limb(log, one.line, wanted), lay_limb(other, two.line, wanted)
    for name in ("sideways_slope", "run_out", "sideways", "reflex", "twist", "ring_radius"):
        assert np.allclose(getattr(here, name), getattr(there, name), atol=2e-6), name
    assert np.allclose(here.left, there.right, atol=2e-6)


def straight(offset=0.0, tilt=0.0, end="top", grip=1.0):
    reach = (0.8, 0.85) if end == "top" else (0.85, 0.8)
    x = np.linspace(grip - reach[0], grip + reach[1], 9)
    return Line(
        grip=grip, upper_end=end, lower=0.8, upper=0.85, x=x, offset=offset + tilt * (x - grip)
    )


def test_a_straight_line_on_a_spiral_leaves_the_grain_by_the_angle_of_the_helix(wanted):
    """A fibre that goes once round a log of radius r in a length p is a helix of slope 2 pi r / p
    (closed form); it wanders sideways on the back by that slope times the length."""
    r, p = 0.11, 9.0
    slope = 2.0 * np.pi * r / p
    x = np.linspace(0.0, 2.0, 9)
    by_fibre = lay_limb(half_log(fibre=slope * x), straight(), wanted)
    assert np.allclose(np.tan(by_fibre.sideways_slope), -slope, atol=1e-9)
    by_spiral = lay_limb(half_log(spiral=np.arctan(slope)), straight(), wanted)
    assert np.tan(by_spiral.spiral) == pytest.approx(-slope)
    assert np.allclose(by_spiral.sideways_slope, 0.0, atol=1e-12)
    followed = lay_limb(half_log(fibre=slope * x), straight(tilt=slope), wanted)
    assert np.allclose(followed.sideways_slope, 0.0, atol=1e-6)


def test_rings_that_are_cones_run_out_by_their_taper(wanted):
    """At half the thickness t of a limb whose back is a ring, a ring of a cone whose radius R falls
    by R' a length lies t / 2 deep and sinks by t R' / (2 R) (similar triangles)."""
    x = np.linspace(0.0, 2.0, 9)
    log = half_log(pith=0.12 - 0.02 * x)
    for end, sign in (("top", 1.0), ("butt", -1.0)):
        laid = lay_limb(log, straight(end=end), wanted)
        closed = sign * 0.5 * laid.thickness * 0.02 / laid.ring_radius
        assert np.allclose(np.tan(laid.run_out), closed, rtol=1e-6)


def test_stave_limb_and_waste_add_up(wanted):
    """The waste is what the sections of stave and limb differ by, summed over layers."""
    log = half_log(left=np.linspace(0.05, 0.04, 9), left_below=np.linspace(0.03, 0.025, 9))
    line = straight()
    low, high = line.nocks
    whole = stave_between(log, 0.0, low) + stave_between(log, low, high)
    whole += stave_between(log, high, 2.0)
    assert whole == pytest.approx(log.volume(), rel=1e-6)
    laid = lay_limb(log, line, wanted)
    t = np.linspace(laid.s[0], laid.s[-1], 4001)
    size = monotone_cubic(laid.s, np.stack([laid.width, laid.thickness], axis=1))(t)
    assert limb_volume(wanted) == pytest.approx(trapezoid(size[:, 0] * size[:, 1], t), rel=2e-3)
    rng = np.random.default_rng(3)
    n = 400_000
    x = rng.uniform(low, high, n)
    y, d = rng.uniform(-0.06, 0.06, n), rng.uniform(0.0, 0.06, n)
    left, right = log.edges(x, d)
    inside = (y > left) & (y < right) & (d < log.at("depth", x))
    s = x - line.grip
    wide, thick = np.interp(s, t, size[:, 0]), np.interp(s, t, size[:, 1])
    limb = (np.abs(y) < 0.5 * wide) & (d < thick)
    box = (high - low) * 0.12 * 0.06
    waste = box * np.mean(inside & ~limb)
    assert stave_between(log, low, high) - limb_volume(wanted) == pytest.approx(waste, rel=0.01)


def test_knots_are_kept_from_the_edge_and_given_width(wanted, strength):
    """Common practice: a knot that cannot be cut away is kept off the edge; and one that can be
    dodged within the wood there is, is dodged."""
    log = half_log(marks=(knot(x=0.65, across=0.026, diameter=0.008),))
    line = search(task_for(log, wanted, strength, upper_end="top"))[0].line
    assert line.offset_at(0.65) < -0.002
    narrow = {name: np.full(9, 0.024) for name in ("left", "right")}
    log = half_log(**narrow, marks=(knot(x=0.65, across=0.012, diameter=0.008),))
    line = search(task_for(log, wanted, strength, upper_end="top"))[0].line
    assert line.offset_at(0.65) > 0.001, "there is no room to leave it outside: towards the knot"


def test_a_knot_goes_where_the_bow_is_not_worked(wanted, strength):
    """Common practice: keep knots from the middle third of a limb.  A stave with length to spare is
    slid so that its knot comes to lie in the grip or the tip, or off the bow."""
    x = np.linspace(0.0, 2.3, 9)
    plain = half_log(x=x)
    marked = half_log(x=x, marks=(knot(x=1.0, across=0.0, diameter=0.012),))
    free = search(task_for(plain, wanted, strength, upper_end="top"))[0].line
    task = task_for(marked, wanted, strength, upper_end="top")
    found = search(task)[0].line
    assert worst_zone(task, found) < worst_zone(task, free)


def test_the_line_follows_the_grain(wanted, strength):
    """Common practice: follow the grain.  A fibre that runs straight across at 1 in 40 draws the
    line with it most of the way, in a stave wide enough; room at the edges holds against it."""
    x = np.linspace(0.0, 2.0, 9)
    wide = np.full(9, 0.1)
    log = half_log(left=wide, right=wide, fibre=0.025 * x)
    line = search(task_for(log, wanted, strength, straightness=0.02, upper_end="top"))[0].line
    slope = (line.offset[-1] - line.offset[0]) / (line.x[-1] - line.x[0])
    assert 0.6 * 0.025 < slope < 1.02 * 0.025


def test_a_knot_moved_moves_the_line_and_a_drawn_line_holds_it(wanted, strength):
    log = half_log(marks=(knot(x=0.65, across=0.022, diameter=0.008),))
    task = task_for(log, wanted, strength, upper_end="top", cut_butt=0.15)
    before = search(task)[0].line
    moved = half_log(marks=(knot(x=0.65, across=0.012, diameter=0.008),))
    free = search(replace(task, log=moved))[0].line
    assert abs(free.offset_at(0.65) - before.offset_at(0.65)) > 0.001
    x = np.linspace(0.1, 1.9, 181)
    rules = replace(task.rules, drawn=(x, before.offset_at(x)))
    held = search(replace(task, log=moved, rules=rules))[0].line
    moves = [float(np.abs(one.offset_at(x) - before.offset_at(x)).mean()) for one in (free, held)]
    assert moves[1] < 0.5 * moves[0]


def test_what_is_fixed_is_kept(wanted, strength):
    log = half_log(**UNEVEN)
    rules = {"upper_end": "butt", "cut_butt": 0.12, "through": ((0.9, 0.006), (1.4, -0.002))}
    line = search(task_for(log, wanted, strength, straightness=0.01, **rules))[0].line
    assert line.upper_end == "butt"
    assert line.nocks[0] == pytest.approx(0.12)
    assert line.offset_at(0.9) == pytest.approx(0.006, abs=5e-4)
    assert line.offset_at(1.4) == pytest.approx(-0.002, abs=5e-4)


def test_a_check_is_left_outside(wanted, strength):
    from limbfe.log.log import Crack

    crack = Crack(start=0.0, end=0.21, across=0.004, across_end=0.006, depth=0.03)
    log = half_log(cracks=(crack,))
    line = search(task_for(log, wanted, strength, straightness=0.02))[0].line
    half = 0.006
    clear = line.nocks[0] > 0.21 or abs(line.offset_at(0.2) - 0.006) > half
    assert clear


def test_a_bow_that_is_too_wide_is_told_where_and_what_fits(wanted, strength):
    narrow = {
        "left": np.array([40, 40, 18, 14, 18, 40, 40, 40, 40]) * 1e-3,
        "right": np.array([40, 40, 16, 13, 16, 40, 40, 40, 40]) * 1e-3,
    }
    with pytest.raises(GeometryError, match=r"too wide for any line: .* from the butt .* fits"):
        search(task_for(half_log(**narrow), wanted, strength))
    with pytest.raises(GeometryError, match="too thick for any line"):
        search(task_for(half_log(depth=np.full(9, 0.02)), wanted, strength))
    with pytest.raises(GeometryError, match="saw off at most 350 mm"):
        search(task_for(half_log(), wanted, strength, cut_butt=0.4))


def test_spare_width_is_worth_less_and_less(wanted, strength):
    """The cost the search states: of no spare width one, of as much as is handy a fourth.

    Seven straight lines along a parallel stave, so that nothing else costs.
    """
    from limbfe.log.layout.costs import HANDY, SPARE, piece_costs, room

    task = task_for(half_log(), wanted, strength, edge=0.0)
    x = np.linspace(0.9, 1.1, 3)
    offsets = np.tile(np.linspace(-0.012, 0.012, 7), (3, 1))
    cost = np.diagonal(piece_costs(task, "top", 1.0, x, offsets), axis1=1, axis2=2).sum(axis=0)
    at = 0.9 + 0.2 * (np.arange(40) + 0.5) / 40
    low, high, _ = room(task, at, at - 1.0)
    y = offsets[0][:, None]
    share = [(HANDY / (side + HANDY)) ** 2 for side in (y - low, high - y)]
    exact = SPARE * np.mean(share[0] + share[1], axis=1) * 0.2 / task.length
    assert cost == pytest.approx(exact, rel=1e-3)


def test_the_wood_asked_for_is_left_everywhere_beside_the_line_that_is_drawn(wanted, strength):
    """Straight pieces kept it; the curve through their ends bulged over them, to 3.99 mm of 4.

    A stave that waists to one side and grain that wanders to the other; measured apart from the
    search, at every millimetre.
    """
    log = half_log(
        left=np.array([40, 38, 30, 20, 18, 24, 36, 40, 40]) * 1e-3,
        right=np.full(9, 0.028),
        fibre=np.array([0, 0, 0, 1, 6, 16, 24, 26, 26]) * 1e-3,
    )
    task = task_for(log, wanted, strength, edge=0.004, straightness=0.02)
    for one in search(task):
        x = np.arange(*one.line.nocks, 1e-3)
        width, thickness = task.size_at(one.line.along(x))
        offset, slope = one.line.offset_at(x), one.line.offset_at(x, 1)
        sides = spare_wood(log, x, offset, slope, width, thickness)
        least = min(side.min() for side in sides[:2])
        assert least > 0.004 - 1e-6
        assert lay_limb(log, one.line, wanted).narrowest.spare == pytest.approx(least, abs=2e-6)


def test_wood_below_the_belly_counts_beside_the_top_of_a_round_back(wanted, strength):
    """The grip is 28 mm thick and 4 mm are asked for below: in a stave 33 mm deep there, whose back
    falls away by y^2 / (2 x 110 mm), the line stays within 14.8 mm of the top."""
    depth = np.full(9, 0.033)
    log = half_log(depth=depth, right=np.full(9, 0.08), left=np.full(9, -0.005))
    with pytest.raises(GeometryError, match="round back"):
        search(task_for(log, wanted, strength, edge=0.004))
    log = half_log(depth=depth, right=np.full(9, 0.08), left=np.full(9, 0.008))
    line = search(task_for(log, wanted, strength, edge=0.004, upper_end="top"))[0].line
    assert abs(line.offset_at(line.grip)) < 0.0149


def test_a_recurve_is_bent_in_on_top_of_the_reflex_of_the_stave(wanted):
    """A gentler reflex of the wanted bow is not: that is the stave's own."""
    x = np.linspace(-0.8, 0.85, 34)
    sizes = monotone_cubic(wanted.x, np.stack([wanted.width, wanted.thickness], axis=1))(x)
    columns = dict.fromkeys(
        ("sapwood", "lean", "backing", "reflex", "sideways", "twist"), np.zeros(x.shape)
    )
    columns.update(x=x, width=sizes[:, 0], thickness=sizes[:, 1])
    nowhere = np.array(np.inf)
    plain = replace(
        wanted,
        **columns,
        outline=replace(wanted.outline, crown=nowhere),
        grain=Grain(ring_radius=nowhere, run_out=0.0 * x, sideways_grain=0.0 * x, spiral=0.0 * x),
    )
    log = half_log(rise=np.array([0, 2, 5, 7, 6, 5, 3, 1, 0]) * 1e-3)
    own = lay_limb(log, straight(), plain).reflex
    for radius, share in ((0.3, 1.0), (3.0, 0.0)):
        bend = np.maximum(x - 0.6, 0.0) ** 2 / (2.0 * radius)
        laid = lay_limb(log, straight(), replace(plain, reflex=bend))
        assert np.allclose(
            laid.reflex - own,
            share * np.maximum(laid.s - 0.6, 0.0) ** 2 / (2.0 * radius),
            atol=1e-3,
        )
