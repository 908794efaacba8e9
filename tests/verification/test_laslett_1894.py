"""T. Laslett, Timber and Timber Trees, Native and Foreign, 2nd ed. (1894): beams 2 x 2 x 84 in,
supports 72 in apart, loaded in the middle with 390 lb of water poured in slowly; the deflection
read, the load taken off, the set read (tables read in a scan; means of six; moduli derived).

Five lots are usable: three of the others have moduli of 4 to 5 GPa, which is curly or wet wood or a
slip of the reading, and ironbark kept nothing at a quarter of its load.  At 0.44 to 0.49 of the
breaking load a crushing law alone leaves nothing: what was read is delayed strain.  Moisture
("moderately seasoned") and times are not in the book: 20 %, poured in twelve minutes and the set
read ten seconds after are assumed here, and the growth of creep with moisture was chosen on these
lots together, so the test says that one number serves, not which.
"""

import numpy as np
import pytest

from limbfe.section import fresh_state, strains_under
from limbfe.studies.bending_test import specimen_section
from limbfe.wood import make_wood
from limbfe.wood.creep import creep_factor, left_of_creep

DEPTH, SPAN, LOAD = 0.0508, 1.829, 390 * 4.4482216
MOISTURE, POURED, READ = 0.20, 720.0, 10.0
# modulus GPa; crushing strength of 2-inch cubes MPa, English oak's lowest where there is none
LOTS = {
    "English oak VI": (9.8, 53.6, 0.071),
    "French oak": (10.6, 53.6, 0.028),
    "American white oak": (8.2, 53.6, 0.109),
    "karri": (15.5, 79.4, 0.040),
    "pitch pine": (12.1, 53.6, 0.032),
}


def crushed_share(modulus, crushing):
    """Return what crushing leaves of the deflection, by virtual work over half the beam."""
    given = {
        "E_L": 1e9 * modulus,
        "compression_strength": 1e6 * crushing,
        "bending_strength": 2e6 * crushing,
    }
    wood = make_wood(name="beam", species="white oak", moisture=MOISTURE, given=given, cov={})
    section, left, bent = specimen_section(wood, DEPTH), [], []
    for share in np.linspace(0.05, 1.0, 12):
        load = np.array([[0.0, 0.0, 0.0, 0.0, share * LOAD * SPAN / 4.0, 0.0]])
        strains, response = strains_under(section, load, fresh_state(section))
        kept, _ = strains_under(section, 0.0 * load, response.plastic)
        bent.append(share * strains[0, 4])
        left.append(share * kept[0, 4])
    return np.sum(left) / np.sum(bent)


@pytest.mark.parametrize("lot", LOTS)
def test_set_over_deflection(lot):
    """Within a factor of 2: 0.055 for all of them, where 0.028 to 0.109 were measured."""
    modulus, crushing, measured = LOTS[lot]
    delayed = left_of_creep(POURED, READ, growing=True)
    share = creep_factor(MOISTURE) * 0.5 * (delayed.compression + delayed.tension)
    total = share + crushed_share(modulus, crushing)
    assert 0.5 < total / measured < 2.0


def test_crushing_alone_leaves_nothing_to_speak_of():
    for modulus, crushing, _ in LOTS.values():
        assert crushed_share(modulus, crushing) < 0.003


def test_most_of_it_comes_back_over_night():
    at_once = left_of_creep(POURED, READ, growing=True)
    rested = left_of_creep(POURED, 12 * 3600.0, growing=True)
    assert rested.compression + rested.tension < 0.1 * (at_once.compression + at_once.tension)
