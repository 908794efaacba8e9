"""Strength ratios of knots and of sloping grain beside those of visual grading.

ASTM D245, Standard practice for establishing structural grades and related allowable properties
for visually graded lumber.  Narrow-face knots: S = 1 - (k - 1/24) / b for S < 0.45, else
S = 1 - (k - 1/24) / (b + 3/8), in inches, b + 1/2 from b = 6 in (formula read in a technical
note by M. Bather, 2021; the 1/2 from memory).  Slope of grain, bending and tension, table 1: from
memory.  Slope of grain against bending strength: Forest Products Laboratory, Wood Handbook,
FPL-GTR-190 (2010), table 5-12, from memory.
R. H. Falk et al., Effect of drilled holes on the bending strength of large dimension Douglas-fir
lumber, Forest Products Journal 53(5) (2003), 55-60: a drilled hole may be half as large as a
knot (abstract read).

The analogy: a knot that pierces the back of a limb bent flatwise stands like a narrow-face knot,
a whole outer layer of width b stressed alike.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from limbfe.defect.plane import plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.defect.zone import Grain
from limbfe.failure.clear import clear_used
from limbfe.failure.measured import kept_by_measured
from limbfe.failure.windows import WindowLengths
from tests.verification.bent_boards import judged, make_board

INCH = 25.4e-3


def narrow_face(size, width):
    k, b = size / INCH, width / INCH
    ratio = 1.0 - (k - 1.0 / 24.0) / (b + (0.375 if b < 6.0 else 0.5))
    return ratio if ratio >= 0.45 else 1.0 - (k - 1.0 / 24.0) / b


def test_the_published_table():
    """The ratios of the formula at d/b 0.1 to 0.5, recomputed, for b = 40 and 140 mm."""
    shares = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
    forty = [narrow_face(40e-3 * s, 40e-3) for s in shares]
    wide = [narrow_face(140e-3 * s, 140e-3) for s in shares]
    assert forty == pytest.approx([0.94, 0.86, 0.78, 0.70, 0.62], abs=6e-3)
    assert wide == pytest.approx([0.91, 0.82, 0.73, 0.63, 0.54], abs=6e-3)


BENDING, CRUSHING = 78e6, 45e6
"""Of the invented wood of `zones`: its tension strength is then about 118 MPa."""
PLUG = {"state": "filled", "diverts": False, "modulus": 3e9}
"""A hole drilled through straight grain and plugged; the bond of its ends is as good as none."""


@cache
def board(zones, width):
    """A limb's section of that width, 15 mm deep, 250 mm between supports."""
    return make_board((width, 15e-3, 0.25), zones.WOOD, zones.STRENGTH, BENDING, CRUSHING)


@pytest.mark.parametrize("share", [pytest.param(0.1, marks=pytest.mark.slow), 0.3, 0.5])
def test_live_knots_40_mm(zones, share):
    """Live knots in a 40 mm limb, load over load: D245 .94 .78 .62, ours .93 .78 .63.

    Not by tension alone, which falls to .98 .85 .71 only: the knot takes its part of the pressed
    belly too, where soft branch wood carries a fifth of the plateau.
    """
    got = judged(board(zones, 40e-3), share)
    assert got.strength_ratio == pytest.approx(narrow_face(40e-3 * share, 40e-3), rel=0.15)
    assert got.tension_ratio > got.strength_ratio


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.1, 0.3, 0.5])
def test_live_knots_140_mm(zones, share):
    """Live knots in a 140 mm board: D245 .91 .73 .54, within 15 % but at half the width.

    There ours is .63, 16 % above; measured pieces of 100 mm kept .60 on the mean, an upper bound
    (`test_lamellae`), 11 % above D245 for their width: ours stays within 5 % of the measured.
    Ours is what it is at 40 mm, though there the tension is .71 and here .69: both boards are
    crushed through beside the knot before their backs break, and what presses is a share.
    D245's falls with the width, at one share, by its allowances in inches, and to one half: it
    counts a knot as a void in the belly.  A void ours takes to one half too, whatever the size.
    """
    wide = make_board((140e-3, 38e-3, 0.7), zones.WOOD, zones.STRENGTH, BENDING, CRUSHING)
    got, d245 = judged(wide, share).strength_ratio, narrow_face(140e-3 * share, 140e-3)
    if share < 0.5:
        assert got == pytest.approx(d245, rel=0.15)
    else:
        assert d245 < got < 1.05 * kept_by_measured(share).mean


def test_a_knot_that_presses_nothing_leaves_the_net_section(zones):
    """Half the width: ours .50, though in tension fibres that flow round it keep .71."""
    soft = replace(zones.STRENGTH, across_grain=1.0)
    got = judged(make_board((40e-3, 15e-3, 0.25), zones.WOOD, soft, BENDING, CRUSHING), 0.5)
    assert got.strength_ratio == pytest.approx(0.5, abs=0.02)
    assert got.tension_ratio > 0.65


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.1, 0.3, 0.5])
def test_plugged_drilled_holes_40_mm(zones, share):
    """A drilled hole whose plug presses on the belly but is not bonded: D245 .94 .78 .62.

    Ours .96 .88 .70.  The back keeps its net section; D245 takes the hole out of the belly too,
    where the plug presses with nine tenths of the plateau by the time the back breaks.
    """
    loose = {**PLUG, "bond_tension": 1e3, "bond_shear": 1e3}
    got = judged(board(zones, 40e-3), share, **loose)
    assert got.strength_ratio == pytest.approx(narrow_face(40e-3 * share, 40e-3), rel=0.15)
    assert got.tension_ratio <= (1.0 - share) * 1.001


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("share", [0.3, 0.5])
def test_empty_holes_lie_between_a_knot_as_wide_and_one_twice_as_wide(zones, share, cut):
    """Falk: a drilled hole may be half as large as a knot, so it does as much as one twice as wide;
    and no more than that.  A knot hole, whose fibres swerve, is the milder."""
    got = judged(board(zones, 40e-3), share, state="missing", diverts=not cut).strength_ratio
    knot = narrow_face(40e-3 * share, 40e-3)
    twice = narrow_face(min(2.0 * share, 0.98) * 40e-3, 40e-3)
    assert twice < got < knot


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.1, 0.3])
def test_a_dead_knot_is_no_worse_than_a_live_one_up_to_a_third(zones, share):
    """Measured pieces do not tell them apart by visible width (`test_lamellae`): within 5 %."""
    live, dead = (
        judged(board(zones, 40e-3), share, state=state).strength_ratio for state in ("live", "dead")
    )
    assert dead > 0.95 * live


def slope_ratio(zones, slope, plane):
    """Strength of a clear strip with sloping grain over that of a straight one."""
    grain = replace(Grain(angle=0.0, run_out=0.0), **{plane: np.arctan(slope)})
    flat = zones.piece()
    C = plane_stiffness(zones.WOOD, np.array(grain.angle), np.array(grain.run_out))
    modulus = 1.0 / np.linalg.inv(C)[0, 0]
    strain = replace(flat.strain, axial=zones.STRENGTH.tension / modulus)
    used = clear_used(
        replace(flat, grain=grain, strain=strain),
        Ellipse(x=0.0, y=0.0, a=3e-3, b=3e-3),
        WindowLengths(fibre=2e-3, opening=6e-3, sliding=16e-3),
    )
    return 1.0 / max(used["fibre"], used["split"])


@pytest.mark.parametrize("plane", ["angle", "run_out"])
@pytest.mark.parametrize(
    ("run", "handbook"), [(25, 0.96), (20, 0.93), (15, 0.89), (10, 0.81), (5, 0.55)]
)
def test_slope_of_grain_beside_the_wood_handbook(zones, run, handbook, plane):
    """Ours .94 .91 .86 .74 .50: within 10 %, always on the safe side, in either plane."""
    got = slope_ratio(zones, 1.0 / run, plane)
    assert got == pytest.approx(handbook, rel=0.10)
    assert got < handbook


@pytest.mark.parametrize(
    ("run", "d245", "ours"),
    [
        (6, 0.40, 0.56),
        (8, 0.53, 0.67),
        (10, 0.61, 0.74),
        (12, 0.69, 0.80),
        (14, 0.74, 0.84),
        (15, 0.76, 0.86),
        (16, 0.80, 0.87),
        (18, 0.85, 0.89),
        (20, 1.00, 0.91),
    ],
)
def test_slope_of_grain_beside_d245(zones, run, d245, ours):
    """Ours against the grading table: +40, +26, +21, +16, +13, +12, +9, +5, -9 %.

    The three above 20 % (1 in 6, 8, 10) differ because D245 is an allowance for lumber whose
    slope is only measured as the worst seen on a face and whose small clear tests scatter; the
    mean of tests in the Wood Handbook lies above it too (1 in 10: .81 against .61; 1 in 5: .55
    against D245's .40 for 1 in 6), and ours lies between the two.
    """
    got = slope_ratio(zones, 1.0 / run, "run_out")
    assert got == pytest.approx(ours, abs=0.01)
    if run > 10:
        assert got == pytest.approx(d245, rel=0.20)
