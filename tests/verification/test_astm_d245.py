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

import numpy as np
import pytest

from limbfe.defect.plane import plane_stiffness
from limbfe.defect.strip import Ellipse
from limbfe.defect.zone import Grain
from limbfe.failure.clear import clear_used
from limbfe.failure.local import judge_zone
from limbfe.failure.windows import WindowLengths

INCH = 25.4e-3


def narrow_face(size, width):
    k, b = size / INCH, width / INCH
    ratio = 1.0 - (k - 1.0 / 24.0) / (b + (0.375 if b < 6.0 else 0.5))
    return ratio if ratio >= 0.45 else 1.0 - (k - 1.0 / 24.0) / b


def strength_ratio(zones, width, share, **more):
    knot = zones.knot(share * width, **more)
    return judge_zone(
        zones.problem(zones.piece(width=width, half_length=2.0 * width, knots=(knot,)))
    ).strength_ratio


def test_the_published_table():
    """The ratios of the formula at d/b 0.1 to 0.5, recomputed, for b = 40 and 140 mm."""
    shares = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
    forty = [narrow_face(40e-3 * s, 40e-3) for s in shares]
    wide = [narrow_face(140e-3 * s, 140e-3) for s in shares]
    assert forty == pytest.approx([0.94, 0.86, 0.78, 0.70, 0.62], abs=6e-3)
    assert wide == pytest.approx([0.91, 0.82, 0.73, 0.63, 0.54], abs=6e-3)


@pytest.mark.parametrize(
    ("share", "ours"), [(0.1, 0.79), (0.2, 0.76), (0.3, 0.73), (0.4, 0.69), (0.5, 0.61)]
)
def test_live_knots_40_mm(zones, share, ours):
    """Live knots in a 40 mm strip: rupture ratio beside D245.

    ====  =====  =====  ==========
    d/w   D245   ours   difference
    ====  =====  =====  ==========
    0.1   0.94   0.79   -16 %
    0.2   0.86   0.76   -12 %
    0.3   0.78   0.73    -6 %
    0.4   0.70   0.69    -2 %
    0.5   0.62   0.61     0 %
    ====  =====  =====  ==========

    No difference exceeds 20 %.  Ours falls faster at first because the swerve of the fibres
    raises the stress beside even a small knot, while D245 only takes the knot's width away;
    and slower later, because a live knot of 2 GPa carries a little.
    """
    got = strength_ratio(zones, 40e-3, share)
    assert got == pytest.approx(ours, abs=0.01)
    assert got == pytest.approx(narrow_face(40e-3 * share, 40e-3), rel=0.20)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("share", "ours"), [(0.1, 0.77), (0.2, 0.75), (0.3, 0.71), (0.4, 0.67), (0.5, 0.60)]
)
def test_live_knots_140_mm(zones, share, ours):
    """Live knots in a 140 mm strip: D245 0.91 .82 .73 .63 .54, ours .77 .75 .71 .67 .60:
    -15, -8, -3, +6, +11 %; none above 20 %, for the reasons given at 40 mm.
    """
    got = strength_ratio(zones, 140e-3, share)
    assert got == pytest.approx(ours, abs=0.01)
    assert got == pytest.approx(narrow_face(140e-3 * share, 140e-3), rel=0.20)


@pytest.mark.parametrize(
    ("share", "knot_hole", "drilled"), [(0.1, 0.68, 0.58), (0.3, 0.51, 0.37), (0.5, 0.36, 0.27)]
)
def test_holes_40_mm(zones, share, knot_hole, drilled):
    """A fallen-out knot (fibres swerve) and a drilled hole (fibres cut) lie far below D245.

    ====  =====  =========  =======  ====================
    d/w   D245   knot hole  drilled  differences
    ====  =====  =========  =======  ====================
    0.1   0.94   0.68       0.58     -28 and -38 %
    0.3   0.78   0.51       0.37     -35 and -53 %
    0.5   0.62   0.36       0.27     -42 and -57 %
    ====  =====  =========  =======  ====================

    Three reasons for more than 20 %.  D245 was drawn from knots as they come, most of them grown
    in, and only calls them voids.  A free rim under a load along the grain carries 5.6 times the
    far stress, of which a 2 mm window leaves 1.7 to 3.7.  And the model is linear up to rupture:
    in wood a split along the grain starts at the rim first, at a lower load still, and once run
    far enough it takes the concentration away, so that a drilled plate can end near its net
    section.  The figure is therefore the load at which fibres would rupture if nothing split
    before, a lower bound for holes; the split is reported beside it.
    """
    hole = strength_ratio(zones, 40e-3, share, state="missing")
    cut = strength_ratio(zones, 40e-3, share, state="missing", diverts=False)
    assert hole == pytest.approx(knot_hole, abs=0.01)
    assert cut == pytest.approx(drilled, abs=0.01)


@pytest.mark.parametrize("share", [0.1, 0.2])
def test_a_drilled_hole_is_worse_than_a_knot_twice_as_wide(zones, share):
    """Direction of Falk's rule: drilled d against live 2 d."""
    cut = strength_ratio(zones, 40e-3, share, state="missing", diverts=False)
    assert cut < strength_ratio(zones, 40e-3, 2.0 * share)


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
