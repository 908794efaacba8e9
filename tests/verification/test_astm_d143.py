"""ASTM D143, Standard Test Methods for Small Clear Specimens of Timber, static bending (50 x 50 x
760 mm, span 710 mm, centre loading; from memory): the test simulated with the sections' own law.

Simulated over published modulus of rupture is 1.00 with the tension strength of the package, which
is computed from the same test in closed form.  With a tension strength others measured it is

====================  ================  ====
wood                  tension measured  .
====================  ================  ====
black locust          136 MPa           0.81
common yew            108 MPa           0.92
European ash          165 MPa           0.88
European elm          80 MPa            0.92
European hornbeam     135 MPa           0.84
shagbark hickory      221 MPa           0.91
====================  ================  ====

so a bar bears 8 to 19 per cent more than what pieces pulled apart would let it.  Moso bamboo has
all three strengths of its own, tension included, and they disagree by 11 per cent: its fibres crowd
on one side of the wall.  Locust and hornbeam: see `test_lohmann_2003`.

US Army TM 5-852-4, Table 2-2 (courtesy Forest Products Laboratory; read), gives for clear wood at
12 %, over specific gravity G, psi: bending stress at the proportional limit 16,700 G^1.25, MOR
25,700 G^1.25, modulus 2.8e6 G, compression at the proportional limit 8,750 G, maximum crushing
12,200 G, and work to maximum load 32.4 G^1.75 in-lb/in3.  At G = 0.6 a bar should still look
straight at that limit, and do that work.  DEVELOPERS.md has what other laws make of it.
"""

import numpy as np
import pytest

from limbfe.studies.bending_test import DEPTH, SPAN, bend_specimen, bending_checks
from limbfe.wood import make_wood

PSI, GRAVITY = 6894.757, 0.6
MOR, LIMIT = 25700 * GRAVITY**1.25 * PSI, 16700 * GRAVITY**1.25 * PSI
WORK = 32.4 * GRAVITY**1.75 * PSI
CRUSHING = 12200 * GRAVITY * PSI


@pytest.fixture(scope="module")
def regression():
    """The bar of the regression; E_L is the bending modulus freed of its shear deflection (1.1)."""
    given = {
        "E_L": 1.1 * 2.8e6 * GRAVITY * PSI,
        "compression_strength": CRUSHING,
        "compression_proportional_limit": 8750 * GRAVITY * PSI,
        "bending_strength": MOR,
    }
    wood = make_wood(name="specimen", species="white ash", moisture=0.12, given=given, cov={})
    return wood, bend_specimen(wood, tension=wood.strength.tension)


def test_straight_at_the_published_bending_limit(regression):
    """Less than 4 % off the line there; 1.5 %."""
    _, test = regression
    load = LIMIT * 2.0 * DEPTH**3 / (3.0 * SPAN)
    elastic = test.deflection[1] / test.load[1] * load
    off = np.interp(load, test.load, test.deflection) / elastic - 1.0
    assert off < 0.04
    assert off == pytest.approx(0.015, abs=0.002)


def test_work_to_maximum_load_of_the_regression(regression):
    """0.80 of it: its bending strength is 1.85 times its crushing strength, less than that of most
    single hardwoods, and with such woods the law is short (`test_fpl_2010_work`)."""
    _, test = regression
    assert test.rupture == pytest.approx(MOR, rel=5e-3)
    assert test.work / WORK == pytest.approx(0.80, abs=0.01)


def test_apparent_modulus_of_the_specimen(regression):
    """FPL, Wood Handbook, note of Table 5-1 (read in a second source): true E_L is 1.10 times the
    modulus from centre loading at span/depth 14; with this wood's G_LR = 0.109 E_L shear takes
    1.2 / 14.2^2 / 0.109 = 5.5 % (Timoshenko), with the lower G of many woods up to the 10 %."""
    wood, test = regression
    apparent = test.load[1] * SPAN**3 / (4 * DEPTH**4 * test.deflection[1])
    shear = 1.2 * (DEPTH / SPAN) ** 2 * wood.elasticity.E_L / wood.elasticity.G_LR
    assert wood.elasticity.E_L / apparent == pytest.approx(1 + shear, rel=3e-3)


@pytest.fixture(scope="module")
def checks():
    return {check.species: check for check in bending_checks()}


def test_simulated_over_published(checks):
    """Closed form and finite elements agree; bamboo's three strengths do not.

    Woods whose back would have to bear more than twice their bending strength fall short of it.
    """
    for name, check in checks.items():
        ratio = check.simulated / check.published
        if name == "moso bamboo":
            assert ratio == pytest.approx(0.89, abs=0.0051)
        elif check.tension > 1.99 * check.published:
            assert 0.93 < ratio < 1.0051, name
        else:
            assert ratio == pytest.approx(1.0, abs=0.0051), name


@pytest.mark.parametrize(
    ("species", "ratio"),
    [
        ("black locust", 0.81), ("common yew", 0.92), ("European ash", 0.88),
        ("European elm", 0.92), ("European hornbeam", 0.84), ("shagbark hickory", 0.91),
    ],
)  # fmt: skip
def test_simulated_with_the_tension_others_measured(checks, species, ratio):
    check = checks[species]
    assert check.from_published_tension / check.published == pytest.approx(ratio, abs=0.0051)
