"""Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), Table 5-3a, 12 % moisture: bending
strength, modulus, work to maximum load and crushing strength of 22 hardwoods (read in a copy, rows
spot-checked), from bars 50 x 50 mm loaded in the middle of 710 mm.

How far the belly goes before the top load is seen in the work alone.  The bars are simulated with
the tension strength that gives their published bending strength, or twice that strength where it
would take more, so what is compared is the law of the belly.  The plateau's one number was chosen
on the median of these woods.  Shear strengths and the rest do not enter: the woods take them from
white ash's row.
"""

import numpy as np
import pytest

from limbfe.studies.bending_test import bend_specimen
from limbfe.wood import make_wood

# bending strength MPa, modulus GPa, work to maximum load kJ/m3, crushing strength MPa
WOODS = {
    "white ash": (103, 12.0, 115, 51.1), "black ash": (87, 11.0, 103, 41.2),
    "green ash": (97, 11.4, 92, 48.8), "Oregon ash": (88, 9.4, 99, 41.6),
    "American beech": (103, 11.9, 104, 50.3), "sweet birch": (117, 15.0, 124, 58.9),
    "black cherry": (85, 10.3, 79, 49.0), "American elm": (81, 9.2, 90, 38.1),
    "hackberry": (76, 8.2, 88, 37.5), "pecan": (94, 11.9, 95, 54.1),
    "sugar maple": (109, 12.6, 114, 54.0), "red maple": (92, 11.3, 86, 45.1),
    "silver maple": (61, 7.9, 57, 36.0), "black oak": (96, 11.3, 94, 45.0),
    "northern red oak": (99, 12.5, 100, 46.6), "southern red oak": (75, 10.3, 65, 42.0),
    "white oak": (105, 12.3, 102, 51.3), "bur oak": (71, 7.1, 68, 41.8),
    "swamp white oak": (122, 14.1, 132, 59.3), "black walnut": (101, 11.6, 74, 52.3),
    "yellow-poplar": (70, 10.9, 61, 38.2), "black willow": (54, 7.0, 61, 28.3),
}  # fmt: skip


@pytest.fixture(scope="module")
def bent():
    found = {}
    for name, (bending, modulus, _, crushing) in WOODS.items():
        given = {
            "E_L": (1.0 + 1.2 / 14.0**2 / 0.109) * 1e9 * modulus,
            "bending_strength": 1e6 * bending,
            "compression_strength": 1e6 * crushing,
        }
        wood = make_wood(name="bar", species="white ash", moisture=0.12, given=given, cov={})
        found[name] = wood, bend_specimen(wood, tension=wood.strength.tension)
    return found


def test_every_bar_has_its_published_bending_strength(bent):
    for name, (_, test) in bent.items():
        assert 0.965 < test.rupture / (1e6 * WOODS[name][0]) < 1.005, name
        assert test.breaks


def test_work_to_maximum_load(bent):
    """Median 0.9 to 1.1 of the published, 10 to 90 of 100 woods 0.6 to 1.1.

    Short are woods whose crushing strength is more than a half of their bending strength (cherry,
    pecan, silver maple: 0.6): a plateau by bending alone would give those 0.9, with twice the
    tension strength ever measured.
    """
    ratios = [test.work / (1e3 * WOODS[name][2]) for name, (_, test) in bent.items()]
    assert 0.9 < np.median(ratios) < 1.1
    assert np.median(ratios) == pytest.approx(0.95, abs=0.02)
    low, high = np.quantile(ratios, [0.1, 0.9])
    assert low == pytest.approx(0.72, abs=0.03)
    assert high == pytest.approx(1.05, abs=0.03)


def test_deflection_at_the_maximum_load(bent):
    """Derived from the published work: 1.65 times the elastic one in the middle of the woods."""
    ratios = []
    for _, test in bent.values():
        elastic = test.deflection[1] / test.load[1] * test.load[-1]
        ratios.append(test.deflection[-1] / elastic)
    assert np.median(ratios) == pytest.approx(1.65, abs=0.05)


def test_what_the_tension_side_must_bear(bent):
    """The price of the work: 1.5 to 2.0 times the bending strength, a strain of 1.2 to 1.8 %."""
    share = [wood.strength.tension / wood.strength.bending for wood, _ in bent.values()]
    strain = [wood.strength.tension / wood.elasticity.E_L for wood, _ in bent.values()]
    assert 1.45 < min(share) < np.median(share) < max(share) <= 2.0
    assert 0.010 < min(strain) < max(strain) < 0.0185
