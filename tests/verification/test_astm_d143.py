"""ASTM D143, Standard Test Methods for Small Clear Specimens of Timber, static bending (50 x 50 x
760 mm, span 710 mm, centre loading; from memory): the test simulated with the sections' own law.

Simulated over published modulus of rupture, tension strength of the package (computed from bending
and crushing strength for an ideally plastic belly) and, where others measured tension, with that:

====================  ========  =======  =========  ================  =======
wood                  bilinear  plastic  glos       tension measured  bilinear
====================  ========  =======  =========  ================  =======
American elm          0.99      1.00     0.92
black locust          0.98      1.00     0.95       136 MPa           0.83
common yew            0.96      1.00     0.94       108 MPa           0.97
degame                1.00      1.00     0.84
European ash          0.99      1.00     0.89       165 MPa           0.92
European elm          0.94      1.00     0.93       80 MPa            0.92
European hornbeam     0.99      1.00     0.89       135 MPa           0.86
ipe                   0.98      1.00     0.96
moso bamboo           0.91      0.92     0.83
Osage orange          0.99      1.00     0.93
Pacific yew           0.99      1.00     0.95
rock elm              0.99      1.00     0.92
shagbark hickory      0.99      1.00     0.89       221 MPa           0.95
====================  ========  =======  =========  ================  =======

Bamboo has all three strengths of its own, tension included, and they disagree by 8 per cent: its
fibres crowd on one side of the wall.  Locust and hornbeam: see `test_lohmann_2003`.

Which law?  US Army TM 5-852-4, Table 2-2 (courtesy Forest Products Laboratory; read), gives for
clear wood at 12 %, over specific gravity G, psi: bending stress at the proportional limit
16,700 G^1.25, MOR 25,700 G^1.25, modulus 2.8e6 G, compression at the proportional limit 8,750 G,
maximum crushing 12,200 G, and work to maximum load 32.4 G^1.75 in-lb/in3.  At G = 0.6, with the
tension strength that gives the MOR:

========================================  ========  =======  =====
.                                         bilinear  plastic  glos
========================================  ========  =======  =====
off the straight line at the published
bending limit (should look straight)      7 %       0.5 %    22 %
work to maximum load over published       0.71      0.60     0.75
========================================  ========  =======  =====

The two pull apart: the limit asks for a sharper knee than the bilinear law's, the work for more
give before the end (in part the test machine's own: bearings and supports are crushed as well).
The softening curve of Glos is plainly off the straight line where real bars are not yet, and with
its falling branch most hardwoods cannot reach their published strength at all.  So the bilinear law
between the limit and the strength stays the default; set, which grows with the give in the middle
of the range, is more likely over- than understated by it, and "plastic" is its lower bound.
"""

import numpy as np
import pytest

from limbfe.studies.bending_test import DEPTH, SPAN, bend_specimen, bending_checks
from limbfe.wood import make_wood

PSI, GRAVITY = 6894.757, 0.6
MOR, LIMIT = 25700 * GRAVITY**1.25 * PSI, 16700 * GRAVITY**1.25 * PSI
WORK = 32.4 * GRAVITY**1.75 * PSI
CRUSHING = 12200 * GRAVITY * PSI


def regression_wood():
    """Wood of the regression; E_L is the bending modulus freed of its shear deflection (1.1)."""
    given = {
        "E_L": 1.1 * 2.8e6 * GRAVITY * PSI,
        "compression_strength": CRUSHING,
        "compression_proportional_limit": 8750 * GRAVITY * PSI,
        "bending_strength": MOR,
    }
    return make_wood(name="specimen", species="white ash", moisture=0.12, given=given, cov={})


def off_the_line(test, nominal):
    """How much further than elastically the bar has gone at a nominal stress."""
    load = nominal * 2.0 * DEPTH**3 / (3.0 * SPAN)
    elastic = test.deflection[1] / test.load[1] * load
    return np.interp(load, test.load, test.deflection) / elastic - 1.0


@pytest.fixture(scope="module")
def regression():
    """Bars of the three laws, tension strength chosen by bisection to give the published MOR."""
    wood, tests = regression_wood(), {}
    for law in ("bilinear", "plastic", "glos"):
        low, high = CRUSHING, 6.0 * CRUSHING
        for _ in range(11):
            middle = 0.5 * (low + high)
            tests[law] = bend_specimen(wood, tension=middle, law=law)
            low, high = (middle, high) if tests[law].rupture < MOR else (low, middle)
    return tests


@pytest.mark.parametrize(
    ("law", "bend", "work"),
    [("bilinear", 0.069, 0.71), ("plastic", 0.005, 0.60), ("glos", 0.222, 0.75)],
)
def test_proportional_limit_and_work_of_each_law(regression, law, bend, work):
    test = regression[law]
    assert test.rupture == pytest.approx(MOR, rel=5e-3)
    assert off_the_line(test, LIMIT) == pytest.approx(bend, abs=0.003)
    assert test.work / WORK == pytest.approx(work, abs=0.01)


def test_apparent_modulus_of_the_specimen():
    """FPL, Wood Handbook, note of Table 5-1 (read in a second source): true E_L is 1.10 times the
    modulus from centre loading at span/depth 14; with this wood's G_LR = 0.109 E_L shear takes
    1.2 / 14.2^2 / 0.109 = 5.5 % (Timoshenko), with the lower G of many woods up to the 10 %."""
    wood = regression_wood()
    test = bend_specimen(wood, tension=CRUSHING, law="plastic")
    apparent = test.load[1] * SPAN**3 / (4 * DEPTH**4 * test.deflection[1])
    shear = 1.2 * (DEPTH / SPAN) ** 2 * wood.elasticity.E_L / wood.elasticity.G_LR
    assert wood.elasticity.E_L / apparent == pytest.approx(1 + shear, rel=3e-3)


@pytest.fixture(scope="module")
def checks():
    return {check.species: check for check in bending_checks("bilinear")}


@pytest.mark.parametrize(
    ("species", "ratio"),
    [
        ("American elm", 0.99), ("black locust", 0.98), ("common yew", 0.96), ("degame", 1.00),
        ("European ash", 0.99), ("European elm", 0.94), ("European hornbeam", 0.99),
        ("ipe", 0.98), ("moso bamboo", 0.91), ("Osage orange", 0.99), ("Pacific yew", 0.99),
        ("rock elm", 0.99), ("shagbark hickory", 0.99),
    ],
)  # fmt: skip
def test_simulated_over_published(checks, species, ratio):
    check = checks[species]
    assert check.simulated / check.published == pytest.approx(ratio, abs=0.0051)


@pytest.mark.parametrize(
    ("species", "ratio"),
    [
        ("black locust", 0.83), ("common yew", 0.97), ("European ash", 0.92),
        ("European elm", 0.92), ("European hornbeam", 0.86), ("shagbark hickory", 0.95),
    ],
)  # fmt: skip
def test_simulated_with_the_tension_others_measured(checks, species, ratio):
    check = checks[species]
    assert check.from_published_tension / check.published == pytest.approx(ratio, abs=0.0051)


def test_an_ideally_plastic_bar_gives_back_the_closed_form():
    """f_c (3 n - 1)/(n + 1); the edge of the crushed zone falls between integration points."""
    for check in bending_checks("plastic"):
        n = check.tension / check.compression
        expected = check.compression * (3 * n - 1) / (n + 1)
        assert check.simulated == pytest.approx(expected, rel=1.5e-3), check.species
